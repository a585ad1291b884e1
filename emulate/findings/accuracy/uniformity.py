"""Uniformity: a grey slide over the screen, each spot against the one nearest the middle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from emulate.findings.accuracy.table import Cells, mean_xyz, square_on, uv_of
from emulate.findings.finding import Finding
from emulate.findings.formatting import digits_text, light_text, share_text
from emulate.readings.readings import Readings, Repeats, gathered
from emulate.transfer import light_from_pq
from emulate.values import Numbers, Value, numbers

FEWEST = 2  # spots


@dataclass(frozen=True, eq=False)
class SpotTable(Value):
    """A slide of `asked` [cd/m²]: spots (n, 2) as shares of width and height, light (n,) [cd/m²],
    xyz (n, 3), NaN where colour was not read."""

    asked: float
    spots: Numbers
    light: Numbers
    xyz: Numbers

    @property
    def middle(self) -> int:
        """Index of the spot nearest the middle of the screen."""
        return int(np.hypot(*(self.spots - 0.5).T).argmin())

    @property
    def share(self) -> Numbers:
        """Light over the middle's (n,)."""
        return np.asarray(self.light / self.light[self.middle])

    @property
    def shift(self) -> Numbers:
        """Δu′v′ (n,) from the middle's colour; NaN where it was not read."""
        uv = uv_of(self.xyz)
        return np.asarray(np.hypot(*(uv - uv[self.middle]).T))

    @property
    def title(self) -> str:
        return f"Uniformity of a grey of {digits_text(self.asked, 2)} cd/m²"

    @property
    def head(self) -> Cells:
        return ("across, %", "down, %", "cd/m²", "of the middle, %", "Δu′v′")

    def rows(self) -> list[Cells]:
        """Row by row from the top left."""
        order = np.lexsort((self.spots[:, 0], self.spots[:, 1]))
        columns = (*(100 * self.spots.T), self.light, 100 * self.share, self.shift)
        return [
            (f"{x:.0f}", f"{y:.0f}", digits_text(light, 3), f"{share:.1f}", _or_dash(shift))
            for x, y, light, share, shift in zip(*(c[order].tolist() for c in columns), strict=True)
        ]

    def findings(self) -> dict[str, Finding]:
        """The darkest and brightest spot, and the mean departure from the middle."""
        root, share = f"uniformity.l{self.asked:.0f}", self.share
        low, high = float(share.min()), float(share.max())
        mean = float(np.abs(np.delete(share, self.middle) - 1).mean())
        grey = f"grey of {light_text(self.asked)}"
        how = "reading over that of the spot nearest the middle"
        return {
            f"{root}.darkest": Finding(
                low,
                "share",
                f"On a {grey} the darkest spot has {share_text(low)} of the middle's light.",
                f"Lowest {how}, over {share.size} spots.",
            ),
            f"{root}.brightest": Finding(
                high,
                "share",
                f"On a {grey} the brightest spot has {share_text(high)} of the middle's light.",
                f"Highest {how}, over {share.size} spots.",
            ),
            f"{root}.mean": Finding(
                mean,
                "share",
                f"On a {grey} spots are {share_text(mean)} off the middle on average.",
                f"Mean |{how} − 1|, over {share.size - 1} other spots.",
            ),
        }


def uniformity_tables(readings: Readings) -> tuple[SpotTable, ...]:
    """A table for each grey slide read at two spots or more, brightest first."""
    groups = [g for g in gathered(square_on(readings, "uniformity")) if g.mean > 0]
    slides: dict[float, list[Repeats]] = {}
    for group in groups:
        slides.setdefault(float(light_from_pq(group.stimulus.level[0])), []).append(group)
    return tuple(
        _table(asked, slides[asked])
        for asked in sorted(slides, reverse=True)
        if len(slides[asked]) >= FEWEST
    )


def _table(asked: float, groups: list[Repeats]) -> SpotTable:
    colours = [mean_xyz(g.readings) for g in groups]
    return SpotTable(
        asked,
        numbers([g.readings[0].spot for g in groups]),
        numbers([g.mean for g in groups]),
        numbers([[np.nan] * 3 if xyz is None else xyz for xyz in colours]),
    )


def _or_dash(value: float) -> str:
    return "–" if np.isnan(value) else f"{value:.4f}"
