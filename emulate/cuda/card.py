"""The card: a place to work for one frame after another, and the two passes run on it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numba import cuda
from numpy.typing import DTypeLike, NDArray

from emulate._kernels.row import MARGIN
from emulate.cuda import lamps, picture, statistics
from emulate.cuda.compiling import require_card
from emulate.cuda.light import Cells
from emulate.cuda.pixel import Kind, Planes, Reading
from emulate.cuda.uploading import cells_of, kind_of, planes_of, reading_of
from emulate.errors import RequestError
from emulate.fused import tables
from emulate.fused.lamps import ALL_AROUND, _shares, step_for, weights_between
from emulate.fused.sketch import Sketch, shown_matrices
from emulate.fused.tiles import grain_of, plain_edges
from emulate.panel.spread import Spread
from emulate.panel.zones import SelfEmissive, Statistics, Zones
from emulate.sight import Viewer, box_pixels, cell_counts, cell_edges, steps_from_light
from emulate.transfer import LUMINANCE_2020
from emulate.values import Numbers, Pixels, locked

Array = NDArray[Any]

SEGMENT_ROWS = 85  # rows a block walks down: fewer repeat more of the rows above and below
EVERY = 16  # side of the cells that a self-emissive panel's light is added up in
FARTHEST_STEPS = 721.0  # J of PQ's peak and a little: bounds the sum over a box


class Loaded(NamedTuple):
    """A frame on the card, and how it is read."""

    sketch: Sketch
    planes: Planes
    reading: Reading


class Lit(NamedTuple):
    """The same with its light source."""

    loaded: Loaded
    kind: Kind
    cells: Cells


class Drawn(NamedTuple):
    """light, asked (h, w, 3), backlight (h, w) float32 [cd/m²], why (h, w) uint8."""

    light: Pixels
    asked: Pixels
    backlight: Pixels
    why: NDArray[np.uint8]


class Found(NamedTuple):
    """Findings of luminance as the second pass leaves them.

    loss, detail (h, w) uint8: maps. loss_counts, detail_counts (64,): pixels of each code inside
    the active picture. means (5, cells down, cells across): luminance of the reference, asked,
    lift on the floor, own, and own at floor or ceiling [cd/m²]. clipped, crushed, contrast: steps
    lost, summed; asked, kept: light in highlights, summed; brightest, mean: of m [cd/m²].
    """

    loss: NDArray[np.uint8]
    detail: NDArray[np.uint8]
    loss_counts: NDArray[np.int64]
    detail_counts: NDArray[np.int64]
    means: Numbers
    clipped: float
    crushed: float
    contrast: float
    asked: float
    kept: float
    brightest: float
    mean: float


@dataclass(frozen=True)
class Run:
    """One launch of the second pass with findings, ready to be repeated."""

    kernel: Any
    grid: tuple[int, int]
    threads: int
    arguments: tuple[Any, ...]
    out: picture.Out
    asking: picture.Asking
    counts: tuple[int, int]

    def __call__(self, stream: Any = 0) -> None:
        self.kernel[self.grid, self.threads, stream](*self.arguments)


class Card:
    """A graphics card with the buffers of one size of frame. Raises RequestError where none is."""

    def __init__(self) -> None:
        require_card()
        self._buffers: dict[str, Any] = {}

    def buffer(self, name: str, size: int, kind: DTypeLike) -> Any:
        """An array on the card kept by name for as long as size and kind stay; not cleared."""
        kept = self._buffers.get(name)
        if kept is None or kept.size != size or kept.dtype != np.dtype(kind):
            kept = self._buffers[name] = cuda.device_array(size, kind)
        return kept

    def load(self, sketch: Sketch) -> Loaded:
        """Brings a frame to the card."""
        planes = Planes(*map(cuda.to_device, planes_of(sketch)))
        return Loaded(sketch, planes, reading_of(sketch))

    def seen_by_zones(self, loaded: Loaded) -> Statistics:
        """First pass: peak and mean of g over each zone, or a self-emissive panel's fill."""
        sketch = loaded.sketch
        run, out, (rows, columns) = self.first_pass(loaded)
        run()
        peak, mean = out.copy_to_host().reshape(2, rows, columns).astype(np.float64)
        open_cdm2 = sketch.panel.open_cdm2
        if isinstance(sketch.panel.zones, SelfEmissive):
            fill = min(float(mean[0, 0]) / (3 * open_cdm2), 1.0)
            return Statistics(np.ones((1, 1)), np.ones((1, 1)), fill)
        return Statistics(
            np.minimum(peak / open_cdm2, 1.0), np.minimum(mean / open_cdm2, 1.0)
        )

    def first_pass(self, loaded: Loaded) -> tuple[Any, Any, tuple[int, int]]:
        """The first pass as a function of a stream, what it writes, and rows and columns of zones."""
        sketch = loaded.sketch
        zones, shape = sketch.panel.zones, sketch.frame.shape
        edges = _cells_on_card(zones, shape)
        count = np.int32(edges.rows.size - 1), np.int32(edges.columns.size - 1)
        sums = self.buffer("cells", int(count[0]) * int(count[1]), np.float32)
        zone_rows, zone_columns = edges.row_firsts.size - 1, edges.column_firsts.size - 1
        out = self.buffer("zones", 2 * zone_rows * zone_columns, np.float32)
        adding = statistics.SUM if isinstance(zones, SelfEmissive) else statistics.MAXIMUM
        cells = statistics.cell_sums(kind_of(sketch, 1), adding)
        over_zones = statistics.zone_statistics()
        block = (statistics.ACROSS, statistics.DOWN)
        grid = _blocks(count[1], block[0]), _blocks(count[0], block[1])

        def run(stream: Any = 0) -> None:
            cells[grid, block, stream](
                loaded.planes, loaded.reading, edges.rows, edges.columns, count, sums
            )
            over_zones[(zone_columns, zone_rows), statistics.ZONE_THREADS, stream](sums, *edges, count, out)

        return run, out, (zone_rows, zone_columns)

    def light(self, loaded: Loaded, drive: Numbers, unknown_gain: float) -> Lit:
        """The light source for drive [d] (rows, columns), and what the cell does not know of it."""
        sketch = loaded.sketch
        panel, shape = sketch.panel, sketch.frame.shape
        run, grid, wide, step = self.lamps(panel.spread, drive.shape, shape)
        run(cuda.to_device((drive * panel.open_cdm2).astype(np.float32).reshape(-1)))
        cell = _known(sketch, unknown_gain)
        cells = cells_of(sketch, cell, grid, wide, step)
        return Lit(loaded, kind_of(sketch, step), cells)

    def lamps(
        self, spread: Spread, zones: tuple[int, ...], shape: tuple[int, int]
    ) -> tuple[Any, Any, int, int]:
        """The grid of the backlight as a function of drive·L_open on the card; its array, points a
        row, and pixels between points."""
        plan = _plan(tuple(spread.weight.tolist()), tuple(spread.sigma_h.tolist()), zones, shape)
        grids = {
            step: self.buffer(f"grid {step}", high * wide, np.float32)
            for step, high, wide, _ in plan
        }
        banded = self.buffer("banded", max(zones[0] * wide for _, _, wide, _ in plan), np.float32)
        finest, fine_high, fine_wide, _ = plan[0]
        count = np.int32(zones[0]), np.int32(zones[1])
        block, k = (lamps.ACROSS, lamps.DOWN), lamps.kernels()

        def run(light: Any, stream: Any = 0) -> None:
            for step, high, wide, blurs in plan:
                for i, blur in enumerate(blurs):
                    grid = _blocks(wide, block[0]), _blocks(zones[0], block[1])
                    k.lit_columns[grid, block, stream](
                        light, count, blur.across, np.int32(wide), blur.weight, banded
                    )
                    grid = _blocks(wide, block[0]), _blocks(high, block[1])
                    size = np.int32(high), np.int32(wide)
                    k.lit_rows[grid, block, stream](
                        banded, count[0], blur.down, size, np.int32(i), grids[step]
                    )
                if step != finest:
                    ratio = step // finest
                    ahead = MARGIN * ratio - (MARGIN if finest > 1 else 0)
                    grid = _blocks(fine_wide, block[0]), _blocks(fine_high, block[1])
                    k.refined[grid, block, stream](
                        grids[step],
                        np.int32(wide),
                        np.int32(ratio),
                        np.int32(ahead),
                        _weights(ratio),
                        (np.int32(fine_high), np.int32(fine_wide)),
                        grids[finest],
                    )

        return run, grids[finest], fine_wide, finest

    def drawn(self, lit: Lit) -> Drawn:
        """Everything a rendering shows."""
        height, width = lit.loaded.sketch.frame.shape
        out = self._out(height * width, showing=2, cells=(1, 1), blocks=1, finding=False)
        shape = picture.Shape(0, 2, 256)
        draw = picture.light_only(lit.kind, shape)
        draw[(_blocks(width, 256), height), 256](
            lit.loaded.planes, lit.loaded.reading, lit.cells, out
        )
        return _pictures(out, height, width)

    def findings(
        self, lit: Lit, viewer: Viewer, codes: picture.Codes, *, showing: int = 0
    ) -> Run:
        """The second pass with findings; showing: 0 no light, 1 light and backlight, 2 all."""
        sketch = lit.loaded.sketch
        shape = sketch.frame.shape
        reach = box_pixels(viewer, shape[0]) // 2
        threads = picture.threads_for(lit.kind, reach)
        layout, counts = _layout(viewer, shape, threads - 2 * reach, reach)
        blocks = layout.strips.size - 1, layout.segments.size - 1
        out = self._out(shape[0] * shape[1], showing, counts, blocks[0] * blocks[1], finding=True)
        asking = _asking(sketch, reach)
        kernel = picture.findings_pass(lit.kind, picture.Shape(reach, showing, threads), codes)
        arguments = (lit.loaded.planes, lit.loaded.reading, lit.cells, asking, layout, out)
        return Run(kernel, blocks, threads, arguments, out, asking, counts)

    def found(self, run: Run, sketch: Sketch, viewer: Viewer) -> Found:
        """What a run finds, brought from the card."""
        cuda.to_device(np.zeros(128, np.int32), to=run.out.counts)
        run()
        height, width = sketch.frame.shape
        counts = run.out.counts.copy_to_host().astype(np.int64)
        tallies = run.out.tallies.copy_to_host().reshape(-1, picture.TALLIES)
        sums = tallies.sum(axis=0)
        area = box_pixels(viewer, height) ** 2
        top, bottom, left, right = map(int, run.asking.active)
        means = run.out.means.copy_to_host().reshape(picture.SUMS, *run.counts)
        return Found(
            loss=run.out.loss.copy_to_host().reshape(height, width),
            detail=run.out.detail.copy_to_host().reshape(height, width),
            loss_counts=counts[:64],
            detail_counts=counts[64:],
            means=_every_cell(means.astype(np.float64), cell_counts(viewer, (height, width))),
            clipped=float(sums[0]),
            crushed=float(sums[1]),
            contrast=float(sums[2]) / (float(run.asking.unit) * area),
            asked=float(sums[3]),
            kept=float(sums[4]),
            brightest=float(tallies[:, 6].max()),
            mean=float(sums[5]) / ((bottom - top) * (right - left)),
        )

    def _out(
        self, pixels: int, showing: int, cells: tuple[int, int], blocks: int, *, finding: bool
    ) -> picture.Out:
        lit, whole = int(showing > 0), int(showing > 1)
        return picture.Out(
            light=self.buffer("light", 3 * pixels * lit or 1, np.float32),
            asked=self.buffer("asked", 3 * pixels * whole or 1, np.float32),
            backlight=self.buffer("backlight", pixels * lit or 1, np.float32),
            why=self.buffer("why", pixels * whole or 1, np.uint8),
            loss=self.buffer("loss", pixels if finding else 1, np.uint8),
            detail=self.buffer("detail", pixels if finding else 1, np.uint8),
            means=self.buffer("means", picture.SUMS * cells[0] * cells[1], np.float32),
            counts=self.buffer("counts", 128, np.int32),
            tallies=self.buffer("tallies", blocks * picture.TALLIES, np.float64),
        )


