"""Primaries and secondaries, and grey slides for uniformity."""

from __future__ import annotations

import numpy as np

from emulate.readings.patterns.code import code_of, colour, grey, light_of
from emulate.readings.patterns.place import Shape, window
from emulate.readings.patterns.tone import PATCH_AREA
from emulate.readings.stimulus import Kind, Patch, Rgb, Stimulus

MIXTURES = {
    "white": (1, 1, 1),
    "red": (1, 0, 0),
    "green": (0, 1, 0),
    "blue": (0, 0, 1),
    "cyan": (0, 1, 1),
    "magenta": (1, 0, 1),
    "yellow": (1, 1, 0),
}
PRIMARY_LIGHTS = (100.0, 1000.0)  # cd/m² of the channels that are lit, ours
SLIDE_LIGHTS = (100.0, 5.0)  # cd/m², ours
SPOT_COLUMNS, SPOT_ROWS = 5, 3  # where a slide is measured, ours


def primaries(shape: Shape, peak: float) -> list[Stimulus]:
    """White, primaries and secondaries, each lit channel at 100, then at 1000 cd/m²."""
    return [
        colour_patch("primary", f"primary_{name}_{light:04.0f}", light * np.array(mix), shape, peak)
        for light in PRIMARY_LIGHTS
        if light <= peak
        for name, mix in MIXTURES.items()
    ]


def slides(shape: Shape, peak: float) -> list[Stimulus]:
    """The whole screen in one grey."""
    return [
        Stimulus(
            "uniformity",
            f"uniformity_{light:03.0f}",
            shape,
            background=grey(code_of(light)),
            level=grey(code_of(light)),
            value=light_of(code_of(light)),
            mastering_peak=peak,
        )
        for light in SLIDE_LIGHTS
    ]


def slide_spots() -> list[tuple[float, float]]:
    """The middles of 5 × 3 fields, row by row, to and fro so that the meter moves least."""
    spots = []
    for row in range(SPOT_ROWS):
        columns = range(SPOT_COLUMNS) if row % 2 == 0 else reversed(range(SPOT_COLUMNS))
        spots += [((c + 0.5) / SPOT_COLUMNS, (row + 0.5) / SPOT_ROWS) for c in columns]
    return spots


def colour_patch(kind: Kind, name: str, light: np.ndarray, shape: Shape, peak: float) -> Stimulus:
    """BT.2020 light (3,) [cd/m²] in a window of 10 % of the area, edges on chroma samples."""
    signal = colour(light)
    return Stimulus(
        kind,
        name,
        shape,
        (_even(window(PATCH_AREA, shape, signal), signal),),
        level=signal,
        value=PATCH_AREA,
        mastering_peak=peak,
    )


def _even(patch: Patch, signal: Rgb) -> Patch:
    """The nearest rectangle with even edges, where a 4:2:0 clip has its chroma samples."""
    top, left = patch.top // 2 * 2, patch.left // 2 * 2
    bottom = -(-(patch.top + patch.height) // 2) * 2
    right = -(-(patch.left + patch.width) // 2) * 2
    return Patch(top, left, bottom - top, right - left, signal)
