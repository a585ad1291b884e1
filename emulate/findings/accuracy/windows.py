"""Windows: how bright white is on black, by the share of the screen that it fills."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from emulate.findings.accuracy.table import Cells, square_on
from emulate.findings.finding import Finding
from emulate.findings.formatting import digits_text, light_text, share_text
from emulate.readings.readings import Readings, gathered
from emulate.values import Numbers, Value, numbers


@dataclass(frozen=True, eq=False)
class WindowTable(Value):
    """area (n,) shares rising; light (n,) [cd/m²], repeats averaged; scatter (n,) [cd/m²]: their
    sample standard deviation, NaN of one reading; looks (n,): how many there were."""

    area: Numbers
    light: Numbers
    scatter: Numbers
    looks: Numbers

    @property
    def title(self) -> str:
        return "White windows on black"

    @property
    def head(self) -> Cells:
        return ("area, %", "cd/m²", "of the brightest, %", "± cd/m²", "looks")

    def rows(self) -> list[Cells]:
        """Smallest window first."""
        columns = (self.area * 100, self.light, 100 * self.light / self.light.max(), self.scatter)
        return [
            (f"{area:.1f}", digits_text(light, 4), f"{share:.1f}", _or_dash(scatter), f"{n:.0f}")
            for area, light, share, scatter, n in zip(
                *(c.tolist() for c in (*columns, self.looks)), strict=True
            )
        ]

    def findings(self) -> dict[str, Finding]:
        """The brightest window, the largest, and what is left of it."""
        best, largest = int(self.light.argmax()), len(self.light) - 1
        peak, whole = float(self.light[best]), float(self.light[largest])
        kept = whole / peak
        area, full = share_text(float(self.area[best])), share_text(float(self.area[largest]))
        return {
            "windows.peak": Finding(
                peak,
                "cd/m²",
                f"White is brightest, {light_text(peak)}, on {area} of the screen.",
                "Mean reading of the brightest white window on black.",
            ),
            "windows.largest": Finding(
                whole,
                "cd/m²",
                f"White on {full} of the screen is {light_text(whole)}.",
                "Mean reading of the largest white window on black.",
            ),
            "windows.kept": Finding(
                kept,
                "share",
                f"White on {full} of the screen keeps {share_text(kept)} of the peak light.",
                "Light of the largest window over that of the brightest.",
            ),
        }


def window_tables(readings: Readings) -> tuple[WindowTable, ...]:
    """One table, or none where no white window was read."""
    groups = [g for g in gathered(square_on(readings, "window")) if g.mean > 0]
    if not groups:
        return ()
    groups = sorted(groups, key=lambda g: g.stimulus.value)
    columns = zip(*((g.stimulus.value, g.mean, g.spread, len(g.luminance)) for g in groups),
                  strict=True)  # fmt: skip
    return (WindowTable(*(numbers(column) for column in columns)),)


def _or_dash(value: float) -> str:
    return "–" if np.isnan(value) else digits_text(value, 2)
