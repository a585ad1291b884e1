"""Looks: readings laid out for the light source, and the light a panel would show for each.

The model is the panel's own (physics §5, §6), at the pixel under the meter only and in double
precision, so that it can be differentiated.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from emulate.panel.cell import Cell
from emulate.panel.fit.mosaic import Mosaic, mosaic_of, seen_by
from emulate.panel.fit.noise import Noise
from emulate.panel.limiter import Limiter
from emulate.panel.spread import Spread, shares_at
from emulate.panel.zones import SelfEmissive, Statistics, Zones, driven, reached
from emulate.readings.readings import Repeats
from emulate.readings.stimulus import Stimulus, pixel_at
from emulate.values import Numbers, Value

MOVED = 0.05  # standard errors by which a lamp is moved to see what hangs on it, ours
DARKEST = 1e-12  # cd/m²: keeps the logarithm of no light finite
Source = Zones | SelfEmissive
Shape = tuple[int, int]


@dataclass(frozen=True, eq=False)
class Stack(Value):
    """What the zones see of each of s stimuli: peak and mean (s, rows, columns); load (s,): of a
    panel without zones."""

    peak: Numbers
    mean: Numbers
    load: Numbers


@dataclass(frozen=True, eq=False)
class Looks(Value):
    """n readings: which stimulus of the stack, row and column [px] of the meter and the shape of
    the picture, the channels asked there (n, 3) as shares of L_open."""

    stack: Stack
    which: NDArray[np.intp]
    row: NDArray[np.intp]
    column: NDArray[np.intp]
    shapes: tuple[Shape, ...]
    shape: NDArray[np.intp]
    asked: Numbers

    def __len__(self) -> int:
        return len(self.which)


@dataclass(frozen=True, eq=False)
class Lamp(Value):
    """All that turns asked light into light on the axis, grey by grey."""

    open_cdm2: float
    source: Source
    spread: Spread
    limiter: Limiter
    cell: Cell


@dataclass(frozen=True, eq=False)
class Trend(Value):
    """Misfits at `index` (k,) are left out as far as orthonormal `curves` (k, m) can make them."""

    index: NDArray[np.intp]
    curves: Numbers


@dataclass(frozen=True, eq=False)
class Measured(Value):
    """log light (n,) of the averages of repeats, their standard deviations (n,), how many looks
    each averages (n,), the misfit of repeats among themselves (χ²), and trends to leave out."""

    log_light: Numbers
    sigma: Numbers
    count: Numbers
    pure: float
    trends: tuple[Trend, ...] = ()

    def misfits(self, light: Numbers) -> Numbers:
        """Log of light (n,) against what was read, in standard deviations, trends left out."""
        off = (np.log(np.maximum(light, DARKEST)) - self.log_light) / self.sigma
        for trend in self.trends:
            here = off[trend.index]
            off[trend.index] = here - trend.curves @ (trend.curves.T @ here)
        return np.asarray(off)

    @property
    def worth(self) -> int:
        """Looks, less what the trends take."""
        taken = sum(int(trend.curves.shape[1]) for trend in self.trends)
        return int(self.count.sum()) - taken


Tone = Callable[[Mosaic], Mosaic]


def laid_out(
    groups: Sequence[Repeats],
    source: Source,
    open_cdm2: float,
    tone: Tone | Mapping[Stimulus, Mosaic] | None = None,
) -> Looks:
    """Readings as `Looks`; `tone` turns reference light into asked light or holds it already, None
    = asked for as it is."""
    stimuli = {group.stimulus: 0 for group in groups}
    order = {stimulus: index for index, stimulus in enumerate(stimuli)}
    mosaics = [_toned(stimulus, tone) for stimulus in stimuli]
    shapes = tuple(dict.fromkeys(stimulus.shape for stimulus in stimuli))
    places = [pixel_at(g.readings[0].spot, g.stimulus.shape) for g in groups]
    row, column = np.array(places, dtype=np.intp).reshape(-1, 2).T
    which = np.array([order[group.stimulus] for group in groups], dtype=np.intp)
    shape = np.array([shapes.index(group.stimulus.shape) for group in groups], dtype=np.intp)
    light = [_under(mosaics[index], r, c) for index, r, c in zip(which, row, column, strict=True)]
    asked = np.minimum(np.array(light), open_cdm2) / open_cdm2
    return Looks(_stack(mosaics, source, open_cdm2), which, row, column, shapes, shape, asked)


def measured(groups: Sequence[Repeats], noise: Noise, gain: Sequence[float]) -> Measured:
    """The readings over `gain` (n,), the part that unevenness of the screen has in them."""
    means = np.array([group.mean for group in groups])
    counts = np.array([len(group.luminance) for group in groups], dtype=np.float64)
    single = noise.of(means)
    off = [((g.luminance / g.mean - 1) ** 2).sum() for g in groups]
    pure = float((np.array(off) / single**2).sum())
    return Measured(np.log(means / np.asarray(gain)), single / np.sqrt(counts), counts, pure)


def expected(looks: Looks, lamp: Lamp) -> Numbers:
    """Light (n, 3) [cd/m²] of each channel under the meter, settled, on the axis, in the dark."""
    lit, load = light_share(looks, lamp.source, lamp.spread)
    gain = lamp.limiter.targets(np.minimum(load, 1.0))
    behind = lamp.open_cdm2 * gain * lit
    unknown = gain if lamp.limiter.acts == "dims" else np.ones_like(gain)
    return _passed(looks.asked * lamp.open_cdm2, behind[:, None], unknown[:, None], lamp)


def _passed(asked: Numbers, behind: Numbers, unknown_gain: Numbers, lamp: Lamp) -> Numbers:
    """Light that the cell lets through (physics §6), any shape."""
    kappa = lamp.cell.compensation
    known = (behind / unknown_gain) ** kappa * lamp.open_cdm2 ** (1 - kappa)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(known > 0, asked / known, 0.0)
    return np.asarray(np.clip(share, lamp.source.leak(lamp.cell.contrast), 1.0) * behind)


def light_share(looks: Looks, source: Source, spread: Spread) -> tuple[Numbers, Numbers]:
    """Backlight under the meter over L_open, and load, before the limiter: (n,), (n,)."""
    _, load = _driven(looks.stack, source)
    lit = np.zeros(len(looks))
    for weight, sigma in zip(spread.weight.tolist(), spread.sigma_h.tolist(), strict=True):
        lit += weight * _blurred(looks, source, sigma)
    return lit, load[looks.which]


def _toned(stimulus: Stimulus, tone: Tone | Mapping[Stimulus, Mosaic] | None) -> Mosaic:
    if isinstance(tone, Mapping):
        return tone[stimulus]
    mosaic = mosaic_of(stimulus)
    return mosaic if tone is None else tone(mosaic)


def _under(mosaic: Mosaic, row: int, column: int) -> Numbers:
    down = int(np.searchsorted(mosaic.rows, row, side="right")) - 1
    across = int(np.searchsorted(mosaic.columns, column, side="right")) - 1
    return np.asarray(mosaic.light[down, across])


def _stack(mosaics: Sequence[Mosaic], source: Source, open_cdm2: float) -> Stack:
    load = np.array([mosaic.mean(open_cdm2) for mosaic in mosaics])
    if isinstance(source, SelfEmissive):
        ones = np.ones((len(mosaics), 1, 1))
        return Stack(ones, ones, load)
    seen = [seen_by(mosaic, source, open_cdm2) for mosaic in mosaics]
    return Stack(np.array([s.peak for s in seen]), np.array([s.mean for s in seen]), load)


@lru_cache(maxsize=32)
def _driven(stack: Stack, source: Source) -> tuple[Numbers, Numbers]:
    """Drive (s, rows, columns) and load (s,)."""
    if isinstance(source, SelfEmissive):
        return stack.peak, stack.load
    drive = reached(driven(Statistics(stack.peak, stack.mean), source), source.reach)
    return drive, drive.mean(axis=(1, 2))


@lru_cache(maxsize=64)
def _blurred(looks: Looks, source: Source, sigma: float) -> Numbers:
    """One Gaussian's light under the meter (n,), over L_open."""
    drive, _ = _driven(looks.stack, source)
    down, across = _reaching(looks, drive.shape[1], drive.shape[2], sigma)
    bands = np.matmul(down[:, None, :], drive[looks.which])[:, 0]
    return np.asarray((bands * across).sum(axis=1))


@lru_cache(maxsize=32)
def _reaching(looks: Looks, rows: int, columns: int, sigma: float) -> tuple[Numbers, Numbers]:
    """Share of each row and each column of zones under the meter: (n, rows), (n, columns)."""
    down, across = np.empty((len(looks), rows)), np.empty((len(looks), columns))
    for index, (height, width) in enumerate(looks.shapes):
        here = looks.shape == index
        for zones, extent, place, into in (
            (rows, height, looks.row, down),
            (columns, width, looks.column, across),
        ):
            pixels, back = np.unique(place[here], return_inverse=True)
            into[here] = shares_at(pixels, zones, extent, height, sigma).T[back]
    return down, across
