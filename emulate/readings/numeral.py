"""Numbers as meters and spreadsheets of any country write them, read as one column at a time.

A decimal comma and a decimal point are both read, but never both in what was measured; a separator
of thousands is refused, and where one could be meant a caveat says so.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from emulate.errors import Caveat, ReadingError, place

_NUMERAL = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]{1,3})?")
_LONGEST = 40  # characters; ours, no meter writes as many
_THOUSAND = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")


@dataclass(frozen=True)
class Cell:
    """A cell with something in it: line from 1, the column's name, the text."""

    path: str
    line: int
    column: str
    text: str

    @property
    def where(self) -> str:
        return place(self.path, self.line, self.column)


def number(cell: Cell) -> float:
    """The number of one cell, decimal comma or point. Raises ReadingError for all else."""
    text = cell.text.replace("\u2212", "-")
    if len(text) > _LONGEST or not _NUMERAL.fullmatch(text):
        raise ReadingError(f"{cell.where}: {_shown(cell.text)} is no number{_hint(text)}")
    return float(text.replace(",", "."))


def check_column(cells: Sequence[Cell]) -> tuple[Caveat, ...]:
    """Refuses a column that mixes commas and points; doubts one that may count thousands."""
    for cell in cells:
        number(cell)
    commas = [cell for cell in cells if "," in cell.text]
    points = [cell for cell in cells if "." in cell.text]
    if commas and points:
        raise _mixed(commas, points)
    marked = commas or points
    whole = len(marked) < len(cells)
    if not marked or not all(_THOUSAND.fullmatch(cell.text) for cell in marked):
        return ()
    first = marked[0]
    if commas and whole:
        raise ReadingError(
            f"{first.where}: {first.text!r} may be a decimal or a thousand, since the numbers "
            "around it are whole; accepted are numbers without a separator of thousands"
        )
    doubt = "a decimal comma" if commas else "a decimal point"
    if commas or whole:
        text = f"{first.text!r} was read with {doubt}; if it counts thousands all is wrong"
        return (Caveat(first.where, text),)
    return ()


def check_columns(columns: Sequence[Sequence[Cell]]) -> tuple[Caveat, ...]:
    """The same for all measured columns, which must agree among themselves."""
    caveats = tuple(caveat for cells in columns for caveat in check_column(cells))
    commas = [cell for cells in columns for cell in cells if "," in cell.text]
    points = [cell for cells in columns for cell in cells if "." in cell.text]
    if commas and points:
        raise _mixed(commas, points)
    return caveats


def _mixed(commas: Sequence[Cell], points: Sequence[Cell]) -> ReadingError:
    fewer, more = sorted((commas, points), key=len)
    return ReadingError(
        f"{fewer[0].where}: {fewer[0].text!r}, but {more[0].text!r} in {more[0].where}; accepted "
        "is one decimal sign throughout and no separator of thousands"
    )


def _shown(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")


def _hint(text: str) -> str:
    bare = re.sub(r"[\s'’_]", "", text)
    if re.fullmatch(r"[+-]?[0-9]+([.,][0-9]+)*", bare):
        return "; accepted are numbers without a separator of thousands"
    if re.match(r"[+-]?[0-9.,]+\s*[^0-9.,\s]", text):
        return "; accepted is the number alone, its unit stands in the header"
    return "; accepted are digits with one decimal point or comma"
