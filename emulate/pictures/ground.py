"""Ground: the reference in dim grey, for maps to lie on."""

from __future__ import annotations

import numpy as np

from emulate.pictures.sampling import area_mean
from emulate.pictures.style import Rgb
from emulate.sight import steps_from_light
from emulate.transfer import LUMINANCE_2020
from emulate.values import Pixels

DARK, LIGHT = 18, 84  # sRGB codes at the ends: CIELAB lightness 5 to 36, under every map colour
NOTE = "Grey ground: the reference, even in visible steps and dimmed; a map, not an exposure."


def ground(light: Pixels, size: tuple[int, int]) -> Rgb:
    """sRGB codes (rows, columns, 3): reference light (h, w, 3) as dim grey, even in steps."""
    steps = steps_from_light(area_mean(light, size) @ LUMINANCE_2020)
    share = (steps - steps.min()) / max(float(np.ptp(steps)), 1.0)
    grey = np.rint(DARK + share * (LIGHT - DARK)).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=-1)
