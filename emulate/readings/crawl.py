"""Zones from a crawl: how many the box passed, counted or found from light against position.

Light against position is taken as a smooth trend plus a wave that repeats with the zones. Since
zones tile the screen, only whole counts are tried, and each begins at the screen's edge: the wave
is even about every zone's middle. Counts are weighed against one another by the Bayesian
information criterion (Schwarz, Annals of Statistics 6(2), 1978), and every count that the
positions cannot tell from the best one is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from emulate.errors import Caveat, ReadingError
from emulate.readings.patterns.crawling import box_centre
from emulate.readings.readings import Readings, Trace
from emulate.values import Numbers

Axis = Literal["horizontal", "vertical"]
MOST = 128  # zones along one axis that are looked for, ours
HARMONICS = 5  # of the wave within a zone, ours
TREND = 2  # degree of the smooth trend of log light over the screen, ours
FEWEST = 8  # positions, ours
SURE = 0.95  # weight from which a count stands alone
LIKELY = 0.01  # weight from which an alternative is worth a word, ours
FLOOR = 1e-6  # share of the brightest light: below, its logarithm says nothing, ours


@dataclass(frozen=True)
class AxisCount:
    """Zones along one axis.

    count: the likeliest. confidence: its weight among all counts tried, 0..1. alternatives: other
    counts that the positions allow, with their weights, likeliest first. ambiguous: whether any
    could be meant. finest: the largest count that these positions can tell for certain (two
    positions a zone). how: counted by eye, or found from light. said: one sentence.
    """

    axis: Axis
    count: int
    confidence: float
    alternatives: tuple[tuple[int, float], ...]
    ambiguous: bool
    finest: int
    how: Literal["counted", "light", "trace"]
    said: str


@dataclass(frozen=True)
class ZoneCount:
    """Zones of a panel as far as its crawls tell; an axis without a crawl is None."""

    columns: AxisCount | None
    rows: AxisCount | None
    caveats: tuple[Caveat, ...] = ()

    @property
    def total(self) -> int | None:
        """Columns times rows; None where an axis was not crawled."""
        if self.columns is None or self.rows is None:
            return None
        return self.columns.count * self.rows.count


def count_zones(readings: Readings) -> ZoneCount:
    """The zones that a session's crawls tell of: counted by eye, traces, and single readings.

    A count by eye is believed before a trace, a trace before single readings; where two disagree a
    caveat says so.
    """
    found = {axis: _axis_counts(readings, axis) for axis in ("horizontal", "vertical")}
    caveats = [_disagreeing(counts) for counts in found.values() if len(counts) > 1]
    ambiguous = [
        Caveat(f"zones, {counts[0].axis}", counts[0].said)
        for counts in found.values()
        if counts and counts[0].ambiguous
    ]
    columns, rows = (found[axis][0] if found[axis] else None for axis in ("horizontal", "vertical"))
    return ZoneCount(columns, rows, (*(c for each in caveats for c in each), *ambiguous))


def count_from_switch_overs(axis: Axis, switch_overs: int) -> AxisCount:
    """Zones along an axis from the jumps that were counted: one more than those."""
    count = switch_overs + 1  # common practice, no source
    said = f"{switch_overs} switch-overs were counted, so {count} zones {_along(axis)}"
    return AxisCount(axis, count, 1.0, (), False, MOST, "counted", said)


def count_from_light(
    axis: Axis, position: ArrayLike, light: ArrayLike, how: Literal["light", "trace"] = "light"
) -> AxisCount:
    """Zones along an axis from light (n,) against the box's centre (n,), share of the extent 0..1.

    The light may be in any unit: only its shape counts. Raises ReadingError for fewer than eight
    different positions or light that is zero throughout.
    """
    x, y = np.asarray(position, dtype=np.float64), np.asarray(light, dtype=np.float64)
    if len(np.unique(x)) < FEWEST or not y.max() > 0:
        raise ReadingError(
            f"crawl, {axis}: {len(np.unique(x))} positions with light up to "
            f"{y.max(initial=0.0):g}; accepted are {FEWEST} positions or more, some of them lit"
        )
    weights = _weights(x, np.log(np.maximum(y, FLOOR * y.max())))
    order = np.argsort(-weights, kind="stable")
    count, confidence = int(order[0]) + 1, float(weights[order[0]])
    others = [(int(k) + 1, float(weights[k])) for k in order[1:6] if weights[k] >= LIKELY]
    finest = _finest(x)
    ambiguous = confidence < SURE or count > finest
    said = _sentence(axis, count, confidence, others, finest)
    return AxisCount(axis, count, confidence, tuple(others), ambiguous, finest, how, said)


def _weights(x: Numbers, log_light: Numbers) -> Numbers:
    """Weight of each count 1..MOST; of each, the best number of harmonics counts."""
    criteria = np.full(MOST, np.inf)
    criteria[0] = _criterion(_trend(x), log_light)
    for count in range(2, MOST + 1):
        for harmonics in range(1, HARMONICS + 1):
            basis = np.hstack([_trend(x), _wave(x, count, harmonics)])
            if basis.shape[1] + 2 < len(x):
                criterion = _criterion(basis, log_light)
                criteria[count - 1] = min(criteria[count - 1], criterion)
    relative = np.exp(-(criteria - criteria.min()) / 2)
    return np.asarray(relative / relative.sum())


def _trend(x: Numbers) -> Numbers:
    return np.vander(2 * x - 1, TREND + 1)


def _wave(x: Numbers, count: int, harmonics: int) -> Numbers:
    """Cosines that are even about each zone's middle; zones begin at the screen's edge."""
    order = np.arange(1, harmonics + 1)
    return np.cos(2 * np.pi * count * x[:, None] * order)


def _criterion(basis: Numbers, target: Numbers) -> float:
    """Schwarz's criterion of a least-squares fit, without the terms that all fits share."""
    solution, _, rank, _ = np.linalg.lstsq(basis, target, rcond=1e-9)
    n = len(target)
    misfit = float(((target - basis @ solution) ** 2).mean())
    return n * float(np.log(max(misfit, 1e-12))) + int(rank) * float(np.log(n))


