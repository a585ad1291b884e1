"""Zones from a crawl: how many the box passed, counted or found from light against position.

The meter looks at the box wherever it goes. Its light against its place is a smooth trend plus a
wave that repeats with the zones. Since zones tile the screen, only whole counts are tried, and each
begins at the screen's edge: the wave is even about every zone's middle, and may step where the box
lies across a border and lights two zones. Counts are weighed against one another by their evidence,
and every count that the readings cannot tell from the best one is named.
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
from emulate.readings.stimulus import Stimulus
from emulate.values import Numbers

Axis = Literal["horizontal", "vertical"]
MOST = 128  # zones along one axis that are looked for, ours
HARMONICS = 4  # of the wave within a zone, ours
TREND = 2, 4  # degree of the smooth trend of log light, below and from MANY positions, ours
MANY = 60  # as above
SLOW = 3  # zones up to which a wave is no different from the trend, ours
MARGIN = 0.1  # share of the extent next to each edge, left out: the walls throw light back, ours
FEWEST = 8  # positions, ours
SURE = 0.95  # weight from which a count stands alone
LIKELY = 0.01  # weight from which an alternative is worth a word, ours
WEAK = 0.05  # root mean square of a wave in log light below which it may be trend, ours
FLOOR = 1e-6  # share of the brightest light: below, its logarithm says nothing, ours


@dataclass(frozen=True)
class AxisCount:
    """Zones along one axis.

    count: the likeliest. confidence: its weight among all counts tried, 0..1. alternatives: other
    counts that the readings allow, with their weights, likeliest first. ambiguous: whether another
    could be meant; one zone found from light is always so, since it is a wave that was not seen.
    finest: the largest count that these positions can tell for certain (two positions a zone).
    how: counted by eye, or found from light. said: one sentence.
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
    axis: Axis,
    position: ArrayLike,
    light: ArrayLike,
    *,
    box: float,
    how: Literal["light", "trace"] = "light",
) -> AxisCount:
    """Zones along an axis from the light (n,) of the box against its centre (n,), 0..1.

    Positions and the side of the box are shares of the picture's extent. The light may be in any
    unit: only its shape counts. Raises ReadingError for fewer than eight different positions or
    light that is zero throughout.
    """
    x, y = np.asarray(position, dtype=np.float64), np.asarray(light, dtype=np.float64)
    if len(np.unique(x)) < FEWEST or not y.max() > 0:
        raise ReadingError(
            f"crawl, {axis}: {len(np.unique(x))} positions with light up to "
            f"{y.max(initial=0.0):g}; accepted are {FEWEST} positions or more, some of them lit"
        )
    inner, log_light = _inner(x, np.log(np.maximum(y, FLOOR * y.max())))
    weights = _weights(inner, log_light, box)
    order = np.argsort(-weights, kind="stable")
    count, confidence = int(order[0]) + 1, float(weights[order[0]])
    others = [(int(k) + 1, float(weights[k])) for k in order[1:6] if weights[k] >= LIKELY]
    finest = _finest(x)
    weak = count > 1 and _swing(inner, log_light, count, box) < WEAK
    ambiguous = confidence < SURE or bool(others) or count > finest or weak or count == 1
    said = _sentence(axis, count, confidence, others, finest)
    if count == 1:
        said += "; or more, if their light differs less than the readings scatter"
    if weak:
        said += "; the light hardly changes within a zone, so the count is doubtful"
    return AxisCount(axis, count, confidence, tuple(others), ambiguous, finest, how, said)


def _inner(x: Numbers, log_light: Numbers) -> tuple[Numbers, Numbers]:
    """What lies away from the walls, where enough does."""
    away = (x > MARGIN) & (x < 1 - MARGIN)
    return (x[away], log_light[away]) if len(np.unique(x[away])) >= FEWEST else (x, log_light)


