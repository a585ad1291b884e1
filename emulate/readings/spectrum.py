"""Spectra of a panel's colours: CSV of wavelength and power, a column for each colour."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from emulate.errors import Caveat, ReadingError, place
from emulate.readings.numeral import Cell, check_columns, number
from emulate.readings.text import Text, read_text
from emulate.values import Numbers, Value, numbers

WAVELENGTHS = ("wavelength_nm", "wavelength", "nm")
COLOURS = ("red", "green", "blue", "white")
SHORTEST, LONGEST = 200.0, 2500.0  # nm: meters read no further [ours]
SEEN = (400.0, 700.0)  # nm: outside lies under 0.1 % of the eye's answer to equal power, CIE 15
COARSEST = 10.0  # nm between samples: CIE 15:2018, 7.1 allows 5, some meters give 10
FINE = 5.0  # nm, CIE 15:2018, 7.1


@dataclass(frozen=True, eq=False)
class Spectra(Value):
    """wavelength [nm] (n,) rising; power by colour (n,), in any unit that all colours share."""

    wavelength: Numbers
    power: Mapping[str, Numbers]
    path: str = ""
    caveats: tuple[Caveat, ...] = ()


def load_spectra(path: str | os.PathLike[str]) -> Spectra:
    """Spectra of red, green and blue, and of white where it was read, from one CSV file.

    The header names the columns: wavelength_nm (or wavelength, nm), red, green, blue, white;
    others are left out. Comma, semicolon or tab between cells, decimal point or comma, lines that
    start with # are remarks. Raises ReadingError with line and column for everything else.
    """
    text = read_text(os.fspath(path))
    lines = [
        (line, words)
        for line, words in enumerate(text.lines, 1)
        if words.strip() and not words.lstrip().startswith("#")
    ]
    if not lines:
        raise ReadingError(f"{text.path}: holds no spectrum; accepted is a CSV with a header")
    mark = next((each for each in "\t;," if each in lines[0][1]), ",")
    head = [name.strip().strip('"').lower() for name in lines[0][1].split(mark)]
    places = _places(text, lines[0][0], head)
    columns: dict[str, list[Cell]] = {name: [] for name in places}
    for line, words in lines[1:]:
        _take(text, line, words.split(mark), places, columns)
    caveats = check_columns(list(columns.values()))
    read = {name: [number(cell) for cell in cells] for name, cells in columns.items()}
    wavelength = read.pop("wavelength_nm")
    _check(columns, wavelength)
    power = {name: numbers(read[name]) for name in COLOURS if name in read}
    doubts = (*text.caveats, *caveats, *_doubts(text.path, wavelength))
    return Spectra(numbers(wavelength), power, text.path, doubts)


def _places(text: Text, line: int, head: list[str]) -> dict[str, int]:
    """Column of each thing that is read; refuses what is missing or there twice."""
    named = ["wavelength_nm" if name in WAVELENGTHS else name for name in head]
    wanted = ("wavelength_nm", *COLOURS)
    for name in wanted:
        if named.count(name) > 1 or (name not in named and name != "white"):
            found = f"{named.count(name)} columns named {name}"
            accepted = "accepted is a header wavelength_nm, red, green, blue and, if read, white"
            raise ReadingError(f"{place(text.path, line)}: {found}; {accepted}")
    return {name: named.index(name) for name in wanted if name in named}


def _take(
    text: Text, line: int, cells: list[str], places: dict[str, int], columns: dict[str, list[Cell]]
) -> None:
    """One line's cells into their columns."""
    for name, index in places.items():
        words = cells[index].strip() if index < len(cells) else ""
        if not words:
            where = place(text.path, line, name)
            raise ReadingError(f"{where}: is empty; accepted is a number")
        columns[name].append(Cell(text.path, line, name, words))


def _check(columns: Mapping[str, list[Cell]], wavelength: list[float]) -> None:
    cells = columns["wavelength_nm"]
    if len(cells) < 2:
        path = cells[0].path if cells else "spectrum"
        raise ReadingError(f"{path}: {len(cells)} wavelengths; accepted is 2 or more")
    for cell, value in zip(cells, wavelength, strict=True):
        if not SHORTEST <= value <= LONGEST:
            raise ReadingError(f"{cell.where}: {cell.text}; accepted is 200 to 2500 nm")
    for cell, (before, value) in zip(cells[1:], pairwise(wavelength), strict=True):
        if not 0 < value - before <= COARSEST:
            raise ReadingError(
                f"{cell.where}: {cell.text} after {before:g}; accepted is rising, in steps of at "
                f"most {COARSEST:g} nm"
            )
    for name, column in columns.items():
        if name != "wavelength_nm" and not max(number(cell) for cell in column) > 0:
            raise ReadingError(f"{column[0].where}: no power at all; accepted is some above 0")


def _doubts(path: str, wavelength: list[float]) -> tuple[Caveat, ...]:
    doubts = []
    if wavelength[0] > SEEN[0] or wavelength[-1] < SEEN[1]:
        span = f"{wavelength[0]:g} to {wavelength[-1]:g} nm"
        doubts.append(Caveat(path, f"read from {span} only; outside no power is assumed"))
    widest = float(np.diff(wavelength).max())
    if widest > FINE:
        text = f"samples up to {widest:g} nm apart: narrow lines between them are missed"
        doubts.append(Caveat(path, text))
    return tuple(doubts)
