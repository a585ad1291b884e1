"""Compare: one content on several panels or under several tone curves, drawn together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import isfinite

import numpy as np

from emulate.films.comparison import Comparison, Line
from emulate.films.summary import LABELS
from emulate.findings.formatting import opening
from emulate.frames.frame import Frame
from emulate.pictures.curve import curve_text, draw_curve
from emulate.pictures.exposure import slices_of
from emulate.pictures.page import INNER, WIDTH, Drawing, Page, Paper, shortened, wrapped
from emulate.pictures.pair import GAP, RIM, column_width, matted
from emulate.pictures.sampling import area_mean, fitted
from emulate.pictures.sources import SDR_NOTE
from emulate.pictures.style import (
    FAINT,
    MARGIN,
    PAGE,
    RULE,
    SERIES,
    SMALL,
    Rgb,
    Style,
    look,
)
from emulate.rendering import Rendering
from emulate.values import Pixels

TALLEST = 270  # px of a picture
LINE = 30  # px of a finding that differs
NAMES = 330  # px for its name
STRIP = 180  # px from nothing to the most
VALUES = INNER - NAMES - STRIP - 40  # px for the values of all cases
NARROWEST = 84  # px that a value needs
MOST_LINES = 26  # findings drawn; the file holds all
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"  # as many as `compare` accepts cases
MARKS = "osD^v"  # beside SERIES
NEAR = 0.03  # of a strip, at which marks would cover each other
LIFT = 0.6  # of half a strip's height, that marks at one place move up and down


def view_size(shape: tuple[int, int], paper: Paper | None = None) -> tuple[int, int]:
    """Picture px (rows, columns) of one view of a frame of `shape`."""
    return Page(paper or Paper()).drawn(fitted(shape, (TALLEST, column_width() - 2 * RIM)))


@look()
def draw_side_by_side(
    frame: Frame, comparison: Comparison, views: Mapping[str, Pixels], paper: Paper | None = None
) -> Drawing:
    """The reference and every case, each row at one plain exposure for all of them.

    views: rendered light [cd/m²] by the label of its case, as means over pixels of `view_size`.
    """
    page = Page(paper or Paper())
    page.title("Side by side", comparison.sentence)
    reference = area_mean(frame.light, view_size(frame.shape, paper))
    lights = {"Reference": reference, **_lettered(views)}
    for exposure in slices_of(reference, np.maximum.reduce(list(views.values()))):
        page.heading(exposure.name.capitalize())
        page.paragraph(exposure.sentence)
        page.y += 6
        _two_by_two(page, {name: exposure.codes(light) for name, light in lights.items()})
    figure = page.finished(f"{_foot(comparison, frame.name)} {SDR_NOTE}")
    alt = f"{frame.name} as mastered and {_cases(comparison)}. {comparison.sentence}"
    return Drawing("side_by_side", "Side by side", alt, figure)


def draw_curves_together(
    frame: Frame, rendering: Rendering, comparison: Comparison, paper: Paper | None = None
) -> Drawing:
    """Every case's tone curve on one pair of axes; `rendering` is of the first case."""
    first, *others = comparison.cases
    curves = {f"{case.label}: {curve_text(case.curve, case.panel)}": case.curve for case in others}
    panels = dict.fromkeys(case.panel.name for case in comparison.cases)
    foot = f"{_foot(comparison, frame.name)} Panels: {', '.join(map(shortened, panels))}."
    drawn = (frame, rendering, first.findings, paper, curves, first.label)
    return draw_curve(*drawn, foot if len(panels) > 1 else "")


@look()
def draw_differences(comparison: Comparison, paper: Paper | None = None) -> Drawing:
    """A line for each finding that differs visibly: the cases between nothing and the most of them,
    and their values, the best one's in bold."""
    page = Page(paper or Paper())
    page.title("What differs", comparison.sentence)
    _legend(page, comparison)
    for line in comparison.lines[:MOST_LINES]:
        _line(page, line)
    left_out = len(comparison.lines) - MOST_LINES
    page.y += 8
    if left_out > 0:
        page.paragraph(f"{left_out} more in comparison.json.", color=FAINT)
    if not comparison.lines:
        page.paragraph("Nothing differs by more than an eye can miss.")
    bold = "In bold: does best; how deep a loss goes, only where it reaches about as far."
    rule = f"{rule_text(comparison)} {bold}"
    figure = page.finished(f"{_foot(comparison, comparison.content)} {rule}")
    alt = f"What differs between {_cases(comparison)}. {comparison.sentence}"
    return Drawing("differences", "What differs", alt, figure)


def name_text(name: str) -> str:
    """A finding's name as a person says it."""
    base = name.removesuffix(".worst")
    words = LABELS.get(name) or LABELS.get(base)
    if words is None:
        words = opening(base.replace(".", ", ").replace("_", " "))
    return words if name == base or name in LABELS else f"{words}, worst frame"