def _weights(x: Numbers, log_light: Numbers, box: float) -> Numbers:
    """Weight of each count 1..MOST. One zone, no wave at all, weighs as much as all others to
    begin with, and of those the fewer zones the more (in proportion to 1/count).
    """
    trend = _trend(x)
    left = _without(trend, log_light)
    evidence = [0.0] + [_evidence(x, left, trend, count, box) for count in range(2, MOST + 1)]
    prior = 1 / np.arange(1, MOST + 1)
    prior[0] = prior[1:].sum()
    relative = prior * np.exp(np.array(evidence) - max(evidence))
    return np.asarray(relative / relative.sum())


def _evidence(x: Numbers, left: Numbers, trend: Numbers, count: int, box: float) -> float:
    """Logarithm of how much better a count explains the light than no wave does.

    Zellner's g-prior of unit information (Liang et al., JASA 103, 2008, equation 6), mean over the
    waves tried: with and without a step at the borders, and so many harmonics.
    """
    n = len(x) - trend.shape[1]
    total = max(float(left @ left), 1e-300)
    found: list[float] = []
    for waves in _waves(x, count, box):
        free, scale = np.linalg.qr(_without(trend, waves))
        independent = np.abs(np.diag(scale)) > 1e-6
        explained = np.cumsum(np.where(independent, free.T @ left, 0.0) ** 2) / total
        ranks = np.cumsum(independent)
        found += [
            0.5 * ((n - rank) * np.log1p(n) - n * np.log1p(n * max(1 - share, 1e-9)))
            for rank, share in zip(ranks, explained, strict=True)
            if 0 < rank < n - 1
        ]
    if not found:
        return -np.inf
    best = max(found)
    return float(best + np.log(np.mean(np.exp(np.array(found) - best))))


def _swing(x: Numbers, log_light: Numbers, count: int, box: float) -> float:
    """Root mean square of the wave of a count, in log light."""
    trend = _trend(x)
    basis = _without(trend, np.hstack(_waves(x, count, box)))
    solution, *_ = np.linalg.lstsq(basis, _without(trend, log_light), rcond=1e-6)
    return float(np.sqrt(((basis @ solution) ** 2).mean()))


def _waves(x: Numbers, count: int, box: float) -> tuple[Numbers, Numbers]:
    """Two families of waves to be tried with ever more columns: with a step at borders, without.

    They are even about each zone's middle, which lies half a zone from the screen's edge. No
    harmonic goes beyond what the step of the crawl can carry, where it would stand for a slow wave;
    and few zones are told by the steps at their borders alone, since a slow wave is trend.
    """
    most = 0 if count <= SLOW else min(HARMONICS, max(1, _finest(x) // count))
    cosines = np.cos(2 * np.pi * count * x[:, None] * np.arange(1, most + 1))
    phase = (count * x) % 1
    straddling = np.minimum(phase, 1 - phase) < box * count / 2 - 1e-6  # touching is not across
    return np.hstack([straddling[:, None].astype(np.float64), cosines]), cosines


def _trend(x: Numbers) -> Numbers:
    """Orthonormal polynomials over the positions (n, degree + 1)."""
    basis, _ = np.linalg.qr(np.vander(2 * x - 1, TREND[len(x) >= MANY] + 1))
    return np.asarray(basis)


def _without(trend: Numbers, values: Numbers) -> Numbers:
    """What is left of values (n, ...) when the orthonormal trend is taken out."""
    return np.asarray(values - trend @ (trend.T @ values))


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
        counts.append(
            count_from_light(direction, position, light, box=_side(trace.stimulus), how="trace")
        )
    if len({reading.stimulus.value for reading in single}) >= FEWEST:
        position = np.array([reading.stimulus.value for reading in single])
        light = np.array([reading.luminance for reading in single])
        counts.append(count_from_light(direction, position, light, box=_side(single[0].stimulus)))
    return counts


def _side(stimulus: Stimulus) -> float:
    """Side of the box along its way, as share of the extent."""
    scenes = [stimulus.patches, *(moment.patches for moment in stimulus.moments)]
    box = next(patches for patches in scenes if patches)[0]
    if stimulus.axis == "vertical":
        return box.height / stimulus.shape[0]
    return box.width / stimulus.shape[1]


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
