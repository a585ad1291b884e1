"""Demo frames: invented scenes of light, each named for the question it asks, and three panels.

The scenes are regenerated, not stored: a recipe of a few kilobytes is smaller than the pictures,
gives any size and any mastering peak, and hides nothing. Light is BT.2020 linear, cd/m².
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from pathlib import Path

import numpy as np

from emulate.errors import RequestError
from emulate.frames.frame import Frame, Metadata

from .canvas import Canvas, Image, brightest, graded

Recipe = Callable[[Canvas, np.random.Generator], Image]

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
PEAKS = (100.0, 10000.0)  # cd/m²: mastering peaks a scene can be graded for
FULL_ROWS = 1080  # 1920×1080
SEED = 20260  # any number; the scenes were chosen by eye with this one


def scene(name: str, *, peak: float = 4000.0, rows: int = FULL_ROWS) -> Frame:
    """An invented scene, 16:9, `rows` high, graded for a mastering peak [cd/m²].

    The frame carries that peak, and MaxCLL and MaxFALL measured on its own light. Raises
    RequestError for an unknown name, a peak outside 100..10000 or fewer than 90 rows.
    """
    if name not in _ROOMS:
        raise RequestError(f"scene {name!r}: accepted is one of {', '.join(SCENES)}")
    if not PEAKS[0] <= peak <= PEAKS[1]:
        raise RequestError(f"peak = {peak}: accepted is {PEAKS[0]:g} to {PEAKS[1]:g} cd/m²")
    if rows < 90:
        raise RequestError(f"rows = {rows}: accepted is 90 or more")
    light = graded(_recipe(name)(Canvas(rows), _rng(name)), peak)
    return Frame.from_light(light, name, metadata=_metadata(light, peak))


def question(name: str) -> str:
    """What a scene asks of a panel, in one sentence."""
    return str(_recipe(name).__doc__).strip()


def panel_files() -> tuple[Path, ...]:
    """The invented panels, as files of the format emulate-panel/1."""
    return tuple(sorted((Path(__file__).parent / "panels").glob("*.toml")))


def _recipe(name: str) -> Recipe:
    module = import_module(f"{__name__}.{_ROOMS[name]}")
    recipe: Recipe = getattr(module, name)
    return recipe


def _rng(name: str) -> np.random.Generator:
    return np.random.default_rng([SEED, SCENES.index(name)])


def _metadata(light: Image, peak: float) -> Metadata:
    """Mastering peak as asked; MaxCLL and MaxFALL measured, to 0.01 cd/m²: 0 would say unknown."""
    largest = brightest(light)
    fall = float(largest.mean(dtype=np.float64))
    return Metadata(peak, 0.0001, max_cll=round(float(largest.max())), max_fall=round(fall, 2))
