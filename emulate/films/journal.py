"""Journal: what a scan has learned so far, on file, so that it can be stopped at any moment.

Text, format `emulate-journal/1`, a line each: eight digits of CRC-32, a space, JSON. The first line
says which clip, panel and terms it belongs to; entries follow. Lines are only ever added. What a
scan that was killed left half written is found by its check sum and cut off, back to the last
checkpoint, and what is written from there on is what would have been written.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO
from zlib import crc32

from emulate.errors import OutputError, RequestError
from emulate.films.entries import Checkpoint, End, Entry, entry_of, text_of

FORMAT = "emulate-journal/1"
Heading = dict[str, Any]  # what a journal belongs to: words for a person -> digest or value


@dataclass(eq=False)
class Journal:
    """A journal open for writing; `known` are the entries that it holds already."""

    path: Path
    file: BinaryIO
    known: tuple[Entry, ...]

    @property
    def start(self) -> Checkpoint | None:
        """Where to go on; None is the beginning."""
        last = self.known[-1] if self.known else None
        return last if isinstance(last, Checkpoint) else None

    @property
    def complete(self) -> bool:
        """Whether nothing is left to do."""
        return bool(self.known) and isinstance(self.known[-1], End)

    def add(self, entry: Entry) -> None:
        """Writes one entry; from a checkpoint on it survives a loss of power as well."""
        self.file.write(_line(text_of(entry)))
        self.file.flush()
        if isinstance(entry, Checkpoint | End):
            os.fsync(self.file.fileno())


@contextmanager
def open_journal(
    path: str | os.PathLike[str], heading: Heading, *, anew: bool = False
) -> Iterator[Journal]:
    """A journal to go on with, or a new one where there is none or `anew`.

    Raises RequestError where the journal belongs to something else, is none, or is being written by
    another process, OutputError where the place cannot be written.
    """
    place = Path(path)
    try:
        with place.open("a+b", buffering=0) as file:
            _lock(file, place)
            if anew:
                file.truncate(0)
            yield Journal(place, file, _resumed(file, place, heading))
    except OSError as error:
        reason = error.strerror or error
        raise OutputError(f"{place}: cannot be written ({reason})") from error


def _resumed(file: Any, place: Path, heading: Heading) -> tuple[Entry, ...]:
    """Entries up to the last checkpoint or the end; what follows is cut off."""
    file.seek(0)
    lines = _lines(file.read())
    safe, first = next(lines, (0, None))
    said = _line(json.dumps({"format": FORMAT, **heading}, ensure_ascii=False))
    if first is None:
        _refuse_foreign(file, place, said)
        file.truncate(0)
        file.write(said)
        return ()
    _refuse_other(place, _parsed(first), {"format": FORMAT, **heading})
    known: list[Entry] = []
    kept = 0
    for end, text in lines:
        known.append(_entry(place, text))
        if isinstance(known[-1], Checkpoint | End):
            safe, kept = end, len(known)
    file.truncate(safe)
    return tuple(known[:kept])


def _lines(data: bytes) -> Iterator[tuple[int, str]]:
    """Where each line that is whole ends, and its text; none from the first torn one on."""
    begin = 0
    while (newline := data.find(b"\n", begin)) >= 0:
        sum_, text = data[begin : begin + 8], data[begin + 9 : newline]
        if sum_ != _sum(text):
            return
        begin = newline + 1
        yield begin, text.decode("utf-8", errors="replace")


def _line(text: str) -> bytes:
    data = text.encode("utf-8")
    return _sum(data) + b" " + data + b"\n"


def _sum(data: bytes) -> bytes:
    return f"{crc32(data):08x}".encode("ascii")


def _parsed(text: str) -> Heading:
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _entry(place: Path, text: str) -> Entry:
    """The entry of a whole line, which another program may have written."""
    try:
        return entry_of(text)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise RequestError(
            f"{place}: {text[:60]!r} is no entry of {FORMAT}; accepted is to begin anew, or "
            "another folder"
        ) from error


def _refuse_other(place: Path, found: Heading, wanted: Heading) -> None:
    wanted = json.loads(json.dumps(wanted))
    for key in wanted:
        if found.get(key) != wanted[key]:
            raise RequestError(
                f"{place}: it was begun with another {key}; accepted is to go on with what it was "
                f"begun with, to begin anew, or another folder"
            )


def _refuse_foreign(file: Any, place: Path, said: bytes) -> None:
    """A first line that was torn may be written over; anything else may not."""
    file.seek(0)
    if not said.startswith(file.read()):
        raise RequestError(f"{place}: not a journal of ours; accepted is {FORMAT}")


def _lock(file: Any, place: Path) -> None:
    """One writer at a time, where the system knows locks; they end with the process."""
    with suppress(ImportError):
        import fcntl

        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise RequestError(
                f"{place}: another process is writing it; accepted is one at a time"
            ) from None