def _pictures(out: picture.Out, height: int, width: int) -> Drawn:
    light, asked = (
        each.copy_to_host().reshape(height, width, 3) for each in (out.light, out.asked)
    )
    backlight, why = (each.copy_to_host().reshape(height, width) for each in (out.backlight, out.why))
    return Drawn(*map(locked, (light, asked, backlight, why)))


def _every_cell(means: Numbers, counts: tuple[int, int]) -> Numbers:
    """Means of cells finer than pixels: those share the pixel that they lie in."""
    down, across = (
        np.arange(count) * have // count for count, have in zip(counts, means.shape[1:], strict=True)
    )
    return np.ascontiguousarray(means[:, down][:, :, across])


def _known(sketch: Sketch, unknown_gain: float) -> Any:
    if sketch.view.compensation == 1.0:
        return sketch.cell._replace(known_share=np.float32(1.0 / unknown_gain))
    powers = tables.powers_of(unknown_gain, sketch.panel.open_cdm2, sketch.view.compensation)
    return sketch.cell._replace(guessing=1, powers=powers)


def _asking(sketch: Sketch, reach: int) -> picture.Asking:
    area = (2 * reach + 1) ** 2
    unit = float(2 ** int(np.log2((2**31 - 1) / (FARTHEST_STEPS * area))))
    out, plain = shown_matrices(sketch)
    height, width = sketch.frame.shape
    narrow = np.float32
    return picture.Asking(
        asked_weights=tuple(map(narrow, LUMINANCE_2020 @ plain)),
        own_weights=tuple(map(narrow, LUMINANCE_2020 @ out)),
        unit=narrow(unit),
        step=np.int32(round(area * unit)),
        margin=np.int32(area * unit * ROUNDING_STEPS),
        dark=narrow(SHADOW * area),
        bright=narrow(HIGHLIGHT * area),
        black=narrow(steps_from_light(0.0)),
        room=narrow(steps_from_light(sketch.reflected)),
        active=tuple(map(np.int32, sketch.frame.active or (0, height, 0, width))),
    )


