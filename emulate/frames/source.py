"""What a clip is read from: a video file or a folder of stills, whichever it is."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from emulate.errors import Caveat
from emulate.frames.frame import Encoding, Frame, Metadata


@dataclass(frozen=True, slots=True)
class Damage:
    """From start_s to end_s [s] nothing could be read; `text` says why."""

    start_s: float
    end_s: float
    text: str

    def __str__(self) -> str:
        return f"{self.start_s:.3f} to {self.end_s:.3f} s: {self.text}"


ON_TIME = 5e-4  # s by which a rounded time may miss its frame; half of a printed millisecond


def frame_shown_at(time_s: float, rate: Fraction) -> int:
    """Index of the frame on show at `time_s` of `rate` even frames a second, the first at 0."""
    return int((time_s + ON_TIME) * rate)


class EvenlySpaced:
    """Frames a fixed time apart, the first at 0: `rate` a second."""

    rate: Fraction

    def time_of(self, index: int) -> float:
        """When frame `index` is due [s]."""
        return float(index / self.rate)

    def index_of(self, time_s: float) -> int:
        """Index of the frame on show at `time_s`."""
        return frame_shown_at(time_s, self.rate)


Pieces = Generator[Frame | Damage, None, None]  # in order of time; may be closed early


class Source(Protocol):
    """Frames by number, with what is known of all of them before they are read.

    frames and duration_s are None where nothing says. time_of: when a frame is due [s]; index_of:
    which is on show at a time. pictures: frames from a number on, and Damage where some are
    missing. samples: frames spread over the whole. reads_ahead: whether a thread of its own may.
    """

    @property
    def name(self) -> str: ...
    @property
    def rate(self) -> Fraction: ...
    @property
    def frames(self) -> int | None: ...
    @property
    def duration_s(self) -> float | None: ...
    @property
    def shape(self) -> tuple[int, int]: ...
    @property
    def encoding(self) -> Encoding: ...
    @property
    def metadata(self) -> Metadata: ...
    @property
    def caveats(self) -> tuple[Caveat, ...]: ...
    @property
    def reads_ahead(self) -> bool: ...

    def time_of(self, index: int) -> float: ...
    def index_of(self, time_s: float) -> int: ...
    def pictures(self, start: int = 0) -> Pieces: ...
    def samples(self, count: int) -> Iterator[Frame]: ...
