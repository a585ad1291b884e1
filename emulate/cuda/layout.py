"""How a picture is cut for the card: cells, strips and segments, grids of the backlight."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numba import cuda
from numpy.typing import NDArray

from emulate.cuda import picture
from emulate.errors import RequestError
from emulate.fused.lamps import ALL_AROUND, shares_on_grid, step_for, weights_between
from emulate.fused.tiles import grain_of, plain_edges
from emulate.panel.zones import SelfEmissive, Zones
from emulate.sight import Viewer, cell_counts, cell_edges

Array = NDArray[Any]

SEGMENT_ROWS = 85  # rows a block walks down: fewer repeat more of the rows above and below
EVERY = 16  # side of the cells that a self-emissive panel's light is added up in


class _Blur(NamedTuple):
    weight: np.float32
    across: Any
    down: Any


class Grid(NamedTuple):
    """Pixels between points, points down and across, and the blurs that are met by it."""

    step: int
    high: int
    wide: int
    blurs: list[_Blur]


@lru_cache(maxsize=8)
def plan_of(
    weights: tuple[float, ...],
    sigmas: tuple[float, ...],
    zones: tuple[int, int],
    shape: tuple[int, int],
) -> list[Grid]:
    """Steps from fine to coarse: pixels between points, points down and across, blurs."""
    found: dict[int, list[_Blur]] = {}
    for weight, sigma in zip(weights, sigmas, strict=True):
        if weight > 0:
            step = step_for(sigma, shape)
            across = shares_on_grid(zones[1], shape[1], shape[0], sigma, step)
            down = shares_on_grid(zones[0], shape[0], shape[0], sigma, step)
            blur = _Blur(np.float32(weight), _narrow_on_card(across), _narrow_on_card(down))
            found.setdefault(step, []).append(blur)
    return [
        Grid(step, _points(shape[0], step), _points(shape[1], step), found[step])
        for step in sorted(found)
    ]


def _points(extent: int, step: int) -> int:
    return extent if step == 1 else (extent - 1) // step + 1 + ALL_AROUND


def _narrow_on_card(values: Array) -> Any:
    return cuda.to_device(np.ascontiguousarray(values, np.float32).reshape(-1))


@lru_cache(maxsize=8)
def weights_on_card(ratio: int) -> Any:
    """Weights of the six points around each of `ratio` places between two."""
    return cuda.to_device(weights_between(ratio).reshape(-1))


class _Cells(NamedTuple):
    rows: Any
    columns: Any
    row_firsts: Any
    column_firsts: Any


@lru_cache(maxsize=8)
def cells_on_card(zones: Zones | SelfEmissive, shape: tuple[int, int]) -> _Cells:
    """Edges of the cells that are added up, and the first of each zone with the end."""
    if isinstance(zones, Zones):
        rows, columns, row_firsts, column_firsts = grain_of(zones, shape)
    else:
        rows, columns = (plain_edges(extent, EVERY) for extent in shape)
        row_firsts = column_firsts = np.zeros(1, np.int64)
    ends = (np.append(a, e.size - 1) for a, e in ((row_firsts, rows), (column_firsts, columns)))
    return _Cells(*(cuda.to_device(each.astype(np.int32)) for each in (rows, columns, *ends)))


@lru_cache(maxsize=8)
def layout_of(
    viewer: Viewer, shape: tuple[int, int], widest: int, reach: int
) -> tuple[picture.Layout, tuple[int, int]]:
    """Strips no wider than `widest` pixels and segments of about SEGMENT_ROWS, of whole cells."""
    rows, columns = (
        _edges(count, extent)
        for count, extent in zip(cell_counts(viewer, shape), shape, strict=True)
    )
    if widest < int(np.diff(columns).max()):
        raise RequestError(
            f"a viewer at {viewer.distance_h:g} picture heights from {shape[0]} rows sees 0.1° as "
            f"{2 * reach + 1} pixels, more than the card has room for; accepted is a nearer viewer "
            'or device = "cpu"'
        )
    strips = _cut(columns, widest)
    segments = _cut(rows, max(SEGMENT_ROWS, int(np.diff(rows).max())))
    return (
        picture.Layout(
            *(cuda.to_device(each.astype(np.int32)) for each in (rows, columns, segments, strips))
        ),
        (rows.size - 1, columns.size - 1),
    )


def _edges(count: int, extent: int) -> NDArray[np.int64]:
    if count > extent:
        return np.arange(extent + 1)
    return np.append(cell_edges(count, extent), extent)


def _cut(edges: NDArray[np.int64], widest: int) -> NDArray[np.int64]:
    """First cells of pieces, and the end: as few pieces as `widest` pixels allow, about equal."""
    cells = edges.size - 1
    for pieces in range(-(-int(edges[-1]) // widest), cells + 1):
        firsts = np.arange(pieces + 1) * cells // pieces
        if int(np.diff(edges[firsts]).max()) <= widest:
            return firsts
    raise ValueError(f"cells wider than {widest}")


def blocks(count: int, each: int) -> int:
    """Blocks of `each` threads for `count` things."""
    return -(-int(count) // each)
