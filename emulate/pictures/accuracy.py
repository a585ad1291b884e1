"""Accuracy: greys, colours, windows and uniformity as read, each table on a page of its own."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from emulate.findings.accuracy.accuracy import Accuracy
from emulate.findings.accuracy.chart import ChartTable
from emulate.findings.accuracy.eotf import EotfTable
from emulate.findings.accuracy.gamut import GamutTable
from emulate.findings.accuracy.grey import GreyTable
from emulate.findings.accuracy.table import AccuracyTable
from emulate.findings.accuracy.uniformity import SpotTable
from emulate.findings.accuracy.windows import WindowTable
from emulate.findings.finding import Findings
from emulate.pictures.colours import draw_charts, draw_gamuts, draw_uniformities
from emulate.pictures.curve import curve_axes
from emulate.pictures.exposure import written
from emulate.pictures.page import WIDTH, Drawing, Page, Paper, Picture, save_drawings
from emulate.pictures.sources import readings_source, told
from emulate.pictures.style import DASHES, FAINT, INK, RULE, SERIES, SMALL, Style, look
from emulate.transfer import pq_from_light

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT = 92  # px for the labels of an axis
BROAD = WIDTH - LEFT - 40  # px of a plot
CHANNELS = ("#b3342f", "#3d7a2e", "#2c55b0")  # red, green and blue of a balance; ours
LEVELS = (0.01, 0.1, 1.0, 10.0, 100.0, 1000.0, 10000.0)  # cd/m²


def draw_accuracy(
    accuracy: Accuracy,
    folder: str | os.PathLike[str],
    *,
    paper: Paper | None = None,
    ending: str = ".png",
) -> list[Picture]:
    """A page for each kind of table there is, saved into `folder`, which is made.

    ending: .png, .svg or .pdf. Raises RequestError for another, OutputError where the folder cannot
    be written.
    """
    of_a_kind = (
        ([table for table in accuracy.tables if isinstance(table, kind)], draw)
        for kind, draw in DRAW.items()
    )
    drawings = (draw(tables, accuracy.findings, paper) for tables, draw in of_a_kind if tables)
    return save_drawings(drawings, folder, ending)


@look()
def draw_eotf(
    tables: Sequence[EotfTable], findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Grey steps as read against what their signals stand for, and how far off in visible steps."""
    page = Page(paper or Paper())
    page.title("EOTF tracking", "Grey steps as read, against the light that each stands for.")
    axes = curve_axes(page, LEFT, page.y + 6, BROAD, 460)
    axes.lines[0].set_label("what the signal stands for")
    for index, table in enumerate(tables):
        at, read = pq_from_light(table.ideal), pq_from_light(table.light)
        axes.plot(at, read, label=_mastered(table), **_line(page, index))
    _legend(page, axes, "upper left")
    page.y += 6 + 460 + 64
    _errors(page, tables)
    figure = page.finished(readings_source(findings))
    return Drawing("eotf", "EOTF tracking", told(findings, "eotf"), figure)


def _errors(page: Page, tables: Sequence[EotfTable]) -> None:
    """Off in visible steps, on a scale for what is within reach; greys beyond lie at its edge."""
    widest = max(float(np.abs(t.steps_off[t.reachable]).max()) for t in tables)
    reach = max(3.0, 1.15 * widest)
    words = f"off, visible steps; within the band nobody sees it{_beyond(tables, reach)}"
    page.text(LEFT, page.y, words, px=SMALL, color=FAINT)
    axes = page.axes(LEFT, page.y + 14, BROAD, 190)
    axes.axhspan(-1, 1, color=RULE, alpha=0.6, linewidth=0)
    axes.axhline(0, color=FAINT, linewidth=page.points(1))
    for index, table in enumerate(tables):
        off, style = table.steps_off, _line(page, index)
        on = np.abs(off) <= reach
        axes.plot(table.signal, off, **style | {"marker": ""})
        axes.plot(table.signal[on], off[on], **style | {"linestyle": "none"})
        edge = np.clip(off[~on], -reach, reach)
        beyond: Style = {"linestyle": "none", "marker": "v", "clip_on": False}
        axes.plot(table.signal[~on], edge, **style | beyond | {"markersize": page.points(7)})
    axes.set(xlim=(0, 1), ylim=(-reach, reach))
    _level_axis(page, axes)
    page.y += 14 + 190 + 40


def _beyond(tables: Sequence[EotfTable], reach: float) -> str:
    """How many greys the scale leaves out, and how far the last of them is off."""
    off = np.concatenate([table.steps_off for table in tables])
    count = int(np.count_nonzero(np.abs(off) > reach))
    if not count:
        return ""
    farthest = off[np.abs(off).argmax()]
    greys = f"{count} grey{'s' * (count > 1)}"
    return f"; ▾ beyond this scale: {greys}, off by up to {_signed(farthest)} steps"


