"""Timing: how often the panel draws, and how late; kept with it, no light depends on it.

An addition of ours to format emulate-panel/1: a table [timing], which may be left out.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from emulate.values import Numbers, Value, numbers


@dataclass(frozen=True, eq=False)
class Timing(Value):
    """refresh_hz (n,): the rates it draws at, rising. input_lag_ms (n,): from a picture's signal to
    the middle of the screen at each of them; empty where it was not read."""

    refresh_hz: Numbers = field(default_factory=lambda: numbers([]))
    input_lag_ms: Numbers = field(default_factory=lambda: numbers([]))

    def frames_late(self) -> Numbers:
        """Input lag in pictures at each rate (n,); empty where it was not read."""
        return numbers(self.input_lag_ms * self.refresh_hz[: self.input_lag_ms.size] / 1000)
