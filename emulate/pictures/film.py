"""Film: what a panel loses of a clip, along its time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from emulate.films.film import ClipFindings
from emulate.findings.formatting import timecode
from emulate.findings.headline import headline
from emulate.pictures.exposure import written
from emulate.pictures.page import WIDTH, Drawing, Page, Paper, shortened
from emulate.pictures.style import DASHES, FAINT, INK, RULE, SERIES, SMALL, Style, look
from emulate.transfer import pq_from_light
from emulate.values import Numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LEFT, RIGHT = 92, 190  # px for labels of the light axis, and for names beside the lines
HEIGHT, GAP = 120, 26  # px of a lane and between two
LIGHTS = (0.1, 1.0, 10.0, 100.0, 1000.0, 10000.0)  # cd/m², on an axis even in visible steps
TIMES = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1200, 3600)  # s between labels
LABELS = 8  # time labels at most
SMALLEST_TOP = 1.0  # %: a lane of shares is at least as high, so that nothing looks like much


@dataclass(frozen=True)
class Lane:
    """One strip of the page: its title, its lines (column and words), and how values are drawn."""

    title: str
    lines: tuple[tuple[str, str], ...]
    drawn: Callable[[Numbers], Numbers]


def _per_cent(share: Numbers) -> Numbers:
    return 100.0 * share


LANES = (
    Lane(
        "Lost, % of the picture",
        (
            ("clipped.area", "clipped"),
            ("crushed.area", "crushed"),
            ("detail.area", "fine detail"),
            ("halo.area", "glow"),
            ("dimmed.area", "small lights dimmed"),
        ),
        _per_cent,
    ),
    Lane(
        "Fluctuates though the picture is still, % of the picture",
        (
            ("fluctuation.indecision", "zones lit for others"),
            ("fluctuation.lag", "zones late"),
            ("fluctuation.limiter", "limiter pumps"),
            ("fluctuation.curve", "tone curve moves"),
        ),
        _per_cent,
    ),
    Lane(
        "Light late, % of the picture",
        (("lag.trailing", "left over"), ("lag.leading", "still missing")),
        _per_cent,
    ),
    Lane(
        "Backlight, % of full",
        (
            ("light.drive", "mean drive"),
            ("light.drive_max", "brightest zone"),
            ("light.gain", "limiter's gain"),
        ),
        _per_cent,
    ),
    Lane(
        "Content, cd/m²",
        (
            ("content.max_cll", "brightest pixel"),
            ("content.max_fall", "average"),
            ("light.curve_peak", "tone curve's peak"),
        ),
        pq_from_light,
    ),
)


@look()
def draw_film(found: ClipFindings, paper: Paper | None = None) -> Drawing:
    """Losses, unsteadiness, backlight and content against time, with cuts, damage and moments."""
    page = Page(paper or Paper())
    page.title("What is lost along the film", _summary(found))
    for number, lane in enumerate(LANES):
        _lane(page, lane, found, last=number == len(LANES) - 1, first=number == 0)
    page.paragraph(_legend(found), px=SMALL, color=FAINT)
    figure = page.finished(_source(found))
    return Drawing("film", "What is lost along the film", _alt(found), figure)


def _lane(page: Page, lane: Lane, found: ClipFindings, *, first: bool, last: bool) -> None:
    page.heading(lane.title)
    page.y += 12
    width = WIDTH - LEFT - RIGHT
    axes = page.axes(LEFT, page.y, width, HEIGHT)
    _lines(page, axes, lane, found)
    _marks(page, axes, found, moments=first)
    _times(page, axes, found, labelled=last)
    page.y += HEIGHT + GAP


def _lines(page: Page, axes: Axes, lane: Lane, found: ClipFindings) -> None:
    time_s, top = found.table.time_s, 0.0
    for number, (name, words) in enumerate(lane.lines):
        values = lane.drawn(found.table[name])
        known = values[~np.isnan(values)]
        top = max(top, float(known.max(initial=0.0)))
        style: Style = {"color": SERIES[number], "linestyle": DASHES[number]}
        axes.plot(time_s, values, linewidth=page.points(1.5), label=words, **style)
    axes.grid(axis="y", color=RULE, linewidth=page.points(0.75))
    if lane.drawn is pq_from_light:
        axes.set(ylim=(0, 1), yticks=pq_from_light(LIGHTS))
        axes.set_yticklabels([written(light) for light in LIGHTS])
    else:
        axes.set_ylim(0, 1.08 * max(top, SMALLEST_TOP))
    axes.legend(
        loc="upper left",
        bbox_to_anchor=(1.01, 1.02),
        frameon=False,
        fontsize=page.points(SMALL),
        labelcolor=INK,
        handlelength=2.6,
        borderaxespad=0.0,
    )


def _marks(page: Page, axes: Axes, found: ClipFindings, *, moments: bool) -> None:
    """Cuts as lines, damage as hatched stretches, the worst moments as marks on the top edge."""
    for cut in found.cuts:
        axes.axvline(cut, color=FAINT, linewidth=page.points(0.75), linestyle=(0, (1, 2)))
    for damage in found.damage:
        look: Style = {"facecolor": RULE, "edgecolor": FAINT, "hatch": "//", "linewidth": 0}
        axes.axvspan(damage.start_s, damage.end_s, **look)
    if moments and found.moments:
        times = sorted({moment.time_s for moment in found.moments})
        style: Style = {"marker": "v", "color": INK, "linestyle": "none", "clip_on": False}
        transform = axes.get_xaxis_transform()
        size = page.points(7)
        axes.plot(times, np.ones(len(times)), transform=transform, markersize=size, **style)


def _times(page: Page, axes: Axes, found: ClipFindings, *, labelled: bool) -> None:
    begin, end = found.scenes[0].start_s, found.scenes[-1].end_s
    every = next((step for step in TIMES if (end - begin) / step <= LABELS), TIMES[-1])
    at = np.arange(np.ceil(begin / every - 1e-9), np.floor(end / every + 1e-9) + 1) * every
    axes.set(xlim=(begin, end), xticks=at)
    axes.set_xticklabels([_short(time_s, every) for time_s in at] if labelled else [])
    if labelled:
        axes.set_xlabel("time in the clip", labelpad=page.points(4))
        page.y += 24


def _short(time_s: float, every: float) -> str:
    """Minutes and seconds, with tenths where labels are that close."""
    whole = timecode(time_s)
    return whole[3:10] if every < 1 else whole[3:8] if time_s < 3600 else whole[:8]


def _summary(found: ClipFindings) -> str:
    scenes = len(found.scenes)
    span = timecode(found.scenes[-1].end_s - found.scenes[0].start_s)
    return (
        f"{len(found.table)} frames over {span}, in {scenes} scene{'s' * (scenes > 1)}. "
        f"{headline(found.film)[0]}"
    )


def _legend(found: ClipFindings) -> str:
    words = ["Triangles: the worst moments of each loss, with a still each."]
    if len(found.cuts):
        words.append("Dotted lines: scene cuts.")
    if found.damage:
        words.append("Hatched: stretches that could not be read.")
    return " ".join(words)


def _source(found: ClipFindings) -> str:
    doubts = len(found.caveats)
    said = f" {doubts} doubt{'s' * (doubts > 1)} listed with the findings." if doubts else ""
    names = f"Clip: {shortened(found.clip)}. Panel: {shortened(found.panel)}."
    return f"{names} {found.film.basis}{said}"


def _alt(found: ClipFindings) -> str:
    names = ("clipped.area", "crushed.area", "detail.area", "halo.area", "fluctuation.area")
    seen = " ".join(found.film[name].sentence for name in names)
    return f"{found.clip} on {found.panel}, along its time. {seen}"
