"""What a picture costs, ours beside others' ways: python -m benchmarks [FOLDER] [--long].

One run, tasks turn by turn, medians. Prints tables of times and ratios and, where a FOLDER is
given, writes benchmarks.json, benchmarks.csv and cost.svg/.png there. About five minutes on two
cores; --long takes more rounds, the other ways at 8K too, and a 4K clip.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import asdict, replace
from functools import lru_cache
from itertools import islice, pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

import numpy as np

from benchmarks.telling import csv_of, draw, table
from benchmarks.timing import Line, environment, interleaved, memory
from emulate import load_panel, measure
from emulate.demo_frames import panel_files, scene
from emulate.frames.clip import open_clip
from emulate.frames.encode import write_clip
from emulate.frames.frame import CodePicture, Encoding, Frame
from emulate.frames.ycbcr import pq_picture
from emulate.fused.workspace import Workspace
from emulate.outputs import folder, write_text
from emulate.panel.panel import Panel
from emulate.panel.zones import Zones
from emulate.rendering import render
from emulate.sight import Viewer

SCENE = "lamps_on_black_water"  # black, middle tones and lights: every branch of the kernels
SIZES = {"1080p": 1080, "4K": 2160, "8K": 4320}  # rows
ZONES = {96: (6, 16), 576: (18, 32), 2304: (36, 64), 20000: (100, 200)}  # rows, columns
FEWEST_ROWS = 90  # that a demo scene has
LARGEST_SCENE = 2160  # rows; a larger picture is this one, side by side: quicker to make
WRITTEN = 16  # bytes a pixel: float32 light in three channels, and the backlight
READ = 3  # bytes a pixel: 10-bit 4:2:0 in uint16
FRAME_BYTES = 12  # a pixel of one float32 frame, the measure of memory
CLIP_FRAMES = 24
RATE = 24
MANY = 12  # stills after which memory that grows would show
ROUNDS, LONG_ROUNDS = 7, 25  # odd: the median is a call that was made
ZONES_SIZE = "4K"
HDR10 = Encoding("pq", "bt2020", "bt2020", full_range=False, bits=10, siting="topleft")
ROOT = Path(__file__).resolve().parent.parent

Task = Callable[[], object]


@lru_cache(maxsize=4)
def coded(rows: int) -> CodePicture:
    """The demo scene as 10-bit PQ Y′CbCr 4:2:0, 16:9, `rows` high."""
    times = max(1, rows // LARGEST_SCENE)
    picture = pq_picture(scene(SCENE, rows=rows // times).light)
    first, second, third = (
        np.tile(plane, (times, times)) for plane in (picture.first, picture.second, picture.third)
    )
    return CodePicture(first, second, third, picture.encoding)


def framed(picture: CodePicture) -> Frame:
    """A frame of code planes."""
    return Frame(picture, SCENE, encoding=picture.encoding)


@lru_cache(maxsize=1)
def panel_on_file() -> Panel:
    """The demo panel of few zones; read once, so that what is made of it is shared."""
    return load_panel(next(each for each in panel_files() if each.stem == "coarse_zones"))


def zoned(zones: int = 96) -> Panel:
    """The demo panel of few zones, with as many zones as asked."""
    panel = panel_on_file()
    assert isinstance(panel.zones, Zones)
    rows, columns = ZONES[zones]
    return replace(panel, zones=replace(panel.zones, rows=rows, columns=columns))


def ours(picture: CodePicture, panel: Panel, work: Workspace | None) -> dict[str, Task]:
    """Our tasks by what they give, in a workspace that frames of a clip would share, or in none."""
    frame = framed(picture)

    def light() -> object:
        rendering = render(frame, panel, work=work)
        return rendering.light, rendering.backlight

    def found(colour: bool) -> object:
        return measure(frame, render(frame, panel, work=work), colour=colour)

    return {
        "light": light,
        "luminance findings": lambda: found(False),
        "all findings": lambda: found(True),
    }


def others(picture: CodePicture, panel: Panel) -> dict[tuple[str, str], Task]:
    """The plain and the tidy version by what they give: (what, by)."""
    from benchmarks import plain, tidy

    def found_plainly() -> object:
        reference, shown = plain.rendered(picture, panel)
        return plain.found(reference, shown, Viewer())

    def found_tidily() -> object:
        reference, shown = tidy.rendered(picture, panel)
        return tidy.found(reference, shown, Viewer())

    return {
        ("light", "plain"): lambda: plain.rendered(picture, panel),
        ("light", "tidy"): lambda: tidy.rendered(picture, panel),
        ("luminance findings", "plain"): found_plainly,
        ("luminance findings", "tidy"): found_tidily,
    }


def copy_of(picture: CodePicture, work: Workspace) -> Task:
    """Copies so that as many bytes are read and written together as `light` reads and writes."""
    count = picture.first.size * (READ + WRITTEN) // 2
    source, target = np.ones(count, np.uint8), np.zeros(count, np.uint8)
    bounds = np.arange(work.threads + 1) * count // work.threads
    parts = [slice(*each) for each in pairwise(bounds.tolist())]

    def one(part: slice) -> None:
        target[part] = source[part]

    return lambda: work.each(one, parts)


def sizes(names: Iterable[str], rounds: int, all_of: Sequence[str]) -> Iterator[Line]:
    """Every task at each size, 96 zones, one and two threads; the others' where named in all_of."""
    panel = zoned()
    for task in others(coded(FEWEST_ROWS), panel).values():
        task()  # opens colour-science and scipy
    for name in names:
        picture = coded(SIZES[name])
        tasks: dict[tuple[str, str, int], Task] = {}
        with ExitStack() as open_places:
            for threads in (1, 2):
                work = open_places.enter_context(Workspace(threads, keeps=True))
                seen = open_places.enter_context(Workspace(threads))
                mine, measured = ours(picture, panel, work), ours(picture, panel, seen)
                tasks["light", "ours", threads] = mine["light"]
                tasks |= {
                    (what, "ours", threads): measured[what]
                    for what in ("luminance findings", "all findings")
                }
                tasks["light", "copy", threads] = copy_of(picture, work)
            if name in all_of:
                tasks |= {(*key, 1): task for key, task in others(picture, panel).items()}
            yield from _timed(tasks, name, picture, 96, rounds)


