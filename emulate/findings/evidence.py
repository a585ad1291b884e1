"""What the questions look at: frame and rendering on one scale, each map made once."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntFlag
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from emulate._kernels import findings as kernels
from emulate.errors import RequestError
from emulate.findings.finding import Finding, Map
from emulate.frames.frame import Frame
from emulate.rendering import Cause, Rendering
from emulate.sight import Viewer, box_pixels, steps_from_light
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


CLIPPED = Loss.CLIPPED_CURVE | Loss.CLIPPED_ZONE | Loss.CLIPPED_GAMUT
CRUSHED = Loss.CRUSHED_CURVE | Loss.CRUSHED_LEAK | Loss.CRUSHED_ROOM
LOST = Detail.LOST_CURVE | Detail.LOST_DIMMING | Detail.LOST_ROOM


@dataclass(frozen=True, eq=False)
class Answer:
    """What one question found: findings by dotted name, and maps by name."""

    by_name: dict[str, Finding]
    maps: dict[str, Map]


@dataclass(frozen=True, eq=False)
class Evidence(Value):
    """A frame, what a panel made of it, and who looks.

    The panel's own light is what is seen less the room's reflection; luminance and J maps are
    (h, w) float32. Raises RequestError where frame and rendering differ in size.
    """

    frame: Frame
    rendering: Rendering
    viewer: Viewer

    def __post_init__(self) -> None:
        super().__post_init__()
        shown = self.rendering.why.shape
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

    def share(self, mask: Map) -> float:
        """Share of the active picture where `mask` (h, w) is not zero."""
        inside = self.active(mask)
        return float(np.count_nonzero(inside) / inside.size)

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
            _codes(Cause.CURVE_HIGH, Cause.WIDE_OPEN, Cause.GAMUT),
            _codes(Loss.CLIPPED_CURVE, Loss.CLIPPED_ZONE, Loss.CLIPPED_GAMUT),
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
            _codes(Cause.CURVE_LOW, Cause.ALL_FLOOR),
            _codes(Loss.CRUSHED_CURVE, Loss.CRUSHED_LEAK, Loss.CRUSHED_ROOM),
            codes,
        )
        return locked(codes)

    @cached_property
    def detail(self) -> tuple[Bytes, float]:
        """Bits of `Detail` (h, w), and the contrast lost [steps], summed where active."""
        codes = np.empty(self.frame.shape, np.uint8)
        tally = np.zeros(self.frame.shape[0])
        kernels.detail_codes(
            (self.luminance, self.reference, self.asked, self.own, self.seen),
            box_pixels(self.viewer, self.frame.shape[0]) // 2,
            (SHADOW, HIGHLIGHT),
            ROUNDING_STEPS,
            _codes(*Detail),
            self.columns,
            tally,
            codes,
        )
        return locked(codes), float(self.rows(tally))


def luminance_of(light: Pixels, less: float = 0.0) -> Pixels:
    """Luminance (h, w) of light (h, w, 3), `less` [cd/m²] of the room's taken off."""
    out = np.empty(light.shape[:2], np.float32)
    kernels.luminance_map(locked(light), LUMINANCE_2020, float(less), out)
    return locked(out)


def steps_of(luminance: Pixels) -> Pixels:
    """J (h, w) of luminance (h, w), within 0.0002 steps of `steps_from_light`."""
    out = np.empty(luminance.shape, np.float32)
    kernels.steps_map(luminance, steps_table(), out)
    return locked(out)


@cache
def steps_table() -> Pixels:
    """J at the bounds of the slices that the kernels cut every octave of float32 into."""
    bits = (127 + kernels.LOW << kernels.SPLIT) + np.arange(
        (kernels.OCTAVES << kernels.SPLIT) + 2, dtype=np.int32
    )
    light = (bits << 23 - kernels.SPLIT).astype(np.int32).view(np.float32)
    light[0] = 0.0
    return locked(steps_from_light(light).astype(np.float32))


def _codes(*codes: IntFlag) -> Bytes:
    return np.array(codes, np.uint8)
