"""How many zones hide a halo, against the native contrast of the cell.

    python -m benchmarks.zone_count FOLDER

prints the table and draws zone-count.svg and .png into FOLDER. The published result to land on
(Tan et al., Optics Express 26(13), 2018): more than 3000 zones at about 2000:1, some 200 at about
5000:1. Their pictures, screen and criterion are not ours (they ask when a picture can no longer be
told from the original, we ask when a lone disc's glow is under one visible step through the eye's
own glare), so the direction and the order of size are what can be compared.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from emulate.findings.evidence import Evidence
from emulate.findings.halo import halo_steps, lift_on_cells
from emulate.frames.frame import Frame
from emulate.outputs import folder, write_bytes
from emulate.panel.cell import Cell
from emulate.panel.panel import Panel
from emulate.panel.spread import Spread
from emulate.panel.zones import Zones
from emulate.rendering import render
from emulate.sight import Viewer
from emulate.values import numbers

SHAPE = (360, 640)  # two pixels a cell of 0.1° at 3.2 picture heights
WHITE = 1000.0  # cd/m²
DISCS = (0.1, 0.2, 0.3)  # diameters in picture heights: a lamp, a moon, a window
CONTRASTS = (500, 1000, 2000, 3000, 5000, 10000)
ROWS = (2, 3, 4, 6, 8, 11, 16, 23, 32, 45, 64, 90)  # of zones, each about √2 times the last
PITCH = (
    1.0  # spread of a zone's light, standard deviation over its height [ours]: smooth, ± 0.002 %
)

PUBLISHED = {2000: 3000, 5000: 200}  # Tan et al. 2018, abstract: more than 3000, about 200


def disc(diameter: float) -> Frame:
    """A white disc on black, a little off the middle so that no zone border is favoured."""
    rows, columns = SHAPE
    y, x = np.mgrid[:rows, :columns]
    away = np.hypot(y + 0.5 - 0.47 * rows, x + 0.5 - 0.46 * columns) / rows
    light = np.where(away < diameter / 2, WHITE, 0.0)
    return Frame.from_light(np.repeat(light[..., None], 3, axis=2), f"disc of {diameter:g} H")


def zoned(rows: int, contrast: float) -> Panel:
    """A panel of square zones, their light as wide as PITCH times a zone."""
    return Panel(
        f"{rows} rows",
        WHITE,
        zones=Zones(rows, round(rows * SHAPE[1] / SHAPE[0])),
        spread=Spread(numbers([1.0]), numbers([PITCH / rows])),
        cell=Cell(contrast=contrast),
    )


def worst_steps(frame: Frame, panel: Panel) -> float:
    """Visible steps of the halo where it is strongest."""
    evidence = Evidence(frame, render(frame, panel), Viewer())
    return float(halo_steps(*lift_on_cells(evidence), evidence).max())


def zones_needed(frame: Frame, contrast: float, ladder: Sequence[int] = ROWS) -> int | None:
    """Fewest zones from which on, up the ladder, no halo is visible; None where it always is."""
    needed = None
    for rows in reversed(ladder):
        panel = zoned(rows, contrast)
        if worst_steps(frame, panel) >= 1:
            break
        needed = panel.zones.rows * panel.zones.columns
    return needed


def zone_counts() -> dict[float, list[int | None]]:
    """Zones needed at each of CONTRASTS, by diameter of the disc."""
    return {each: [zones_needed(disc(each), contrast) for contrast in CONTRASTS] for each in DISCS}


def draw(counts: dict[float, list[int | None]], into: Path) -> None:
    """Zones needed against contrast, both logarithmic, with the published result beside it."""
    import matplotlib
    from matplotlib.figure import Figure

    figure = Figure(figsize=(7, 4.4), layout="constrained")
    axes = figure.add_subplot()
    for (diameter, needed), marker in zip(counts.items(), "os^", strict=True):
        points = [(x, y) for x, y in zip(CONTRASTS, needed, strict=True) if y]
        axes.loglog(*zip(*points, strict=True), marker=marker, label=f"disc, {diameter:g} H wide")
    axes.plot(*zip(*PUBLISHED.items(), strict=True), "k*", ms=13, ls=":", label="Tan et al. 2018")
    axes.annotate("more than", (2000, 3000), (4, 8), textcoords="offset points")
    ticks = CONTRASTS
    axes.set_xticks(ticks, [f"{tick}:1" for tick in ticks])
    axes.minorticks_off()
    axes.set_yticks([10, 100, 1000, 10000], ["10", "100", "1000", "10 000"])
    axes.set_xlabel("native contrast")
    axes.set_ylabel("zones until no halo is visible")
    axes.set_title("More contrast hides a halo with far fewer zones", loc="left")
    axes.grid(alpha=0.3)
    axes.legend(frameon=False)
    with matplotlib.rc_context({"svg.hashsalt": "zone-count"}):
        figure.savefig(into / "zone-count.svg", metadata={"Date": None})
        figure.savefig(into / "zone-count.png", dpi=150)


def main(arguments: Sequence[str]) -> None:
    into = folder(arguments[0])
    counts = zone_counts()
    rows = [("native contrast", *(f"disc {each:g} H" for each in counts))]
    rows += zip(CONTRASTS, *counts.values(), strict=True)
    table = "".join(
        ",".join("" if each is None else str(each) for each in row) + "\n" for row in rows
    )
    print(table, end="")
    write_bytes(into / "zone-count.csv", table.encode())
    draw(counts, into)


if __name__ == "__main__":
    main(sys.argv[1:])
