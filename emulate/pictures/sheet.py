"""Sheet: a panel on one page - its curves, windows, zones to scale, and gamut."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from emulate.colorimetry import BT709, BT2020, D65, P3, uv_from_xy
from emulate.frames.bars import SCREEN
from emulate.panel.curves import Curve, identity, measured
from emulate.panel.panel import Panel
from emulate.panel.tone import ToneReading
from emulate.panel.zones import Zones
from emulate.pictures.curve import curve_axes, draw_curves
from emulate.pictures.exposure import written
from emulate.pictures.page import WIDTH, Drawing, Page, Paper, shortened
from emulate.pictures.sources import panel_source
from emulate.pictures.style import (
    DASHES,
    FAINT,
    INK,
    MARGIN,
    PAGE,
    RULE,
    SERIES,
    SMALL,
    Style,
    look,
)
from emulate.values import Numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PLOT = (400, 290)  # px of one plot
LEFT = (MARGIN + 66, WIDTH // 2 + 66)  # px of the two columns of plots
DROP = 372  # px from one row of plots to the next
LABELS_APART = 0.2  # decades of area between windows whose light is written at both
ROOM = 8  # px a zone needs for its border to be drawn


@look()
def draw_sheet(
    panel: Panel, windows: Sequence[tuple[float, float]] = (), paper: Paper | None = None
) -> Drawing:
    """Tone curves, windows (or the limiter where none are given), zones to scale, and gamut.

    windows: (share of the area 0..1, cd/m²) of white windows on black, as measured or rendered.
    """
    page = Page(paper or Paper())
    page.title(shortened(panel.name), _subtitle(panel))
    top = page.y
    _curves(page, panel, LEFT[0], top)
    if windows:
        _windows(page, windows, LEFT[1], top)
    else:
        _limiter(page, panel, LEFT[1], top)
    _zones(page, panel, LEFT[0], top + DROP)
    _gamut(page, panel, LEFT[1], top + DROP)
    page.y = top + 2 * DROP - 14
    figure = page.finished(panel_source(panel))
    return Drawing("sheet", f"Panel {panel.name}", f"{panel.name}. {_subtitle(panel)}", figure)


def _subtitle(panel: Panel) -> str:
    light = f"White with all light on: {written(panel.open_cdm2)} cd/m²."
    contrast = panel.cell.contrast
    if not np.isfinite(contrast):
        return f"{light} {_source(panel)} A closed cell leaks nothing."
    return f"{light} {_source(panel)} Native contrast {written(contrast)}:1."


def _source(panel: Panel) -> str:
    zones = panel.zones
    if not isinstance(zones, Zones):
        return "Every pixel is its own light."
    if zones.rows * zones.columns == 1:
        return "One light behind the whole screen."
    return f"{zones.columns} × {zones.rows} = {zones.columns * zones.rows} zones."


def _curves(page: Page, panel: Panel, x: float, y: float) -> None:
    page.text(x - 66, y + 8, "Tone curve", weight="bold")
    axes = curve_axes(page, x, y + 26, *PLOT)
    names = [label.get_text() for label in axes.get_xticklabels()]
    axes.set_xticks(axes.get_xticks()[2:], names[2:])  # the two lowest would touch
    draw_curves(page, axes, _family(panel.tone.curves))


def _family(readings: Sequence[ToneReading]) -> dict[str, Curve]:
    if not readings:
        return {"no curve on file": identity()}
    return {_peak(reading): measured(reading.signal, reading.light) for reading in readings}


def _peak(reading: ToneReading) -> str:
    if reading.mastering_peak == 0:
        return "for all content"
    return f"mastered at {written(reading.mastering_peak)} cd/m²"


def _windows(page: Page, windows: Sequence[tuple[float, float]], x: float, y: float) -> None:
    page.text(x - 66, y + 8, "White windows on black", weight="bold")
    axes = page.axes(x, y + 26, *PLOT)
    area, light = np.array(sorted(windows), dtype=np.float64).T
    style: Style = {"color": SERIES[0], "linewidth": page.points(2), "marker": "o"}
    axes.plot(100 * area, light, markersize=page.points(6), **style)
    axes.set(xscale="log", xlim=(0.8, 125), ylim=(0, 1.2 * light.max()))
    axes.set_xticks([1, 2, 5, 10, 25, 50, 100], [f"{v}" for v in (1, 2, 5, 10, 25, 50, 100)])
    axes.minorticks_off()
    axes.set_xlabel("window, % of the screen")
    axes.set_ylabel("cd/m²")
    axes.grid(axis="y", color=RULE, linewidth=page.points(0.75))
    apart = np.diff(np.log10(area), prepend=-np.inf) >= LABELS_APART
    for share, level in zip(area[apart], light[apart], strict=True):
        offset = (0, page.points(9))
        words: Style = {
            "textcoords": "offset points",
            "ha": "center",
            "fontsize": page.points(SMALL),
        }
        words["bbox"] = {"facecolor": PAGE, "edgecolor": "none", "pad": 0.5}
        axes.annotate(written(level), (100 * share, level), xytext=offset, color=INK, **words)


def _limiter(page: Page, panel: Panel, x: float, y: float) -> None:
    page.text(x - 66, y + 8, "Limiter: light left when the picture asks for much", weight="bold")
    axes = page.axes(x, y + 26, *PLOT)
    load = np.linspace(0, 1, 201)
    gain = [100 * panel.limiter.target(float(value)) for value in load]
    axes.plot(100 * load, gain, color=SERIES[0], linewidth=page.points(2))
    axes.set(xlim=(0, 100), ylim=(0, 108))
    axes.set_xlabel("load, % of all light at full")
    axes.set_ylabel("light left, %")
    axes.grid(color=RULE, linewidth=page.points(0.75))


def _zones(page: Page, panel: Panel, x: float, y: float) -> None:
    """The screen at 16:9 with its zones, and the spread of one of them, all to one scale."""
    page.text(x - 66, y + 8, "Zones, to scale on a 16:9 screen", weight="bold")
    width = PLOT[0] + 30
    axes = page.axes(x - 30, y + 26, width, width / SCREEN)
    axes.set(xlim=(0, SCREEN), ylim=(1, 0), xticks=[], yticks=[])
    for spine in axes.spines.values():
        spine.set(visible=True, color=INK, linewidth=page.points(1.5))
    zones = panel.zones
    if not isinstance(zones, Zones):
        page.text(x - 30, y + 44 + width / SCREEN, "No zones: light pixel by pixel.", px=SMALL)
        return
    _borders(page, axes, zones, width)
    _spread(page, axes, panel, zones)
    tall, wide = 1 / zones.rows, SCREEN / zones.columns
    words = f"A zone is {written(wide, 2)} × {written(tall, 2)} picture heights."
    page.text(x - 30, y + 44 + width / SCREEN, words, px=SMALL)


def _borders(page: Page, axes: Axes, zones: Zones, width: float) -> None:
    """Zone borders, and the zone whose spread is drawn; in fine grids only the latter."""
    from matplotlib.patches import Rectangle

    line: Style = {"color": FAINT, "linewidth": page.points(0.6), "alpha": 0.7}
    if width / zones.columns >= ROOM and width / SCREEN / zones.rows >= ROOM:
        axes.vlines(np.arange(1, zones.columns) * SCREEN / zones.columns, 0, 1, **line)
        axes.hlines(np.arange(1, zones.rows) / zones.rows, 0, SCREEN, **line)
    wide, tall = SCREEN / zones.columns, 1 / zones.rows
    corner = (zones.columns // 2 * wide, zones.rows // 2 * tall)
    axes.add_patch(Rectangle(corner, wide, tall, facecolor=SERIES[3], alpha=0.5, linewidth=0))


def _spread(page: Page, axes: Axes, panel: Panel, zones: Zones) -> None:
    """Circles of one σ about a zone's middle, each with its share of the light."""
    x = (zones.columns // 2 + 0.5) * SCREEN / zones.columns
    y = (zones.rows // 2 + 0.5) / zones.rows
    turn = np.linspace(0, 2 * np.pi, 181)
    wide = [(s, w) for s, w in zip(panel.spread.sigma_h, panel.spread.weight, strict=True) if s]
    for index, (sigma, weight) in enumerate(wide):
        look: Style = {"color": SERIES[index % 5], "linestyle": DASHES[index % 5]}
        label = f"{written(100 * weight, 2)} % of its light: σ = {written(sigma, 2)} heights"
        circle = (x + sigma * np.cos(turn), y + sigma * np.sin(turn))
        axes.plot(*circle, linewidth=page.points(1.8), label=label, **look)
    if wide:
        box: Style = {"frameon": True, "framealpha": 0.9, "facecolor": PAGE, "edgecolor": "none"}
        axes.legend(loc="upper left", fontsize=page.points(SMALL), handlelength=3, **box)


def _gamut(page: Page, panel: Panel, x: float, y: float) -> None:
    """Triangles in u′v′, where equal distances look about equally different."""
    page.text(x - 66, y + 8, "Gamut", weight="bold")
    axes = page.axes(x, y + 26, *PLOT)
    axes.set_aspect("equal", adjustable="box", anchor="W")
    own = (panel.primaries.red, panel.primaries.green, panel.primaries.blue)
    axes.fill(*_closed(own), facecolor=SERIES[0], alpha=0.08)
    axes.plot(*_closed(own), color=SERIES[0], linewidth=page.points(2.2), label="this panel")
    named = {"BT.2020": BT2020, "P3": P3, "BT.709": BT709}
    for index, (name, corners) in enumerate(named.items(), start=1):
        look: Style = {"color": SERIES[index], "linestyle": DASHES[index]}
        axes.plot(*_closed(corners), label=name, linewidth=page.points(1.4), **look)
    _whites(page, axes, panel)
    axes.set(xlim=(0, 0.64), ylim=(0.06, 0.62))
    axes.set_xlabel("u′ (CIE 1976)")
    axes.set_ylabel("v′ (CIE 1976)")
    axes.legend(
        loc="lower right",
        fontsize=page.points(SMALL),
        frameon=False,
        handlelength=3,
        labelcolor=INK,
    )


def _closed(corners: Sequence[tuple[float, float]]) -> Numbers:
    return uv_from_xy([*corners, corners[0]]).T


def _whites(page: Page, axes: Axes, panel: Panel) -> None:
    dot: Style = {"linestyle": "none", "markersize": page.points(7), "markerfacecolor": "none"}
    axes.plot(*uv_from_xy(D65), marker="+", color=INK, label="D65", **dot)
    axes.plot(
        *uv_from_xy(panel.primaries.white), marker="o", color=SERIES[0], label="its white", **dot
    )