def _lettered(views: Mapping[str, Pixels]) -> dict[str, Pixels]:
    return {
        f"{letter}  {label}": view
        for letter, (label, view) in zip(LETTERS, views.items(), strict=False)
    }


def _two_by_two(page: Page, pictures: Mapping[str, Rgb]) -> None:
    names = list(pictures)
    for start in range(0, len(names), 2):
        top = page.y
        for column, name in enumerate(names[start : start + 2]):
            page.y = top
            x = MARGIN + column * (column_width() + GAP)
            bottom = matted(page, x, column_width(), pictures[name], shortened(name, 56))
        page.y = bottom + GAP
    page.y += 6


def _legend(page: Page, comparison: Comparison) -> None:
    for index, case in enumerate(comparison.cases):
        axes = page.axes(MARGIN, page.y, 18, 18)
        axes.set_axis_off()
        axes.set(xlim=(-1, 1), ylim=(-1, 1))
        axes.plot([0], [0], **_mark(page, index))
        words = f"{LETTERS[index]}  {shortened(case.label)} ({curve_text(case.curve, case.panel)})"
        page.text(MARGIN + 26, page.y + 9, words)
        page.y += 21
    page.y += 8
    for index, x in enumerate(_columns(len(comparison.cases))):
        page.text(x, page.y + 8, LETTERS[index], px=SMALL, color=FAINT, ha="right")
    page.text(MARGIN + NAMES, page.y + 8, "none", px=SMALL, color=FAINT)
    page.text(MARGIN + NAMES + STRIP, page.y + 8, "most", px=SMALL, color=FAINT, ha="right")
    page.y += 20


def _line(page: Page, line: Line) -> None:
    page.line(MARGIN, page.y, WIDTH - MARGIN, page.y, color=RULE)
    words = wrapped(name_text(line.name), SMALL, NAMES - 16)
    height = max(LINE, 10 + 15 * len(words))
    for index, text in enumerate(words):
        page.text(MARGIN, page.y + height / 2 + 15 * (index - (len(words) - 1) / 2), text, px=SMALL)
    _strip(page, line, height)
    for index, x in enumerate(_columns(len(line.values))):
        best = line.best is not None and line.texts[index] == line.texts[line.best]
        text = (
            line.texts[index].replace(" visible steps", " steps").replace(" visible step", " step")
        )
        weight = "bold" if best else "normal"
        page.text(x, page.y + height / 2, text, px=SMALL, ha="right", weight=weight)
    page.y += height


def _strip(page: Page, line: Line, height: float) -> None:
    """The cases on an even line from nothing to the most of them."""
    known = [value for value in line.values if isfinite(value)]
    most = max(known)
    axes = page.axes(MARGIN + NAMES, page.y, STRIP, height)
    axes.set_axis_off()
    axes.set(xlim=(-0.06, 1.06), ylim=(-1, 1))
    axes.plot([0, 1], [0, 0], color=RULE, linewidth=page.points(1.5), zorder=1)
    at = [value / most if isfinite(value) and most else value for value in line.values]
    for index, (x, y) in enumerate(zip(at, _apart(at), strict=True)):
        if isfinite(x):
            axes.plot([x], [y], **_mark(page, index))


def _apart(places: Sequence[float]) -> list[float]:
    """How far up or down marks (-1 to 1) lie, so that those at one place are all seen."""
    heights = [0.0] * len(places)
    for place in places:
        near = [n for n, other in enumerate(places) if abs(other - place) < NEAR]
        for rank, n in enumerate(near):
            heights[n] = LIFT * (len(near) - 1 - 2 * rank) / max(2, len(near) - 1)
    return heights


def _mark(page: Page, index: int) -> Style:
    colour = SERIES[index % len(SERIES)]
    return {
        "color": colour,
        "marker": MARKS[index % len(MARKS)],
        "markersize": page.points(9),
        "markeredgecolor": PAGE,
        "markeredgewidth": page.points(1),
        "linestyle": "none",
        "zorder": 3,
    }


def _columns(count: int) -> list[float]:
    """Right ends of the columns of values; none where so many do not fit."""
    if VALUES / count < NARROWEST:
        return []
    right = WIDTH - MARGIN
    wide = min(VALUES / count, 150)
    return [right - (count - 1 - index) * wide for index in range(count)]


def _cases(comparison: Comparison) -> str:
    return " and ".join(f"on {case.label}" for case in comparison.cases)


def _foot(comparison: Comparison, name: str) -> str:
    count = len(comparison.caveats)
    doubts = f" {count} doubt{'s' * (count > 1)} listed in comparison.json." if count else ""
    return f"{shortened(name)}. {comparison.basis}{doubts}"


def rule_text(comparison: Comparison) -> str:
    """What had to differ, and by how much, to be told."""
    return (
        "Told is what differs by a visible step or more, or on a square degree "
        f"({comparison.area * 100:.2g} %) of the picture, and by more than the intervals allow."
    )
