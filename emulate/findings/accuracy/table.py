"""What every accuracy table has in common, and which readings may enter one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from emulate.colorimetry import D65, uv_from_xy, xy_from_xyz
from emulate.findings.finding import Finding
from emulate.readings.readings import Reading, Readings
from emulate.values import Numbers

Cells = tuple[str, ...]


class AccuracyTable(Protocol):
    """A table of measured against asked: to print, to draw, and as findings."""

    @property
    def title(self) -> str:
        """What the table is about."""

    @property
    def head(self) -> Cells:
        """The name of each column, with its unit."""

    def rows(self) -> list[Cells]:
        """A line each, as text."""

    def findings(self) -> dict[str, Finding]:
        """What the table comes to, by dotted name."""


def square_on(readings: Readings, *kinds: str) -> tuple[Reading, ...]:
    """Readings of some kinds, taken along the normal of the screen and in the dark."""
    return tuple(r for r in readings.of(*kinds) if r.angle == 0 and r.room_lux == 0)


def mean_xyz(readings: Sequence[Reading]) -> Numbers | None:
    """Mean XYZ (3,) [cd/m²] of those whose colour was measured; None where none was."""
    measured = [r.xyz for r in readings if r.xyz is not None and sum(r.xyz) > 0]
    return np.mean(measured, axis=0) if measured else None


def away_from_d65(xyz: Numbers) -> Numbers:
    """Δu′v′ (...) from D65, of XYZ (..., 3)."""
    return np.asarray(np.hypot(*np.moveaxis(uv_of(xyz) - uv_from_xy(D65), -1, 0)))


def uv_of(xyz: Numbers) -> Numbers:
    """u′, v′ (..., 2) of XYZ (..., 3)."""
    return uv_from_xy(xy_from_xyz(xyz))
