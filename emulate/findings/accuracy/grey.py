"""Grey tracking and balance: how far each grey is from neutral, and which channel to turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from emulate.colorimetry import (
    BT2020,
    D65,
    Primaries,
    delta_e_2000,
    xyz_from_xyy,
    xyz_matrix,
)
from emulate.findings.accuracy.gamut import gamut_tables
from emulate.findings.accuracy.table import Cells, away_from_d65, mean_xyz, square_on
from emulate.findings.finding import Finding
from emulate.findings.formatting import digits_text, value_text
from emulate.readings.readings import Reading, Readings
from emulate.values import Numbers, Value, numbers

KINDS = ("ramp", "near_black", "drift")
DARKEST = 0.01  # cd/m²: below, no eye sees colour (CIE 191: scotopic below 0.005) and few meters do


@dataclass(frozen=True, eq=False)
class GreyTable(Value):
    """Greys by level: xyz (n, 3) [cd/m²], luminance rising. `mixed_from`: the primaries that the
    balance is counted in, and `own`: whether they are the panel's as read."""

    xyz: Numbers
    mixed_from: Primaries
    own: bool

    @property
    def level(self) -> Numbers:
        """Luminance (n,) [cd/m²]."""
        return self.xyz[:, 1]

    @property
    def balance(self) -> Numbers:
        """Light of red, green and blue over what D65 of that luminance needs (n, 3); 1 is even."""
        mixed = self.xyz @ np.linalg.inv(xyz_matrix(self.mixed_from, D65)).T
        return np.asarray(mixed / self.level[:, None])

    @property
    def delta_uv(self) -> Numbers:
        """Δu′v′ (n,) from D65."""
        return away_from_d65(self.xyz)

    @property
    def delta_e(self) -> Numbers:
        """ΔE 2000 (n,) from D65 of the same luminance, relative to the brightest grey."""
        neutral = xyz_from_xyy([*D65, 1.0])
        return delta_e_2000(self.xyz, self.level[:, None] * neutral, self.level.max() * neutral)

    @property
    def title(self) -> str:
        return "Grey tracking and balance"

    @property
    def head(self) -> Cells:
        return ("cd/m²", "red, %", "green, %", "blue, %", "Δu′v′", "ΔE 2000")

    def rows(self) -> list[Cells]:
        """Dimmest grey first."""
        columns = (self.level, 100 * self.balance, self.delta_uv, self.delta_e)
        return [
            (digits_text(level, 3), *(f"{c:.1f}" for c in rgb), f"{uv:.4f}", f"{de:.2f}")
            for level, rgb, uv, de in zip(*(c.tolist() for c in columns), strict=True)
        ]

    def findings(self) -> dict[str, Finding]:
        """Mean and worst colour error, and the widest imbalance."""
        mean, worst = float(self.delta_e.mean()), float(self.delta_e.max())
        shift, uneven = float(self.delta_uv.max()), float(np.abs(self.balance - 1).max())
        row, channel = np.unravel_index(np.abs(self.balance - 1).argmax(), self.balance.shape)
        name = ("red", "green", "blue")[channel]
        side = "too much" if self.balance[row, channel] > 1 else "too little"
        base = "the panel's primaries as read" if self.own else "BT.2020 primaries"
        de = "ΔE 2000 of a grey from D65 of its own luminance, relative to the brightest grey"
        return {
            "grey.delta_e.mean": Finding(
                mean,
                "ΔE 2000",
                f"Greys are {value_text(mean, 'ΔE 2000')} from neutral on average.",
                f"Mean {de}.",
            ),
            "grey.delta_e.worst": Finding(
                worst,
                "ΔE 2000",
                f"The worst grey, at {digits_text(float(self.level[self.delta_e.argmax()]), 2)} "
                f"cd/m², is {value_text(worst, 'ΔE 2000')} from neutral.",
                f"Largest {de}.",
            ),
            "grey.shift": Finding(
                shift,
                "Δu′v′",
                f"The grey farthest off in colour lies {value_text(shift, 'Δu′v′')} from D65.",
                "Largest distance from D65 in the CIE 1976 u′v′ diagram.",
            ),
            "grey.balance": Finding(
                uneven,
                "share",
                f"At worst, at {digits_text(float(self.level[row]), 2)} cd/m², there is "
                f"{value_text(uneven, 'share')} {side} {name}.",
                f"Largest |channel − 1|; channels: light in {base} over what D65 of the same "
                "luminance needs (common practice, no source).",
            ),
        }


def grey_tables(readings: Readings) -> tuple[GreyTable, ...]:
    """One table, or none where no grey above 0.01 cd/m² was read with its colour."""
    by_signal: dict[float, list[Reading]] = {}
    for reading in square_on(readings, *KINDS):
        if len(set(reading.stimulus.level)) == 1:
            by_signal.setdefault(reading.stimulus.level[0], []).append(reading)
    means = [mean_xyz(group) for group in by_signal.values()]
    seen = sorted((m for m in means if m is not None and m[1] >= DARKEST), key=lambda m: m[1])
    if not seen:
        return ()
    gamuts = gamut_tables(readings)
    primaries: Primaries = gamuts[0].primaries if gamuts else BT2020
    return (GreyTable(numbers(seen), primaries, bool(gamuts)),)
