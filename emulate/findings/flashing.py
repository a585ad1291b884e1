"""Flashing: whether moving light may be a danger to people with photosensitive epilepsy.

A caution, never a certificate. Counted as in ITU-R BT.1702-3 (values from memory) and WCAG 2.3.1: a
flash is a pair of opposing changes of luminance, each of 20 cd/m² or more with the darker side
below 160 cd/m²; more than three flashes within a second over more than a quarter of the screen are
to be warned of. More cautious than either: parts of the screen need not flash together.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate.findings.finding import Finding
from emulate.findings.formatting import opening, share_text
from emulate.values import Numbers

CHANGE = 20.0  # cd/m², ITU-R BT.1702-3 [from memory]
DARKER = 160.0  # cd/m² and above: no flash, as above
MOST_FLASHES = 3  # within any second, as above; WCAG 2.2, 2.3.1
LARGEST_AREA = 0.25  # of the screen, ITU-R BT.1702-3 [from memory]
WINDOW_S = 1.0

_RULE = (
    "Luminance on a grid over the picture, followed from turning point to turning point. A flash "
    "is two opposing changes of 20 cd/m² or more each, the darker side below 160 cd/m² (ITU-R "
    "BT.1702-3, WCAG 2.3.1)"
)

Mask = NDArray[np.bool_]


class Flashing(NamedTuple):
    """area: largest share of the picture, 0..1, with more than three flashes within a second;
    rate: the most flashes in a second that more than a quarter of the picture reached."""

    area: float
    rate: float

    @property
    def risky(self) -> bool:
        return self.area > LARGEST_AREA


def count_flashes(maps: Iterable[NDArray[np.floating]], times_s: Iterable[float]) -> Flashing:
    """Flashes of luminance maps (rows, columns) [cd/m²] of one size, in order of their times [s].

    One map in memory at a time, and the changes of the last second.
    """
    area, rate = 0.0, 0.0
    recent: deque[tuple[float, Mask]] = deque()
    turn: _Turn | None = None
    for image, time_s in zip(maps, times_s, strict=False):
        light = np.asarray(image, dtype=np.float64)
        turn, changed = _followed(turn or _begun(light), light)
        recent.append((time_s, changed))
        while time_s - recent[0][0] >= WINDOW_S - 1e-9:  # a second holds both its ends once
            recent.popleft()
        flashes = np.sum([each for _, each in recent], axis=0) // 2
        area = max(area, float((flashes > MOST_FLASHES).mean()))
        rate = max(rate, _reached(flashes))
    return Flashing(area, rate)


def find_flashing(maps: Iterable[NDArray[np.floating]], times_s: Iterable[float]) -> Finding:
    """How much of the picture flashes more than three times within a second."""
    found = count_flashes(maps, times_s)
    definition = (
        f"{_RULE}. Largest share of the picture with more than three flashes within a second; "
        "over a quarter is to be warned of. A caution, not a certificate."
    )
    return Finding(found.area, "share", sentence(found), definition)


def sentence(found: Flashing) -> str:
    """What to say of it. Never that something is safe."""
    if not found.area:
        return "No part of the picture was found to flash more than three times within a second."
    grave = "Caution, flashing: " if found.risky else ""
    share = share_text(found.area)
    return (
        f"{grave}{share if grave else opening(share)} of the picture flashes more than three times "
        f"within a second{', up to ' + format(found.rate, 'g') + ' times' if grave else ''}."
    )


class _Turn(NamedTuple):
    """Of each part of the picture: the light of its last turn, either way, and its direction."""

    low: Numbers
    high: Numbers
    direction: NDArray[np.int8]  # 1 rising, -1 falling, 0 not known yet


def _begun(light: Numbers) -> _Turn:
    return _Turn(light, light, np.zeros(light.shape, np.int8))


def _followed(before: _Turn, light: Numbers) -> tuple[_Turn, Mask]:
    """The turn after this light, and where it completes a change that opposes the one before."""
    low, high = np.minimum(before.low, light), np.maximum(before.high, light)
    up = (before.direction <= 0) & (light - low >= CHANGE) & (low < DARKER)
    down = (before.direction >= 0) & (high - light >= CHANGE) & (light < DARKER) & ~up
    direction = np.where(up, 1, np.where(down, -1, before.direction)).astype(np.int8)
    return _Turn(np.where(down, light, low), np.where(up, light, high), direction), up | down


def _reached(flashes: NDArray[np.int_]) -> float:
    """The most flashes that more than a quarter of the picture had."""
    return float(np.quantile(flashes, 1 - LARGEST_AREA, method="lower"))
