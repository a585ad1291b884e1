"""R′G′B′ code values of a still into a frame."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from emulate.errors import Caveat
from emulate.frames.frame import CodePicture, Frame, Metadata
from emulate.frames.said import Said, settle


def frame_of_codes(
    name: str,
    samples: NDArray[Any],
    bits: int,
    *,
    told: Said,
    said: Said,
    assumed: Said,
    metadata: Metadata | None = None,
    doubts: tuple[Caveat, ...] = (),
) -> Frame:
    """A frame of codes (h, w, 3), or (h, w, 1) for a neutral picture, as the file holds them."""
    encoding, assumptions = settle(name, told, said, assumed, bits)
    planes = [np.ascontiguousarray(plane, np.uint16) for plane in np.moveaxis(samples, -1, 0)]
    first, second, third = planes if len(planes) == 3 else planes * 3
    return Frame(
        CodePicture(first, second, third, encoding),
        name,
        encoding,
        metadata or Metadata(),
        doubts + assumptions,
    )
