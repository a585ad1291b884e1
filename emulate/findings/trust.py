"""Trust: what a fitted panel says of the readings it came from, and of those it never saw.

The closed loop shows the panel, with every effect it has, what the meter was shown, and sets each
reading beside its prediction. The held-out loop fits again without some of the readings and
predicts those; how far the prediction could be off is stated with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from emulate.errors import Caveat
from emulate.panel.fit.account import quantile
from emulate.panel.fit.drift import steadied
from emulate.panel.fit.fitting import Fit, fitted, moved_lamps, turned_by
from emulate.panel.fit.joint import is_lit
from emulate.panel.fit.looks import MOVED, expected, laid_out, light_share
from emulate.panel.fit.noise import Noise, averaged, noise_of
from emulate.panel.fit.prediction import predicted
from emulate.panel.fit.source import LOADS
from emulate.panel.fit.zones import Grid
from emulate.panel.panel import Panel
from emulate.panel.zones import Zones
from emulate.readings.readings import Reading, Readings, Repeats
from emulate.readings.stimulus import Stimulus
from emulate.sight import steps_from_light
from emulate.transfer import LUMINANCE_2020
from emulate.values import Numbers

Progress = Callable[[int, int], None]  # how many parts are done, of how many
FOLDS = {"window": 2, "spill": 2, "grow": 2, "checker": 1, "crawl": 1}
"""In how many parts each group is held out. Of those held out in parts the outermost stay: beyond
them nothing is left to predict from."""
DARKEST = 1e-6  # cd/m²: no light as a number that has a logarithm


@dataclass(frozen=True)
class Row:
    """One reading, or the mean of repeats, beside its prediction [cd/m²].

    interval: where 95 % of such readings should lie, the meter's noise included; None where it was
    not asked. steps: prediction less reading in visible steps. sigmas: in the meter's noise.
    """

    reading: Reading
    looks: int
    measured: float
    predicted: float
    steps: float
    sigmas: float
    interval: tuple[float, float] | None = None

    @property
    def group(self) -> str:
        """The kind of stimulus."""
        return self.reading.stimulus.kind

    @property
    def inside(self) -> bool:
        """Whether the reading lies in the interval."""
        low, high = self.interval or (-np.inf, np.inf)
        return low <= self.measured <= high


@dataclass(frozen=True)
class Summary:
    """A group of rows: how many, root mean square in steps and in sigmas, the row farthest off, and
    the share inside its interval (NaN where none was asked)."""

    group: str
    count: int
    steps: float
    sigmas: float
    worst: Row
    inside: float


@dataclass(frozen=True, eq=False)
class Trust:
    """Readings beside predictions. unpredictable: group -> why the rest does not tell of it.

    left_out: readings without a row, counted by why. widened: how many times wider the intervals
    are than the meter's noise alone makes them, by what the model misses.
    """

    how: Literal["closed loop", "held out"]
    panel: str
    rows: tuple[Row, ...]
    noise: Noise
    unpredictable: Mapping[str, str] = field(default_factory=dict)
    caveats: tuple[Caveat, ...] = ()
    left_out: Mapping[str, int] = field(default_factory=dict)
    widened: float = 1.0

    @property
    def summaries(self) -> tuple[Summary, ...]:
        """A line for each group, in order of first appearance."""
        groups: dict[str, list[Row]] = {}
        for row in self.rows:
            groups.setdefault(row.group, []).append(row)
        return tuple(_summary(group, rows) for group, rows in groups.items())


def predictions(panel: Panel, readings: Readings) -> Trust:
    """Every reading beside what `panel` shows for it: the closed loop (physics §10).

    Repeats are averaged, drift is taken out as in the fit, and its patch left out. Traces and
    counts are no single readings and are left out.
    """
    steady, drifted = steadied(readings)
    noise = _noise_in(panel, steady)
    groups = [g for g in averaged(steady.readings) if g.stimulus.kind != "drift"]
    light = predicted(panel, groups) @ LUMINANCE_2020
    rows = tuple(_row(g, float(value), noise) for g, value in zip(groups, light, strict=True))
    caveats = (*panel.caveats, *drifted)
    out = _left_out(steady, rows)
    return Trust("closed loop", panel.name, rows, noise, caveats=caveats, left_out=out)


def _left_out(readings: Readings, rows: Sequence[Row]) -> dict[str, int]:
    """How many readings have no row, and why."""
    drift = len(readings.of("drift"))
    dark = len(readings) - drift - sum(row.looks for row in rows)
    why = {"of the drift patch, by which the rest is steadied": drift, "that read no light": dark}
    return {words: count for words, count in why.items() if count}


def held_out(readings: Readings, *, zones: Grid = None, progress: Progress | None = None) -> Trust:
    """Each group of readings predicted by a panel fitted without it (physics §10).

    Groups that tell of the light source are held out; of windows, spill and the growing box one
    half at a time. zones: as for `fit_panel`. Raises as `fit_panel`.
    """
    whole = fitted(readings, zones=zones)
    source = whole.panel.zones
    given: Grid = (source.columns, source.rows) if isinstance(source, Zones) else "none"
    steady, drifted = steadied(readings)
    parts = list(_parts(steady))
    rows: list[Row] = []
    unpredictable: dict[str, str] = {}
    noise = noise_of(steady)
    for done, (kind, held) in enumerate(parts, 1):
        left = replace(steady, readings=tuple(r for r in steady if not _among(r, kind, held)))
        again = fitted(left, zones=given, start=whole.source)
        apart = [r for r in steady if _among(r, kind, held)]
        found, why = _foretold(again, apart, noise, whole.panel.fit["undetermined"])
        rows += found
        unpredictable |= {kind: why} if why else {}
        if progress:
            progress(done, len(parts))
    name = readings.panel or whole.panel.name
    widened = _missing(whole)
    return Trust("held out", name, tuple(rows), noise, unpredictable, drifted, widened=widened)


def _missing(fit: Fit) -> float:
    """How many times the meter's noise a fitted model misses its readings by, at least once."""
    solution = fit.source.solution
    return float(np.sqrt(max(solution.scatter, 1.0))) if solution else 1.0