class _Blur(NamedTuple):
    weight: np.float32
    across: Any
    down: Any


@lru_cache(maxsize=8)
def _plan(
    weights: tuple[float, ...],
    sigmas: tuple[float, ...],
    zones: tuple[int, int],
    shape: tuple[int, int],
) -> list[tuple[int, int, int, list[_Blur]]]:
    """Steps from fine to coarse: pixels between points, points down and across, blurs."""
    found: dict[int, list[_Blur]] = {}
    for weight, sigma in zip(weights, sigmas, strict=True):
        if weight > 0:
            step = step_for(sigma, shape)
            across = _shares(zones[1], shape[1], shape[0], sigma, step)
            down = _shares(zones[0], shape[0], shape[0], sigma, step)
            blur = _Blur(np.float32(weight), _narrow_on_card(across), _narrow_on_card(down))
            found.setdefault(step, []).append(blur)
    return [(step, *(_points(n, step) for n in shape), found[step]) for step in sorted(found)]


def _points(extent: int, step: int) -> int:
    return extent if step == 1 else (extent - 1) // step + 1 + ALL_AROUND


def _narrow_on_card(values: Array) -> Any:
    return cuda.to_device(np.ascontiguousarray(values, np.float32).reshape(-1))


@lru_cache(maxsize=8)
def _weights(ratio: int) -> Any:
    return cuda.to_device(weights_between(ratio).reshape(-1))


class _Cells(NamedTuple):
    rows: Any
    columns: Any
    row_firsts: Any
    column_firsts: Any


@lru_cache(maxsize=8)
def _cells_on_card(zones: Zones | SelfEmissive, shape: tuple[int, int]) -> _Cells:
    """Edges of the cells that are added up, and the first of each zone with the end."""
    if isinstance(zones, Zones):
        rows, columns, row_firsts, column_firsts = grain_of(zones, shape)
    else:
        rows, columns = (plain_edges(extent, EVERY) for extent in shape)
        row_firsts = column_firsts = np.zeros(1, np.int64)
    ends = (np.append(a, e.size - 1) for a, e in ((row_firsts, rows), (column_firsts, columns)))
    return _Cells(*(cuda.to_device(each.astype(np.int32)) for each in (rows, columns, *ends)))


@lru_cache(maxsize=8)
def _layout(
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
            f"{2 * reach + 1} pixels, more than the card has room for; accepted is a nearer viewer, "
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


def _blocks(count: int, each: int) -> int:
    return -(-int(count) // each)


SHADOW, HIGHLIGHT, ROUNDING_STEPS = 1.0, 203.0, 0.01
