"""Light on its way out: looked at once, before a file is made of it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from emulate.errors import RequestError
from emulate.frames.size import LARGEST
from emulate.values import Pixels, locked


def checked_light(light: ArrayLike, *, white: float = 1.0) -> Pixels:
    """Light (h, w, 3) as contiguous float32.

    Raises RequestError for another shape, a negative, NaN or infinite value, or a white [cd/m²]
    that is not above 0.
    """
    if not (math.isfinite(white) and white > 0):
        raise RequestError(f"a white of {white:g} cd/m²; accepted is light above 0 cd/m²")
    pixels = locked(np.ascontiguousarray(light, dtype=np.float32))
    if pixels.ndim != 3 or pixels.shape[2] != 3 or not 0 < pixels.size <= 3 * LARGEST:
        raise RequestError(f"light of shape {pixels.shape}; accepted is (h, w, 3)")
    if not (pixels.min() >= 0 and pixels.max() < math.inf):  # NaN is neither
        first = int(np.argmax(~((pixels >= 0) & (pixels < math.inf))))
        row, column, channel = (int(i) for i in np.unravel_index(first, pixels.shape))
        raise RequestError(
            f"row {row}, column {column}, channel {channel} holds {pixels[row, column, channel]}; "
            "accepted is finite light, 0 cd/m² or more"
        )
    return pixels
