"""What a film costs beside its decoder and its kernels: python -m benchmarks.films [--long].

One run, tasks turn by turn, medians; a frame's time by the clock, and the processor's time on it,
which a busy machine changes little. HEVC at 1080p; --long: 4K, and AV1 too.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import cycle, islice, pairwise
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter, process_time

import numpy as np

from benchmarks.__main__ import RATE, SIZES, coded, zoned
from benchmarks.timing import environment
from emulate.filming import film
from emulate.films.scan import Progress, framed, scan
from emulate.films.terms import Terms
from emulate.films.walk import shown
from emulate.findings.twin import Twin, evidence_of
from emulate.frames.clip import Clip, open_clip
from emulate.frames.encode import Codec, write_clip
from emulate.frames.frame import CodePicture
from emulate.fused.workspace import Workspace
from emulate.panel.panel import Panel
from emulate.sight import Viewer

FRAMES = 24  # one second
HELD = 6  # frames in memory that the kernels go through, over and over
ROUNDS = 3  # odd: the median is a call that was made
TERMS = Terms(None, 0.0, 0.0, Viewer())
DECODE, KERNELS, SCAN = "decoder alone", "kernels alone", "scan"

Task = Callable[[], object]


@dataclass(frozen=True)
class Cost:
    """Of one frame [s]: by the clock, and of all cores' time."""

    clock: float
    cores: float


def tasks_of(clip: Clip, panel: Panel, work: Workspace) -> dict[str, Task]:
    """What a scan is made of, and the scan itself, each over FRAMES frames."""
    held = list(islice(clip, HELD))

    def decode() -> None:
        for _ in clip.pieces():
            pass

    def kernels() -> None:
        state = None
        for index, frame in enumerate(islice(cycle(held), FRAMES)):
            here = replace(frame, index=index, time_s=index / RATE)
            rendering = shown(here, panel, TERMS, state, work)
            evidence = evidence_of(here, rendering, TERMS.viewer, mapping=False)
            assert isinstance(evidence, Twin)
            _ = evidence.found
            state = rendering.state

    return {DECODE: decode, KERNELS: kernels, SCAN: lambda: scan(clip, panel)}


def costs(tasks: dict[str, Task], rounds: int) -> dict[str, Cost]:
    """Medians of a frame's cost, every task once in each round, after a round to warm up."""
    seen: dict[str, list[tuple[float, float]]] = {name: [] for name in tasks}
    for turn in range(rounds + 1):
        for name, task in tasks.items():
            clock, cores = perf_counter(), process_time()
            task()
            if turn:
                seen[name].append((perf_counter() - clock, process_time() - cores))
    return {
        name: Cost(*(median(each) / FRAMES for each in zip(*calls, strict=True)))
        for name, calls in seen.items()
    }


def told(size: str, codec: str, found: dict[str, Cost]) -> Iterator[str]:
    """A line a task, and what of the scan is neither decoder nor kernels."""
    for name, each in found.items():
        yield (
            f"{codec:<6}{size:<7}{name:<16}{1e3 * each.clock:>9.1f} ms{1 / each.clock:>8.1f} fps"
            f"{1e3 * each.cores:>9.1f} ms of the cores"
        )
    decode, kernels, whole = (found[name] for name in (DECODE, KERNELS, SCAN))
    parts = decode.cores / whole.cores, kernels.cores / whole.cores
    yield (
        f"{codec:<6}{size:<7}of the scan's processor time: kernels {parts[1]:.1%}, decoder "
        f"{parts[0]:.1%}, beside them {1 - sum(parts):.1%}"
    )
    yield (
        f"{codec:<6}{size:<7}the scan's rate is {decode.clock / whole.clock:.0%} of the decoder's "
        f"alone and {kernels.clock / whole.clock:.0%} of the kernels' alone; it had "
        f"{whole.cores / whole.clock:.2f} of {len(os.sched_getaffinity(0))} cores"
    )


def whole_command(clip: Clip, panel: Panel, place: Path) -> Iterator[str]:
    """Bars, scan, stills and page of the command, once, in seconds."""
    marks = [("before the first frame", perf_counter(), process_time())]

    def mark(what: str) -> None:
        marks.append((what, perf_counter(), process_time()))

    def on_progress(step: Progress) -> None:
        if step.done in (0, clip.frames):
            mark("scan" if step.done == 0 else "last frame")

    film(clip, panel, place, on_progress=on_progress, tell=mark)
    mark("end")
    for (what, clock, cores), (_, clock_after, cores_after) in pairwise(marks):
        yield (
            f"{'':<13}{what:<32}{clock_after - clock:>7.1f} s{cores_after - cores:>7.1f} s of the "
            "cores"
        )


def clip_of(size: str, codec: Codec, folder: Path) -> Clip:
    """The demo scene moving to the left, on file."""
    path = folder / f"{size}_{codec}.mkv"
    moving = _moving(coded(SIZES[size]))
    return open_clip(write_clip(moving, path, rate=RATE, codec=codec, lossless=False, fast=True))


def _moving(picture: CodePicture) -> Iterator[CodePicture]:
    for index in range(FRAMES):
        first = np.roll(picture.first, -4 * index, axis=1)
        second, third = (
            np.roll(plane, -2 * index, axis=1) for plane in (picture.second, picture.third)
        )
        yield replace(picture, first=first, second=second, third=third)


def main(arguments: Sequence[str] | None = None) -> None:
    """Reads the command line."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.films", description=__doc__)
    parser.add_argument("--long", action="store_true", help="4K, and AV1 too")
    long = parser.parse_args(arguments).long
    codecs: tuple[Codec, ...] = ("hevc", "av1") if long else ("hevc",)
    size, panel = "4K" if long else "1080p", zoned()
    print(environment(), flush=True)
    with TemporaryDirectory() as folder, Workspace() as work:
        for codec in codecs:
            clip = clip_of(size, codec, Path(folder))
            found = costs(tasks_of(framed(clip), panel, work), ROUNDS)
            print(*told(size, codec, found), sep="\n", flush=True)
            print(*whole_command(clip, panel, Path(folder) / codec), sep="\n", flush=True)
    print(f"at the end: {environment()}")


if __name__ == "__main__":
    main()
