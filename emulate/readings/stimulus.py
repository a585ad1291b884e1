"""A stimulus: what was on screen, precise enough to be shown again at any resolution."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from emulate.frames.frame import Frame, Metadata
from emulate.transfer import light_from_pq
from emulate.values import Numbers

Rgb = tuple[float, float, float]
Kind = Literal[
    "drift",  # the reference patch, shown again and again
    "ramp",  # grey level in a window
    "near_black",  # the lowest levels in a window
    "window",  # white of growing area
    "black",  # nothing lit
    "checker",  # squares of white and black
    "spill",  # a lit box at a distance from the meter
    "grow",  # a box that grows inside one zone
    "crawl",  # a box that moves across
    "step",  # a box that is switched on and off
    "primary",  # primaries, secondaries and white
    "uniformity",  # a grey slide
    "chart24",
    "chart140",
    "patch",  # a colour of the reviewer's own
]
BLACK: Rgb = (0.0, 0.0, 0.0)
WHITE: Rgb = (1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Patch:
    """A rectangle of one colour, in pixels of its stimulus; signal: R′G′B′, PQ, 0..1 full range."""

    top: int
    left: int
    height: int
    width: int
    signal: Rgb


@dataclass(frozen=True)
class Moment:
    """From `time_s` on these patches are on screen, until the next moment."""

    time_s: float
    patches: tuple[Patch, ...]


@dataclass(frozen=True)
class Stimulus:
    """A background and rectangles on it that do not lie on one another, nothing else.

    number: as in file names and sheets; 0 where a meter file has none. kind and name: what it
    asks. shape: rows and columns in pixels. level: R′G′B′ signal of what is measured (PQ, 0..1).
    value: what varies within the kind - window: area share; spill: gap from meter to box [H];
    grow: side of the box [H]; crawl: centre of the box, share of the axis; else 0.
    axis: the direction of a spill or crawl. mastering_peak, max_cll, max_fall [cd/m²]: what the
    file says of its content, 0 = nothing. moments: of a moving stimulus; empty for a still.
    patches: all that is lit, the number in the corner included where there is one.
    """

    kind: Kind
    name: str
    shape: tuple[int, int]
    patches: tuple[Patch, ...] = ()
    background: Rgb = BLACK
    level: Rgb = BLACK
    value: float = 0.0
    axis: Literal["", "horizontal", "vertical"] = ""
    mastering_peak: float = 0.0
    max_cll: float = 0.0
    max_fall: float = 0.0
    number: int = 0
    moments: tuple[Moment, ...] = field(default=(), repr=False)

    @property
    def duration_s(self) -> float:
        """When the last moment begins; 0 for a still."""
        return self.moments[-1].time_s if self.moments else 0.0

    def patches_at(self, time_s: float) -> tuple[Patch, ...]:
        """What is on screen at `time_s`; a still is what it always was."""
        index = bisect_right([moment.time_s for moment in self.moments], time_s) - 1
        return self.moments[index].patches if index >= 0 else self.patches

    def signal_at(self, spot: tuple[float, float], time_s: float = 0.0) -> Rgb:
        """R′G′B′ signal under a spot (x, y as shares of width and height)."""
        row, column = pixel_at(spot, self.shape)
        for patch in self.patches_at(time_s):
            below, right = row - patch.top, column - patch.left
            if 0 <= below < patch.height and 0 <= right < patch.width:
                return patch.signal
        return self.background


def pixel_at(spot: tuple[float, float], shape: tuple[int, int]) -> tuple[int, int]:
    """Row and column of the pixel that holds a spot (x, y as shares of width and height)."""
    rows, columns = shape
    return min(int(spot[1] * rows), rows - 1), min(int(spot[0] * columns), columns - 1)


def frame_of(
    stimulus: Stimulus, shape: tuple[int, int] | None = None, *, time_s: float = 0.0
) -> Frame:
    """The stimulus as a frame of reference light, cd/m², at `shape` (its own when None).

    At another resolution a pixel that a rectangle covers in part gets that share of its light, so
    that mean light is kept.
    """
    target = shape or stimulus.shape
    background = light_from_pq(stimulus.background)
    light = np.empty((*target, 3), dtype=np.float32)
    light[:] = background
    for patch in stimulus.patches_at(time_s):
        rows, row_share = _covered(patch.top, patch.height, stimulus.shape[0], target[0])
        columns, column_share = _covered(patch.left, patch.width, stimulus.shape[1], target[1])
        share = np.outer(row_share, column_share)[..., None]
        light[rows, columns] += share * (light_from_pq(patch.signal) - background)
    metadata = Metadata(
        mastering_peak=stimulus.mastering_peak,
        max_cll=stimulus.max_cll,
        max_fall=stimulus.max_fall,
    )
    kept = np.maximum(light, 0.0)
    return Frame.from_light(kept, stimulus.name, metadata=metadata, time_s=time_s)


def _covered(start: int, length: int, extent: int, pixels: int) -> tuple[slice, Numbers]:
    """Pixels that an interval touches after scaling, and the share of each that it covers."""
    first, last = start * pixels / extent, (start + length) * pixels / extent
    low, high = int(np.floor(first)), int(np.ceil(last))
    edges = np.arange(low, high + 1, dtype=np.float64)
    share = np.minimum(edges[1:], last) - np.maximum(edges[:-1], first)
    return slice(low, high), np.maximum(share, 0.0)
