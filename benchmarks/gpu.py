"""What the card does in how long, beside the CPU's results: python benchmarks/gpu.py [--quick].

Prints, for one card: its copy bandwidth, how far light and findings are from the CPU's at 4K, and
the time of every kernel, frames rotating so that no cache holds them. Bytes are counted as a frame
needs them at least: planes read once a pass, what is asked for written once.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numba import cuda

import emulate
from emulate import Frame, load_panel
from emulate.cuda import picture
from emulate.cuda.card import Card, Lit, Loaded
from emulate.cuda.uploading import planes_of
from emulate.demo_frames import panel_files, scene
from emulate.findings.card import terms
from emulate.findings.evidence import Evidence
from emulate.frames.ycbcr import pq_picture
from emulate.fused.sketch import sketched
from emulate.panel.cell import seen_from
from emulate.rendering import render_plainly
from emulate.sight import Viewer

SCENES = ("lamps_on_black_water", "window_and_table", "drifts_in_sunlit_snow", "neon_without_white")
GRAIN = 1.5  # codes, of a camera: without it neighbouring pixels would be too much alike


def material(rows: int) -> dict[str, list[Frame]]:
    """Demo scenes as 10-bit codes with a camera's grain, R'G'B' and Y'CbCr 4:2:0."""
    with ProcessPoolExecutor() as pool:
        lights = list(pool.map(_light, SCENES, [rows] * len(SCENES)))
    return {
        chroma: [_coded(light, name, chroma) for light, name in zip(lights, SCENES, strict=True)]
        for chroma in ("rgb", "420")
    }


def _light(name: str, rows: int) -> Any:
    return scene(name, rows=rows).light


def _coded(light: Any, name: str, chroma: str) -> Frame:
    clean, rng, planes = pq_picture(light, chroma=chroma), np.random.default_rng(7), []
    for plane in (clean.first, clean.second, clean.third):
        grain = GRAIN * rng.standard_normal(plane.shape, dtype=np.float32)
        planes.append(np.clip(np.rint(plane + grain), 64, 940).astype(np.uint16))
    noisy = replace(clean, first=planes[0], second=planes[1], third=planes[2])
    return Frame(noisy, name, noisy.encoding)


def compared(card: Card, frame: Frame, panel: Any, lux: float) -> None:
    """One frame on the CPU and on the card."""
    viewer = Viewer()
    rendering = render_plainly(frame, panel, room_lux=lux)
    evidence = Evidence(frame, rendering, viewer)
    sketch = replace(
        sketched(frame, panel, seen_from(0.0, panel.cell, panel.angles), rendering.curve),
        reflected=rendering.reflected,
    )
    loaded = card.load(sketch)
    called = panel.zones.called_for(card.seen_by_zones(loaded))
    lit = card.light(loaded, rendering.drive, panel.limiter.unknown(rendering.gain))
    drawn = card.drawn(lit)
    found, again = (card.found(lit, viewer, terms()) for _ in range(2))
    _print_light(called, drawn, rendering, panel)
    _print_findings(found, again, evidence)


def _print_light(called: Any, drawn: Any, rendering: Any, panel: Any) -> None:
    flags = np.count_nonzero(drawn.why != rendering.why)
    print(
        f"{rendering.curve.text} on {panel.name}, room {rendering.reflected:.3f} cd/m2: off by "
        f"drive {off(called, rendering.called, 1e-6):.1e}, "
        f"light {off(drawn.light, rendering.light, 1e-3):.1e}, "
        f"asked {off(drawn.asked, rendering.asked, 1e-3):.1e}, "
        f"backlight {off(drawn.backlight, rendering.backlight, 1e-4):.1e}, flags {flags} px"
    )


def _print_findings(found: Any, again: Any, evidence: Evidence) -> None:
    loss, (detail, contrast) = evidence.clipped[0] | evidence.crushed, evidence.detail
    glance, lift = evidence.glances, evidence.lift[1]
    others = (glance[0], glance[1], lift, glance[2], glance[3])
    cells = " ".join(
        f"{off(mine, other, 1e-3):.0e}" for mine, other in zip(found.means, others, strict=True)
    )
    same = all(np.array_equal(a, b) for a, b in zip(found, again, strict=True))
    print(
        f"   loss {np.count_nonzero(found.loss != loss)} px of {np.count_nonzero(loss)}, "
        f"detail {np.count_nonzero(found.detail != detail)} of {np.count_nonzero(detail)}, "
        f"cells {cells}, "
        f"steps clipped {found.clipped / max(evidence.clipped[1], 1e-9) - 1:.0e}, "
        f"contrast {found.contrast / max(contrast, 1e-9) - 1:.0e}, "
        f"again {'the same' if same else 'DIFFERENT'}",
        flush=True,
    )


