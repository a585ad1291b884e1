"""What was on screen for each row of a meter's table: by number, by signal, or by order."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import cast

from emulate.errors import Caveat, ReadingError
from emulate.readings.columns import Layout
from emulate.readings.head import stimuli_of
from emulate.readings.numeral import Cell, check_column, number
from emulate.readings.patterns.place import lone_window
from emulate.readings.patterns.tone import PATCH_AREA
from emulate.readings.stimulus import Kind, Rgb, Stimulus
from emulate.readings.table import Row, Table
from emulate.transfer import signal_from_code

Shown = Callable[[Row], Stimulus]
FREE_SHAPE = (2160, 3840)  # of stimuli that a meter file names by signal, ours
RGB_SCALES = (1.0, 100.0, 255.0, 1023.0)  # a share, per cent, 8 and 10 bits, full range


@dataclass(frozen=True)
class Assignment:
    """Which stimulus a row shows, and what had to be assumed."""

    shown: Shown
    caveats: tuple[Caveat, ...] = ()


def shown_by(
    table: Table, layout: Layout, rows: Sequence[Row], stimuli: Sequence[Stimulus] | None
) -> Assignment:
    """How the rows of a table that hold a reading name their stimuli.

    Raises ReadingError where they do not.
    """
    if stimuli is not None:
        return _by_order(table, rows, stimuli)
    if "stimulus" in layout.at:
        return Assignment(_by_number(table, layout))
    if {"red", "green", "blue"} <= set(layout.at):
        return _by_rgb(table, layout, rows)
    for role, full in (("signal", None), ("code10_narrow", False), ("code10_full", True)):
        if role in layout.at:
            return _by_grey(table, layout, rows, role, full)
    raise ReadingError(
        f"{table.path}: no column says what was on screen; accepted are stimulus (with the head of "
        "its sheet), signal (PQ, 0 to 1), code10_narrow, code10_full, or red, green, blue; or pass "
        "stimuli in the order of the rows"
    )


def cell_of(table: Table, layout: Layout, row: Row, role: str) -> Cell | None:
    """The cell of a role, None where there is no such column or nothing in it."""
    index = layout.at.get(role)
    if index is None or not row.cells[index]:
        return None
    return Cell(table.path, row.line, table.header[index], row.cells[index])


def _by_order(table: Table, rows: Sequence[Row], stimuli: Sequence[Stimulus]) -> Assignment:
    if len(rows) != len(stimuli):
        raise ReadingError(
            f"{table.path}: {len(rows)} readings for {len(stimuli)} stimuli; accepted is one each"
        )
    by_line = {row.line: stimulus for row, stimulus in zip(rows, stimuli, strict=True)}
    return Assignment(lambda row: by_line[row.line])


def _by_number(table: Table, layout: Layout) -> Shown:
    known = stimuli_of(table)

    def shown(row: Row) -> Stimulus:
        cell = _needed(table, layout, row, "stimulus")
        value = number(cell)
        if value not in known:
            raise ReadingError(f"{cell.where}: stimulus {cell.text}; accepted is 1 to {max(known)}")
        stimulus = known[int(value)]
        name = cell_of(table, layout, row, "pattern")
        if name is not None and name.text != stimulus.name:
            raise ReadingError(
                f"{name.where}: {name.text!r}, but stimulus {stimulus.number} of this set is "
                f"{stimulus.name!r}; accepted are rows as they were written"
            )
        return stimulus

    return shown


def _by_rgb(table: Table, layout: Layout, rows: Sequence[Row]) -> Assignment:
    roles = ("red", "green", "blue")
    cells = {row.line: tuple(_needed(table, layout, row, role) for role in roles) for row in rows}
    doubts = check_column([cell for three in cells.values() for cell in three])
    values = {line: tuple(number(cell) for cell in three) for line, three in cells.items()}
    scale, assumed = _rgb_scale(table, values)
    signals: dict[int, Rgb] = {}
    for line, three in values.items():
        for cell, value in zip(cells[line], three, strict=True):
            _check_range(cell, value, 0.0, scale)
        signals[line] = cast(Rgb, tuple(value / scale for value in three))
    assigned = _free(table, layout, rows, signals)
    return Assignment(assigned.shown, (*assigned.caveats, *assumed, *doubts))


def _rgb_scale(
    table: Table, values: Mapping[int, tuple[float, ...]]
) -> tuple[float, tuple[Caveat, ...]]:
    largest = max((max(three) for three in values.values()), default=1.0)
    remark = table.remarks.get("rgb_scale")
    stated = number(Cell(table.path, remark[0], "rgb_scale", remark[1])) if remark else largest
    if stated not in RGB_SCALES:
        raise ReadingError(
            f"{table.path}: R, G, B reach {stated:g}, which tells no scale; accepted is a remark "
            f"'rgb_scale: N', N one of {', '.join(f'{scale:g}' for scale in RGB_SCALES)}"
        )
    if remark:
        return stated, ()
    text = f"R, G, B were read as PQ signal, full range, {stated:g} being white"
    return stated, (Caveat(table.path, text),)


def _by_grey(
    table: Table, layout: Layout, rows: Sequence[Row], role: str, full: bool | None
) -> Assignment:
    cells = {row.line: _needed(table, layout, row, role) for row in rows}
    doubts = check_column(list(cells.values()))
    signals: dict[int, Rgb] = {}
    for line, cell in cells.items():
        value = number(cell)
        low, high = (0.0, 1.0) if full is None else (0.0, 1023.0) if full else (64.0, 940.0)
        _check_range(cell, value, low, high)
        if full is not None:
            value = float(signal_from_code(value, 10, full_range=full))
        signals[line] = (value, value, value)
    assigned = _free(table, layout, rows, signals)
    return Assignment(assigned.shown, (*assigned.caveats, *doubts))


def _free(
    table: Table, layout: Layout, rows: Sequence[Row], signals: Mapping[int, Rgb]
) -> Assignment:
    """Windows of a signal on black, for files that know nothing of our stimulus numbers."""
    areas = {row.line: _area(table, layout, row) for row in rows}
    brightest = max((min(signal) for signal in signals.values()), default=0.0)
    several = len(set(areas.values())) > 1

    def shown(row: Row) -> Stimulus:
        signal = signals[row.line]
        peak = cell_of(table, layout, row, "peak")
        mastering = number(peak) if peak else 0.0
        if peak:
            _check_range(peak, mastering, 0.0, 10000.0)
        kind = _kind(signal, several and min(signal) == brightest)
        area = areas[row.line] or PATCH_AREA
        name = f"{kind}_{'_'.join(f'{value:.4f}' for value in dict.fromkeys(signal))}"
        return lone_window(kind, name, signal, FREE_SHAPE, area, mastering)

    if None not in areas.values():
        return Assignment(shown)
    text = f"states no area_percent for some rows; windows of {100 * PATCH_AREA:g} % were assumed"
    return Assignment(shown, (Caveat(table.path, text),))


def _kind(signal: Rgb, is_window: bool) -> Kind:
    if len(set(signal)) == 1:
        return "window" if is_window else "ramp"
    pure = len({value for value in signal if value > 0}) == 1
    return "primary" if pure else "patch"


def _area(table: Table, layout: Layout, row: Row) -> float | None:
    cell = cell_of(table, layout, row, "area")
    if cell is None:
        return None
    percent = number(cell)
    _check_range(cell, percent, 0.01, 100.0)
    return percent / 100


def _needed(table: Table, layout: Layout, row: Row, role: str) -> Cell:
    cell = cell_of(table, layout, row, role)
    if cell is None:
        name = table.header[layout.at[role]]
        empty = Cell(table.path, row.line, name, "")
        raise ReadingError(f"{empty.where}: is empty, but the row holds a reading")
    return cell


def _check_range(cell: Cell, value: float, low: float, high: float) -> None:
    if not low <= value <= high:
        raise ReadingError(f"{cell.where}: {cell.text}; accepted is {low:g} to {high:g}")
