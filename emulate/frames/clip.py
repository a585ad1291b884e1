"""A clip: frames one after another, one in memory at a time."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

from emulate.errors import Caveat, MaterialError, RequestError
from emulate.frames.ahead import ahead
from emulate.frames.frame import Encoding, Frame, Gamut, Matrix, Metadata, Siting
from emulate.frames.gamut import Chromaticities
from emulate.frames.letterbox import Active, letterbox_of
from emulate.frames.said import Said
from emulate.frames.sequence import STILLS, is_sequence, open_sequence
from emulate.frames.source import Damage, Pieces, Source
from emulate.frames.stream import exact_rate
from emulate.frames.video import frame_at, frame_number, open_video
from emulate.transfer import Transfer
from emulate.values import Value

SAMPLES = 24  # frames that the bars are looked for in; our choice


@dataclass(frozen=True, eq=False)
class Clip(Value):
    """Frames of a source from start_s to end_s [s], every n-th of them, as often as wanted.

    Iterating reads ahead in a thread of its own and may be left early. `pieces` also yields the
    stretches that cannot be read; plain iteration leaves them out and says so in a caveat of the
    frame next to them. active: rows and columns of the picture inside bars, given to each frame.
    """

    source: Source
    start_s: float = 0.0
    end_s: float | None = None
    every: int = 1
    active: Active | None = None

    @property
    def name(self) -> str:
        return self.source.name

    @property
    def rate(self) -> float:
        """Frames a second that iterating yields; the mean where their pace is uneven."""
        return float(self.source.rate / self.every)

    @property
    def frames(self) -> int | None:
        """How many frames iterating yields, None where nothing says. Damage may cost some."""
        end = self._end()
        return None if end is None else len(range(self._start(), end, self.every))

    @property
    def duration_s(self) -> float | None:
        """From the first frame's beginning to the last one's end [s], None where nothing says."""
        end = self._end()
        first = self._start()
        return None if end is None else max(self.source.time_of(end) - self._time(first), 0.0)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns in pixels."""
        return self.source.shape

    @property
    def encoding(self) -> Encoding:
        return self.source.encoding

    @property
    def metadata(self) -> Metadata:
        """What the first frame claims for all."""
        return self.source.metadata

    @property
    def caveats(self) -> tuple[Caveat, ...]:
        return self.source.caveats

    def __iter__(self) -> Iterator[Frame]:
        """Frames in order; what could not be read becomes a caveat of the frame beside it.

        Raises MaterialError where not one can be read.
        """
        held: Frame | None = None
        doubts: tuple[Caveat, ...] = ()
        with closing(self.pieces()) as pieces:
            for piece in pieces:
                if isinstance(piece, Damage):
                    doubts += (Caveat(self.name, f"{piece}; it is left out"),)
                    continue
                if held is not None:
                    yield held.doubted(*doubts)
                    doubts = ()
                held = piece
        if held is not None:
            yield held.doubted(*doubts)
        elif doubts:
            raise MaterialError(f"{self.name}: no frame of it can be read: {doubts[0].text}")

    def pieces(self) -> Pieces:
        """Frames and, between them, the stretches that cannot be read, in order of time."""
        pieces = self._pieces()
        return ahead(pieces) if self.source.reads_ahead else pieces

    def damage(self) -> tuple[Damage, ...]:
        """Every stretch that cannot be read, found by reading the whole clip."""
        return tuple(piece for piece in self.pieces() if isinstance(piece, Damage))

    def frame(self, index: int) -> Frame:
        """Frame number `index` of the source, counted from 0.

        Raises MaterialError where there is none or it cannot be read.
        """
        return self._placed(frame_number(self.source, index))

    def at(self, time_s: float) -> Frame:
        """The frame of the source on show at `time_s` [s]. Raises as `frame` does."""
        return self._placed(frame_at(self.source, time_s))

    def letterbox(self) -> Active | None:
        """Rows and columns (top, bottom, left, right) inside black bars, None without bars.

        Found over frames spread over the whole source.
        """
        return letterbox_of(self.source.samples(SAMPLES))

    def without_bars(self) -> Clip:
        """The same clip, its frames told where the picture lies inside the bars."""
        return replace(self, active=self.letterbox())

    def _pieces(self) -> Pieces:
        first, end = self._start(), self.end_s
        with closing(self.source.pictures(first)) as pieces:
            for piece in pieces:
                begins = piece.start_s if isinstance(piece, Damage) else piece.time_s
                if end is not None and begins >= end:
                    return
                if isinstance(piece, Damage):
                    yield piece
                elif (piece.index - first) % self.every == 0:
                    yield self._placed(piece)
                del piece

    def _placed(self, frame: Frame) -> Frame:
        return frame if self.active is None else replace(frame, active=self.active)

    def _start(self) -> int:
        """The first frame that begins at start_s or later."""
        first = self.source.index_of(self.start_s)
        late = self._time(first) < self.start_s - 1e-9
        return first + 1 if late else first

    def _end(self) -> int | None:
        """Past the last frame that begins before end_s."""
        count = self.source.frames
        if self.end_s is None:
            return count
        last = self.source.index_of(self.end_s)
        end = last + 1 if self._time(last) < self.end_s else last
        return end if count is None else min(end, count)

    def _time(self, index: int) -> float:
        return self.source.time_of(index)


