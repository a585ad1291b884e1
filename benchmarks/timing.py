"""Clocks: tasks timed turn by turn, so that a busy minute strikes all; and what ran here."""

from __future__ import annotations

import os
import platform
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path
from statistics import median
from time import perf_counter

PACKAGES = ("numpy", "numba", "scipy", "colour-science", "av")
KIB = 1024


@dataclass(frozen=True)
class Line:
    """One figure. what is given, by whom; seconds: the median of `calls`."""

    what: str
    by: str
    size: str
    pixels: int
    zones: int
    threads: int
    seconds: float
    calls: int


@dataclass
class Timed:
    """Seconds of each call of one task, in order; without the first where it was a warm-up."""

    seconds: list[float] = field(default_factory=list)

    @property
    def median(self) -> float:
        """Of all calls [s]."""
        return median(self.seconds)


def interleaved(
    tasks: Mapping[str, Callable[[], object]],
    *,
    rounds: int,
    slow: frozenset[str] = frozenset(),
    clock: Callable[[], float] = perf_counter,
) -> dict[str, Timed]:
    """Every task timed `rounds` times, one after another in each round.

    Before each timed call the task is called once untimed: a processor that the task before left
    idle takes some 10 ms to wake, which no frame of a clip pays.

    slow: tasks called once only, in the middle of the rounds, with no warm-up: a call of many
    seconds tells by itself what a quick one tells by its median.
    """
    quick = [name for name in tasks if name not in slow]
    timed = {name: Timed() for name in tasks}
    for turn in range(rounds):
        for name in tasks if turn == rounds // 2 else quick:
            if name not in slow:
                tasks[name]()
            began = clock()
            tasks[name]()
            timed[name].seconds.append(clock() - began)
    return timed


def environment() -> str:
    """One line: processor, cores, load, versions."""
    load = " ".join(f"{each:.2f}" for each in os.getloadavg())
    versions = ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    return (
        f"{_processor()}, {len(os.sched_getaffinity(0))} cores, load average {load}, "
        f"Python {platform.python_version()}, {versions}"
    )


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        lines = []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return next(iter(names), platform.machine())


def memory(kind: str) -> int:
    """Bytes of this process that /proc tells: VmRSS now, VmHWM the most there ever were.

    `resource` would tell the parent's peak as the child's own, since Linux hands it on.
    """
    for line in Path("/proc/self/status").read_text(encoding="utf-8").splitlines():
        if line.startswith(f"{kind}:"):
            return int(line.split()[1]) * KIB
    raise LookupError(f"/proc/self/status has no {kind}")
