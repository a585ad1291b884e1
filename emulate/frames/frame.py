"""What flows in: a frame of reference light, and what its file said about it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal, Protocol

import numpy as np
from numpy.typing import ArrayLike

from emulate.display import Displayed
from emulate.errors import Caveat, MaterialError
from emulate.transfer import Transfer
from emulate.values import Codes, Pixels, Value, locked

Gamut = Literal["bt2020", "p3", "bt709"]
Matrix = Literal["rgb", "bt2020", "bt709", "bt601"]
Siting = Literal["left", "topleft", "centre"]


@dataclass(frozen=True)
class Encoding:
    """How light was written down.

    transfer: pq, hlg, sdr or linear. gamut: the container's primaries, white D65. matrix: rgb, or
    the Y′CbCr matrix. full_range and bits: of the code values (bits 0 where there are none).
    scale [cd/m²]: what 1.0 stands for in linear files; the nominal peak for hlg; white for sdr.
    """

    transfer: Transfer
    gamut: Gamut | tuple[tuple[float, float], ...] = "bt2020"
    matrix: Matrix = "rgb"
    full_range: bool = True
    bits: int = 0
    siting: Siting = "left"
    scale: float = 0.0


@dataclass(frozen=True)
class DynamicMetadata:
    """What a stream says of one frame or scene: SMPTE ST 2094-40, first window.

    max_scl: largest R, G, B [cd/m²]. average: mean of max(R, G, B) [cd/m²]. percentiles: (percent,
    cd/m²) of max(R, G, B). bright_share: of the pixels that are bright. target_peak [cd/m²]: of
    the display the curve is meant for. knee (x, y) and anchors 0..1: the curve, none where empty.
    """

    max_scl: tuple[float, float, float] = (0.0, 0.0, 0.0)
    average: float = 0.0
    percentiles: tuple[tuple[int, float], ...] = ()
    bright_share: float = 0.0
    target_peak: float = 0.0
    knee: tuple[float, float] | None = None
    anchors: tuple[float, ...] = ()

    @property
    def scene_peak(self) -> float:
        """Largest of the three channels [cd/m²]."""
        return max(self.max_scl)


@dataclass(frozen=True)
class Metadata:
    """What the file claims of its content; 0 or None where it says nothing.

    mastering_peak, mastering_black [cd/m²], mastering_primaries (red, green, blue, white xy): SMPTE
    ST 2086. max_cll, max_fall [cd/m²]: CTA-861.3. dynamic: of this frame alone. Validated on the
    way in: an impossible claim is dropped and becomes a caveat of the frame.
    """

    mastering_peak: float = 0.0
    mastering_black: float = 0.0
    mastering_primaries: tuple[tuple[float, float], ...] | None = None
    max_cll: float = 0.0
    max_fall: float = 0.0
    dynamic: DynamicMetadata | None = None


class Picture(Protocol):
    """Anything that can stand for light: an array of it, or the code values it is read from."""

    @property
    def shape(self) -> tuple[int, int]: ...

    def light(self) -> Pixels: ...

    def sampled(self, every: int) -> Pixels: ...


@dataclass(frozen=True, eq=False)
class LightPicture(Value):
    """Light itself: values (h, w, 3) float32, BT.2020 linear, cd/m²."""

    values: Pixels

    @property
    def shape(self) -> tuple[int, int]:
        return self.values.shape[0], self.values.shape[1]

    def light(self) -> Pixels:
        return self.values

    def sampled(self, every: int) -> Pixels:
        """Light of every n-th row and column."""
        return self.values[::every, ::every]


@dataclass(frozen=True, eq=False)
class CodePicture(Value):
    """Code values as the file holds them; light is read from them when somebody asks.

    first, second, third: R′G′B′ or Y′CbCr planes, uint16; second and third may be subsampled by
    two in either direction. `encoding` says what they mean.
    """

    first: Codes
    second: Codes
    third: Codes
    encoding: Encoding

    @property
    def shape(self) -> tuple[int, int]:
        return self.first.shape[0], self.first.shape[1]

    def light(self) -> Pixels:
        from emulate.frames.decode import light_from_planes

        return locked(light_from_planes(self))

    def sampled(self, every: int) -> Pixels:
        """Light of every n-th row and column; what lies between is not read."""
        from emulate.frames.decode import light_from_planes

        return locked(light_from_planes(self, every))


@dataclass(frozen=True, eq=False)
class Frame(Value, Displayed):
    """One picture of reference light.

    light: (h, w, 3) float32, BT.2020 linear, cd/m², never negative, always finite.
    name: how findings and pictures call it. time_s and index: its place in a clip.
    active: rows (top, bottom) and columns (left, right) of the picture inside a letterbox.
    """

    picture: Picture
    name: str = "frame"
    encoding: Encoding = field(default_factory=lambda: Encoding("linear", scale=1.0))
    metadata: Metadata = field(default_factory=Metadata)
    caveats: tuple[Caveat, ...] = ()
    time_s: float = 0.0
    index: int = 0
    active: tuple[int, int, int, int] | None = None

    @classmethod
    def from_light(cls, light: ArrayLike, name: str = "frame", **rest: object) -> Frame:
        """A frame from an array of light (h, w, 3), BT.2020 linear, cd/m².

        Raises MaterialError where the array has another shape or holds a value that is negative,
        NaN or infinite.
        """
        values = np.ascontiguousarray(light, dtype=np.float32)
        if values.ndim != 3 or values.shape[2] != 3 or 0 in values.shape:
            raise MaterialError(f"{name}: light of shape {values.shape}; accepted is (h, w, 3)")
        wrong = ~(values >= 0) | ~np.isfinite(values)
        if wrong.any():
            row, column, channel = (int(i) for i in np.argwhere(wrong)[0])
            raise MaterialError(
                f"{name}: row {row}, column {column}, channel {channel} holds "
                f"{values[row, column, channel]}; accepted is finite light, 0 cd/m² or more"
            )
        return cls(LightPicture(values), name, **rest)  # type: ignore[arg-type]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns in pixels."""
        return self.picture.shape

    @cached_property
    def light(self) -> Pixels:
        """(h, w, 3) float32, BT.2020 linear, cd/m²."""
        return self.picture.light()

    @cached_property
    def brightest(self) -> float:
        """The largest channel anywhere, bars and all [cd/m²]."""
        return float(self.light.max())

    def doubted(self, *caveats: Caveat) -> Frame:
        """The same frame with more caveats."""
        return replace(self, caveats=self.caveats + caveats)