def off(mine: Any, other: Any, floor: float) -> float:
    """Largest difference, as a share of the other or of `floor`."""
    return float((np.abs(mine - other) / (np.abs(other) + floor)).max())


@cuda.jit
def _wait(milliseconds: Any) -> None:  # pragma: no cover
    """Keeps the card's queue waiting."""
    for _ in range(milliseconds):
        cuda.nanosleep(1_000_000)


def timed(work: Callable[[int], None], repeats: int = 24, runs: int = 5) -> float:
    """Median milliseconds of one `work(i)` on the card, queued behind a kernel that takes longer
    than the queueing, so that the host's part does not show."""
    for i in range(4):
        work(i)
    cuda.synchronize()
    found = []
    for _ in range(runs):
        start, end = cuda.event(), cuda.event()
        _wait[1, 1](WAIT)
        start.record()
        for i in range(repeats):
            work(i)
        end.record()
        queued = time.perf_counter()
        end.synchronize()
        waited = time.perf_counter() - queued
        found.append(start.elapsed_time(end) / repeats)
        if waited < 1e-3:
            print("   (queue ran dry: times include the host)")
    return statistics.median(found)


WAIT = 60  # ms


def bandwidth() -> float:
    """Bytes read and written per second by a large copy on the card."""
    source = cuda.to_device(np.random.default_rng(1).integers(0, 255, 1 << 30, np.uint8))
    target = cuda.device_array_like(source)
    ms = timed(lambda _: target.copy_to_device(source), repeats=10)
    return 2 * source.nbytes / (ms * 1e-3)


def kernels(card: Card, frames: list[Frame], panel: Any, top: float) -> None:
    """Times of the passes over frames that rotate."""
    viewer, height, width = Viewer(), *frames[0].shape
    loads: list[Loaded] = []
    for frame in frames:
        curve = render_curve(frame, panel)
        sketch = sketched(frame, panel, seen_from(0.0, panel.cell, panel.angles), curve)
        loads.append(card.load(sketch))
    first = [card.first_pass(loaded)[0] for loaded in loads]
    lits: list[Lit] = []
    for loaded in loads:
        drive = panel.zones.called_for(card.seen_by_zones(loaded))
        lits.append(card.light(loaded, drive, 1.0))
    lamps, *_ = card.lamps(panel.spread, drive.shape, frames[0].shape)
    light = cuda.to_device((drive * panel.open_cdm2).astype(np.float32).reshape(-1))
    pixels = height * width
    read = sum(plane.nbytes for plane in loads[0].planes if plane.size > 1)
    count = len(frames)
    a = timed(lambda i: first[i % count]())
    b = timed(lambda _: lamps(light))
    print(
        f"{frames[0].encoding.matrix} {height}x{width} {panel.name}: "
        f"statistics {a * 1e3:.0f} us, lamps {b * 1e3:.0f} us"
    )
    for showing, what, more in ((0, "findings", 2), (1, "findings and light", 2 + 16)):
        runs = [card.findings(lit, viewer, terms(), showing=showing) for lit in lits]
        c = timed(lambda i, runs=runs: runs[i % count]())
        whole = a + b + c
        moved = 2 * read + more * pixels
        rate = moved / (whole * 1e-3)
        print(
            f"   {what:20s} {c * 1e3:6.0f} us, frame {whole * 1e3:6.0f} us = {1e3 / whole:5.0f} "
            f"fps; {moved / 1e6:.0f} MB at {rate / 1e12:.2f} TB/s = {rate / top:.0%} of copying; "
            f"blocks {runs[0].grid} x {runs[0].threads}"
        )
    sys.stdout.flush()


