"""A reel: an invented clip that is made frame by frame when somebody reads it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np

from emulate.colorimetry import BT2020, D65
from emulate.errors import Caveat
from emulate.frames.frame import Encoding, Frame, Metadata
from emulate.frames.source import EvenlySpaced, Pieces

from .canvas import Image, brightest, graded

Shot = Callable[[float], Image]  # light (h, w, 3) [cd/m²] at a time [s]


@dataclass(frozen=True, eq=False)
class Reel(EvenlySpaced):
    """A source of frames for a clip: `shot` at every frame's time, graded for a peak [cd/m²]."""

    name: str
    shot: Shot
    peak: float
    shape: tuple[int, int]
    rate: Fraction
    frames: int
    encoding = Encoding("linear", scale=1.0)
    caveats: tuple[Caveat, ...] = ()
    reads_ahead = True

    @property
    def duration_s(self) -> float:
        return self.time_of(self.frames)

    @cached_property
    def metadata(self) -> Metadata:
        """Mastering peak as asked, in BT.2020; MaxCLL and MaxFALL measured over all frames."""
        largest = [brightest(self._light(index)) for index in range(self.frames)]
        fall = max(float(each.mean(dtype=np.float64)) for each in largest)
        level = max(float(each.max()) for each in largest)
        corners = (*BT2020, D65)
        return Metadata(self.peak, 0.0001, corners, round(level), round(fall, 2))

    def pictures(self, start: int = 0) -> Pieces:
        for index in range(start, self.frames):
            yield self._frame(index)

    def samples(self, count: int) -> Iterator[Frame]:
        for index in range(0, self.frames, max(1, self.frames // count)):
            yield self._frame(index)

    def _frame(self, index: int) -> Frame:
        light, time_s = self._light(index), self.time_of(index)
        return Frame.from_light(
            light, self.name, metadata=self.metadata, time_s=time_s, index=index
        )

    def _light(self, index: int) -> Image:
        return graded(self.shot(self.time_of(index)), self.peak)
