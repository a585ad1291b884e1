"""A frame on a panel before it is drawn: what both passes need, as the kernels take it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate._kernels import glow, row
from emulate._kernels import passes as kernels
from emulate.frames.frame import Frame
from emulate.fused import tables
from emulate.fused.lamps import lamps_of, with_gains
from emulate.fused.source import source_of
from emulate.fused.tiles import bands, grain_of, plain_edges, tiles
from emulate.fused.workspace import Histograms, Workspace
from emulate.panel.cause import Cause
from emulate.panel.cell import NOISE as CELL_NOISE
from emulate.panel.cell import View
from emulate.panel.curves import Curve
from emulate.panel.panel import Panel
from emulate.panel.primaries import NOISE as GAMUT_NOISE
from emulate.panel.primaries import Primaries
from emulate.panel.uniformity import uniformity_map
from emulate.panel.zones import SelfEmissive, Statistics, Zones
from emulate.transfer import LUMINANCE_2020
from emulate.values import Numbers, Pixels, Value, locked

WEIGHTS = locked(LUMINANCE_2020.astype(np.float32))
EVERY = 16  # rows of a band's piece where no cell asks for another size


class Levels(NamedTuple):
    """Content of the active picture: counts of m by level, its brightest and its mean [cd/m²]."""

    counts: NDArray[np.int64]
    brightest: float
    mean: float

    def percentiles(self, percents: Sequence[float]) -> list[float]:
        """As numpy's, linear between ranks; each level is met to within 1e-4 of itself."""
        below = np.cumsum(self.counts)
        ranks = np.asarray(percents) / 100 * (below[-1] - 1)
        low, high = (self._at(below, side(ranks)) for side in (np.floor, np.ceil))
        return list((low + (ranks - np.floor(ranks)) * (high - low)).tolist())

    def at_share(self, share: float) -> float:
        """The smallest m that at least this share of the pixels does not exceed, as above."""
        below = np.cumsum(self.counts)
        return float(self._at(below, np.ceil(share * below[-1]) - 1))

    def _at(self, below: NDArray[np.int64], rank: Numbers) -> Numbers:
        index = np.searchsorted(below, rank, side="right")
        share = ((index & ((1 << kernels.LEVEL_SPLIT) - 1)) + 0.5) / (1 << kernels.LEVEL_SPLIT)
        level = 2.0 ** (kernels.LEVEL_LOW + (index >> kernels.LEVEL_SPLIT)) * (1 + share)
        return np.where(index == 0, 0.0, np.minimum(level, self.brightest))


@dataclass(frozen=True, eq=False)
class Sketch(Value):
    """Everything the kernels need of a frame on a panel, first without its light source.

    reflected [cd/m²]: the room's light. lamps: None until the light source is known; later: as they
    will be once the zones have arrived, None where they have. work: where it
    is drawn; None makes a place for each drawing.
    """

    frame: Frame
    panel: Panel
    view: View
    source: row.Source
    tone: row.Tone
    cell: row.Cell
    reflected: float = 0.0
    lamps: glow.Lamps | None = None
    later: glow.Lamps | None = None
    work: Workspace | None = None

    def lit(
        self,
        drive: Numbers,
        settled: Numbers,
        unknown_gain: float,
        reflected: float,
        work: Workspace,
    ) -> Sketch:
        """The same with its light source, and the room's light.

        drive [d] (rows, columns): now, and once the zones have settled. unknown_gain: what the cell
        does not know of the limiter's gain.
        """
        panel, shape = self.panel, self.frame.shape
        lamps, later = (
            lamps_of(each, panel.spread, shape, panel.open_cdm2, work) if each is not None else None
            for each in (drive, None if np.array_equal(drive, settled) else settled)
        )
        cell = _guessing(self.cell, self.view, unknown_gain, panel.open_cdm2)
        if cell.guessing and lamps is not None:
            kappa = self.view.compensation
            share = unknown_gain**kappa * panel.open_cdm2 ** (kappa - 1)
            lamps = with_gains(lamps, 1 - kappa, share)
        return replace(self, cell=cell, reflected=reflected, lamps=lamps, later=later)


