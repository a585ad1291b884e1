"""Cuts: where one scene of a clip ends and the next begins.

Two frames belong to one scene if the second can be had from the first by moving things about a
little and by turning the light up or down. [ours]
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate.frames.frame import Frame
from emulate.sight import cell_edges
from emulate.transfer import LUMINANCE_2020, light_from_pq, pq_from_light
from emulate.values import Numbers, Pixels, locked

ROWS, COLUMNS = 18, 32  # cells of a signature: 120 px squares at 4K, blind to grain and small lamps
SAMPLED_ROWS = 135  # about so many rows are looked at, every n-th pixel: 0.7 ms at 4K
BLACK = 0.08  # PQ, about 0.2 cd/m²: a frame darker than this everywhere has no scene to leave
DIFFERENT = 0.04  # PQ, 29 visible steps: more than grain and compression do to a cell's mean
CHANGED = 0.4  # share of cells that differ by more: hand-held frames reach 0.19, a pan of 5 % 0.35
ALIKE = 0.8  # correlation of what is where: hand-held frames keep 0.87, slow pans 0.85, scenes 0.73


def signature_of(frame: Frame) -> Numbers:
    """PQ of the mean luminance of each cell (18, 32): what `is_cut` compares."""
    stride = max(1, frame.shape[0] // SAMPLED_ROWS)
    luminance = frame.picture.sampled(stride) @ LUMINANCE_2020.astype(np.float32)
    return locked(pq_from_light(_cell_means(luminance)))


def is_cut(before: Numbers | None, after: Numbers) -> bool:
    """Whether a new scene starts between two frames, by their signatures; never at the first.

    A cut is where, after the best single change of light, many cells differ and little is where it
    was. Fades, flashes, blackouts and small lights coming and going are none.
    """
    if before is None or min(before.max(), after.max()) < BLACK:
        return False
    change = min((_change(before, after, gain) for gain in _gains(before, after)), key=_amount)
    return change.cells >= CHANGED and change.alike < ALIKE


class _Change(NamedTuple):
    cells: float  # share of cells that differ
    alike: float  # correlation of the two frames


def _change(before: Numbers, after: Numbers, gain: float) -> _Change:
    expected = pq_from_light(gain * light_from_pq(before))
    cells = float((np.abs(after - expected) > DIFFERENT).mean())
    return _Change(cells, _correlation(expected, after))


def _amount(change: _Change) -> float:
    return change.cells


def _gains(before: Numbers, after: Numbers) -> tuple[float, float]:
    """Light unchanged, and the change of light that half of the cells agree on."""
    return 1.0, float(np.median(light_from_pq(after) / np.maximum(light_from_pq(before), 1e-3)))


def _correlation(first: Numbers, second: Numbers) -> float:
    """Pearson's, drawn to 0 where a frame is so even that there is nothing to recognise."""
    a, b = first - first.mean(), second - second.mean()
    even = (DIFFERENT / 2) ** 2 * a.size
    return float((a * b).sum() / (np.sqrt((a * a).sum() * (b * b).sum()) + even))


def _cell_means(image: Pixels) -> Numbers:
    """Mean of `image` (h, w) over each cell (18, 32); small pictures repeat pixels."""
    rows, columns = (
        cell_edges(count, extent)
        for count, extent in zip((ROWS, COLUMNS), image.shape, strict=True)
    )
    sums = np.add.reduceat(image, columns, axis=1, dtype=np.float64)
    sums = np.add.reduceat(sums, rows, axis=0)
    heights, widths = _counts(rows, image.shape[0]), _counts(columns, image.shape[1])
    return np.asarray(sums / np.outer(heights, widths))


def _counts(edges: NDArray[np.intp], extent: int) -> Numbers:
    return np.maximum(np.diff(edges, append=extent), 1).astype(np.float64)
