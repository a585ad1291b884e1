"""Rows of a sheet or a meter's table as readings: numbers checked, units and colour made one."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from emulate.colorimetry import xyz_from_xyy
from emulate.errors import Caveat, ReadingError
from emulate.readings.columns import Layout
from emulate.readings.numeral import Cell, check_column, check_columns, number
from emulate.readings.readings import CENTRE, Reading, Source, SwitchOvers
from emulate.readings.shown import Shown, cell_of
from emulate.readings.stimulus import Stimulus
from emulate.readings.table import Row, Table

BRIGHTEST = 10000.0  # cd/m²: PQ goes no higher, SMPTE ST 2084:2014
MOST_LUX = 200000.0  # full sun and some, ours
WIDEST_ANGLE = 89.0  # degree, ours
LIGHT_ROLES = ("luminance", "x", "y", "X", "Z")
DAY_S = 86400.0


def filled(layout: Layout, rows: Sequence[Row]) -> list[Row]:
    """The rows in which something measured was written down."""
    at = [layout.at[role] for role in (*LIGHT_ROLES, "switch_overs") if role in layout.at]
    return [row for row in rows if any(row.cells[index] for index in at)]


def check_numerals(table: Table, layout: Layout, rows: Sequence[Row]) -> tuple[Caveat, ...]:
    """Doubts about decimal signs; refuses a mixture of them in what was measured."""
    columns = {
        role: [cell for row in rows if (cell := cell_of(table, layout, row, role))]
        for role in (*LIGHT_ROLES, "spot_x", "spot_y", "angle", "room", "area", "peak")
    }
    measured = check_columns([columns[role] for role in LIGHT_ROLES])
    given = [check_column(cells) for role, cells in columns.items() if role not in LIGHT_ROLES]
    return (*measured, *(caveat for caveats in given for caveat in caveats))


def readings_of(
    table: Table, layout: Layout, rows: Sequence[Row], shown: Shown
) -> tuple[list[Reading], list[SwitchOvers]]:
    """Each filled row as a reading, or as a count of switch-overs."""
    times = _times(table, layout, rows)
    readings: list[Reading] = []
    counts: list[SwitchOvers] = []
    for row, time_s in zip(rows, times, strict=True):
        counted = cell_of(table, layout, row, "switch_overs")
        if counted:
            counts.append(_switch_overs(counted, shown(row)))
        if any(cell_of(table, layout, row, role) for role in LIGHT_ROLES):
            readings.append(_reading(table, layout, row, shown, time_s))
    return readings, counts


def _reading(table: Table, layout: Layout, row: Row, shown: Shown, time_s: float | None) -> Reading:
    cell = cell_of(table, layout, row, "luminance")
    if cell is None:
        empty = Cell(table.path, row.line, "luminance", "")
        raise ReadingError(f"{empty.where}: colour without luminance; accepted is both")
    luminance = layout.factor * _within(cell, 0.0, BRIGHTEST / layout.factor)
    stimulus = shown(row)
    if stimulus.moments:
        raise ReadingError(
            f"{cell.where}: {stimulus.name!r} moves, one reading says nothing of it; accepted is "
            "its trace file, or a count in switch_overs"
        )
    return Reading(
        stimulus,
        luminance,
        Source(table.path, row.line),
        _xyz(table, layout, row, luminance),
        _spot(table, layout, row),
        _optional(table, layout, row, "angle", 0.0, -WIDEST_ANGLE, WIDEST_ANGLE),
        _room(table, layout, row),
        time_s,
        int(_optional(table, layout, row, "repeat", 1.0, 1.0, 1000.0)),
    )


def _xyz(
    table: Table, layout: Layout, row: Row, luminance: float
) -> tuple[float, float, float] | None:
    first, second = ("X", "Z") if "X" in layout.at else ("x", "y")
    cells = [cell_of(table, layout, row, role) for role in (first, second)]
    if cells == [None, None]:
        return None
    if cells[0] is None or cells[1] is None:
        there = cells[0] or cells[1]
        assert there is not None
        raise ReadingError(f"{there.where}: the other half of the colour is empty")
    if first == "X":
        X, Z = (layout.factor * _within(c, 0.0, 2 * BRIGHTEST) for c in cells if c)
        return X, luminance, Z
    return _xyz_from_xy(cells[0], cells[1], luminance)


def _xyz_from_xy(x: Cell, y: Cell, luminance: float) -> tuple[float, float, float] | None:
    values = _share(x), _share(y)
    if sum(values) > 1 or (values[1] == 0 and luminance > 0):
        raise ReadingError(
            f"{y.where}: x = {x.text}, y = {y.text} is no chromaticity; accepted is y above 0 and "
            "x + y up to 1"
        )
    if luminance == 0 or values[1] == 0:
        return None
    X, Y, Z = xyz_from_xyy([*values, luminance])
    return float(X), float(Y), float(Z)


def _share(cell: Cell) -> float:
    value = number(cell)
    if 1 < value <= 100:
        raise ReadingError(f"{cell.where}: {cell.text}; accepted is 0 to 1 (per cent? luminance?)")
    return _within(cell, 0.0, 1.0)


def _spot(table: Table, layout: Layout, row: Row) -> tuple[float, float]:
    x, y = (
        _optional(table, layout, row, role, middle, 0.0, 1.0)
        for role, middle in zip(("spot_x", "spot_y"), CENTRE, strict=True)
    )
    return x, y


def _room(table: Table, layout: Layout, row: Row) -> float:
    if "room" in layout.at and not cell_of(table, layout, row, "room"):
        empty = Cell(table.path, row.line, table.header[layout.at["room"]], "")
        raise ReadingError(f"{empty.where}: is empty; accepted is the lux on the screen, 0 if dark")
    return _optional(table, layout, row, "room", 0.0, 0.0, MOST_LUX)


def _optional(
    table: Table, layout: Layout, row: Row, role: str, absent: float, low: float, high: float
) -> float:
    cell = cell_of(table, layout, row, role)
    return _within(cell, low, high) if cell else absent


def _within(cell: Cell, low: float, high: float) -> float:
    value = number(cell)
    if not low <= value <= high:
        raise ReadingError(f"{cell.where}: {cell.text}; accepted is {low:g} to {high:g}")
    return value


def _switch_overs(cell: Cell, stimulus: Stimulus) -> SwitchOvers:
    value = _within(cell, 0.0, 100000.0)
    if value != int(value) or not stimulus.moments:
        raise ReadingError(
            f"{cell.where}: {cell.text}; accepted is a whole number, beside a crawling box only"
        )
    return SwitchOvers(stimulus, int(value), Source(cell.path, cell.line))


def _times(table: Table, layout: Layout, rows: Sequence[Row]) -> list[float | None]:
    """Seconds since the first time noted, past midnight where the clock falls back by hours."""
    noted = [_clock(layout, cell_of(table, layout, row, "time")) for row in rows]
    times: list[float | None] = []
    start, days, before = None, 0.0, -np.inf
    for clock in noted:
        if clock is None:
            times.append(None)
            continue
        if clock + days < before - DAY_S / 2:
            days += DAY_S
        before = clock + days
        start = before if start is None else start
        times.append(before - start)
    return times


def _clock(layout: Layout, cell: Cell | None) -> float | None:
    if cell is None:
        return None
    match = re.fullmatch(r"([0-9]{1,2}):([0-5][0-9])(?::([0-5][0-9]))?", cell.text)
    if match and int(match[1]) < 24:
        return 3600.0 * int(match[1]) + 60.0 * int(match[2]) + float(match[3] or 0)
    if layout.time_factor is None or ":" in cell.text:
        raise ReadingError(f"{cell.where}: {cell.text[:40]!r}; accepted is HH:MM or HH:MM:SS")
    return layout.time_factor * _within(cell, 0.0, 1e9)