def zones(size: str, counts: Iterable[int], rounds: int) -> Iterator[Line]:
    """Light and luminance findings for more and more zones, two threads."""
    picture = coded(SIZES[size])
    tasks: dict[tuple[str, int], Task] = {}
    with ExitStack() as open_places:
        for count in counts:
            work = open_places.enter_context(Workspace(2, keeps=True))
            seen = open_places.enter_context(Workspace(2))
            panel = zoned(count)
            tasks["light", count] = ours(picture, panel, work)["light"]
            tasks["luminance findings", count] = ours(picture, panel, seen)["luminance findings"]
        timed = interleaved(_named(tasks), rounds=rounds)
    for (what, count), each in zip(tasks, timed.values(), strict=True):
        pixels = picture.first.size
        yield Line(what, "ours", size, pixels, count, 2, each.median, len(each.seconds))


def _timed(
    tasks: dict[tuple[str, str, int], Task],
    size: str,
    picture: CodePicture,
    count: int,
    rounds: int,
) -> Iterator[Line]:
    slow = frozenset(str(key) for key in tasks if key[1] in ("plain", "tidy"))
    timed = interleaved(_named(tasks), rounds=rounds, slow=slow)
    for (what, by, threads), each in zip(tasks, timed.values(), strict=True):
        pixels, calls = picture.first.size, len(each.seconds)
        yield Line(what, by, size, pixels, count, threads, each.median, calls)


def _named(tasks: dict[Any, Task]) -> dict[str, Task]:
    return {str(key): task for key, task in tasks.items()}


def clip(size: str, frames: int, rounds: int) -> tuple[list[Line], list[float]]:
    """A frame of an HEVC clip: decoded, decoded and copied, decoded with findings by us; and how
    many seconds had passed after each frame."""
    panel = zoned()
    ends: list[float] = []
    with TemporaryDirectory() as place, Workspace(2) as work:
        picture = coded(SIZES[size])
        path = write_clip(_panned(picture, frames), Path(place) / "clip.mkv", rate=RATE,
                          lossless=False, fast=True)  # fmt: skip
        copy = copy_of(picture, work)

        def through(each_frame: Callable[[Frame, Any], Any]) -> Task:
            def run() -> None:
                state, began = None, perf_counter()
                ends.clear()
                for frame in islice(open_clip(path), frames):
                    state = each_frame(frame, state)
                    ends.append(perf_counter() - began)

            return run

        def found(frame: Frame, state: Any) -> Any:
            rendering = render(frame, panel, state=state, work=work)
            measure(frame, rendering, maps=False, colour=False)
            return rendering.state

        tasks: dict[str, Task] = {
            "decode": through(lambda _frame, _state: None),
            "copy": through(lambda _frame, _state: copy()),
            "ours": through(found),
        }
        timed = interleaved(tasks, rounds=rounds)
    lines = [
        Line("clip", by, size, picture.first.size, 96, 2, each.median / frames, rounds)
        for by, each in timed.items()
    ]
    return lines, list(ends)


