"""Trust: every reading beside its prediction, and how far off they are, by group."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from emulate.findings.finding import Findings
from emulate.findings.trust import Row, Summary, Trust
from emulate.pictures.curve import curve_axes
from emulate.pictures.exposure import written
from emulate.pictures.page import WIDTH, Drawing, Page, Paper
from emulate.pictures.sources import readings_source, told
from emulate.pictures.style import FAINT, INK, MARGIN, RULE, SERIES, SMALL, Style, look
from emulate.transfer import pq_from_light

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT = 92  # px for the labels of an axis
BROAD = WIDTH - LEFT - 210  # px of a plot, with the groups' names beside it
MARKS = ("o", "s", "^", "D", "v", "P", "X", "<", ">", "*", "+", "x", "d", "p")
NAMES = {
    "ramp": "grey ramp",
    "near_black": "near black",
    "window": "windows",
    "checker": "checkerboards",
    "primary": "primaries",
    "chart24": "chart of 24",
    "chart140": "chart of 140",
    "grow": "growing box",
    "spill": "light beside a box",
    "crawl": "crawling box",
    "uniformity": "grey over the screen",
    "black": "black",
    "patch": "own colours",
}
COLUMNS = (0, 210, 300, 440, 600, 790)  # px of the table
HEAD = ("group", "means", "off, visible steps", "off, meter's σ", "held out: steps", "inside 95 %")


@look()
def draw_trust(
    closed: Trust, held: Trust | None, findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Predicted against read, what is left in visible steps and in sigmas, and both by group."""
    page = Page(paper or Paper())
    subtitle = "Each mean of readings beside what the panel on file shows of the same pattern."
    page.title("How far to trust the panel", subtitle)
    groups = [summary.group for summary in closed.summaries]
    _plot(page, closed, groups)
    _left(page, closed.rows, groups, "steps", "off, visible steps; within the band nobody sees it")
    _left(page, closed.rows, groups, "sigmas", "off, standard deviations of the meter (±2 shaded)")
    _table(page, closed, held)
    figure = page.finished(readings_source(findings))
    alt = told(findings, "trust", "held_out")
    return Drawing("trust", "How far to trust the panel", alt, figure)


def _plot(page: Page, trust: Trust, groups: Sequence[str]) -> None:
    axes = curve_axes(page, LEFT, page.y + 6, BROAD, 430)
    axes.set_xlabel("read, cd/m²", labelpad=page.points(6))
    axes.set_ylabel("predicted, cd/m²", labelpad=page.points(6))
    for index, group in enumerate(groups):
        rows = [row for row in trust.rows if row.group == group]
        read, said = (
            pq_from_light([getattr(r, n) for r in rows]) for n in ("measured", "predicted")
        )
        axes.plot(read, said, label=NAMES.get(group, group), **_marks(page, index))
    style: Style = {"loc": "upper left", "bbox_to_anchor": (1.02, 1.0), "frameon": False}
    axes.legend(fontsize=page.points(SMALL), labelcolor=INK, **style)
    page.y += 6 + 430 + 62


def _left(page: Page, rows: Sequence[Row], groups: Sequence[str], what: str, words: str) -> None:
    """What is left of each reading against its light; what is beyond the axis is drawn at it."""
    page.text(LEFT, page.y, words, px=SMALL, color=FAINT)
    axes = page.axes(LEFT, page.y + 14, BROAD, 150)
    band = 1 if what == "steps" else 2
    off = np.array([getattr(row, what) for row in rows])
    reach = float(np.clip(1.1 * np.abs(off).max(), 2.5 * band, 10))
    axes.axhspan(-band, band, color=RULE, alpha=0.6, linewidth=0)
    for index, group in enumerate(groups):
        mine = [row for row in rows if row.group == group]
        read = pq_from_light([row.measured for row in mine])
        left = np.clip([getattr(row, what) for row in mine], -reach, reach)
        axes.plot(read, left, clip_on=False, **_marks(page, index))
    axes.set(xlim=(0, 1), ylim=(-reach, reach))
    _light_axis(axes)
    page.y += 14 + 150 + 42


def _light_axis(axes: Axes) -> None:
    lights = (0.01, 0.1, 1.0, 10.0, 100.0, 1000.0, 10000.0)
    axes.set_xticks(pq_from_light(lights), [written(light) for light in lights])
    axes.axhline(0, color=FAINT, linewidth=0.6)


def _table(page: Page, closed: Trust, held: Trust | None) -> None:
    unseen = {s.group: s for s in held.summaries} if held else {}
    page.y += 4
    _line(page, HEAD, color=FAINT)
    for summary in closed.summaries:
        _line(page, _cells(summary, unseen.get(summary.group)))
    for group, why in (held.unpredictable if held else {}).items():
        page.paragraph(f"{NAMES.get(group, group)}: {why}.", px=SMALL, color=FAINT)


def _cells(seen: Summary, unseen: Summary | None) -> tuple[str, ...]:
    name = NAMES.get(seen.group, seen.group)
    row = (name, str(seen.count), f"{seen.steps:.2f}", f"{seen.sigmas:.1f}")
    if unseen is None:
        return (*row, "", "")
    inside = round(unseen.inside * unseen.count)
    return (*row, f"{unseen.steps:.2f}", f"{inside} of {unseen.count}")


def _line(page: Page, cells: Sequence[str], **style: str) -> None:
    for x, cell in zip(COLUMNS, cells, strict=True):
        page.text(MARGIN + x, page.y + 9, cell, px=SMALL, **style)
    page.y += 18


def _marks(page: Page, index: int) -> Style:
    """A shape for each group; colours alone would not tell twelve apart."""
    return {
        "linestyle": "none",
        "marker": MARKS[index % len(MARKS)],
        "markersize": page.points(5),
        "markerfacecolor": "none",
        "markeredgecolor": SERIES[index % len(SERIES)],
        "markeredgewidth": page.points(1.2),
    }
