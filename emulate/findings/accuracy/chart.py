"""Chart: the colour difference of every patch of a colour chart, as read, from what was asked."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from emulate.colorimetry import (
    D65,
    delta_e_2000,
    rgb_from_xyz,
    steps_between,
    xyz_from_rgb,
    xyz_from_xyy,
)
from emulate.findings.accuracy.table import Cells, mean_xyz, square_on
from emulate.findings.finding import Finding
from emulate.findings.formatting import digits_text, share_text, value_text
from emulate.readings.patterns.charts import CHART_WHITE
from emulate.readings.readings import Readings, gathered
from emulate.readings.stimulus import Kind
from emulate.transfer import light_from_pq
from emulate.values import Numbers, Value, numbers

TITLES: dict[Kind, str] = {
    "chart24": "Colour chart, 24 patches",
    "chart140": "Colour chart, 140 patches",
    "patch": "Colours of your own",
}
_GREY = re.compile(r"(white|neutral|black)_(\d)(_5)?(?:_1)?_\d+_D")
"""Lightness of ASTM D1535 and density of a chart's greys; a half and a whole of density or none."""
ACCEPTED = 3.0  # ΔE 2000 above which a patch is called off; common practice, no source


@dataclass(frozen=True, eq=False)
class ChartTable(Value):
    """Patches in the order read: names (n), what was asked and read, xyz (n, 3) [cd/m²]."""

    kind: Kind
    names: tuple[str, ...]
    asked: Numbers
    read: Numbers

    @property
    def delta_e(self) -> Numbers:
        """ΔE 2000 (n,), relative to D65 at the chart's white, 100 cd/m²."""
        return delta_e_2000(self.read, self.asked, CHART_WHITE * xyz_from_xyy([*D65, 1.0]))

    @property
    def steps(self) -> Numbers:
        """Visible steps (n,): ΔE_ITP, ITU-R BT.2124."""
        asked, read = (np.maximum(rgb_from_xyz(xyz), 0.0) for xyz in (self.asked, self.read))
        return steps_between(read, asked)

    @property
    def title(self) -> str:
        return TITLES[self.kind]

    @property
    def head(self) -> Cells:
        return ("patch", "asked, cd/m²", "read, cd/m²", "ΔE 2000", "visible steps")

    def rows(self) -> list[Cells]:
        """In the order read."""
        columns = (self.asked[:, 1], self.read[:, 1], self.delta_e, self.steps)
        return [
            (spoken(name), digits_text(asked, 3), digits_text(read, 3), f"{de:.2f}", f"{steps:.1f}")
            for name, asked, read, de, steps in zip(
                self.names, *(c.tolist() for c in columns), strict=True
            )
        ]

    def findings(self) -> dict[str, Finding]:
        """Mean, worst, and the share over 3."""
        off = self.delta_e
        mean, worst, over = float(off.mean()), float(off.max()), float((off > ACCEPTED).mean())
        name = spoken(self.names[int(off.argmax())])
        how = "ΔE 2000 (ISO/CIE 11664-6) relative to D65 at 100 cd/m², luminance error included"
        return {
            f"{self.kind}.mean": Finding(
                mean,
                "ΔE 2000",
                f"Patches of the chart are {value_text(mean, 'ΔE 2000')} off on average.",
                f"Mean over {off.size} patches of {how}.",
            ),
            f"{self.kind}.worst": Finding(
                worst,
                "ΔE 2000",
                f"The patch farthest off, {name}, is {value_text(worst, 'ΔE 2000')} off.",
                f"Largest over {off.size} patches of {how}.",
            ),
            f"{self.kind}.over_3": Finding(
                over,
                "share",
                f"{share_text(over)} of the patches are more than 3 off in ΔE 2000.",
                f"Share of {off.size} patches over 3 (common practice, no source); {how}.",
            ),
        }


def spoken(name: str) -> str:
    """A patch as a person calls it: `white_9_5_05_D` is white 9.5, its density of .05 left out."""
    grey = _GREY.fullmatch(name)
    if grey is None:
        return name.replace("_", " ")
    what, whole, half = grey.groups()
    return f"{what} {whole}{'.5' if half else ''}"


def chart_tables(readings: Readings) -> tuple[ChartTable, ...]:
    """A table for each chart whose colours were read."""
    found = [_table(kind, readings) for kind in TITLES]
    return tuple(table for table in found if table.names)


def _table(kind: Kind, readings: Readings) -> ChartTable:
    groups = [(g.stimulus, mean_xyz(g.readings)) for g in gathered(square_on(readings, kind))]
    seen = [(stimulus, xyz) for stimulus, xyz in groups if xyz is not None]
    asked = xyz_from_rgb(light_from_pq(np.array([s.level for s, _ in seen]).reshape(-1, 3)))
    names = tuple(s.name.removeprefix(f"{kind}_") for s, _ in seen)
    return ChartTable(kind, names, asked, numbers([xyz for _, xyz in seen]).reshape(-1, 3))
