"""The head of a sheet: which set of patterns it belongs to, said so that it can be built again."""

from __future__ import annotations

import re
from collections.abc import Mapping

from emulate.errors import EmulateError, ReadingError, place
from emulate.readings.patterns.families import FAMILIES
from emulate.readings.patterns.plan import PatternSet, pattern_set
from emulate.readings.stimulus import Stimulus
from emulate.readings.table import Table

SET = "emulate-patterns/1"


def head_of(patterns: PatternSet) -> tuple[str, ...]:
    """The remarks that name a set; without commas, so that no spreadsheet splits them."""
    return (
        f"set: {SET}",
        f"shape: {patterns.shape[0]} rows {patterns.shape[1]} columns",
        f"peaks_cdm2: {' '.join(f'{peak:.0f}' for peak in patterns.peaks)}",
        f"families: {' '.join(patterns.families)}",
        f"repeats: {patterns.repeats}",
    )


def stimuli_of(table: Table) -> Mapping[int, Stimulus]:
    """The stimuli of the set that a sheet belongs to, by number.

    Raises ReadingError where the head is missing or says what no set can be.
    """
    line, name = _remark(table, "set")
    if name != SET:
        raise ReadingError(f"{place(table.path, line)}: set {name!r}; accepted is {SET}")
    line, families = _remark(table, "families")
    try:
        patterns = pattern_set(
            shape=_pair(_numbers(table, "shape", 2)),
            peaks=_numbers(table, "peaks_cdm2"),
            families=families.split() or FAMILIES,
            repeats=_numbers(table, "repeats", 1)[0],
        )
    except ReadingError:
        raise
    except EmulateError as error:
        raise ReadingError(
            f"{place(table.path, line)}: in the head of the sheet, {error}"
        ) from error
    return {stimulus.number: stimulus for stimulus in patterns.stimuli}


def _remark(table: Table, key: str) -> tuple[int, str]:
    if key not in table.remarks:
        raise ReadingError(
            f"{table.path}: its head has no line '# {key}: ...', so its stimulus numbers mean "
            "nothing; accepted is the head that was written with the patterns"
        )
    return table.remarks[key]


def _numbers(table: Table, key: str, count: int | None = None) -> tuple[int, ...]:
    line, text = _remark(table, key)
    found = re.findall(r"[0-9]+", text)
    if not found or len(found) != (count or len(found)) or max(map(len, found)) > 6:
        raise ReadingError(
            f"{place(table.path, line)}: {key} {text[:60]!r}; accepted is as written"
        )
    return tuple(int(digits) for digits in found)


def _pair(values: tuple[int, ...]) -> tuple[int, int]:
    return values[0], values[1]
