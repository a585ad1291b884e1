"""Motion: a clip and what a panel makes of it, moving, on any screen.

Each film is at one stated exposure, as each still is, and each is looked at for flashing before
anybody sees it: one that flashes too often is slowed until it does not, and says so. That is a
caution, never a certificate.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import Literal

import numpy as np

from emulate.errors import RequestError
from emulate.findings.flashing import MOST_FLASHES, Flashing, count_flashes, sentence
from emulate.frames.encode import write_animation, write_sdr_clip
from emulate.frames.frame import Frame
from emulate.frames.sdr import light_from_sdr_picture
from emulate.pictures.exposure import Slice, written
from emulate.pictures.sampling import area_mean
from emulate.pictures.style import MAT, PAGE, Rgb, amount_colours, rgb
from emulate.pictures.wipe import page_size
from emulate.rendering import Rendering
from emulate.transfer import LUMINANCE_2020, SDR_WHITE
from emulate.values import Numbers, Pixels

Pair = tuple[Frame, Rendering]
Layout = Literal["side_by_side", "wipe", "backlight"]

GAP = 8  # px between pictures; even, so that video keeps its sides
LINE = 3  # px of the line of a wipe
SWEEP_S = 4.0  # s for a wipe's line to go across and come back
DECADES = 4.0  # of light under the panel's full light, for a backlight's colours
COARSE = (36, 64)  # rows and columns on which flashing is followed: a part is some 2° wide


@dataclass(frozen=True)
class Motion:
    """A film on file. rate: pictures a second, as shown; slowed: times slower than life (1 = not).

    flashing: as it would have been at life's pace, on a screen whose white is 203 cd/m². caution:
    what to say before it moves; empty where there is nothing to say.
    """

    path: Path
    rate: float
    slowed: float
    flashing: Flashing
    alt: str

    @property
    def caution(self) -> str:
        if not self.flashing.risky:
            return ""
        return (
            f"{sentence(self.flashing)} It is shown {written(self.slowed, 2)} times slower than "
            "life, so that it flashes no more than three times a second. This is a caution, not a "
            "certificate."
        )


def write_motion(
    pairs: Callable[[], Iterable[Pair]],
    exposure: Slice,
    path: str | os.PathLike[str],
    *,
    rate: float,
    layout: Layout = "side_by_side",
    width: int = 960,
) -> Motion:
    """A film of reference and panel at one exposure: SDR mp4, or a loop as animated PNG (.png).

    pairs: called for each of the two passes over the clip, one to look for flashing and one to
    write; one frame in memory at a time. rate: pictures a second of the clip. width: px of a
    picture. layout: both beside each other; the panel wiped over the reference and back; or the
    panel's picture with its backlight under it.

    Raises RequestError for another layout or ending, a rate that is none, or no pairs; OutputError
    where it cannot be written.
    """
    if layout not in LAYOUTS:
        raise RequestError(f"layout {layout!r}; accepted are {', '.join(LAYOUTS)}")
    draw, alt = LAYOUTS[layout], f"{_WORDS[layout]}. {exposure.sentence}"
    return write_pictures(lambda: draw(pairs(), exposure, width, rate), path, rate, alt)


def write_pictures(
    pictures: Callable[[], Iterable[Rgb]], path: str | os.PathLike[str], rate: float, alt: str
) -> Motion:
    """A film of pictures (rows, columns, 3), called for twice, looked at for flashing.

    Raises as `write_motion` does.
    """
    target, write = Path(path), _writer(Path(path))
    flashing = flashing_of(pictures(), rate)
    slowed = flashing.rate / MOST_FLASHES if flashing.risky else 1.0
    write(pictures(), target, rate / slowed)
    return Motion(target, rate / slowed, slowed, flashing, alt)


def side_by_side(pairs: Iterable[Pair], exposure: Slice, width: int, _: float = 0) -> Iterator[Rgb]:
    """Reference on the left, panel on the right: codes (rows, columns, 3)."""
    for reference, shown in _codes(pairs, exposure, width):
        gap = np.broadcast_to(rgb(MAT), (len(shown), GAP, 3))
        yield np.concatenate([reference, gap, shown], axis=1)


def wiped(pairs: Iterable[Pair], exposure: Slice, width: int, rate: float) -> Iterator[Rgb]:
    """The panel right of a line that goes across and back, the reference left of it."""
    for index, (reference, shown) in enumerate(_codes(pairs, exposure, width)):
        columns = shown.shape[1]
        phase = (index / rate / SWEEP_S + 0.25) % 1  # begins in the middle
        at = round((1 - abs(2 * phase - 1)) * columns)
        both = shown.copy()
        both[:, :at] = reference[:, :at]
        both[:, max(0, at - LINE // 2) : at + ceil(LINE / 2)] = rgb(PAGE)
        yield both


def over_backlight(
    pairs: Iterable[Pair], exposure: Slice, width: int, _: float = 0
) -> Iterator[Rgb]:
    """The panel's picture, and under it the light behind it, on a scale of four decades."""
    for pair in pairs:
        rendering = pair[1]
        size = page_size(rendering.why.shape, width)
        shown = exposure.codes(area_mean(rendering.light, size))
        full = rendering.panel.open_cdm2
        light = np.maximum(area_mean(rendering.backlight, size) / full, 10**-DECADES)
        below = amount_colours(1 + np.log10(light) / DECADES)
        gap = np.broadcast_to(rgb(MAT), (GAP, shown.shape[1], 3))
        yield np.concatenate([shown, gap, below], axis=0)


def flashing_of(pictures: Iterable[Rgb], rate: float) -> Flashing:
    """Flashing of SDR pictures (rows, columns, 3) at `rate` a second, white at 203 cd/m²."""
    maps = (_luminance(picture) for picture in pictures)
    return count_flashes(maps, (index / rate for index in range(2**62)))


LAYOUTS: dict[str, Callable[[Iterable[Pair], Slice, int, float], Iterator[Rgb]]] = {
    "side_by_side": side_by_side,
    "wipe": wiped,
    "backlight": over_backlight,
}
_WORDS = {
    "side_by_side": "Reference on the left and panel on the right",
    "wipe": "The panel wiped over the reference and back",
    "backlight": "The panel's picture above the light behind it",
}


def _codes(pairs: Iterable[Pair], exposure: Slice, width: int) -> Iterator[tuple[Rgb, Rgb]]:
    for frame, rendering in pairs:
        size = page_size(frame.shape, width)
        reference, shown = (_at(light, size) for light in (frame.light, rendering.light))
        yield exposure.codes(reference), exposure.codes(shown)


def _at(light: Pixels, size: tuple[int, int]) -> Pixels:
    return area_mean(light, size)


def _luminance(picture: Rgb) -> Numbers:
    """On the coarse grid [cd/m²], as an SDR screen of 203 cd/m² shows it."""
    light = light_from_sdr_picture(picture, SDR_WHITE)
    size = (min(COARSE[0], light.shape[0]), min(COARSE[1], light.shape[1]))
    return np.asarray(area_mean(light @ LUMINANCE_2020.astype(np.float32), size), np.float64)


def _writer(path: Path) -> Callable[[Iterable[Rgb], Path, float], Path]:
    writers = {".mp4": write_sdr_clip, ".png": write_animation}
    if path.suffix.lower() not in writers:
        raise RequestError(f"{path}: accepted is {' or '.join(writers)}")
    return writers[path.suffix.lower()]