def _noise_in(panel: Panel, readings: Readings) -> Noise:
    """The noise that the panel's fit found; that of the readings where it says none."""
    kept = panel.fit.get("noise")
    if not isinstance(kept, Mapping) or not {"relative", "floor_cdm2"} <= set(kept):
        return noise_of(readings)
    return Noise(float(kept["relative"]), float(kept["floor_cdm2"]))


def _row(
    group: Repeats, light: float, noise: Noise, interval: tuple[float, float] | None = None
) -> Row:
    sigma = float(noise.of(group.mean)) / np.sqrt(len(group.luminance))
    off = float(np.log(max(light, DARKEST) / group.mean))
    steps = float(steps_from_light(max(light, 0.0)) - steps_from_light(group.mean))
    first = group.readings[0]
    looks = len(group.luminance)
    return Row(first, looks, group.mean, light, steps, off / sigma, interval)


def _summary(group: str, rows: Sequence[Row]) -> Summary:
    asked = [row.inside for row in rows if row.interval is not None]
    return Summary(
        group,
        len(rows),
        float(np.sqrt(np.mean([row.steps**2 for row in rows]))),
        float(np.sqrt(np.mean([row.sigmas**2 for row in rows]))),
        max(rows, key=lambda row: abs(row.sigmas)),
        float(np.mean(asked)) if asked else float("nan"),
    )


def _parts(readings: Readings) -> Iterator[tuple[str, frozenset[Stimulus]]]:
    """Kind and stimuli of each part that is held out."""
    for kind, folds in FOLDS.items():
        stimuli = {replace(r.stimulus, number=0): None for r in readings.of(kind) if _plain(r)}
        ordered = sorted(stimuli, key=lambda s: (s.axis, s.value))
        inner = ordered if folds == 1 else ordered[1:-1]
        for fold in range(folds):
            if inner[fold::folds]:
                yield kind, frozenset(inner[fold::folds])


def _plain(reading: Reading) -> bool:
    return reading.angle == 0 and reading.room_lux == 0


def _among(reading: Reading, kind: str, held: frozenset[Stimulus]) -> bool:
    return (
        reading.stimulus.kind == kind
        and _plain(reading)
        and replace(reading.stimulus, number=0) in held
    )


def _foretold(
    fit: Fit, held: Sequence[Reading], noise: Noise, before: Mapping[str, str]
) -> tuple[list[Row], str]:
    """Rows for readings that the fit never saw, or why it says nothing of them; `before`: what was
    undetermined with them."""
    groups = averaged(held)
    lost = {k: why for k, why in fit.panel.fit["undetermined"].items() if k not in before}
    if not all(is_lit(group.readings[0]) for group in groups) and "spread" in lost:
        return [], f"without it spread is undetermined: {lost['spread']}"
    lamp, tone = fit.source.lamp, turned_by(fit.panel.tone)
    looks = laid_out(groups, lamp.source, lamp.open_cdm2, tone)
    _, load = light_share(looks, lamp.source, lamp.spread)
    reached = np.array([not _beyond(float(each), lost) for each in load])
    light = predicted(fit.panel, groups) @ LUMINANCE_2020
    plain = expected(looks, lamp)[:, 0]
    unsure = _doubt([expected(looks, other)[:, 0] for other in moved_lamps(fit.source)], plain)
    solution = fit.source.solution
    reach = quantile(solution.dof if solution else 1)
    missing = _missing(fit)
    rows = [
        _row(
            group,
            float(value),
            noise,
            _band(float(value), float(doubt), group, noise, reach, missing),
        )
        for group, value, doubt, known in zip(groups, light, unsure, reached, strict=True)
        if known
    ]
    why = "" if reached.all() else "without it the limiter is undetermined at some of its loads"
    return rows, why


def _beyond(load: float, lost: Mapping[str, str]) -> bool:
    """Whether the limiter at a load hangs on a point that the readings do not determine."""
    points = [n for n in range(1, len(LOADS)) if f"limiter.gain#{n + 1}" in lost]
    around = [(LOADS[n - 1], LOADS[min(n + 1, len(LOADS) - 1)]) for n in points]
    return any(low < load <= high for low, high in around)


def _doubt(moved: Sequence[Numbers], light: Numbers) -> Numbers:
    """Standard error of log light from the lamp's (n,)."""
    known = np.maximum(light, DARKEST)
    steps = [np.log(np.maximum(other, DARKEST) / known) / MOVED for other in moved]
    return np.asarray(np.sqrt(np.square(steps).sum(axis=0)) if steps else np.zeros_like(light))


def _band(
    light: float, doubt: float, group: Repeats, noise: Noise, reach: float, missing: float
) -> tuple[float, float]:
    """The interval of a reading: the lamp's doubt, the meter's noise, and what the model lacks, as
    `missing` times that noise tells it from the readings that were fitted."""
    meter = missing * float(noise.of(max(light, DARKEST))) / np.sqrt(len(group.luminance))
    off = reach * float(np.hypot(meter, doubt))
    return light * float(np.exp(-off)), light * float(np.exp(off))
