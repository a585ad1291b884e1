"""Tone curve: what the panel asks of itself for each light of the reference, against the ideal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from emulate.findings.finding import Findings
from emulate.findings.formatting import steps_text
from emulate.frames.frame import Frame
from emulate.panel.curves import FLAT, Curve
from emulate.panel.panel import Panel
from emulate.panel.tone import ON_FILE
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
TOUCHING = 5  # samples, two px, under which flat parts are drawn as one
ON_IDEAL = 0.1  # of the PQ signal: a shorter stretch within a step of the ideal crosses it; ours
AT = 100.0  # cd/m² at which it is told how far off a curve is that is off from the start; ours
BAR = 0.018  # of the plot's height from one bar to the next


@look()
def draw_curve(
    frame: Frame,
    rendering: Rendering,
    findings: Findings,
    paper: Paper | None = None,
    others: Mapping[str, Curve] | None = None,
    name: str = "this panel",
    foot: str = "",
) -> Drawing:
    """The curve that acted, the ideal, where it keeps no detail, and where the frame's light lies.

    Both axes are even in visible steps. others: more curves by name, to compare, each with a bar
    along the top where it keeps no detail; name: of the first; foot: the source line, if not that
    of frame and panel.
    """
    page = Page(paper or Paper())
    page.title("Tone curve", "What the panel asks for against what was mastered.")
    axes = curve_axes(page, LEFT, page.y + 6, *PLOT)
    text = curve_text(rendering.curve, rendering.panel)
    curves = {f"{name}: {text}": rendering.curve} | dict(others or {})
    draw_curves(page, axes, curves)
    page.y += 6 + PLOT[1]
    _content(page, frame)
    figure = page.finished(foot or source(frame, rendering, findings))
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


def curve_text(curve: Curve, panel: Panel) -> str:
    """Which curve it is; of one on file, whether readings made it."""
    fitted = curve.text.startswith(ON_FILE) and panel.fit
    return f"{curve.text}, fitted to readings" if fitted else curve.text


def draw_curves(page: Page, axes: Axes, curves: Mapping[str, Curve]) -> None:
    """Curves in our colours and dashes with their names, their flat parts and their knees."""
    e = np.linspace(0.0, 1.0, SAMPLES)
    for index, (name, curve) in enumerate(curves.items()):
        axes.plot(
            e,
            curve.signal(e),
            linewidth=page.points(2),
            label=_told(name, curve, e),
            **_series(index),
        )
    if len(curves) == 1:
        _shade_flat(axes, next(iter(curves.values())), e)
    else:
        _bar_flat(page, axes, list(curves.values()), e)
    _mark_knees(page, axes, list(curves.values()), e)
    _legend(page, axes)


def flat_parts(curve: Curve, e: Numbers) -> list[tuple[float, float]]:
    """From and to [PQ signal] where a curve keeps no detail, at the samples e (n,); what is apart
    by less than a px or two is one."""
    flat = np.flatnonzero(curve.slope(e) < FLAT)
    if not flat.size:
        return []
    runs = np.split(flat, np.flatnonzero(np.diff(flat) > TOUCHING) + 1)
    return [(float(e[run[0]]), float(e[run[-1]])) for run in runs if len(run) > 1]


def _series(index: int) -> Style:
    return {"color": SERIES[index % 5], "linestyle": DASHES[index % 5]}


def _shade_flat(axes: Axes, curve: Curve, e: Numbers) -> None:
    look: Style = {"facecolor": RULE, "edgecolor": FAINT, "hatch": "//", "alpha": 0.45}
    for index, (low, high) in enumerate(flat_parts(curve, e)):
        label = None if index else "flat: no detail kept"
        axes.axvspan(low, high, linewidth=0, zorder=0.5, label=label, **look)


def _bar_flat(page: Page, axes: Axes, curves: Sequence[Curve], e: Numbers) -> None:
    """A bar a curve along the top, in its colour and dashes, the first uppermost."""
    apart, thick = min(BAR, 0.5 / len(curves)), page.points(5)
    for index, curve in enumerate(curves):
        for part in flat_parts(curve, e):
            at = 1 - (index + 1) * apart
            style: Style = _series(index) | {"linewidth": thick, "dash_capstyle": "butt"}
            axes.plot(part, [at, at], solid_capstyle="butt", **style)
    if any(flat_parts(curve, e) for curve in curves):
        label = "bars at the top: flat, no detail kept"
        axes.plot([], [], color=FAINT, linewidth=thick, solid_capstyle="butt", label=label)


def _mark_knees(page: Page, axes: Axes, curves: Sequence[Curve], e: Numbers) -> None:
    """Where each curve leaves the ideal by a visible step, going up."""
    label: str | None = "leaves the ideal by a visible step"
    for index, curve in enumerate(curves):
        knee = _knee(curve, e)
        if knee is None:
            continue
        colour = INK if len(curves) == 1 else SERIES[index % 5]
        style: Style = {"color": colour, "marker": "o", "markersize": page.points(7)}
        style |= {"linestyle": "none", "markerfacecolor": "none", "label": label}
        axes.plot([knee], curve.signal([knee]), **style)
        label = None


def _off(curve: Curve, e: Numbers) -> Numbers:
    """How far above the ideal a curve lies [visible steps], at the samples e (n,)."""
    return steps_from_light(_light(curve, e)) - steps_from_light(light_from_pq(e))


def _longest_on(curve: Curve, e: Numbers) -> tuple[int, int]:
    """First and last sample of the longest stretch that lies within a step of the ideal."""
    edges = np.flatnonzero(np.diff(np.abs(_off(curve, e)) < 1, prepend=False, append=False))
    runs = [(int(first), int(end) - 1) for first, end in zip(edges[::2], edges[1::2], strict=True)]
    return max(runs, key=lambda run: run[1] - run[0], default=(0, 0))


def _knee(curve: Curve, e: Numbers) -> float | None:
    """Where the longest stretch on the ideal ends [PQ signal]; None where it never does, or where
    there is none worth the name: a curve that crosses the ideal does not leave it there."""
    first, last = _longest_on(curve, e)
    short = e[last] - e[first] < ON_IDEAL
    return None if short or last == len(e) - 1 else float(e[last + 1])


def _told(name: str, curve: Curve, e: Numbers) -> str:
    """A curve's name in the legend, and that it is never on the ideal where that is so."""
    first, last = _longest_on(curve, e)
    if e[last] - e[first] >= ON_IDEAL:
        return name
    off = float(_off(curve, pq_from_light([AT]))[0])
    side, at = "above" if off > 0 else "below", written(AT)
    return f"{name}; {side} the ideal from the start, by {steps_text(abs(off))} at {at} cd/m²"


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
    text = curve_text(rendering.curve, rendering.panel)
    curve = f"Tone curve of {rendering.panel.name} ({text}) against the ideal."
    return f"{curve} {said(findings, 'clipped.curve', 'crushed.curve')}".strip()
