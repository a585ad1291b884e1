"""What the questions look at: frame and rendering on one scale, each map made once."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntFlag
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate._kernels import findings as kernels
from emulate._kernels.fluctuation import glance_cells
from emulate.errors import RequestError
from emulate.findings.counts import Counts, counted
from emulate.findings.finding import Finding, Map
from emulate.findings.maps import Levels, Off, brightest_channel, itp_matrices
from emulate.findings.maps import cell_spans as cell_spans
from emulate.findings.maps import luminance_of as luminance_of
from emulate.findings.maps import steps_of as steps_of
from emulate.findings.maps import steps_table as steps_table
from emulate.frames.frame import Frame
from emulate.panel.spread import backlight
from emulate.rendering import Cause, Rendering
from emulate.sight import Viewer, box_pixels, cell_counts, steps_from_light
from emulate.transfer import LUMINANCE_2020
from emulate.values import Numbers, Pixels, Value, locked

Bytes = NDArray[np.uint8]

VISIBLE_STEPS = 1.0  # ITU-R BT.2124-0: one step is just noticeable
ROUNDING_STEPS = (
    0.01  # float32 light is good to 1e-5, which is under 0.001 steps; less is no change
)
HIGHLIGHT = 203.0  # cd/m² and more, ITU-R BT.2408-7: HDR reference white
SHADOW = 1.0  # cd/m² and less [ours]


class Loss(IntFlag):
    """Why a pixel lost light or structure: bits of the map `loss`."""

    CLIPPED_CURVE = 1
    CLIPPED_ZONE = 2
    CLIPPED_GAMUT = 4
    CRUSHED_CURVE = 8
    CRUSHED_LEAK = 16
    CRUSHED_ROOM = 32
    DIMMED = 64  # belongs to a small bright thing that its zone starves


class Detail(IntFlag):
    """Region of a pixel and the fate of its fine contrast: bits of the map `detail`."""

    HIGHLIGHT = 1
    SHADOW = 2
    VISIBLE = 4
    LOST_CURVE = 8
    LOST_DIMMING = 16
    LOST_ROOM = 32


CEILINGS = (Cause.CURVE_HIGH, Cause.WIDE_OPEN, Cause.GAMUT)  # each clips as the next line says
CLIPPED_BY = (Loss.CLIPPED_CURVE, Loss.CLIPPED_ZONE, Loss.CLIPPED_GAMUT)
FLOORS = (Cause.CURVE_LOW, Cause.ALL_FLOOR)  # each crushes as the next line says
CRUSHED_BY = (Loss.CRUSHED_CURVE, Loss.CRUSHED_LEAK, Loss.CRUSHED_ROOM)
CLIPPED = Loss.CLIPPED_CURVE | Loss.CLIPPED_ZONE | Loss.CLIPPED_GAMUT
CRUSHED = Loss.CRUSHED_CURVE | Loss.CRUSHED_LEAK | Loss.CRUSHED_ROOM
LOST = Detail.LOST_CURVE | Detail.LOST_DIMMING | Detail.LOST_ROOM


@dataclass(frozen=True, eq=False)
class Answer:
    """What one question found: findings by dotted name, and maps by name."""

    by_name: dict[str, Finding]
    maps: dict[str, Map]


class Starved(NamedTuple):
    """Pixels of a mask that their backlight starves: how many, their luminance asked and what of it
    is there, summed [cd/m²], and the steps that they are short, summed."""

    pixels: int
    asked: float
    kept: float
    short: float


@dataclass(frozen=True, eq=False)
class Evidence(Value):
    """A frame, what a panel made of it, and who looks.

    The panel's own light is what is seen less the room's reflection; luminance and J maps are
    (h, w) float32. mapping: maps for pictures are wanted. colour: findings of colour are wanted.
    Raises RequestError where frame and rendering differ in size.
    """

    frame: Frame
    rendering: Rendering
    viewer: Viewer
    mapping: bool = True
    colour: bool = True

    def __post_init__(self) -> None:
        super().__post_init__()
        shown = self.rendering.shape
        if self.frame.shape != shown:
            rows, columns = self.frame.shape
            raise RequestError(
                f"{self.frame.name}: the frame is {columns} × {rows} pixels and the rendering "
                f"{shown[1]} × {shown[0]}; accepted is a rendering of this very frame"
            )

    @cached_property
    def bounds(self) -> tuple[int, int, int, int]:
        """First row, end row, first column, end column of the active picture."""
        rows, columns = self.frame.shape
        return self.frame.active or (0, rows, 0, columns)

    def blank(self) -> Bytes:
        """A map (h, w) of nothing, to be written on."""
        return np.zeros(self.frame.shape, np.uint8)

    @property
    def columns(self) -> tuple[int, int]:
        """First column and end column of the active picture."""
        return self.bounds[2], self.bounds[3]

    def active(self, image: Map) -> Map:
        """The part of an image (h, w, ...) inside a letterbox."""
        top, bottom, left, right = self.bounds
        return image[top:bottom, left:right]

    def rows(self, tally: Numbers) -> Numbers:
        """Sum of a tally (h, ...) over the rows of the active picture."""
        return np.asarray(tally[self.bounds[0] : self.bounds[1]].sum(axis=0))

    @property
    def area(self) -> int:
        """Pixels of the active picture."""
        top, bottom, left, right = self.bounds
        return (bottom - top) * (right - left)

    @property
    def loss(self) -> Bytes:
        """Bits of `Loss` (h, w) of all that is clipped or crushed."""
        return self.clipped[0] | self.crushed

    @cached_property
    def loss_counts(self) -> Counts:
        """Pixels of the active picture by their bits of `Loss`."""
        return counted(self.active(self.loss))

    @cached_property
    def detail_counts(self) -> Counts:
        """Pixels of the active picture by their bits of `Detail`."""
        return counted(self.active(self.detail[0]))

    @cached_property
    def crushed_steps(self) -> float:
        """|J(reference) − J(seen)| summed over the crushed pixels of the active picture [steps]."""
        where = self.active(self.crushed) != 0
        off = self.active(self.reference)[where] - self.active(self.seen)[where]
        return float(np.abs(off).sum(dtype=np.float64))

    @cached_property
    def levels(self) -> Levels:
        """Content levels of the active picture."""
        level = self.active(brightest_channel(self.frame.light))
        return Levels(level, float(level.max()), float(level.mean(dtype=np.float64)))

    @cached_property
    def mean_level(self) -> float:
        """Mean over the whole frame, black bars included, of the largest channel [cd/m²]."""
        return float(brightest_channel(self.frame.light).mean(dtype=np.float64))

    @cached_property
    def lift(self) -> tuple[Numbers, Numbers]:
        """Luminance asked, and lift on the cell's floor [cd/m²], on cells of 0.1°."""
        rows, columns = self.cells
        out = np.empty((2, rows.shape[1], columns.shape[1]))
        kernels.lift_cells(
            self.rendering.asked,
            self.rendering.light,
            float(self.rendering.reflected),
            locked(self.rendering.why),
            np.uint8(Cause.FLOOR),
            LUMINANCE_2020,
            rows,
            columns,
            out,
        )
        return out[0], out[1]

    @property
    def cells(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """First and end pixel of each cell of 0.1°: rows and columns, each (2, n)."""
        counts = cell_counts(self.viewer, self.frame.shape)
        rows, columns = map(cell_spans, counts, self.frame.shape)
        return rows, columns

    def light_kept(self, mask: Bytes, bits: int) -> tuple[float, float]:
        """Luminance asked, and what of it is there, summed where mask has `bits` and is active."""
        tally = np.zeros((self.frame.shape[0], 2))
        kernels.light_kept(
            self.rendering.asked,
            self.rendering.light,
            float(self.rendering.reflected),
            LUMINANCE_2020,
            locked(mask),
            np.uint8(bits),
            self.columns,
            tally,
        )
        asked, kept = self.rows(tally)
        return float(asked), float(kept)

    @cached_property
    def highlights_kept(self) -> tuple[float, float]:
        """The same over the highlights."""
        return self.light_kept(self.detail[0], Detail.HIGHLIGHT)

    def turned_down(self, left: float) -> tuple[float, float]:
        """Share of the active picture a step or more below its light over `left`, and its fall."""
        before = steps_of(locked(self.own_luminance / np.float32(left)))
        fallen = self.active(before - self.own)
        shows = fallen >= VISIBLE_STEPS
        depth = float(fallen[shows].mean(dtype=np.float64)) if shows.any() else 0.0
        return float(np.count_nonzero(shows) / shows.size), depth

    @cached_property
    def off(self) -> tuple[Map, tuple[Off, Off]]:
        """ΔE_ITP (h, w) for a map, and its figures: whole, and with luminance divided out."""
        whole, hue = colour_steps(self)
        return whole, (Off.of(self.active(whole)), Off.of(self.active(hue)))

    @cached_property
    def glances(self) -> Numbers:
        """(5, cells down, cells across): luminance of reference, asked, own, own where held at
        floor or ceiling, and own once the zones have settled [cd/m²]."""
        rendering, (rows, columns) = self.rendering, self.cells
        limiter, free = rendering.panel.limiter, 1.0 - rendering.panel.cell.compensation
        out = np.empty((5, rows.shape[1], columns.shape[1]))
        glance_cells(
            (self.frame.light, rendering.asked, rendering.light),
            float(rendering.reflected),
            locked(rendering.why),
            np.uint8(Cause.FLOOR | Cause.WIDE_OPEN),
            rendering.backlight,
            _settled_backlight(rendering),
            float(limiter.unknown(rendering.gain)),
            float(free),
            LUMINANCE_2020,
            rows,
            columns,
            out,
        )
        return out

    def starved(self, mask: Bytes, bits: int) -> Starved:
        """What is missing where `mask` (h, w) has `bits`, in the active picture."""
        where = (self.active(mask) & bits) != 0
        short = self.active(self.reference)[where] - self.active(self.own)[where]
        kept = self.light_kept(mask, bits)
        return Starved(short.size, *kept, float(np.maximum(short, 0).sum(dtype=np.float64)))

    @cached_property
    def luminance(self) -> Pixels:
        """Of the reference [cd/m²]."""
        return luminance_of(self.frame.light)

    @cached_property
    def reference(self) -> Pixels:
        """J of the reference's luminance."""
        return steps_of(self.luminance)

    @cached_property
    def asked(self) -> Pixels:
        """J of what a perfect backlight would show."""
        return steps_of(luminance_of(self.rendering.asked))

    @cached_property
    def own_luminance(self) -> Pixels:
        """Of the panel's own light [cd/m²]."""
        return luminance_of(self.rendering.light, self.rendering.reflected)

    @cached_property
    def own(self) -> Pixels:
        """J of the panel's own light."""
        return steps_of(self.own_luminance)

    @cached_property
    def seen(self) -> Pixels:
        """J of what is seen, the room's light included; in a dark room that is `own`."""
        if self.rendering.reflected == 0:
            return self.own
        return steps_of(luminance_of(self.rendering.light))

    @cached_property
    def clipped(self) -> tuple[Bytes, float]:
        """Bits of `Loss` (h, w) at a ceiling, and the steps lost there, summed where active."""
        codes = np.empty(self.frame.shape, np.uint8)
        tally = np.zeros(self.frame.shape[0])
        kernels.ceiling_codes(
            locked(self.rendering.why),
            self.frame.light,
            self.rendering.light,
            float(self.rendering.reflected),
            steps_table(),
            codes_of(*CEILINGS),
            codes_of(*CLIPPED_BY),
            self.columns,
            tally,
            codes,
        )
        return locked(codes), float(self.rows(tally))

    @cached_property
    def crushed(self) -> Bytes:
        """Bits of `Loss` (h, w) at a floor."""
        codes = np.empty(self.frame.shape, np.uint8)
        kernels.floor_codes(
            locked(self.rendering.why),
            self.luminance,
            self.reference,
            self.own,
            self.seen,
            float(steps_from_light(0.0)),
            float(steps_from_light(self.rendering.reflected)),
            codes_of(*FLOORS),
            codes_of(*CRUSHED_BY),
            codes,
        )
        return locked(codes)

    @property
    def detail_reach(self) -> int:
        """Half the box of 0.1° that fine contrast is measured against [px]."""
        return box_pixels(self.viewer, self.frame.shape[0]) // 2

    @cached_property
    def detail(self) -> tuple[Bytes, float]:
        """Bits of `Detail` (h, w), and the contrast lost [steps], summed where active."""
        codes = np.empty(self.frame.shape, np.uint8)
        tally = np.zeros(self.frame.shape[0])
        kernels.detail_codes(
            (self.luminance, self.reference, self.asked, self.own, self.seen),
            self.detail_reach,
            (SHADOW, HIGHLIGHT),
            ROUNDING_STEPS,
            codes_of(*Detail),
            self.columns,
            tally,
            codes,
        )
        return locked(codes), float(self.rows(tally))


def _settled_backlight(rendering: Rendering) -> NDArray[np.float32]:
    """The backlight [cd/m²] (h, w), had the zones arrived; the very same where they have."""
    panel, called = rendering.panel, rendering.gain * rendering.called
    if np.array_equal(called, rendering.drive):
        return rendering.backlight
    return locked(backlight(called, panel.spread, rendering.shape, panel.open_cdm2))


def colour_steps(evidence: Evidence) -> Pixels:
    """(2, h, w): ΔE_ITP, and ΔE_ITP with the seen light scaled to the reference's luminance."""
    out = np.empty((2, *evidence.frame.shape), np.float32)
    kernels.colour_steps(
        evidence.frame.light,
        evidence.rendering.light,
        steps_table(),
        *itp_matrices(),
        LUMINANCE_2020,
        np.float32(ROUNDING_STEPS),
        out,
    )
    return locked(out)


def codes_of(*codes: IntFlag) -> Bytes:
    """Bits as kernels take them (n,) uint8."""
    return np.array(codes, np.uint8)