def _finest(x: Numbers) -> int:
    """The count whose zones still get two positions each, at the widest of the usual steps."""
    steps = np.diff(np.unique(x))
    return max(1, int(0.5 / float(np.median(steps)) + 1e-9))


def _sentence(
    axis: Axis, count: int, confidence: float, others: Sequence[tuple[int, float]], finest: int
) -> str:
    found = f"{count} zones {_along(axis)} ({100 * confidence:.0f} % against all other counts)"
    if others:
        found += f"; {', '.join(str(other) for other, _ in others)} would fit too"
    if count > finest:
        found += (
            f"; the steps of the crawl are coarser than half a zone, above {finest} zones they can "
            "mistake one count for another: crawl in finer steps or count the switch-overs"
        )
    return found


def _along(axis: Axis) -> str:
    return "across" if axis == "horizontal" else "down"


def _axis_counts(readings: Readings, axis: str) -> list[AxisCount]:
    """Every count of an axis, the most trusted first."""
    direction: Axis = "vertical" if axis == "vertical" else "horizontal"
    seen = [s for s in readings.switch_overs if s.stimulus.axis == axis]
    traces = [t for t in readings.traces if t.stimulus.kind == "crawl" and t.stimulus.axis == axis]
    single = [r for r in readings.of("crawl") if r.stimulus.axis == axis]
    counts = [count_from_switch_overs(direction, each.count) for each in seen]
    for trace in traces:
        position, light = light_by_position(trace)
        counts.append(count_from_light(direction, position, light, "trace"))
    if len({reading.stimulus.value for reading in single}) >= FEWEST:
        position = np.array([reading.stimulus.value for reading in single])
        light = np.array([reading.luminance for reading in single])
        counts.append(count_from_light(direction, position, light))
    return counts


def _disagreeing(counts: Sequence[AxisCount]) -> list[Caveat]:
    first = counts[0]
    return [
        Caveat(f"zones, {first.axis}", f"{first.said}; but elsewhere: {other.said}")
        for other in counts[1:]
        if other.count != first.count and not other.ambiguous
    ]


def light_by_position(trace: Trace) -> tuple[Numbers, Numbers]:
    """Box centre (share of the extent) and light, sample by sample, while the box was moving.

    The logger's clock needs no start in common with the clip: the box is taken to appear and to go
    where the light passes a tenth of its median while lit.
    """
    stimulus = trace.stimulus
    lit_moments = [moment for moment in stimulus.moments if moment.patches]
    begin = lit_moments[0].time_s
    end = next(m.time_s for m in stimulus.moments if m.time_s > lit_moments[-1].time_s)
    lit = np.flatnonzero(trace.light > 0.1 * np.median(trace.light[trace.light > 0]))
    share = (trace.time_s[lit] - trace.time_s[lit[0]]) / np.ptp(trace.time_s[lit])
    starts = np.array([moment.time_s for moment in lit_moments])
    index = np.searchsorted(starts, begin + share * (end - begin), side="right") - 1
    centres = np.array(
        [box_centre(moment.patches[0], stimulus.axis, stimulus.shape) for moment in lit_moments]
    )
    return centres[index], np.asarray(trace.light[lit])
