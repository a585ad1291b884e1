"""Trust: every reading beside its prediction, and how far off they are, by group."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from emulate.findings.finding import Findings
from emulate.findings.trust import Row, Summary, Trust
from emulate.findings.trusted import KINDS, WIDER
from emulate.pictures.curve import curve_axes
from emulate.pictures.exposure import written
from emulate.pictures.page import WIDTH, Drawing, Page, Paper
from emulate.pictures.sources import readings_source, told
from emulate.pictures.style import FAINT, INK, MARGIN, RULE, SERIES, SMALL, Style, look
from emulate.sight import steps_from_light
from emulate.transfer import pq_from_light
from emulate.values import Numbers, numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT = 92  # px for the labels of an axis
BROAD = WIDTH - LEFT - 210  # px of a plot, with the groups' names beside it
MARKS = ("o", "s", "^", "D", "v", "P", "X", "<", ">", "*", "+", "x", "d", "p")
FARTHEST = 10.0  # steps or σ, on the scale of what is left; ours
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
    if held is not None and held.rows:
        _foretold(page, held, groups)
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
        axes.plot(read, said, label=KINDS.get(group, group), **_marks(page, index))
    style: Style = {"loc": "upper left", "bbox_to_anchor": (1.02, 1.0), "frameon": False}
    axes.legend(fontsize=page.points(SMALL), labelcolor=INK, **style)
    page.y += 6 + 430 + 62


def _left(page: Page, rows: Sequence[Row], groups: Sequence[str], what: str, words: str) -> None:
    """What is left of each reading against its light; what is beyond the axis lies at its edge."""
    band = 1 if what == "steps" else 2
    off = np.array([getattr(row, what) for row in rows])
    reach = _reach(off, band)
    _caption(page, words + _beyond(off, reach))
    axes = page.axes(LEFT, page.y + 8, BROAD, 150)
    axes.axhspan(-band, band, color=RULE, alpha=0.6, linewidth=0)
    for index, group in enumerate(groups):
        mine = [row for row in rows if row.group == group]
        read = pq_from_light([row.measured for row in mine])
        _dots(page, axes, index, read, numbers([getattr(row, what) for row in mine]), reach)
    axes.set(xlim=(0, 1), ylim=(-reach, reach))
    _light_axis(axes)
    page.y += 8 + 150 + 36


def _caption(page: Page, words: str) -> None:
    """Above a plot, in as many lines as it takes."""
    page.paragraph(words, x=LEFT, width=WIDTH - MARGIN - LEFT, px=SMALL, color=FAINT)


def _reach(off: Numbers, band: float) -> float:
    return float(np.clip(1.1 * np.abs(off).max(), 2.5 * band, FARTHEST))


def _dots(page: Page, axes: Axes, index: int, at: Numbers, off: Numbers, reach: float) -> None:
    """Readings of a group; those beyond the scale at its edge, filled."""
    style, beyond = _marks(page, index), np.abs(off) > reach
    axes.plot(at[~beyond], off[~beyond], **style)
    filled = style | {"markerfacecolor": style["markeredgecolor"], "clip_on": False}
    axes.plot(at[beyond], np.clip(off[beyond], -reach, reach), **filled)


def _beyond(off: Numbers, reach: float) -> str:
    """How many readings a scale leaves out, and how far the last of them is off."""
    count = int(np.count_nonzero(np.abs(off) > reach))
    if not count:
        return ""
    most = written(float(np.abs(off).max()), 2)
    return f"; beyond {written(reach, 2)}: {count} reading{'s' * (count > 1)}, filled, up to {most}"


def _foretold(page: Page, held: Trust, groups: Sequence[str]) -> None:
    """Readings that the fit never saw, side by side, with the intervals that it stated."""
    rows = sorted(held.rows, key=lambda row: groups.index(row.group))
    off, low, high = (steps_from_light(lights) for lights in _ends(rows))
    read = steps_from_light([row.measured for row in rows])
    off, low, high = off - read, low - read, high - read
    reach = _reach(numbers([*off, *low, *high]), 1)
    wide = f", widened {written(held.widened, 2)} times" if held.widened > WIDER else ""
    words = f"never seen by the fit: off, visible steps, with the 95 % interval it stated{wide}; "
    words += "a bar that misses 0 was wrong"
    _caption(page, words + _beyond(off, reach))
    axes = page.axes(LEFT, page.y + 8, BROAD, 150)
    axes.axhspan(-1, 1, color=RULE, alpha=0.6, linewidth=0)
    axes.axhline(0, color=FAINT, linewidth=0.6)
    at = np.arange(len(rows))
    for index, group in enumerate(groups):
        mine = np.array([row.group == group for row in rows])
        colour = SERIES[index % len(SERIES)]
        axes.vlines(at[mine], low[mine], high[mine], color=colour, linewidth=page.points(1))
        _dots(page, axes, index, at[mine], off[mine], reach)
    axes.set(xlim=(-1, len(rows)), ylim=(-reach, reach), xticks=[])
    page.y += 8 + 150 + 20


def _ends(rows: Sequence[Row]) -> tuple[list[float], list[float], list[float]]:
    """Predictions and both ends of their intervals [cd/m²]."""
    ends = [row.interval or (row.predicted, row.predicted) for row in rows]
    return [row.predicted for row in rows], [low for low, _ in ends], [high for _, high in ends]


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
        page.paragraph(f"{KINDS.get(group, group)}: {why}.", px=SMALL, color=FAINT)


def _cells(seen: Summary, unseen: Summary | None) -> tuple[str, ...]:
    name = KINDS.get(seen.group, seen.group)
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
