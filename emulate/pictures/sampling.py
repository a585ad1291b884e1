"""From frame pixels to drawn pixels: means over area, so that no light is lost or made."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from emulate.values import Pixels


def area_mean(image: NDArray[Any], size: tuple[int, int]) -> Pixels:
    """`image` (h, w) or (h, w, c) as means over the areas of a picture of `size` (rows, columns).

    A drawn pixel that cuts a frame pixel takes its share of it, and the mean over the picture
    stays. Enlarging repeats pixels.
    """
    rows, columns = size
    values = np.asarray(image, dtype=np.float32)
    height, width = values.shape[:2]
    channels = values.size // (height * width)
    narrow = _weights(height, rows) @ values.reshape(height, width * channels)
    turned = narrow.reshape(rows, width, channels).transpose(1, 0, 2)
    small = _weights(width, columns) @ turned.reshape(width, rows * channels)
    back = small.reshape(columns, rows, channels).transpose(1, 0, 2)
    return np.ascontiguousarray(back.reshape((rows, columns, *values.shape[2:])), dtype=np.float32)


def cells_drawn(cells: NDArray[Any], size: tuple[int, int]) -> NDArray[Any]:
    """`cells` (rows, columns) enlarged to a picture of `size`, each drawn pixel from the cell under
    its centre: a map in steps keeps its steps."""
    at = [
        ((np.arange(n) + 0.5) * m / n).astype(np.intp)
        for n, m in zip(size, cells.shape, strict=True)
    ]
    return np.asarray(cells[np.ix_(*at)])


def fitted(shape: tuple[int, int], room: tuple[int, int]) -> tuple[int, int]:
    """Largest (rows, columns) with the sides of `shape` inside `room`, at least one pixel each."""
    scale = min(room[0] / shape[0], room[1] / shape[1])
    rows, columns = (max(1, round(side * scale)) for side in shape)
    return min(rows, room[0]), min(columns, room[1])


def _weights(source: int, target: int) -> Any:
    """Sparse (target, source): share of each source pixel in each target pixel's mean.

    Both are laid on one ruler of source·target marks, so every share is exact.
    """
    from scipy.sparse import csr_array

    marks = np.union1d(np.arange(source + 1) * target, np.arange(target + 1) * source)
    starts, lengths = marks[:-1], np.diff(marks)
    shares = (lengths / source).astype(np.float32)
    return csr_array((shares, (starts // source, starts // target)), shape=(target, source))