def whole_frames(card: Card, frames: list[Frame], panel: Any, count: int = 40) -> None:
    """Frames a second from planes in this machine's memory to findings, and to light, in it."""
    height, width = frames[0].shape
    viewer, curve = Viewer(), render_curve(frames[0], panel)
    sketches = [
        sketched(frame, panel, seen_from(0.0, panel.cell, panel.angles), curve) for frame in frames
    ]
    planes = [[_pinned(plane) for plane in planes_of(sketch)] for sketch in sketches]
    light = cuda.pinned_array(3 * height * width, np.float32)
    loaded = card.load(sketches[0])
    run = card.findings(card.light(loaded, np.ones(_zones(panel)), 1.0), viewer, terms(), showing=1)
    for up, down, what in (
        (False, False, "kernels and the light source on the CPU"),
        (True, False, "with planes brought to the card and findings back"),
        (True, True, "and light brought back"),
    ):
        for warming in (True, False):
            clock = time.perf_counter()
            for i in range(4 if warming else count):
                if up:
                    for to, plane in zip(loaded.planes, planes[i % len(planes)], strict=True):
                        to.copy_to_device(plane)
                drive = panel.zones.called_for(card.seen_by_zones(loaded))
                gain = panel.limiter.target(panel.zones.load(None, drive))
                lit = card.light(loaded, gain * drive, panel.limiter.unknown(gain))
                run = card.findings(lit, viewer, terms(), showing=1)
                run()
                run.out.tallies.copy_to_host()
                if up:
                    run.out.means.copy_to_host()
                    run.out.counts.copy_to_host()
                if down:
                    run.out.light.copy_to_host(light)
            cuda.synchronize()
        each = (time.perf_counter() - clock) / count
        print(f"   {what}: {each * 1e3:.2f} ms = {1 / each:.0f} fps", flush=True)


def _pinned(plane: Any) -> Any:
    kept = cuda.pinned_array(plane.shape, plane.dtype)
    kept[:] = plane
    return kept


def _zones(panel: Any) -> tuple[int, int]:
    return panel.zones.rows, panel.zones.columns


def variants(card: Card, frames: list[Frame], panel: Any) -> None:
    """The findings' kernel with other numbers of registers, threads and rows."""
    from emulate.cuda import layout as module

    loads = []
    for frame in frames:
        curve = render_curve(frame, panel)
        sketch = sketched(frame, panel, seen_from(0.0, panel.cell, panel.angles), curve)
        loads.append(card.load(sketch))
    drive = panel.zones.called_for(card.seen_by_zones(loads[0]))
    lits = [card.light(loaded, drive, 1.0) for loaded in loads]
    for registers in (None, 72, 64, 56):
        picture.REGISTERS = registers
        picture.findings_pass.cache_clear()
        for threads in (192, 224):
            picture.MOST = threads
            for rows in (73, 85, 97, 109, 121, 145):
                module.SEGMENT_ROWS = rows
                module.layout_of.cache_clear()
                run = card.findings(lits[0], Viewer(), terms())
                runs = [card.findings(lit, Viewer(), terms()) for lit in lits]
                ms = timed(lambda i, runs=runs: runs[i % len(runs)](), runs=3)
                print(
                    f"   registers {registers} threads {threads} rows {rows} "
                    f"blocks {run.grid}: {ms * 1e3:.0f} us",
                    flush=True,
                )


def render_curve(frame: Frame, panel: Any) -> Any:
    """The tone curve of a frame."""
    from emulate.panel.policy import curve_for

    return curve_for(panel, frame, None).curve


def main() -> None:
    """Everything, or with --quick the times of one panel."""
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--quick", action="store_true")
    arguments.add_argument("--rows", type=int, default=2160)
    arguments.add_argument("--profile", action="store_true", help="one panel, to run below ncu")
    arguments.add_argument("--variants", action="store_true", help="other sizes of blocks")
    chosen = arguments.parse_args()
    card = Card()
    device = cuda.get_current_device()
    print(device.name, "numba", __import__("numba").__version__, "emulate", emulate.__file__)
    top = bandwidth()
    print(f"copy {top / 1e12:.2f} TB/s")
    panels = {Path(file).stem: load_panel(file) for file in panel_files()}
    clock = time.perf_counter()
    rgb, ycbcr = material(chosen.rows).values()
    print(f"material {time.perf_counter() - clock:.0f} s")
    for frames in (rgb,) if chosen.profile else (rgb, ycbcr):
        kernels(card, frames, panels["fine_zones"], top)
    for frames in (rgb, ycbcr):
        print(f"{frames[0].encoding.matrix}: one frame after another, in Python")
        whole_frames(card, frames, panels["fine_zones"])
    if chosen.variants:
        variants(card, rgb, panels["fine_zones"])
    if chosen.quick or chosen.profile:
        return
    compared(card, rgb[0], panels["fine_zones"], 0.0)
    compared(card, ycbcr[1], panels["fine_zones"], 0.0)
    compared(card, ycbcr[0], panels["coarse_zones"], 50.0)
    compared(card, rgb[3], panels["self_emissive"], 0.0)


if __name__ == "__main__":
    main()