def _panned(picture: CodePicture, frames: int) -> Iterator[CodePicture]:
    """The picture moving to the left by four pixels a frame, round its edges."""
    for index in range(frames):
        yield replace(
            picture,
            first=np.roll(picture.first, -4 * index, axis=1),
            second=np.roll(picture.second, -2 * index, axis=1),
            third=np.roll(picture.third, -2 * index, axis=1),
        )


def alone(kind: str, file: str) -> dict[str, float]:
    """In a process of its own, on planes in a file.

    first: seconds of the first calls and of the next. Another kind names a task: bytes that two
    stills, and that MANY stills one after another, add at their most to what was there.
    """
    with np.load(file) as kept:
        picture = CodePicture(kept["first"], kept["second"], kept["third"], HDR10)
    panel = zoned()
    if kind == "first":
        return {
            f"{what}, {call}": _seconds(task)
            for what, task in ours(picture, panel, None).items()
            for call in ("first", "later")
        }
    blue, red = (each[: FEWEST_ROWS // 2, :FEWEST_ROWS] for each in (picture.second, picture.third))
    small = CodePicture(picture.first[:FEWEST_ROWS, : 2 * FEWEST_ROWS], blue, red, HDR10)
    ours(small, panel, None)[kind]()  # what is compiled and opened is no cost of the picture
    task, before = ours(picture, panel, None)[kind], memory("VmRSS")
    peaks = []
    for calls in (2, MANY - 2):
        for _ in range(calls):
            task()
        peaks.append(float(memory("VmHWM") - before))
    return {f"{kind}, 2 stills": peaks[0], f"{kind}, {MANY} stills": peaks[1]}


def _seconds(task: Task) -> float:
    began = perf_counter()
    task()
    return perf_counter() - began


def in_processes(size: str) -> dict[str, dict[str, float]]:
    """First calls with nothing compiled [s], and memory as shares of a float32 frame."""
    picture = coded(SIZES[size])
    with TemporaryDirectory() as place:
        file = str(Path(place) / "planes.npz")
        np.savez(file, first=picture.first, second=picture.second, third=picture.third)
        fresh = os.environ | {"NUMBA_CACHE_DIR": str(Path(place) / "cache")}
        first = _answer("first", file, fresh)
        peaks = {**_answer("light", file, os.environ),
                 **_answer("luminance findings", file, os.environ)}  # fmt: skip
    frame = FRAME_BYTES * picture.first.size
    return {"first": first, "memory": {name: peak / frame for name, peak in peaks.items()}}


def _answer(kind: str, file: str, environ: Mapping[str, str]) -> dict[str, float]:
    command = [sys.executable, "-m", "benchmarks", "--alone", kind, file]
    done = subprocess.run(
        command, env=environ, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True
    )
    answer: dict[str, float] = json.loads(done.stdout)
    return answer


def run(long: bool) -> tuple[list[Line], list[float], dict[str, dict[str, float]]]:
    """All figures, those after each frame of the clip, and those of processes of their own."""
    rounds = LONG_ROUNDS if long else ROUNDS
    lines = list(sizes(SIZES, rounds, tuple(SIZES) if long else ("1080p", "4K")))
    by_zones = list(zones(ZONES_SIZE, ZONES, rounds))
    clips = [clip(size, CLIP_FRAMES, 3) for size in (("1080p", "4K") if long else ("1080p",))]
    ends = clips[0][1]
    processes = in_processes("4K")
    return [*lines, *by_zones, *(line for each, _ in clips for line in each)], ends, processes


def main(arguments: Sequence[str] | None = None) -> None:
    """Reads the command line."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("folder", nargs="?", help="where to write json, csv and the figure")
    parser.add_argument("--long", action="store_true", help="more rounds, 8K and a 4K clip for all")
    parser.add_argument("--alone", nargs=2, help=argparse.SUPPRESS)
    asked = parser.parse_args(arguments)
    if asked.alone:
        print(json.dumps(alone(*asked.alone)))
        return
    began, machine = perf_counter(), environment()
    print(machine, flush=True)
    lines, ends, processes = run(asked.long)
    print(*table(lines), sep="\n")
    for title, figures in processes.items():
        unit = "float32 frames at the most" if title == "memory" else "s"
        print(f"\n{title} [{unit}]", *(f"  {k}: {v:.4g}" for k, v in figures.items()), sep="\n")
    print(f"\n{perf_counter() - began:.0f} s; at the end: {environment()}")
    if asked.folder:
        into = folder(asked.folder)
        kept: dict[str, Any] = {"environment": machine, "lines": [asdict(line) for line in lines]}
        kept |= {"clip_s": ends, "processes": processes}
        write_text(into / "benchmarks.json", json.dumps(kept, indent=1) + "\n")
        write_text(into / "benchmarks.csv", csv_of(lines))
        draw(lines, ends, ZONES_SIZE, into)


if __name__ == "__main__":
    main()
