"""CGATS text (ISO 28178): the exchange format of colour instruments, as the same kind of table."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from emulate.errors import Caveat, ReadingError, place
from emulate.readings.table import MOST_COLUMNS, Row, Table, remarks
from emulate.readings.text import Text

FIELDS = {  # ISO 28178:2009, predefined data format identifiers; from memory
    "XYZ_X": "X",
    "XYZ_Y": "Y",
    "XYZ_Z": "Z",
    "XYY_X": "x",
    "XYY_Y": "y",
    "XYY_CAPY": "Y",
    "RGB_R": "rgb_r",
    "RGB_G": "rgb_g",
    "RGB_B": "rgb_b",
    "SAMPLE_ID": "sample_id",
    "SAMPLE_NAME": "note",
    "SAMPLEID": "sample_id",
}
_TOKEN = re.compile(r'"([^"]*)"|([^\s"]+)')
_MARKS = ("BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "BEGIN_DATA", "END_DATA")


@dataclass(frozen=True)
class _Line:
    number: int
    words: tuple[str, ...]


def is_cgats(text: Text) -> bool:
    """Whether a text is CGATS: it names itself so, or marks a data format."""
    first = next((line for line in text.lines if line.strip()), "")
    named = re.match(r"\s*(CGATS\b|ISO\s?28178)", first) is not None
    return named or any(line.strip() == "BEGIN_DATA_FORMAT" for line in text.lines)


def read_cgats(text: Text) -> Table:
    """The one table of a CGATS text.

    Raises ReadingError, with its line, for a mark that is missing, out of order or there twice, for
    a count that does not match, and for a row of another length.
    """
    lines = _lines(text)
    at = {mark: _only(text.path, lines, mark) for mark in _MARKS}
    ordered = [at[mark] for mark in _MARKS]
    if ordered != sorted(ordered):
        raise ReadingError(f"{text.path}: marks out of order; accepted is {', then '.join(_MARKS)}")
    fields = [word for line in lines[ordered[0] + 1 : ordered[1]] for word in line.words]
    if not fields:
        raise ReadingError(f"{place(text.path, lines[ordered[0]].number)}: names no field")
    if len(fields) > MOST_COLUMNS:
        raise ReadingError(f"{text.path}: {len(fields)} fields; accepted are {MOST_COLUMNS}")
    data = lines[ordered[2] + 1 : ordered[3]]
    head = [*lines[: ordered[0]], *lines[ordered[1] + 1 : ordered[2]]]
    _check_count(text.path, head, "NUMBER_OF_FIELDS", len(fields))
    _check_count(text.path, head, "NUMBER_OF_SETS", len(data))
    return Table(
        text.path,
        tuple(FIELDS.get(name.upper(), name.lower()) for name in fields),
        lines[ordered[0]].number + 1,
        tuple(_row(text.path, line, len(fields)) for line in data),
        remarks(_remarks(text, head)),
        text.digest,
        (*text.caveats, *_leftover(text.path, lines[ordered[3] + 1 :])),
    )


def _lines(text: Text) -> list[_Line]:
    found = []
    for number, line in enumerate(text.lines, 1):
        bare = line if '"' in line else line.partition("#")[0]
        if bare.lstrip().startswith("#"):
            continue
        if bare.count('"') % 2:
            raise ReadingError(f"{place(text.path, number)}: a quote is left open")
        words = tuple(quoted or plain for quoted, plain in _TOKEN.findall(bare))
        if words:
            found.append(_Line(number, words))
    return found


def _only(path: str, lines: Sequence[_Line], mark: str) -> int:
    at = [index for index, line in enumerate(lines) if line.words[0] == mark]
    if len(at) != 1:
        where = (
            f"{path}: no {mark}" if not at else f"{place(path, lines[at[1]].number)}: {mark} again"
        )
        raise ReadingError(f"{where}; accepted is one data format and one block of data")
    return at[0]


def _check_count(path: str, head: Sequence[_Line], keyword: str, count: int) -> None:
    for line in head:
        if line.words[0] == keyword and line.words[1:] != (str(count),):
            stated = " ".join(line.words[1:]) or "nothing"
            raise ReadingError(
                f"{place(path, line.number)}: {keyword} says {stated[:40]}, but there are {count}"
            )


def _row(path: str, line: _Line, count: int) -> Row:
    if len(line.words) != count:
        raise ReadingError(
            f"{place(path, line.number)}: {len(line.words)} values; accepted are {count}, as in "
            "the data format"
        )
    return Row(line.number, line.words)


def _remarks(text: Text, head: Sequence[_Line]) -> list[tuple[int, str]]:
    comments = [
        (number, line.strip().lstrip("#").strip())
        for number, line in enumerate(text.lines, 1)
        if line.lstrip().startswith("#")
    ]
    keywords = [
        (ln.number, f"{ln.words[0]}: {' '.join(ln.words[1:])}") for ln in head if ln.words[1:]
    ]
    return comments + keywords


def _leftover(path: str, after: Sequence[_Line]) -> tuple[Caveat, ...]:
    if not after:
        return ()
    return (Caveat(place(path, after[0].number), "what follows END_DATA is not read"),)
