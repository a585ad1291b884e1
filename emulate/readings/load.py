"""Readings in: sheets, meter files and traces, one or many, as one session."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from functools import reduce

from emulate.errors import Caveat, ReadingError
from emulate.readings.cgats import is_cgats, read_cgats
from emulate.readings.columns import layout_of
from emulate.readings.plausibility import doubts_of
from emulate.readings.readings import Readings
from emulate.readings.rows import check_numerals, filled, readings_of
from emulate.readings.shown import shown_by
from emulate.readings.stimulus import Stimulus
from emulate.readings.table import Table, read_table
from emulate.readings.text import read_text
from emulate.readings.trace import is_trace, trace_of

PathLike = str | os.PathLike[str]
MOST_NAMED = 3  # columns that a refusal names, ours
MOST_ROWS = 10_000  # ours: some seconds to read; a whole sheet has three hundred


def load_readings(
    path: PathLike | Iterable[PathLike],
    *,
    units: str | None = None,
    stimuli: Sequence[Stimulus] | Stimulus | None = None,
) -> Readings:
    """The readings in one or several files, with every doubt as a caveat.

    A file is the filled capture sheet; CSV with tabs, semicolons or commas and a decimal point or
    comma; CGATS text (ISO 28178); or a time trace. Colour is x, y with luminance, or X, Y, Z; light
    is in cd/m² and its unit stated: in the header, in a remark, or by `units` (fL is converted, and
    said so). stimuli: what was on screen, where a file does not say: one for each filled row, or
    the moving one of a trace. Raises ReadingError, with file, line and column, for all else.
    """
    paths = [path] if isinstance(path, (str, os.PathLike)) else list(path)
    sessions = [_session(os.fspath(each), units, stimuli) for each in paths]
    if not any(len(s) or s.traces or s.switch_overs for s in sessions):
        names = ", ".join(str(each) for each in paths) or "no file"
        unread = [str(c) for s in sessions for c in s.caveats if c.text.endswith("is not read")]
        beside = f" ({'; '.join(unread[:MOST_NAMED])})" if unread else ""
        raise ReadingError(f"{names}: no reading is filled in; accepted is at least one{beside}")
    session = reduce(Readings.joined, sessions)
    doubts = doubts_of(session.readings)
    return Readings(
        session.readings,
        session.traces,
        session.switch_overs,
        (*session.caveats, *doubts),
        session.skipped,
        session.digest,
        session.panel,
    )


def _session(
    path: str, units: str | None, stimuli: Sequence[Stimulus] | Stimulus | None
) -> Readings:
    text = read_text(path)
    table = read_cgats(text) if is_cgats(text) else read_table(text)
    if is_trace(table):
        return _traced(table, units, stimuli if isinstance(stimuli, Stimulus) else None)
    return _metered(table, units, [stimuli] if isinstance(stimuli, Stimulus) else stimuli)


def _traced(table: Table, units: str | None, stimulus: Stimulus | None) -> Readings:
    layout = layout_of(table, units, trace=True)
    trace, skipped, doubts = trace_of(table, layout, stimulus)
    return Readings(
        (),
        () if trace is None else (trace,),
        caveats=(*table.caveats, *layout.caveats, *doubts),
        skipped=skipped,
        digest=table.digest,
    )


def _metered(table: Table, units: str | None, stimuli: Sequence[Stimulus] | None) -> Readings:
    layout = layout_of(table, units)
    rows = filled(layout, table.rows)
    if len(rows) > MOST_ROWS:
        raise ReadingError(f"{table.path}: {len(rows)} readings; accepted are {MOST_ROWS} a file")
    assigned = shown_by(table, layout, rows, stimuli)
    doubts = check_numerals(table, layout, rows)
    readings, counts = readings_of(table, layout, rows, assigned.shown)
    twice = _twice(table)
    return Readings(
        tuple(readings),
        (),
        tuple(counts),
        (*table.caveats, *layout.caveats, *assigned.caveats, *doubts, *twice),
        len(table.rows) - len(rows),
        table.digest,
        table.remarks.get("panel", (0, ""))[1],
    )


def _twice(table: Table) -> tuple[Caveat, ...]:
    """Rows that repeat one before to the letter: pasted twice, or measured twice?"""
    seen: dict[tuple[str, ...], int] = {}
    found = []
    for row in table.rows:
        first = seen.setdefault(row.cells, row.line)
        if first != row.line and not row.blank:
            text = f"line {row.line} repeats line {first} to the letter; both were counted"
            found.append(Caveat(table.path, text))
    return tuple(found)