def sketched(frame: Frame, panel: Panel, view: View, curve: Curve) -> Sketch:
    """A frame on a panel with its tone curve."""
    return Sketch(
        frame,
        panel,
        view,
        source_of(frame),
        tables.tone_of(curve, panel.tone.acts_on),
        _cell_of(panel, view, frame.shape),
    )


def levels_of(frame: Frame, work: Workspace) -> Levels:
    """Content levels of the active picture: a pass of its own, before a curve that follows them."""
    source = source_of(frame)
    look = _look(frame, SelfEmissive(), counting=True)
    counted = _run(look, source, _NO_TONE, _NO_CELL, frame.shape, work)
    return levels_from(counted.levels, look.brightest, look.light, look.active)


def seen_by_zones(sketch: Sketch, work: Workspace) -> Statistics:
    """First pass: peak and mean of g over each zone, and the fill of a self-emissive panel."""
    zones = sketch.panel.zones
    kept = work.light(sketch.frame.shape) if work.keeps else None
    look = _look(sketch.frame, zones, counting=False, kept=kept)
    _run(look, sketch.source, sketch.tone, sketch.cell, sketch.frame.shape, work)
    return _statistics(look, zones, sketch.frame.shape, sketch.panel.open_cdm2)


def _run(
    look: kernels.Look,
    source: row.Source,
    tone: row.Tone,
    cell: row.Cell,
    shape: tuple[int, int],
    work: Workspace,
) -> Histograms:
    return work.each_with_scratch(
        0,
        lambda scratch, b: kernels.first_pass(
            scratch, b[1], b[2], shape[1], source, tone, cell, WEIGHTS, look
        ),
        bands(look.cell_rows.size - 1, work.pieces),
        counting=bool(look.counting),
    )


def _look(
    frame: Frame, zones: Zones | SelfEmissive, *, counting: bool, kept: Pixels | None = None
) -> kernels.Look:
    height, width = frame.shape
    sorting = isinstance(zones, Zones)
    if isinstance(zones, Zones):
        rows, columns, _, firsts = grain_of(zones, frame.shape)
        zone_of, across = _zone_of(firsts.tobytes(), columns.size - 1), (rows.size - 1, firsts.size)
    else:
        rows, columns = plain_edges(height, EVERY), plain_edges(width, EVERY)
        zone_of, across = _NO_ZONE, (1, 1)
    return kernels.Look(
        sorting=int(sorting),
        cell_rows=rows,
        cell_columns=columns,
        tiles=tiles(columns),
        zone_of=zone_of,
        totals=np.zeros(across),
        peaks=np.zeros(across, np.float32),
        adding=int(not sorting and not counting),
        channels=np.zeros(height),
        counting=int(counting),
        active=frame.active or (0, height, 0, width),
        brightest=np.zeros(height, np.float32),
        light=np.zeros(height),
        keeping=int(kept is not None),
        kept=_UNKEPT if kept is None else kept.reshape(-1),
    )


def levels_from(
    counts: NDArray[np.int64], brightest: Pixels, light: Numbers, active: tuple[int, int, int, int]
) -> Levels:
    """Levels from the histogram of all threads and the largest and the sum of m of each row."""
    top, bottom, left, right = active
    mean = float(light[top:bottom].sum()) / ((bottom - top) * (right - left))
    return Levels(counts, float(brightest.max()), mean)


def _statistics(
    look: kernels.Look, zones: Zones | SelfEmissive, shape: tuple[int, int], open_cdm2: float
) -> Statistics:
    if not isinstance(zones, Zones):
        fill = min(float(look.channels.sum()) / (3 * shape[0] * shape[1] * open_cdm2), 1.0)
        return Statistics(np.ones((1, 1)), np.ones((1, 1)), fill)
    rows, columns, row_firsts, column_firsts = grain_of(zones, shape)
    peak = np.maximum.reduceat(look.peaks, row_firsts).astype(np.float64)
    total = np.add.reduceat(look.totals, row_firsts)
    area = np.outer(
        np.diff(rows[np.append(row_firsts, -1)]), np.diff(columns[np.append(column_firsts, -1)])
    )
    peaks, averages = peak / open_cdm2, total / area / open_cdm2
    return Statistics(np.minimum(peaks, 1.0), np.minimum(averages, 1.0))


