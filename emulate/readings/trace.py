"""A time trace: light over time while a moving stimulus ran."""

from __future__ import annotations

import numpy as np

from emulate.errors import Caveat, ReadingError, place
from emulate.readings.columns import Layout, roles_of
from emulate.readings.head import stimuli_of
from emulate.readings.numeral import Cell, check_columns, number
from emulate.readings.readings import Source, Trace
from emulate.readings.shown import cell_of
from emulate.readings.stimulus import Stimulus
from emulate.readings.table import Row, Table

FEWEST = 8  # samples, ours: fewer tell no time constant
_OTHERS = ("stimulus", "signal", "code10_narrow", "code10_full", "red", "spot_x", "x", "X")


def is_trace(table: Table) -> bool:
    """Whether a table is time and light, and names no stimulus row by row."""
    roles = roles_of(table)
    return {"time", "luminance"} <= roles and not roles.intersection(_OTHERS)


def trace_of(
    table: Table, layout: Layout, stimulus: Stimulus | None = None
) -> tuple[Trace | None, int, tuple[Caveat, ...]]:
    """The trace in a table (None where nothing was filled in), rows left blank, and doubts.

    stimulus: what ran; else the remark `stimulus:` names it within the set of the head. Raises
    ReadingError for time without a unit, not rising, or too short, and for light below zero.
    """
    rows = [row for row in table.rows if not row.blank]
    skipped = len(table.rows) - len(rows)
    if not rows:
        return None, skipped, ()
    times, lights = (
        [_cell(table, layout, r, role) for r in rows] for role in ("time", "luminance")
    )
    caveats = check_columns([times, lights])
    if layout.time_factor is None:
        where = place(table.path, table.header_line)
        raise ReadingError(f"{where}: time states no unit; accepted is time_s or time_ms")
    time_s = layout.time_factor * np.array([number(cell) for cell in times])
    light = layout.factor * np.array([number(cell) for cell in lights])
    _check(times, time_s, lights, light)
    shown = stimulus or _named(table)
    source = Source(table.path, rows[0].line)
    return Trace(shown, time_s, light, source, layout.relative), skipped, caveats


def _cell(table: Table, layout: Layout, row: Row, role: str) -> Cell:
    cell = cell_of(table, layout, row, role)
    if cell is None:
        raise ReadingError(f"{place(table.path, row.line, role)}: is empty; accepted is a number")
    return cell


def _check(times: list[Cell], time_s: np.ndarray, lights: list[Cell], light: np.ndarray) -> None:
    if len(times) < FEWEST:
        raise ReadingError(f"{times[-1].where}: only {len(times)} samples; accepted is {FEWEST} on")
    for cell, earlier, later in zip(times[1:], time_s[:-1], time_s[1:], strict=True):
        if not later > earlier:
            raise ReadingError(f"{cell.where}: {cell.text} after {earlier:g} s; accepted is rising")
    for cell, value in zip(lights, light, strict=True):
        if not 0 <= value < 1e9:
            raise ReadingError(f"{cell.where}: {cell.text}; accepted is light of 0 or more")


def _named(table: Table) -> Stimulus:
    if "stimulus" not in table.remarks:
        raise ReadingError(
            f"{table.path}: does not say which moving stimulus ran; accepted is a remark "
            "'# stimulus: NAME' in the head written with the patterns"
        )
    line, name = table.remarks["stimulus"]
    moving = {s.name: s for s in stimuli_of(table).values() if s.moments}
    if name not in moving:
        accepted = ", ".join(moving) or "none, since the set has no moving stimulus"
        raise ReadingError(
            f"{place(table.path, line)}: stimulus {name[:40]!r}; accepted: {accepted}"
        )
    return moving[name]
