"""Colours and uniformity as read: gamut triangles, chart patches, the screen's spots."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from emulate.colorimetry import D65, rgb_from_xyz, uv_from_xy
from emulate.findings.accuracy.chart import ACCEPTED, ChartTable, spoken
from emulate.findings.accuracy.gamut import TARGETS, GamutTable
from emulate.findings.accuracy.uniformity import SpotTable
from emulate.findings.finding import Findings
from emulate.frames.bars import SCREEN
from emulate.frames.sdr import sdr_from_light
from emulate.pictures.exposure import written
from emulate.pictures.page import INNER, WIDTH, Drawing, Page, Paper
from emulate.pictures.scales import BESIDE, share_bar
from emulate.pictures.sources import SDR_NOTE, readings_source, told
from emulate.pictures.style import (
    DASHES,
    INK,
    MARGIN,
    MAT,
    PAGE,
    RULE,
    SERIES,
    SMALL,
    Rgb,
    Style,
    amount_colours,
    look,
)
from emulate.readings.patterns.charts import CHART_WHITE
from emulate.values import Numbers

PLOT = (396, 420)  # px of one diagram
COLUMNS = (MARGIN + 56, WIDTH // 2 + 60)  # px where the two diagrams begin
NAMED = 40  # patches up to which each has its name
LOWEST, HIGHEST = 0.6, 1.1  # share of the middle's light at either end of a map's colours; ours


@look()
def draw_gamuts(
    tables: Sequence[GamutTable], findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Triangles as read and as published, in xy and in u′v′, and what they cover."""
    page = Page(paper or Paper())
    page.title("Gamut", "The colours that the panel reaches, beside those of the standards.")
    for diagram, x in zip(("xy", "uv"), COLUMNS, strict=True):
        _diagram(page, tables, diagram, x)
    page.y += 20 + PLOT[1] + 52
    for table in tables:
        page.paragraph(_covered(table))
    figure = page.finished(readings_source(findings))
    return Drawing("gamut", "Gamut", told(findings, "gamut"), figure)


def _diagram(page: Page, tables: Sequence[GamutTable], diagram: str, x: float) -> None:
    axes = page.axes(x, page.y + 10, *PLOT)
    axes.set_aspect("equal", adjustable="box", anchor="NW")
    for index, (name, corners) in enumerate(TARGETS.values(), start=1):
        style: Style = {"color": SERIES[index], "linestyle": DASHES[index]}
        axes.plot(*_closed(corners, diagram), label=name, linewidth=page.points(1.4), **style)
    for index, table in enumerate(tables):
        style = {"color": SERIES[0], "linestyle": DASHES[3 * index % 5]}
        label = f"read at {table.light:.0f} cd/m²"
        axes.plot(*_closed(table.primaries, diagram), label=label, marker="o",
                  markersize=page.points(4), linewidth=page.points(4), alpha=0.5,
                  **style)  # fmt: skip
    white = np.array(D65) if diagram == "xy" else uv_from_xy(D65)
    axes.plot(*white, "+", color=INK, markersize=page.points(8), label="D65")
    even = diagram == "uv"
    axes.set(xlim=(0, 0.68 if even else 0.8), ylim=(0, 0.68 if even else 0.86))
    axes.set_xlabel("u′ (CIE 1976)" if even else "x (CIE 1931)")
    axes.set_ylabel("v′" if even else "y")
    if not even:
        axes.legend(loc="upper right", frameon=False, fontsize=page.points(SMALL), handlelength=3)


def _closed(corners: Sequence[tuple[float, float]], diagram: str) -> Numbers:
    ring = np.array([*corners, corners[0]])
    return (ring if diagram == "xy" else uv_from_xy(ring)).T


def _covered(table: GamutTable) -> str:
    parts = [
        f"{name} {100 * table.covers(target, 'xy'):.1f} % in xy, "
        f"{100 * table.covers(target, 'uv'):.1f} % in u′v′"
        for target, (name, _) in TARGETS.items()
    ]
    return f"Lit at {table.light:.0f} cd/m² the panel covers of {'; '.join(parts)}."


