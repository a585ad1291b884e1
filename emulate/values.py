"""Values: what flows from room to room is frozen, and its arrays are locked."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.float32]  # (h, w, 3) or (h, w), C-contiguous
Numbers = NDArray[np.float64]  # parameters and small tables
Codes = NDArray[np.uint16]  # (h, w) code values as a file holds them


class Value:
    """Parent of the frozen dataclasses: arrays are locked when built and again when unpickled.

    Write `@dataclass(frozen=True, eq=False)` below it; two values are the same when they are the
    same object, since arrays have no single truth value.
    """

    def __post_init__(self) -> None:
        for field in fields(self):  # type: ignore[arg-type]
            value = getattr(self, field.name)
            if isinstance(value, np.ndarray):
                object.__setattr__(self, field.name, locked(value))

    def __setstate__(self, state: dict[str, Any]) -> None:
        self.__dict__.update(state)
        for name, value in state.items():
            if isinstance(value, np.ndarray):
                self.__dict__[name] = locked(value)


def locked(array: NDArray[Any]) -> NDArray[Any]:
    """A read-only view; nothing is copied and the caller's own array stays as it was."""
    view = array.view()
    view.flags.writeable = False
    return view


def numbers(values: Any) -> Numbers:
    """Any sequence of numbers as a locked float64 array."""
    return locked(np.array(values, dtype=np.float64))