@lru_cache(maxsize=16)
def _zone_of(firsts: bytes, cells: int) -> NDArray[np.int64]:
    """Which zone across each of so many grain cells lies in, by the first cell of each."""
    starts = np.frombuffer(firsts, np.int64)
    return locked(np.searchsorted(starts, np.arange(cells), side="right") - 1)


@lru_cache(maxsize=8)
def _matrices(primaries: Primaries) -> tuple[Numbers, Numbers]:
    return primaries.matrix_in(), primaries.matrix_out()


def _cell_of(panel: Panel, view: View, shape: tuple[int, int]) -> row.Cell:
    tracking = tables.tracking_of(panel.tracking)
    uneven = panel.uniformity.grid.size > 1 or float(panel.uniformity.grid[0, 0]) != 1.0
    shading = uniformity_map(panel.uniformity, shape).reshape(-1) if uneven else _ONE
    return row.Cell(
        into=locked(_matrices(panel.primaries)[0].astype(np.float32)),
        ceiling=np.float32(panel.open_cdm2),
        noise=np.float32(GAMUT_NOISE),
        leak=np.float32(panel.zones.leak(view.contrast)),
        tolerance=np.float32(CELL_NOISE),
        known_share=np.float32(1.0),
        guessing=0,
        powers=_NO_TABLE,
        straying=tracking.strays,
        tracking=tracking.table,
        uneven=int(uneven),
        uniformity=shading,
    )


def _guessing(cell: row.Cell, view: View, unknown_gain: float, open_cdm2: float) -> row.Cell:
    if view.compensation == 1.0:
        return cell._replace(known_share=np.float32(1.0 / unknown_gain))
    powers = tables.powers_of(unknown_gain, open_cdm2, view.compensation)
    return cell._replace(guessing=1, powers=powers)


_UNKEPT: Pixels = np.zeros(1, np.float32)  # where nothing is written
_NO_ZONE = locked(np.zeros(1, np.int64))
_ONE: Pixels = locked(np.ones(1, np.float32))
_NO_TABLE: Pixels = locked(np.zeros(1, np.float32))
_NO_CELL = row.Cell(
    into=locked(np.eye(3, dtype=np.float32)),
    ceiling=np.float32(1.0),
    noise=np.float32(0.0),
    leak=np.float32(0.0),
    tolerance=np.float32(0.0),
    known_share=np.float32(1.0),
    guessing=0,
    powers=_NO_TABLE,
    straying=0,
    tracking=locked(np.zeros((3, 1), np.float32)),
    uneven=0,
    uniformity=_ONE,
)
_NO_TONE = row.Tone(
    acts_on=row.AS_IS,
    steep=(np.float32(0.0), np.float32(np.inf)),
    scales=_NO_TABLE,
    flags=locked(np.zeros(1, np.uint8)),
    edges=locked(np.zeros(1)),
    lights=locked(np.zeros(1)),
    offsets=locked(np.zeros((1, 4))),
    pq=locked(np.zeros(6)),
    sides=locked(np.zeros(4)),
)


def shown_matrices(sketch: Sketch) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """BT.2020 from panel channels (3, 3): turned to the viewer, and on the axis."""
    out = _matrices(sketch.panel.primaries)[1]
    turned = out * np.float32(sketch.view.gain)
    return locked(turned.astype(np.float32)), locked(out.astype(np.float32))


CAUSE_BITS = locked(
    np.array([Cause.GAMUT, Cause.ZONE, Cause.WIDE_OPEN, Cause.FLOOR, Cause.ALL_FLOOR], np.uint8)
)
