"""Demo frames: invented scenes and clips of light, each named for the question it asks, and panels.

They are regenerated, not stored: a recipe of a few kilobytes is smaller than the pictures,
gives any size and any mastering peak, and hides nothing. Light is BT.2020 linear, cd/m².
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np

from emulate.colorimetry import BT2020, D65
from emulate.errors import RequestError
from emulate.frames.clip import Clip
from emulate.frames.frame import Frame, Metadata

from .canvas import Canvas, Image, brightest, graded
from .reel import Reel, Shot

Recipe = Callable[[Canvas, np.random.Generator], Image]
ShotRecipe = Callable[[Canvas, np.random.Generator], Shot]

_ROOMS = {  # scene -> the file that holds its recipe
    "drifts_in_sunlit_snow": "snow",
    "lamps_on_black_water": "water",
    "subtitle_on_black": "subtitle",
    "stars_between_stars": "stars",
    "candle_and_corners": "candle",
    "neon_without_white": "neon",
    "window_and_table": "window",
}

SCENES = tuple(_ROOMS)
CLIPS = ("lamp_across_black", "fade_and_return", "cave_to_snow", "posts_passing")
PEAKS = (100.0, 10000.0)  # cd/m²: mastering peaks a scene can be graded for
FULL_ROWS = 1080  # 1920×1080
CLIP_ROWS = 540  # 960×540
RATE = 24  # frames a second of a clip
SEED = 20260  # any number; the scenes were chosen by eye with this one


def scene(name: str, *, peak: float = 4000.0, rows: int = FULL_ROWS) -> Frame:
    """An invented scene, 16:9, `rows` high, graded for a mastering peak [cd/m²].

    The frame carries that peak, and MaxCLL and MaxFALL measured on its own light. Raises
    RequestError for an unknown name, a peak outside 100..10000 or fewer than 90 rows.
    """
    if name not in _ROOMS:
        raise RequestError(f"scene {name!r}: accepted is one of {', '.join(SCENES)}")
    _check(peak, rows)
    light = graded(_recipe(name)(Canvas(rows), _rng(name)), peak)
    return Frame.from_light(light, name, metadata=_metadata(light, peak))


def clip(
    name: str, *, peak: float = 4000.0, rows: int = CLIP_ROWS, rate: float | Fraction = RATE
) -> Clip:
    """An invented clip of a few seconds, 16:9, `rows` high, `rate` frames a second.

    Its frames are made as they are read; `write_clip(clip(name), path, rate=24)` puts them on file.
    They carry the peak [cd/m²] they are graded for, and MaxCLL and MaxFALL measured over the clip.
    Raises RequestError for an unknown name, a peak outside 100..10000, fewer than 90 rows or a rate
    outside 1..240.
    """
    if name not in CLIPS:
        raise RequestError(f"clip {name!r}: accepted is one of {', '.join(CLIPS)}")
    _check(peak, rows)
    if not 1 <= rate <= 240:
        raise RequestError(f"rate = {rate}: accepted is 1 to 240 frames a second")
    exact = Fraction(rate).limit_denominator(1001)
    canvas, length = Canvas(rows), _shots().SECONDS[name]
    shot = _shot(name)(canvas, np.random.default_rng([SEED, len(SCENES), CLIPS.index(name)]))
    return Clip(Reel(name, shot, peak, canvas.shape, exact, round(length * exact)))


def question(name: str) -> str:
    """What a scene or a clip asks of a panel, in one sentence."""
    recipe: Callable[..., object] = _shot(name) if name in CLIPS else _recipe(name)
    return str(recipe.__doc__).strip()


def panel_files() -> tuple[Path, ...]:
    """The invented panels, as files of the format emulate-panel/1."""
    return tuple(sorted((Path(__file__).parent / "panels").glob("*.toml")))


def session_files() -> tuple[Path, ...]:
    """An invented session with the meter: the filled sheet, and the trace of a switched window."""
    return tuple(sorted((Path(__file__).parent / "readings").glob("*.csv")))


def _recipe(name: str) -> Recipe:
    module = import_module(f"{__name__}.{_ROOMS[name]}")
    recipe: Recipe = getattr(module, name)
    return recipe


def _shots() -> Any:
    return import_module(f"{__name__}.shots")


def _shot(name: str) -> ShotRecipe:
    recipe: ShotRecipe = getattr(_shots(), name)
    return recipe


def _check(peak: float, rows: int) -> None:
    if not PEAKS[0] <= peak <= PEAKS[1]:
        raise RequestError(f"peak = {peak}: accepted is {PEAKS[0]:g} to {PEAKS[1]:g} cd/m²")
    if rows < 90:
        raise RequestError(f"rows = {rows}: accepted is 90 or more")


def _rng(name: str) -> np.random.Generator:
    return np.random.default_rng([SEED, SCENES.index(name)])


def _metadata(light: Image, peak: float) -> Metadata:
    """Mastering peak as asked, in BT.2020; MaxCLL and MaxFALL measured, to 0.01 cd/m²: 0 would say
    unknown."""
    largest = brightest(light)
    fall = float(largest.mean(dtype=np.float64))
    return Metadata(peak, 0.0001, (*BT2020, D65), round(float(largest.max())), round(fall, 2))
