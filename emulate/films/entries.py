"""Entries: what a scan learns, one after another, and how each is written without loss.

An entry is a line of JSON in the journal. Floats are written as the shortest decimals that read
back the same; arrays of a state as their own bytes.
"""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from emulate.errors import Caveat
from emulate.findings.finding import Unit
from emulate.frames.source import Damage
from emulate.rendering import State
from emulate.values import Numbers, Value, numbers


@dataclass(frozen=True)
class Column:
    """What one column of the table holds."""

    name: str
    unit: Unit
    definition: str


@dataclass(frozen=True)
class Columns:
    """The columns of all rows to come, and what holds for all of them in a sentence."""

    columns: tuple[Column, ...]
    basis: str


@dataclass(frozen=True, eq=False)
class Row(Value):
    """One frame: its number in the source, its time, whether a scene starts with it, and values
    (columns,) as `Columns` names them, NaN where undetermined."""

    index: int
    time_s: float
    cut: bool
    values: Numbers


@dataclass(frozen=True, eq=False)
class Checkpoint:
    """Where a scan can go on: number `ordinal` of the frames seen, from 0, is frame `index`, and
    `state` is the panel's before it (None: settled)."""

    ordinal: int
    index: int
    state: State | None


@dataclass(frozen=True)
class End:
    """The clip has been seen to its end."""


Entry = Columns | Row | Damage | Caveat | Checkpoint | End


def text_of(entry: Entry) -> str:
    """One line of JSON, the same for the same entry."""
    name, written = _WRITERS[type(entry)]
    return json.dumps({name: written(entry)}, ensure_ascii=False, separators=(",", ":"))


def entry_of(text: str) -> Entry:
    """The entry that `text_of` wrote. Raises ValueError, KeyError or TypeError for other text."""
    ((name, content),) = json.loads(text).items()
    return _READERS[name](content)


def _columns(content: Any) -> Columns:
    return Columns(tuple(Column(*each) for each in content["columns"]), content["basis"])


def _columns_text(entry: Columns) -> Any:
    listed = [[each.name, each.unit, each.definition] for each in entry.columns]
    return {"columns": listed, "basis": entry.basis}


def _row(content: Any) -> Row:
    index, time_s, cut, values = content
    return Row(index, time_s, cut, numbers([np.nan if v is None else v for v in values]))


def _row_text(entry: Row) -> Any:
    values = [None if np.isnan(value) else value for value in entry.values.tolist()]
    return [entry.index, entry.time_s, entry.cut, values]


def _checkpoint(content: Any) -> Checkpoint:
    ordinal, index, state = content
    return Checkpoint(ordinal, index, None if state is None else _state(state))


def _checkpoint_text(entry: Checkpoint) -> Any:
    state = None if entry.state is None else _state_text(entry.state)
    return [entry.ordinal, entry.index, state]


def _state(content: Any) -> State:
    signature = content["signature"]
    return State(
        _array(content["drive"]),
        content["gain"],
        content["peak"],
        content["time_s"],
        tuple(_array(each) for each in content["waiting"]),
        None if signature is None else _array(signature),
    )


def _state_text(state: State) -> Any:
    return {
        "drive": _array_text(state.drive),
        "gain": state.gain,
        "peak": state.peak,
        "time_s": state.time_s,
        "waiting": [_array_text(each) for each in state.waiting],
        "signature": None if state.signature is None else _array_text(state.signature),
    }


def _array(content: Any) -> Numbers:
    rows, columns, data = content
    return numbers(np.frombuffer(b64decode(data), dtype="<f8").reshape(rows, columns))


def _array_text(array: Numbers) -> Any:
    data = np.ascontiguousarray(array, dtype="<f8").tobytes()
    return [*array.shape, b64encode(data).decode("ascii")]


_WRITERS: dict[type, tuple[str, Callable[[Any], Any]]] = {
    Columns: ("columns", _columns_text),
    Row: ("row", _row_text),
    Damage: ("damage", lambda entry: [entry.start_s, entry.end_s, entry.text]),
    Caveat: ("doubt", lambda entry: [entry.about, entry.text]),
    Checkpoint: ("checkpoint", _checkpoint_text),
    End: ("end", lambda _: None),
}
_READERS: dict[str, Callable[[Any], Entry]] = {
    "columns": _columns,
    "row": _row,
    "damage": lambda content: Damage(*content),
    "doubt": lambda content: Caveat(*content),
    "checkpoint": _checkpoint,
    "end": lambda _: End(),
}