@look()
def draw_charts(
    tables: Sequence[ChartTable], findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Every patch with its colour difference, asked above and read below."""
    page = Page(paper or Paper())
    subtitle = "How far each patch is off; above the bar asked, below it read."
    page.title("Colour chart", subtitle)
    for table in tables:
        page.heading(_summary(table))
        _bars(page, table)
    figure = page.finished(f"{readings_source(findings)} {SDR_NOTE}")
    names = [table.kind for table in tables]
    return Drawing("chart", "Colour chart", told(findings, *names), figure)


def _summary(table: ChartTable) -> str:
    off = table.delta_e
    return (
        f"{table.title}: ΔE 2000 {off.mean():.2f} on average, {off.max():.2f} at most, "
        f"{100 * (off > ACCEPTED).mean():.0f} % over {ACCEPTED:g}"
    )


def _bars(page: Page, table: ChartTable) -> None:
    """Bars on a dark mat, where colours look as they are; each stands between its two colours."""
    count, wide = len(table.names), INNER - 60
    top, height = round(page.y) + 8, 210
    page.mat(MARGIN, top, INNER, height + 16)
    axes = page.axes(MARGIN + 50, top + 34, wide, height - 60)
    at = np.arange(count)
    axes.bar(at, table.delta_e, width=0.62, color=RULE)
    axes.axhline(ACCEPTED, color=PAGE, linewidth=page.points(1), linestyle=(0, (5, 3)))
    axes.set(xlim=(-0.5, count - 0.5), ylim=(0, max(4.0, 1.1 * float(table.delta_e.max()))))
    axes.set_xticks([])
    axes.tick_params(labelcolor=PAGE)
    axes.set_ylabel("ΔE 2000", color=PAGE)
    for y, xyz in ((top + 12, table.asked), (top + height - 22, table.read)):
        strip = np.repeat(_codes(xyz), max(1, wide // count), axis=0)[None]
        page.image(MARGIN + 50, y, np.repeat(strip, 18, axis=0), (18, wide))
    page.y = top + height + 16
    _names(page, table, top + height + 20)


def _names(page: Page, table: ChartTable, top: float) -> None:
    if len(table.names) > NAMED:
        page.y += 14
        return
    step = (INNER - 60) / len(table.names)
    for index, name in enumerate(table.names):
        style: Style = {"rotation": 90, "va": "top", "ha": "center", "px": SMALL}
        page.text(MARGIN + 50 + (index + 0.5) * step, top, spoken(name), **style)
    page.y += 112


def _codes(xyz: Numbers) -> Rgb:
    light = np.maximum(rgb_from_xyz(xyz), 0.0).astype(np.float32)
    codes: Rgb = sdr_from_light(np.ascontiguousarray(light[None]), CHART_WHITE)[0]
    return codes


@look()
def draw_uniformities(
    tables: Sequence[SpotTable], findings: Findings, paper: Paper | None = None
) -> Drawing:
    """The screen with each spot's light in per cent of the middle's."""
    page = Page(paper or Paper())
    page.title("Uniformity", "Light of each spot of a grey screen, in % of the middle's.")
    for table in tables:
        page.heading(table.title)
        _screen(page, table)
    figure = page.finished(readings_source(findings))
    return Drawing("uniformity", "Uniformity", told(findings, "uniformity"), figure)


def _screen(page: Page, table: SpotTable) -> None:
    """A 16:9 screen; spots as discs in the colours for amounts with their numbers, and a key."""
    height = 300
    wide = round(height * SCREEN)
    x, y = round(MARGIN + (INNER - wide - BESIDE) / 2), round(page.y + 8)
    page.mat(x, y, wide + BESIDE, height, MAT)
    share_bar(LOWEST, HIGHEST, ("of the light", "in the middle"))(page, x + wide, y + 46, 240)
    axes = page.axes(x, y, wide, height)
    axes.set_axis_off()
    axes.set(xlim=(0, 1), ylim=(1, 0))
    shade = amount_colours((table.share - LOWEST) / (HIGHEST - LOWEST)) / 255
    size = page.points(46) ** 2
    across, down = table.spots.T
    axes.scatter(across, down, size, shade, linewidths=0)
    for spot_x, spot_y, share in zip(across, down, table.share, strict=True):
        dark = share < LOWEST + 0.55 * (HIGHEST - LOWEST)
        style: Style = {"ha": "center", "va": "center_baseline", "color": PAGE if dark else INK}
        axes.text(spot_x, spot_y, written(100 * share), fontsize=page.points(SMALL), **style)
    page.y += height + 26
