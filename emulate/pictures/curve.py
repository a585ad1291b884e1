"""Tone curve: what the panel asks of itself for each light of the reference, against the ideal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from emulate.findings.finding import Findings
from emulate.frames.frame import Frame
from emulate.panel.curves import FLAT, Curve
from emulate.pictures.exposure import brightest, written
from emulate.pictures.page import WIDTH, Drawing, Page, Paper
from emulate.pictures.sources import said, source
from emulate.pictures.style import DASHES, FAINT, INK, PAGE, RULE, SERIES, SMALL, Style, look
from emulate.rendering import Rendering
from emulate.sight import steps_from_light
from emulate.transfer import light_from_pq, pq_from_light
from emulate.values import Numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT = 92  # px for the labels of the light axis
PLOT = (WIDTH - LEFT - 40, 520)  # px
STRIP = 46  # px of the content's distribution
DECADES = (0.01, 0.1, 1.0, 10.0, 100.0, 1000.0, 10000.0)  # cd/m²
SAMPLES = 2001  # points of a drawn curve, finer than a page px


@look()
def draw_curve(
    frame: Frame,
    rendering: Rendering,
    findings: Findings,
    paper: Paper | None = None,
    others: Mapping[str, Curve] | None = None,
    name: str = "this panel",
) -> Drawing:
    """The curve that acted, the ideal, where it keeps no detail, and where the frame's light lies.

    Both axes are even in visible steps. others: more curves by name, to compare; name: of the
    first.
    """
    page = Page(paper or Paper())
    page.title("Tone curve", "What the panel asks for against what was mastered.")
    axes = curve_axes(page, LEFT, page.y + 6, *PLOT)
    curves = {f"{name}: {rendering.curve.text}": rendering.curve} | dict(others or {})
    draw_curves(page, axes, curves)
    page.y += 6 + PLOT[1]
    _content(page, frame)
    figure = page.finished(source(frame, rendering, findings))
    return Drawing("curve", "Tone curve", _alt(rendering, findings), figure)


def curve_axes(page: Page, x: float, y: float, width: float, height: float) -> Axes:
    """Axes even in PQ signal and labelled in cd/m², with the ideal across them."""
    axes = page.axes(x, y, width, height)
    at, names = pq_from_light(DECADES), [written(value) for value in DECADES]
    axes.set(xlim=(0, 1), ylim=(0, 1), xticks=at, yticks=at)
    axes.set_xticklabels(names)
    axes.set_yticklabels(names)
    axes.set_xlabel("reference, cd/m²", labelpad=page.points(6))
    axes.set_ylabel("panel, cd/m²", labelpad=page.points(6))
    axes.grid(color=RULE, linewidth=page.points(0.75))
    axes.set_axisbelow(True)
    ideal: Style = {"color": FAINT, "linewidth": page.points(1), "linestyle": (0, (2, 2))}
    axes.plot([0, 1], [0, 1], **ideal)
    return axes


def draw_curves(page: Page, axes: Axes, curves: Mapping[str, Curve]) -> None:
    """Curves in our colours and dashes with their names; of the first, its flat part and knee."""
    e = np.linspace(0.0, 1.0, SAMPLES)
    for index, (name, curve) in enumerate(curves.items()):
        look: Style = {"color": SERIES[index % 5], "linestyle": DASHES[index % 5]}
        axes.plot(e, curve.signal(e), linewidth=page.points(2), label=name, **look)
    first = next(iter(curves.values()))
    _shade_flat(axes, first, e)
    _mark_knee(page, axes, first, e)
    _legend(page, axes)


def _shade_flat(axes: Axes, curve: Curve, e: Numbers) -> None:
    flat = curve.slope(e) < FLAT
    if flat.any():
        look: Style = {
            "facecolor": RULE,
            "edgecolor": FAINT,
            "hatch": "//",
            "alpha": 0.45,
            "linewidth": 0,
        }
        name = "flat: no detail kept"
        transform = axes.get_xaxis_transform()
        axes.fill_between(e, 0, 1, where=flat, transform=transform, label=name, zorder=0.5, **look)


def _mark_knee(page: Page, axes: Axes, curve: Curve, e: Numbers) -> None:
    """Where the curve leaves the ideal by a visible step for good, going up."""
    apart = np.abs(steps_from_light(light_from_pq(e)) - steps_from_light(_light(curve, e))) >= 1
    if not apart[-1] or apart.all():
        return
    knee = e[len(e) - np.argmin(apart[::-1])]
    look: Style = {"color": INK, "marker": "o", "markersize": page.points(7), "linestyle": "none"}
    name = "leaves the ideal"
    axes.plot([knee], curve.signal([knee]), label=name, markerfacecolor="none", **look)


def _light(curve: Curve, e: Numbers) -> Numbers:
    return light_from_pq(curve.signal(e))


def _legend(page: Page, axes: Axes) -> None:
    axes.lines[0].set_label("as mastered")
    axes.legend(
        loc="lower right",
        facecolor=PAGE,
        edgecolor="none",
        framealpha=0.9,
        fontsize=page.points(SMALL),
        labelcolor=INK,
        handlelength=3.2,
        borderaxespad=0.6,
    )


def _content(page: Page, frame: Frame) -> None:
    """How the frame's brightest channels lie along the axis above, as a plain outline."""
    page.text(LEFT, page.y + 60, "where this frame's light lies", px=SMALL, color=FAINT)
    axes = page.axes(LEFT, page.y + 70, PLOT[0], STRIP)
    e = pq_from_light(_sorted_sample(frame))
    counts, edges = np.histogram(e, bins=200, range=(0.0, 1.0))
    axes.stairs(counts, edges, fill=True, color=SERIES[4], alpha=0.7)
    axes.set(xlim=(0, 1), xticks=[], yticks=[], ylim=(0, max(1, counts.max())))
    axes.spines["left"].set_visible(False)
    page.y += 70 + STRIP


def _sorted_sample(frame: Frame) -> Numbers:
    """Every n-th pixel's brightest channel, about a hundred thousand of them."""
    m = brightest(frame.light).ravel()
    return np.asarray(m[:: max(1, m.size // 100_000)], dtype=np.float64)


def _alt(rendering: Rendering, findings: Findings) -> str:
    curve = f"Tone curve of {rendering.panel.name} ({rendering.curve.text}) against the ideal."
    return f"{curve} {said(findings, 'clipped.curve', 'crushed.curve')}".strip()
