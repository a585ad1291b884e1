"""The card: a place to work for one frame after another, and the two passes run on it."""

from __future__ import annotations

from dataclasses import dataclass
from threading import Lock
from typing import Any, NamedTuple

import numpy as np
from numba import cuda
from numpy.typing import DTypeLike, NDArray

from emulate._kernels.row import MARGIN
from emulate.cuda import lamps, picture, statistics
from emulate.cuda.compiling import require_card
from emulate.cuda.layout import blocks, cells_on_card, layout_of, plan_of, weights_on_card
from emulate.cuda.light import Cells
from emulate.cuda.pixel import Kind, Planes, Reading
from emulate.cuda.uploading import cells_of, kind_of, planes_of, reading_of
from emulate.fused import tables
from emulate.fused.draw import Drawn
from emulate.fused.sketch import Sketch, shown_matrices
from emulate.panel.spread import Spread
from emulate.panel.zones import SelfEmissive, Statistics
from emulate.sight import Viewer, box_pixels, cell_counts, steps_from_light
from emulate.transfer import LUMINANCE_2020
from emulate.values import Numbers, locked

Array = NDArray[Any]

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
    """A graphics card with the buffers of one size of frame; two callers at once take turns.

    Raises RequestError where there is none.
    """

    def __init__(self) -> None:
        require_card()
        self._buffers: dict[str, Any] = {}
        self._turn = Lock()

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
        with self._turn:
            run, out, (rows, columns) = self.first_pass(loaded)
            run()
            peak, mean = out.copy_to_host().reshape(2, rows, columns).astype(np.float64)
        open_cdm2 = sketch.panel.open_cdm2
        if isinstance(sketch.panel.zones, SelfEmissive):
            fill = min(float(mean[0, 0]) / (3 * open_cdm2), 1.0)
            return Statistics(np.ones((1, 1)), np.ones((1, 1)), fill)
        return Statistics(np.minimum(peak / open_cdm2, 1.0), np.minimum(mean / open_cdm2, 1.0))

    def first_pass(self, loaded: Loaded) -> tuple[Any, Any, tuple[int, int]]:
        """The first pass as a function of a stream, what it writes, rows and columns of zones."""
        sketch = loaded.sketch
        zones, shape = sketch.panel.zones, sketch.frame.shape
        edges = cells_on_card(zones, shape)
        count = np.int32(edges.rows.size - 1), np.int32(edges.columns.size - 1)
        sums = self.buffer("cells", int(count[0]) * int(count[1]), np.float32)
        zone_rows, zone_columns = edges.row_firsts.size - 1, edges.column_firsts.size - 1
        out = self.buffer("zones", 2 * zone_rows * zone_columns, np.float32)
        adding = statistics.SUM if isinstance(zones, SelfEmissive) else statistics.MAXIMUM
        cells = statistics.cell_sums(kind_of(sketch, 1), adding)
        over_zones = statistics.zone_statistics()
        block = (statistics.ACROSS, statistics.DOWN)
        grid = blocks(int(count[1]), block[0]), blocks(int(count[0]), block[1])

        def run(stream: Any = 0) -> None:
            cells[grid, block, stream](
                loaded.planes, loaded.reading, edges.rows, edges.columns, count, sums
            )
            over_zones[(zone_columns, zone_rows), statistics.ZONE_THREADS, stream](
                sums, *edges, count, out
            )

        return run, out, (zone_rows, zone_columns)

    def light(self, loaded: Loaded, drive: Numbers, unknown_gain: float) -> Lit:
        """The light source for drive [d] (rows, columns), and what the cell does not know of it.

        The grid is the frame's own: another frame's does not overwrite it.
        """
        sketch = loaded.sketch
        panel, shape = sketch.panel, sketch.frame.shape
        with self._turn:
            run, grid, wide, step = self.lamps(panel.spread, drive.shape, shape)
            run(cuda.to_device((drive * panel.open_cdm2).astype(np.float32).reshape(-1)))
            cuda.synchronize()
        cell = _known(sketch, unknown_gain)
        cells = cells_of(sketch, cell, grid, wide, step)
        return Lit(loaded, kind_of(sketch, step), cells)

    def lamps(
        self, spread: Spread, zones: tuple[int, ...], shape: tuple[int, int]
    ) -> tuple[Any, Any, int, int]:
        """The grid of the backlight as a function of drive·L_open on the card; its array, points a
        row, and pixels between points."""
        plan = plan_of(tuple(spread.weight.tolist()), tuple(spread.sigma_h.tolist()), zones, shape)
        grids = {
            step: self.buffer(f"grid {step}", high * wide, np.float32)
            for step, high, wide, _ in plan[1:]
        } | {step: cuda.device_array(high * wide, np.float32) for step, high, wide, _ in plan[:1]}
        banded = self.buffer("banded", max(zones[0] * wide for _, _, wide, _ in plan), np.float32)
        finest, fine_high, fine_wide, _ = plan[0]
        count = np.int32(zones[0]), np.int32(zones[1])
        block, k = (lamps.ACROSS, lamps.DOWN), lamps.kernels()

        def run(light: Any, stream: Any = 0) -> None:
            for step, high, wide, blurs in plan:
                for i, blur in enumerate(blurs):
                    grid = blocks(wide, block[0]), blocks(zones[0], block[1])
                    k.lit_columns[grid, block, stream](
                        light, count, blur.across, np.int32(wide), blur.weight, banded
                    )
                    grid = blocks(wide, block[0]), blocks(high, block[1])
                    size = np.int32(high), np.int32(wide)
                    k.lit_rows[grid, block, stream](
                        banded, count[0], blur.down, size, np.int32(i), grids[step]
                    )
                if step != finest:
                    ratio = step // finest
                    ahead = MARGIN * ratio - (MARGIN if finest > 1 else 0)
                    grid = blocks(fine_wide, block[0]), blocks(fine_high, block[1])
                    k.refined[grid, block, stream](
                        grids[step],
                        np.int32(wide),
                        np.int32(ratio),
                        np.int32(ahead),
                        weights_on_card(ratio),
                        (np.int32(fine_high), np.int32(fine_wide)),
                        grids[finest],
                    )

        return run, grids[finest], fine_wide, finest

    def drawn(self, lit: Lit) -> Drawn:
        """Everything a rendering shows, on this machine."""
        height, width = lit.loaded.sketch.frame.shape
        with self._turn:
            out = self._out(height * width, showing=2, cells=(1, 1), walkers=1, finding=False)
            shape = picture.Shape(0, 2, 256)
            draw = picture.light_only(lit.kind, shape)
            draw[(blocks(width, 256), height), 256](
                lit.loaded.planes, lit.loaded.reading, lit.cells, out
            )
            return _pictures(out, height, width)

    def findings(self, lit: Lit, viewer: Viewer, terms: picture.Terms, *, showing: int = 0) -> Run:
        """The second pass with findings; showing: 0 no light, 1 light and backlight, 2 all."""
        sketch = lit.loaded.sketch
        shape = sketch.frame.shape
        reach = box_pixels(viewer, shape[0]) // 2
        threads = picture.threads_for(lit.kind, reach)
        layout, counts = layout_of(viewer, shape, threads - 2 * reach, reach)
        count = layout.strips.size - 1, layout.segments.size - 1
        out = self._out(shape[0] * shape[1], showing, counts, count[0] * count[1], finding=True)
        asking = _asking(sketch, reach, terms)
        made = picture.Shape(reach, showing, threads)
        kernel = picture.findings_pass(lit.kind, made, terms.codes)
        arguments = (lit.loaded.planes, lit.loaded.reading, lit.cells, asking, layout, out)
        return Run(kernel, count, threads, arguments, out, asking, counts)

    def found(self, lit: Lit, viewer: Viewer, terms: picture.Terms) -> Found:
        """What the second pass finds, on this machine."""
        with self._turn:
            run = self.findings(lit, viewer, terms)
            run.out.counts.copy_to_device(np.zeros(128, np.int32))
            run()
            return _found(run, lit.loaded.sketch.frame.shape, viewer)

    def _out(
        self, pixels: int, showing: int, cells: tuple[int, int], walkers: int, *, finding: bool
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
            tallies=self.buffer("tallies", walkers * picture.TALLIES, np.float64),
        )


