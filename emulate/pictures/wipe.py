"""Wipe: what a reference and the panels it was shown on need, to be laid over each other.

All panels of a scene are shown at the same exposures, so that what differs is the panel. The size
is that of a page; a pixel is the mean light of the frame's area under it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from emulate.findings.results import Exposures
from emulate.frames.frame import Frame
from emulate.pictures.exposure import APART, SERIES, Slice, brightest, slices
from emulate.pictures.sampling import area_mean
from emulate.rendering import Rendering
from emulate.transfer import SDR_WHITE
from emulate.values import Numbers, Pixels, locked, numbers

WIDTH = 960  # px of a page's picture: half of 1920, so that a pixel is the mean of four
MANY_WIDTH = 640  # px where a page shows twenty stills or more: it should stay under 15 MB
MOST_CUT = 0.25  # of the reference above the white of the slice that a page opens with; our choice
DECADES = (-1, 4)  # 0.1 to 10 000 cd/m²: every white that a slice can have

WHITES = numbers(
    sorted({float(f"{step * 10.0**n:.4g}") for n in range(*DECADES) for step in SERIES})
)


def page_size(shape: tuple[int, int], width: int = WIDTH) -> tuple[int, int]:
    """(rows, columns) of a page's picture: even, as wide as `width`, never larger than the frame.

    Frames higher than they are wide get `width` for their height.
    """
    scale = min(1.0, width / max(shape))
    rows, columns = (max(1, round(side * scale)) for side in shape)
    return rows - rows % 2 or 1, columns - columns % 2 or 1


def page_light(light: Pixels, width: int = WIDTH) -> Pixels:
    """Light (h, w, 3) [cd/m²] at the size of a page."""
    return locked(area_mean(light, page_size(light.shape[:2], width)))


def exposures(frame: Frame, rendering: Rendering) -> Exposures:
    """The exposures a still asks for, and how much of both pictures lies above each white."""
    wanted = tuple((one.name, one.white) for one in slices(frame, rendering))
    reference, shown = (shares_above(light) for light in (frame.light, rendering.light))
    return Exposures(wanted, *(tuple(map(float, v)) for v in (WHITES, reference, shown)))


def shares_above(light: Pixels) -> Numbers:
    """Share of the pixels, 0..1, whose brightest channel is above each of WHITES."""
    level = brightest(light).ravel()
    reached = np.searchsorted(WHITES.astype(np.float32), level, side="left")
    counts = np.bincount(reached, minlength=len(WHITES) + 1)
    return np.asarray(1 - np.cumsum(counts[:-1]) / level.size).clip(0.0, 1.0)


def common_slices(asked: Sequence[Exposures]) -> tuple[tuple[Slice, ...], ...]:
    """For each panel its slices, all at the same whites: of each region the brightest asked for.

    Of two whites less than a factor 2 apart the darker goes, as in `slices`.
    """
    whites: dict[str, float] = {}
    for each in asked:
        for name, white in each.wanted:
            whites[name] = max(white, whites.get(name, 0.0))
    kept: dict[str, float] = {}
    for name, white in sorted(whites.items(), key=lambda pair: -pair[1]):
        if not kept or white * APART <= min(kept.values()):
            kept[name] = white
    return tuple(
        tuple(_slice(name, white, each) for name, white in reversed(kept.items())) for each in asked
    )


def main_slice(found: Sequence[Slice]) -> int:
    """Which of a scene's slices a page opens with: of those that cut off a quarter of the
    reference or less, the one nearest to life, 203 cd/m² as white; else the brightest."""
    shown = [one for one in found if one.above_reference <= MOST_CUT] or list(found[-1:])
    return found.index(min(shown, key=lambda one: abs(np.log(one.white / SDR_WHITE))))


def _slice(name: str, white: float, each: Exposures) -> Slice:
    at = int(np.argmin(np.abs(np.asarray(each.whites) - white)))
    return Slice(name, white, each.above_reference[at], each.above_shown[at])
