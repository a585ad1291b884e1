"""Exposure slices: how an SDR picture stands for light it cannot show.

One exposure shows about two decades of light well. A picture that squeezes more into itself hides
the very losses it should show, so we draw the same pair several times, each at one plain exposure
that it states, and say what lies above its white.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from emulate.findings.evidence import HIGHLIGHT, SHADOW
from emulate.findings.formatting import share_text
from emulate.frames.frame import Frame
from emulate.pictures.style import Rgb
from emulate.rendering import Rendering
from emulate.transfer import SDR_WHITE
from emulate.values import Pixels

LEAST_AREA = 1e-3  # of the frame, for a region to get its slice; our choice
LEAST_SHOWN = 0.05  # of either picture below white, for a slice to be worth showing; our choice
HIGHEST = 0.9999  # of a region's pixels lie below the white of highlights: the peak of physics §3
HIGH = 0.99  # as above for middle and shadow, which have a brighter slice beside them; our choice
DARKEST_WHITE = 0.1  # cd/m²: below it a slice magnifies 45 visible steps to a whole picture; ours
APART = 2.0  # least ratio of neighbouring whites; our choice
SERIES = np.array([1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8, 10])  # ISO 3:1973, R10, rounded


@dataclass(frozen=True)
class Slice:
    """One exposure: light 0 to `white` [cd/m²] of both pictures, shown from black to white.

    above_reference, above_panel: share of each picture, 0..1, whose brightest channel is above
    white and so is cut off there.
    """

    name: str
    white: float
    above_reference: float
    above_panel: float

    def codes(self, light: Pixels) -> Rgb:
        """sRGB codes (h, w, 3) of BT.2020 light [cd/m²] at this exposure."""
        from emulate.frames.sdr import sdr_from_light

        return sdr_from_light(light, self.white)

    @property
    def below(self) -> float:
        """Share of the picture, 0..1, that is not cut off; of the two pictures the larger."""
        return 1 - min(self.above_reference, self.above_panel)

    @property
    def sentence(self) -> str:
        """What the slice is, in words that stand above its pictures."""
        return f"White of this picture = {written(self.white)} cd/m². {self._against_life()}."

    @property
    def warning(self) -> str:
        """What the slice hides; empty where it hides nothing."""
        if self.above_reference == self.above_panel == 0:
            return ""
        return (
            f"Brighter than this white, so cut off here: {share_text(self.above_reference)} of the "
            f"reference, {share_text(self.above_panel)} of the panel."
        )

    def _against_life(self) -> str:
        ratio = SDR_WHITE / self.white
        if 1 / 1.25 < ratio < 1.25:
            return "About as light as life on a screen of 203 cd/m²"
        word = "lighter" if ratio > 1 else "darker"
        times = written(max(ratio, 1 / ratio), 2)
        return f"On a screen of 203 cd/m² it looks {times} × {word} than life"


def slices(frame: Frame, rendering: Rendering) -> tuple[Slice, ...]:
    """The exposures that show a frame and its rendering, darkest first; at least one.

    Regions are those of the findings, by the reference's brightest channel: shadow up to 1 cd/m²,
    highlight from 203, middle between. A region that covers a thousandth of the frame gets a
    slice. Its white is the light under which 99 % of the region lies (highlights: 99.99 %), in the
    brighter of reference and panel at each pixel, rounded up to the next of ISO 3's R10 numbers. Of
    two whites less than a factor 2 apart the darker goes; so does a slice under whose white lies
    less than a twentieth of both pictures, unless it is the only one.
    """
    return slices_of(frame.light, rendering.light)


def slices_of(light: Pixels, panel_light: Pixels) -> tuple[Slice, ...]:
    """The slices of reference light and a panel's (h, w, 3) [cd/m²], as `slices` chooses them."""
    reference, shown = brightest(light), brightest(panel_light)
    either = np.maximum(reference, shown)
    parts = {
        "deep shadow": (reference <= SHADOW, HIGH),
        "middle": ((reference > SHADOW) & (reference < HIGHLIGHT), HIGH),
        "highlight": (reference >= HIGHLIGHT, HIGHEST),
    }
    whites = {
        name: _white(either[inside], share)
        for name, (inside, share) in parts.items()
        if inside.mean() >= LEAST_AREA
    }
    found = [
        Slice(name, white, _above(reference, white), _above(shown, white))
        for name, white in _apart(whites).items()
    ]
    return tuple(one for one in found[:-1] if one.below >= LEAST_SHOWN) + tuple(found[-1:])


def brightest(light: Pixels) -> Pixels:
    """(h, w): the largest channel of light (h, w, 3)."""
    return np.maximum(np.maximum(light[..., 0], light[..., 1]), light[..., 2])


def written(value: float, digits: int = 3) -> str:
    """A number as a person writes it: few digits, a thin gap between thousands."""
    rounded = float(f"{value:.{digits}g}")
    if rounded >= 10000:
        return f"{rounded:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")
    if rounded != 0 and abs(rounded) < 1e-4:
        return f"{rounded:.{digits - 1}e}"
    return np.format_float_positional(rounded, trim="-")


def _white(light: NDArray[np.float32], share: float) -> float:
    rank = int(np.ceil(share * light.size)) - 1
    return rounded_up(float(np.partition(light, rank)[rank]))


def rounded_up(light: float) -> float:
    """The next white [cd/m²] that a slice may have, 0.1 or more, in ISO 3's R10 numbers."""
    value = max(light, DARKEST_WHITE)
    decade = 10.0 ** np.floor(np.log10(value))
    series = SERIES * decade
    return float(f"{series[np.searchsorted(series, value * (1 - 1e-6))]:.4g}")


def _apart(whites: dict[str, float]) -> dict[str, float]:
    kept: dict[str, float] = {}
    for name, white in reversed(whites.items()):
        if not kept or white * APART <= min(kept.values()):
            kept[name] = white
    return dict(reversed(kept.items()))


def _above(light: NDArray[np.float32], white: float) -> float:
    return float(np.count_nonzero(light > white) / light.size)