def _found(run: Run, shape: tuple[int, int], viewer: Viewer) -> Found:
    counts = run.out.counts.copy_to_host().astype(np.int64)
    tallies = run.out.tallies.copy_to_host().reshape(-1, picture.TALLIES)
    sums = tallies.sum(axis=0)
    boxes = float(run.asking.unit) * box_pixels(viewer, shape[0]) ** 2
    top, bottom, left, right = map(int, run.asking.active)
    means = run.out.means.copy_to_host().reshape(picture.SUMS, *run.counts).astype(np.float64)
    return Found(
        loss=run.out.loss.copy_to_host().reshape(shape),
        detail=run.out.detail.copy_to_host().reshape(shape),
        loss_counts=counts[:64],
        detail_counts=counts[64:],
        means=_every_cell(means, cell_counts(viewer, shape)),
        clipped=float(sums[0]),
        crushed=float(sums[1]),
        contrast=float(sums[2]) / boxes,
        asked=float(sums[3]),
        kept=float(sums[4]),
        brightest=float(tallies[:, 6].max()),
        mean=float(sums[5]) / ((bottom - top) * (right - left)),
    )


def _pictures(out: picture.Out, height: int, width: int) -> Drawn:
    def brought(flat: Any, *shape: int) -> Array:
        return locked(flat.copy_to_host().reshape(height, width, *shape))

    return Drawn(
        light=brought(out.light, 3),
        asked=brought(out.asked, 3),
        backlight=brought(out.backlight),
        why=brought(out.why),
    )


def _every_cell(means: Numbers, counts: tuple[int, int]) -> Numbers:
    """Means of cells finer than pixels: those share the pixel that they lie in."""
    down, across = (
        np.arange(count) * have // count
        for count, have in zip(counts, means.shape[1:], strict=True)
    )
    return np.ascontiguousarray(means[:, down][:, :, across])


def _known(sketch: Sketch, unknown_gain: float) -> Any:
    if sketch.view.compensation == 1.0:
        return sketch.cell._replace(known_share=np.float32(1.0 / unknown_gain))
    powers = tables.powers_of(unknown_gain, sketch.panel.open_cdm2, sketch.view.compensation)
    return sketch.cell._replace(guessing=1, powers=powers)


def _asking(sketch: Sketch, reach: int, terms: picture.Terms) -> picture.Asking:
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
        margin=np.int32(area * unit * terms.margin),
        dark=narrow(terms.shadow * area),
        bright=narrow(terms.highlight * area),
        black=narrow(steps_from_light(0.0)),
        room=narrow(steps_from_light(sketch.reflected)),
        active=tuple(map(np.int32, sketch.frame.active or (0, height, 0, width))),
    )
