"""Numbered stills as a clip: a folder of them, or a pattern."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from fractions import Fraction
from pathlib import Path

from emulate.errors import Caveat, MaterialError
from emulate.frames.frame import Encoding, Frame, Metadata
from emulate.frames.said import Said
from emulate.frames.source import Damage, EvenlySpaced, Pieces
from emulate.frames.still import load_frame
from emulate.frames.stream import FALLBACK_RATE

STILLS = (".exr", ".png", ".tif", ".tiff", ".hdr", ".avif")
_COUNTED = re.compile(r"%0?\d*d|#+|\*")  # where a pattern has its number
_NUMBER = re.compile(r"(\d+)(?!.*\d)")  # the last number of a name


@dataclass(frozen=True)
class Sequence(EvenlySpaced):
    """Numbered stills, a fixed time apart. The first number is frame 0; a missing one is damage."""

    path: Path
    caller: Said
    rate: Fraction
    files: dict[int, Path]  # by number
    shape: tuple[int, int]
    encoding: Encoding
    metadata: Metadata
    caveats: tuple[Caveat, ...]
    reads_ahead = False  # readers of stills run parallel loops, which want one thread at a time

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def frames(self) -> int:
        return max(self.files) - min(self.files) + 1

    @property
    def duration_s(self) -> float:
        return self.time_of(self.frames)

    def pictures(self, start: int = 0) -> Pieces:
        """Frames from `start` on, and the files among them that are missing or cannot be read."""
        for index in range(start, self.frames):
            try:
                yield self._frame(index)
            except MaterialError as error:
                yield Damage(self.time_of(index), self.time_of(index + 1), str(error))

    def samples(self, count: int) -> Iterator[Frame]:
        """Up to `count` frames spread evenly."""
        numbers = sorted(self.files)
        for number in numbers[:: max(1, len(numbers) // count)]:
            yield self._frame(number - min(self.files))

    def _frame(self, index: int) -> Frame:
        number = min(self.files) + index
        if number not in self.files:
            raise MaterialError(f"{self.path}: number {number} is missing")
        file = self.files[number]
        frame = _loaded(file, self.caller)
        if frame.shape != self.shape:
            height, width = self.shape
            raise MaterialError(
                f"{file}: {frame.shape[1]}×{frame.shape[0]} pixels where the first has "
                f"{width}×{height}"
            )
        return replace(frame, name=file.name, time_s=self.time_of(index), index=index)


def is_sequence(path: str | os.PathLike[str]) -> bool:
    """Whether a path names a folder or a pattern of stills rather than one file."""
    place = Path(path)
    try:
        return place.is_dir() or (not place.exists() and bool(_COUNTED.search(place.name)))
    except OSError:  # a name that no file can have; opening it says so
        return False


def open_sequence(
    path: str | os.PathLike[str], caller: Said, rate: Fraction | None = None
) -> Sequence:
    """Numbered stills from a folder or a pattern (%04d, #### or *).

    Raises MaterialError where there are none, where a folder holds several sequences, or where not
    one can be read.
    """
    place = Path(path)
    try:
        files = _numbered(place, _files_of(place))
    except OSError as error:
        raise MaterialError(f"{place}: cannot be read ({error.strerror or error})") from error
    first = _first_of(files, caller)
    caveats = first.caveats
    if rate is None:
        text = f"stills carry no times; {float(FALLBACK_RATE):g} frames a second are assumed"
        caveats += (Caveat(place.name, text),)
    return Sequence(
        place,
        caller,
        rate or FALLBACK_RATE,
        files,
        first.shape,
        first.encoding,
        first.metadata,
        caveats,
    )


def _files_of(place: Path) -> list[Path]:
    if place.is_dir():
        files = [f for f in place.iterdir() if f.suffix.lower() in STILLS and f.name[0] != "."]
    else:
        before, after = _COUNTED.split(place.name, maxsplit=1)
        pattern = re.compile(re.escape(before) + r"\d+" + re.escape(after))
        beside = place.parent.iterdir() if place.parent.is_dir() else iter(())
        files = [f for f in beside if pattern.fullmatch(f.name)]
    if not files:
        raise MaterialError(f"{place}: no stills there; accepted are {', '.join(STILLS)}")
    return sorted(files)


def _numbered(place: Path, files: list[Path]) -> dict[int, Path]:
    """Files by their number. Raises MaterialError where they are not one sequence."""
    stems = sorted({_NUMBER.sub("#", f.stem) + f.suffix.lower() for f in files})
    if len(stems) > 1 or "#" not in stems[0]:
        shown = ", ".join(stems[:4])
        raise MaterialError(
            f"{place}: holds {shown}; accepted is one sequence of numbered stills, which a "
            "pattern such as shot_####.exr can pick out"
        )
    numbered: dict[int, Path] = {}
    for file in files:
        match = _NUMBER.search(file.stem)
        number = int(match[1]) if match else 0
        if number in numbered:
            raise MaterialError(f"{place}: {numbered[number].name} and {file.name} share a number")
        numbered[number] = file
    return numbered


def _first_of(files: dict[int, Path], caller: Said) -> Frame:
    trouble: MaterialError | None = None
    for number in sorted(files):
        try:
            return _loaded(files[number], caller)
        except MaterialError as error:
            trouble = trouble or error
    raise trouble or MaterialError("no stills")


def _loaded(file: Path, caller: Said) -> Frame:
    said = asdict(caller)
    return load_frame(file, **{**said, "absolute": bool(said["absolute"])})
