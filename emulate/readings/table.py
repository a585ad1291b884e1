"""A meter's CSV as a table: any delimiter, comments on top, every cell with its place."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import dropwhile

from emulate.errors import Caveat, ReadingError, place
from emulate.readings.text import Text

DELIMITERS = ("\t", ";", ",")
DELIMITER_NAMES = {"\t": "tabs", ";": "semicolons", ",": "commas"}

MOST_COLUMNS = 1000  # ours; meters write some fifty


@dataclass(frozen=True)
class Row:
    """line: in the file, from 1; cells: stripped, one for each name of the header."""

    line: int
    cells: tuple[str, ...]

    @property
    def blank(self) -> bool:
        return not any(self.cells)


@dataclass(frozen=True)
class Table:
    """header: the names of the columns; remarks: `key: value` lines above it, by key."""

    path: str
    header: tuple[str, ...]
    header_line: int
    rows: tuple[Row, ...]
    remarks: dict[str, tuple[int, str]]
    digest: str
    caveats: tuple[Caveat, ...] = ()


def read_table(text: Text) -> Table:
    """The table in a CSV text: comments (#), one header line, rows of as many cells.

    The delimiter is the one of tab, semicolon and comma that the header has most of. Raises
    ReadingError, with line and column, for a missing header, an open quote, or a row that has more
    or fewer cells than the header.
    """
    lines = list(enumerate(text.lines, 1))
    comments = [(number, _comment(line)) for number, line in lines if _is_comment(line)]
    others = [(number, line) for number, line in lines if line.strip() and not _is_comment(line)]
    filled = list(dropwhile(lambda numbered: _is_blank(numbered[1]), others))
    if not filled:
        raise ReadingError(f"{text.path}: holds no table; accepted is a header line and rows")
    header_line, first = filled[0]
    delimiter = max(DELIMITERS, key=first.count)
    names = [cell.strip() for cell in _cells(text.path, header_line, first, delimiter)]
    if not any(names):
        raise ReadingError(f"{place(text.path, header_line)}: names no column")
    if len(names) > MOST_COLUMNS:
        raise ReadingError(
            f"{place(text.path, header_line)}: {len(names)} columns; accepted are {MOST_COLUMNS}"
        )
    width = max(index for index, name in enumerate(names, 1) if name)
    rows = [
        Row(number, _row(text.path, number, line, delimiter, len(names), width))
        for number, line in filled[1:]
    ]
    return Table(
        text.path,
        tuple(names[:width]),
        header_line,
        tuple(rows),
        remarks(comments),
        text.digest,
        text.caveats,
    )


def remarks(comments: Iterable[tuple[int, str]]) -> dict[str, tuple[int, str]]:
    """`key: value` comments by key, with their line; the first of a key counts."""
    found: dict[str, tuple[int, str]] = {}
    for line, text in comments:
        key, colon, value = text.partition(":")
        if colon and key.strip().isidentifier():
            found.setdefault(key.strip().lower(), (line, value.strip()))
    return found


def _is_comment(line: str) -> bool:
    return line.lstrip(" \t\"'").startswith("#")


def _is_blank(line: str) -> bool:
    return not line.strip(" \t;,\"'")


def _comment(line: str) -> str:
    """Without what a spreadsheet puts around it: quotes, and delimiters to the last column."""
    return line.strip().strip("\t;,").strip().strip("\"'").lstrip("#").strip()


def _cells(path: str, number: int, line: str, delimiter: str) -> list[str]:
    try:
        parsed = list(csv.reader([line], delimiter=delimiter, strict=True, skipinitialspace=True))
    except csv.Error as error:
        raise ReadingError(
            f"{place(path, number)}: quotes do not match ({error}); accepted are cells in a pair "
            "of double quotes or in none"
        ) from error
    return parsed[0] if parsed else []


def _row(
    path: str, number: int, line: str, delimiter: str, count: int, width: int
) -> tuple[str, ...]:
    if _is_blank(line):
        return ("",) * width
    cells = [cell.strip() for cell in _cells(path, number, line, delimiter)]
    if len(cells) != count:
        hint = (
            "; a decimal comma between commas needs quotes, or semicolons between cells"
            if delimiter == "," and len(cells) > count
            else ""
        )
        raise ReadingError(
            f"{place(path, number)}: {len(cells)} cells between {DELIMITER_NAMES[delimiter]}; "
            f"accepted are {count}, as in the header{hint}"
        )
    extra = next((index for index in range(width, count) if cells[index]), None)
    if extra is not None:
        raise ReadingError(
            f"{place(path, number, extra + 1)}: {cells[extra]!r} stands below no name in the header"
        )
    return tuple(cells[:width])
