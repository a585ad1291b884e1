"""Gamut coverage: how much of BT.709, P3 and BT.2020 the primaries reach, as they were read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from emulate.colorimetry import BT709, BT2020, P3, gamut_coverage, uv_from_xy, xy_from_xyz
from emulate.findings.accuracy.table import Cells, away_from_d65, mean_xyz, square_on
from emulate.findings.finding import Finding
from emulate.findings.formatting import share_text
from emulate.readings.readings import Reading, Readings
from emulate.transfer import light_from_pq
from emulate.values import Numbers, Value, numbers

TARGETS = {"bt709": ("BT.709", BT709), "p3": ("P3", P3), "bt2020": ("BT.2020", BT2020)}
CORNERS = {"red": (1, 0, 0), "green": (0, 1, 0), "blue": (0, 0, 1)}
Diagram = Literal["xy", "uv"]
DIAGRAMS: dict[Diagram, str] = {"xy": "CIE 1931 xy", "uv": "CIE 1976 u′v′"}


@dataclass(frozen=True, eq=False)
class GamutTable(Value):
    """Primaries read with their lit channels at `light` [cd/m²]: xyz (3, 3) of red, green, blue.

    white (3,): XYZ of white at the same light; NaN where it was not read.
    """

    light: float
    xyz: Numbers
    white: Numbers

    @property
    def primaries(self) -> tuple[tuple[float, float], ...]:
        """xy of red, green and blue."""
        return tuple((float(x), float(y)) for x, y in xy_from_xyz(self.xyz))

    def covers(self, target: str, diagram: Diagram) -> float:
        """Share of a target (bt709, p3, bt2020) that is covered."""
        return gamut_coverage(self.primaries, TARGETS[target][1], diagram=diagram)

    @property
    def title(self) -> str:
        return f"Gamut, channels lit at {self.light:.0f} cd/m²"

    @property
    def head(self) -> Cells:
        return ("what", "x, or in xy", "y", "u′, or in u′v′", "v′")

    def rows(self) -> list[Cells]:
        """Primaries and white, then coverage of each target."""
        seen = {**dict(zip(CORNERS, self.xyz, strict=True)), "white": self.white}
        places = [(name, xy_from_xyz(xyz)) for name, xyz in seen.items() if np.isfinite(xyz).all()]
        rows: list[Cells] = [
            (name, *(f"{value:.4f}" for value in (*xy, *uv_from_xy(xy)))) for name, xy in places
        ]
        for target, (name, _) in TARGETS.items():
            flat, even = self.covers(target, "xy"), self.covers(target, "uv")
            rows.append((f"covers of {name}", share_text(flat), "", share_text(even), ""))
        return rows

    def findings(self) -> dict[str, Finding]:
        """Coverage of each target in both diagrams, and how far white is from D65."""
        root, found = f"gamut.l{self.light:.0f}", {}
        for target, (name, _) in TARGETS.items():
            for diagram, drawn in DIAGRAMS.items():
                share = self.covers(target, diagram)
                found[f"{root}.{target}.{diagram}"] = Finding(
                    share,
                    "share",
                    f"The panel covers {share_text(share)} of {name} in {drawn}.",
                    f"Intersection of the triangle of the primaries, as read at {self.light:.0f} "
                    f"cd/m², with that of {name}, over the latter's area, in {drawn}.",
                )
        if np.isfinite(self.white).all():
            off = float(away_from_d65(self.white))
            found[f"{root}.white"] = Finding(
                off,
                "Δu′v′",
                f"White lies {off:.4f} from D65 in u′v′.",
                "Distance of white from D65 in the CIE 1976 u′v′ diagram.",
            )
        return found


def gamut_tables(readings: Readings) -> tuple[GamutTable, ...]:
    """A table for each light at which red, green and blue were read, dimmest first."""
    lit: dict[float, dict[tuple[int, ...], list[Reading]]] = {}
    for reading in square_on(readings, "primary"):
        level = reading.stimulus.level
        mix = tuple(int(signal > 0) for signal in level)
        light = float(np.round(light_from_pq(max(level)), -1))  # codes stray from round numbers
        lit.setdefault(light, {}).setdefault(mix, []).append(reading)
    found = [_table(light, groups) for light, groups in sorted(lit.items())]
    return tuple(table for table in found if table is not None)


def _table(light: float, groups: dict[tuple[int, ...], list[Reading]]) -> GamutTable | None:
    corners = [mean_xyz(groups.get(mix, [])) for mix in CORNERS.values()]
    seen = [corner for corner in corners if corner is not None]
    if len(seen) < len(corners):
        return None
    white = mean_xyz(groups.get((1, 1, 1), []))
    return GamutTable(light, numbers(seen), numbers([np.nan] * 3 if white is None else white))
