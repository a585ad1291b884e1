"""Noise: how far two looks at the same thing differ, found from repeats (physics §10)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from emulate.readings.readings import Reading, Readings, Repeats, gathered
from emulate.values import Numbers

ASSUMED = 0.02  # relative, where nothing was repeated: what such meters promise, ours
FEWEST = 4  # degrees of freedom from which repeats are believed, ours
BRIGHT = 1.0  # cd/m²: from here the relative part rules, ours
SURE = 0.99  # how surely dark repeats must scatter more before a floor is believed, ours


@dataclass(frozen=True)
class Noise:
    """Standard deviation of one look: √((relative·Y)² + floor²); floor [cd/m²].

    dof: degrees of freedom it was found with, 0 where it was assumed or given. how: which of them.
    """

    relative: float = ASSUMED
    floor: float = 0.0
    dof: int = 0
    how: Literal["repeats", "assumed", "given"] = "assumed"

    def of(self, light: ArrayLike) -> Numbers:
        """Standard deviation of log light at light [cd/m²] > 0, any shape."""
        values = np.asarray(light, dtype=np.float64)
        return np.sqrt(self.relative**2 + (self.floor / values) ** 2)


def noise_of(readings: Readings, given: float | None = None) -> Noise:
    """The noise that the repeats of a session show; `given` (relative) overrules them."""
    repeated = [group for group in readings.repeats() if len(group.luminance) > 1]
    repeated = [group for group in repeated if group.mean > 0]
    bright = [group for group in repeated if group.mean >= BRIGHT]
    relative, dof = _scatter(bright)
    if given is not None:
        return Noise(given, _floor(repeated, given), 0, "given")
    if dof < FEWEST or relative == 0:
        return Noise()
    return Noise(relative, _floor(repeated, relative, dof), dof, "repeats")


def averaged(readings: Iterable[Reading]) -> tuple[Repeats, ...]:
    """Repeats gathered, those that read nothing left out: their logarithm says nothing."""
    return tuple(group for group in gathered(readings) if group.mean > 0)


def _scatter(groups: Iterable[Repeats]) -> tuple[float, int]:
    """Relative standard deviation within groups, pooled, and its degrees of freedom."""
    squares, dof = 0.0, 0
    for group in groups:
        squares += float(((group.luminance / group.mean - 1) ** 2).sum())
        dof += len(group.luminance) - 1
    return (float(np.sqrt(squares / dof)) if dof else 0.0), dof


def _floor(repeated: Iterable[Repeats], relative: float, bright_dof: float = 1e6) -> float:
    """What dark repeats scatter beyond the relative part [cd/m²]; 0 unless it is beyond chance."""
    from scipy.stats import f

    dark = [group for group in repeated if group.mean < BRIGHT]
    found, dof = _scatter(dark)
    if dof < FEWEST or (found / relative) ** 2 < f.ppf(SURE, dof, bright_dof):
        return 0.0
    excess = [
        ((group.luminance - group.mean) ** 2).sum()
        - (len(group.luminance) - 1) * (relative * group.mean) ** 2
        for group in dark
    ]
    return float(np.sqrt(max(float(np.sum(excess)) / dof, 0.0)))
