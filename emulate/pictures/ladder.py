"""Ladder: what is left of each loss as one thing of the panel grows, a rung for each change."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isnan
from typing import TYPE_CHECKING

import numpy as np

from emulate.findings.formatting import opening, share_text
from emulate.pictures.page import INNER, Drawing, Page, Paper, shortened, text_width
from emulate.pictures.style import FAINT, INK, MARGIN, RULE, SERIES, SMALL, Style, look
from emulate.values import Numbers, numbers
from emulate.whatif.asking import WhatIf
from emulate.whatif.climb import GRAIN, Climb, Shares, less
from emulate.whatif.wording import WORDS, climb_text, setting_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT = 284  # px for the name of a change
TRACK = 400  # px of a rung
HEIGHT = 34  # px
GAP = 12  # px between rungs
SHORT = {  # policy -> its name on a column
    "fixed": "own",
    "fixed:hard_clip": "clip",
    "fixed:bt2390": "BT.2390",
    "by_metadata": "metadata",
    "by_frame": "frame",
}
LESS, MORE = SERIES[2], SERIES[1]  # what is left of a loss, and where it is more than now


@look()
def draw_ladder(asked: WhatIf, paper: Paper | None = None) -> Drawing:
    """A block for each loss, a rung for each change: how much of the loss is left on the way up.

    A rung is as high as the loss is now, and runs evenly on a logarithmic scale.
    """
    page = Page(paper or Paper())
    page.title(
        "What one change would take",
        "How much of each loss is left as one thing of the panel grows, evenly on a logarithmic "
        "scale from what it is now, and all else stays.",
    )
    _key(page)
    for loss in asked.losses:
        _block(page, asked, loss)
    for loss in asked.hidden:
        page.paragraph(asked.findings[f"{loss}.now"].sentence, color=FAINT)
    figure = page.finished(_foot(asked))
    return Drawing("whatif", "What one change would take", _alt(asked), figure)


def _key(page: Page) -> None:
    """What the marks of a rung mean."""
    flat: Style = {"linewidth": 0, "alpha": 0.75}
    marks: tuple[tuple[str, Callable[[Axes], object]], ...] = (
        ("left of the loss", lambda axes: axes.fill_between([0, 1], 0, 1, color=LESS, **flat)),
        (
            "more than now",
            lambda axes: axes.plot([0, 1], [0.5, 0.5], color=MORE, linewidth=page.points(3)),
        ),
        (
            "out of sight from here on",
            lambda axes: axes.axvline(0.5, color=INK, linewidth=page.points(2)),
        ),
        (
            "an amount that was tried",
            lambda axes: axes.plot([0.5], [0.3], "|", color=INK, markersize=page.points(6)),
        ),
    )
    x = float(MARGIN)
    for words, mark in marks:
        axes = page.axes(x, page.y, 22, 14)
        axes.set_axis_off()
        axes.set(xlim=(0, 1), ylim=(0, 1))
        mark(axes)
        page.text(x + 28, page.y + 7, words, px=SMALL)
        x += 28 + text_width(words, SMALL) + 26
    page.y += 30


def _block(page: Page, asked: WhatIf, loss: str) -> None:
    climbs = asked.of(loss)
    now = next(iter(asked.policies.values()))[loss]
    page.heading(f"{opening(WORDS[loss])}: {share_text(now)} of the picture now")
    page.y += 6
    for climb in climbs:
        _rung(page, climb)
    _switches(page, asked.policies, loss)
    page.y += 14


def _rung(page: Page, climb: Climb) -> None:
    had, unit = climb.had.rsplit(" ", 1) if " " in climb.had else (climb.had, "")
    same = unit and climb.far.endswith(f" {unit}")
    _label(page, climb.change.words, f"{had if same else climb.had} to {climb.far}")
    axes = page.axes(LEFT, page.y, TRACK, HEIGHT)
    at, left = np.log(climb.amounts), climb.shares / climb.now
    flat: Style = {"linewidth": 0}
    axes.fill_between(at, 0, np.minimum(left, 1), color=LESS, alpha=0.75, **flat)
    axes.plot(*_worse(at, left), color=MORE, linewidth=page.points(3), solid_capstyle="butt")
    axes.plot(at, np.zeros_like(at), "|", color=INK, markersize=page.points(6))
    if not isnan(climb.needed):
        axes.axvline(float(np.log(climb.needed)), color=INK, linewidth=page.points(2))
    axes.set(xlim=(0, float(at[-1])), ylim=(0, 1.04), xticks=[], yticks=[])
    _said(page, climb_text(climb), strong=not isnan(climb.needed))


def _worse(at: Numbers, left: Numbers) -> tuple[Numbers, Numbers]:
    """The stretches where a loss is larger than now, as a line along the top of its rung."""
    fine = np.linspace(0.0, float(at[-1]), TRACK)
    above = np.interp(fine, at, left) > 1 + GRAIN
    return numbers(fine), numbers(np.where(above, 1.0, np.nan))


def _switches(page: Page, policies: Mapping[str, Shares], loss: str) -> None:
    """The tone curves side by side: columns as high as what is left of the loss."""
    used, *others = policies
    now = policies[used][loss]
    _label(page, "tone curve", "the one in force first")
    axes = page.axes(LEFT, page.y, TRACK, HEIGHT)
    left = np.array([policies[policy][loss] / now for policy in policies])
    colours = [LESS if share <= 1 + GRAIN else MORE for share in left]
    axes.bar(np.arange(len(left)), np.minimum(left, 1), width=0.72, color=colours, alpha=0.45)
    small: Style = {"ha": "center", "color": INK, "fontsize": page.points(SMALL - 0.5)}
    for place, policy in enumerate(policies):
        axes.text(place, 0.08, SHORT.get(policy, "now"), **small)
    axes.set(xlim=(-0.6, len(left) - 0.4), ylim=(0, 1.04), xticks=[], yticks=[])
    best = min(others, key=lambda policy: policies[policy][loss])
    share = policies[best][loss]
    told = f"{setting_text(best)}: {share_text(share)} left" if less(share, now) else "no help"
    _said(page, told, strong=False)


def _label(page: Page, words: str, span: str) -> None:
    page.text(MARGIN, page.y + 9, words)
    page.text(MARGIN, page.y + 26, span, px=SMALL, color=FAINT)


def _said(page: Page, words: str, *, strong: bool) -> None:
    x = LEFT + TRACK + 14
    colour: Style = {"color": INK if strong else FAINT}
    top = page.y
    page.y += 2
    page.paragraph(words, x=x, width=INNER + MARGIN - x, px=SMALL, **colour)
    page.y = max(top + HEIGHT, page.y) + GAP
    page.line(LEFT, top + HEIGHT + GAP / 2, LEFT + TRACK, top + HEIGHT + GAP / 2, color=RULE)


def _foot(asked: WhatIf) -> str:
    findings = asked.findings
    names = f"Frame: {shortened(findings.frame)}. Panel: {shortened(findings.panel)}."
    searched = [each.text for each in findings.caveats if each.about == "what if"]
    return " ".join([names, findings.basis, *(f"{opening(text)}." for text in searched)])


def _alt(asked: WhatIf) -> str:
    needed = [f"{c.loss}.{c.change.name}" for c in asked.climbs if not isnan(c.needed)]
    told = " ".join(asked.findings[name].sentence for name in needed)
    return told or "No single change tried takes any loss out of sight."