@look()
def draw_grey(
    tables: Sequence[GreyTable], findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Balance of the channels along the greys, and their colour error."""
    page = Page(paper or Paper())
    page.title("Grey tracking and balance", "Which channel is too strong, and does it show?")
    table = tables[0]
    at = pq_from_light(table.level)
    words = "light of each channel, % of what neutral grey needs"
    page.text(LEFT, page.y + 8, words, px=SMALL, color=FAINT)
    axes = page.axes(LEFT, page.y + 24, BROAD, 300)
    axes.axhline(100, color=FAINT, linewidth=page.points(1))
    for index, name in enumerate(("red", "green", "blue")):
        style: Style = _line(page, index) | {"color": CHANNELS[index]}
        axes.plot(at, 100 * table.balance[:, index], label=name, **style)
    reach = max(5.0, 115 * float(np.abs(table.balance - 1).max()))
    axes.set(ylim=(100 - reach, 100 + reach))
    _span(page, axes, at)
    _legend(page, axes, "lower left")
    page.y += 24 + 300 + 56
    _colour_errors(page, table)
    figure = page.finished(readings_source(findings))
    return Drawing("grey", "Grey tracking and balance", told(findings, "grey"), figure)


def _colour_errors(page: Page, table: GreyTable) -> None:
    page.text(LEFT, page.y, "colour error, ΔE 2000; 3 is dashed", px=SMALL, color=FAINT)
    axes = page.axes(LEFT, page.y + 14, BROAD, 170)
    at = pq_from_light(table.level)
    axes.axhline(3, color=FAINT, linewidth=page.points(1), linestyle=(0, (5, 3)))
    axes.vlines(at, 0, table.delta_e, color=SERIES[0], linewidth=page.points(2))
    axes.plot(at, table.delta_e, "o", color=SERIES[0], markersize=page.points(5))
    axes.set(ylim=(0, max(4.0, 1.15 * float(table.delta_e.max()))))
    _span(page, axes, at)
    page.y += 14 + 170 + 40


@look()
def draw_windows(
    tables: Sequence[WindowTable], findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Peak light by the size of the window."""
    page = Page(paper or Paper())
    table = tables[0]
    bars = " Bars: how far its looks scatter." if np.isfinite(table.scatter).any() else ""
    page.title("White windows on black", f"How much light is left as the window grows.{bars}")
    axes = page.axes(LEFT, page.y + 10, BROAD, 360)
    axes.plot(100 * table.area, table.light, **_line(page, 0))
    scattered = np.isfinite(table.scatter)
    error: Style = {"fmt": "none", "ecolor": SERIES[0], "capsize": page.points(3)}
    axes.errorbar(100 * table.area[scattered], table.light[scattered], table.scatter[scattered],
                  **error)  # fmt: skip
    axes.set(xscale="log", xlim=(0.8, 125), ylim=(0, 1.18 * table.light.max()))
    axes.set_xticks(100 * table.area, [written(100 * area, 2) for area in table.area])
    axes.minorticks_off()
    axes.set_xlabel("window, % of the screen")
    axes.set_ylabel("cd/m²")
    axes.grid(axis="y", color=RULE, linewidth=page.points(0.75))
    for area, light in zip(100 * table.area, table.light, strict=True):
        style: Style = {"textcoords": "offset points", "ha": "center", "color": INK}
        style |= {"fontsize": page.points(SMALL), "xytext": (0, page.points(12))}
        axes.annotate(written(light, 3 if light < 1000 else 4), (area, light), **style)
    page.y += 10 + 360 + 46
    figure = page.finished(readings_source(findings))
    return Drawing("windows", "White windows on black", told(findings, "windows"), figure)


DRAW: dict[type[AccuracyTable], Callable[[Any, Findings, Paper | None], Drawing]] = {
    EotfTable: draw_eotf,
    GreyTable: draw_grey,
    GamutTable: draw_gamuts,
    ChartTable: draw_charts,
    WindowTable: draw_windows,
    SpotTable: draw_uniformities,
}


def _signed(value: float) -> str:
    return f"{value:+.0f}".replace("-", "\N{MINUS SIGN}")


def _line(page: Page, index: int) -> Style:
    style: Style = {"color": SERIES[index % 5], "linestyle": DASHES[index % 5]}
    return style | {
        "linewidth": page.points(1.6),
        "marker": "o",
        "markersize": page.points(4.5),
    }


def _mastered(table: EotfTable) -> str:
    if not table.mastering_peak:
        return "as read"
    return f"mastered at {written(table.mastering_peak)} cd/m²"


def _legend(page: Page, axes: Axes, where: str) -> None:
    style: Style = {"loc": where, "frameon": False, "fontsize": page.points(SMALL)}
    axes.legend(labelcolor=INK, **style)


def _span(page: Page, axes: Axes, at: np.ndarray) -> None:
    margin = 0.03 * float(np.ptp(at)) + 0.01
    axes.set(xlim=(float(at.min()) - margin, float(at.max()) + margin))
    _level_axis(page, axes)


def _level_axis(page: Page, axes: Axes) -> None:
    """Light along an axis that is even in visible steps."""
    low, high = axes.get_xlim()
    ticks = [(e, written(v)) for e, v in zip(pq_from_light(LEVELS), LEVELS, strict=True)]
    shown = [(e, name) for e, name in ticks if low <= e <= high]
    axes.set_xticks([e for e, _ in shown], [name for _, name in shown])
    axes.set_xlabel("cd/m²", labelpad=page.points(4))
    axes.grid(color=RULE, linewidth=page.points(0.75))
    axes.set_axisbelow(True)