def open_clip(
    path: str | os.PathLike[str],
    *,
    start_s: float | None = None,
    end_s: float | None = None,
    every: int = 1,
    rate: float | None = None,
    scale: float | None = None,
    absolute: bool = False,
    transfer: Transfer | None = None,
    gamut: Gamut | Chromaticities | None = None,
    matrix: Matrix | None = None,
    full_range: bool | None = None,
    siting: Siting | None = None,
    hlg_peak: float | None = None,
    sdr_white: float | None = None,
    mastered: float | None = None,
) -> Clip:
    """A clip from a video file, or from numbered stills: a folder or a pattern of them.

    Reads HEVC, AV1, VP9, ProRes, FFV1 and what else av decodes to 8 to 16-bit planes. Patterns:
    shot_%04d.exr, shot_####.exr or shot_*.exr. start_s, end_s [s]: frames that begin in between.
    every: take every n-th frame. rate: frames a second of stills (24 assumed, with a caveat) and of
    streams that carry no times. The rest says what the file does not, as `load_frame` has it.

    Raises MaterialError for what cannot be read, RequestError for a value that is not accepted.
    """
    said = Said(
        scale,
        absolute or None,
        transfer,
        gamut,
        matrix,
        full_range,
        siting,
        hlg_peak,
        sdr_white,
        mastered,
    )
    begin = 0.0 if start_s is None else float(start_s)
    _check(Path(path).name, begin, end_s, every, rate)
    exact = None if rate is None else exact_rate(rate)
    source: Source
    if is_sequence(path):
        source = open_sequence(path, said, exact)
    else:
        _check_moving(Path(path))
        source = open_video(path, said, exact)
    clip = Clip(source, begin, None if end_s is None else float(end_s), int(every))
    if clip.frames == 0:
        raise MaterialError(
            f"{path}: no frame begins at {begin:g} s or later; it lasts {source.duration_s:.3f} s"
        )
    return clip


def _check_moving(file: Path) -> None:
    """Raises MaterialError for one still. An AVIF may hold a sequence, and is asked of av."""
    if file.suffix.lower() in STILLS and file.suffix.lower() != ".avif" and file.is_file():
        raise MaterialError(
            f"{file}: a still: use `emulate picture`, load_frame in Python; accepted is a video, "
            "or a folder or pattern of numbered stills"
        )


def _check(name: str, start: float, end: float | None, every: int, rate: float | None) -> None:
    if not start >= 0:
        raise RequestError(f"{name}: start {start:g} s; accepted is 0 or more")
    if end is not None and not end > start:
        raise RequestError(f"{name}: end {end:g} s; accepted is after the start at {start:g} s")
    if every < 1 or every != int(every):
        raise RequestError(f"{name}: every {every}; accepted is a whole number from 1")
    if rate is not None and not 0 < rate < float("inf"):
        raise RequestError(f"{name}: rate {rate:g}; accepted is above 0 frames a second")
