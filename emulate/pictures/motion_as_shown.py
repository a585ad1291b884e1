"""Motion as shown: a moving picture as mastered and as an eye that follows it sees it."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import numpy as np

from emulate.films.motion import HIGH, LOW, Shown, cadence, edge_seen, edge_time, images_at, lit
from emulate.findings.finding import Findings
from emulate.frames.frame import Frame
from emulate.pictures.exposure import slices_of
from emulate.pictures.page import INNER, Drawing, Page, Paper, shortened
from emulate.pictures.pair import GAP, RIM, column_width, matted
from emulate.pictures.sampling import area_mean
from emulate.pictures.sources import SDR_NOTE
from emulate.pictures.style import FAINT, INK, MARGIN, RULE, SERIES, SMALL, Style, look
from emulate.values import Pixels

CROP = (300, column_width() - 2 * RIM)  # frame px of a view, drawn one to one
PLOT = (INNER - 70, 210)  # px
BAR = 22  # px of a strip of the timeline
ROUNDS_S = 0.2  # s of the timeline


@look()
def draw_motion(
    frame: Frame,
    followed: Pixels,
    rate: float | Fraction,
    shown: Shown,
    findings: Findings,
    paper: Paper | None = None,
) -> Drawing:
    """A piece of the frame, still and followed; the edge's light against place; what is shown when.

    followed: light (h, w, 3) [cd/m²] of `as_followed`; findings: of `measure_motion`.
    """
    page = Page(paper or Paper())
    names = ("motion.edge_px", "motion.images", "motion.light", "motion.unevenness")
    page.title("Motion as shown", " ".join(findings[name].sentence for name in names))
    _views(page, frame, followed)
    _edge(page, rate, shown)
    _timeline(page, rate, shown)
    figure = page.finished(f"{shortened(frame.name)}. {findings.basis} {SDR_NOTE}")
    alt = " ".join(findings[name].sentence for name in ("motion.edge", *names))
    return Drawing("motion", "Motion as shown", f"{frame.name} in motion. {alt}", figure)


def _views(page: Page, frame: Frame, followed: Pixels) -> None:
    """The same piece of both, a frame px a page px, at the frame's brightest exposure."""
    rows, columns = (min(n, most) for n, most in zip(frame.shape, CROP, strict=True))
    top, left = ((n - part) // 2 for n, part in zip(frame.shape, (rows, columns), strict=True))
    piece = (slice(top, top + rows), slice(left, left + columns))
    size = page.drawn((rows, columns))
    views = {
        "Still": area_mean(frame.light[piece], size),
        "In motion, to an eye that follows it": area_mean(followed[piece], size),
    }
    for exposure in slices_of(frame.light, followed)[-1:]:
        page.paragraph(exposure.sentence)
        page.y += 4
        y = page.y
        for column, (label, light) in enumerate(views.items()):
            page.y = y
            x = MARGIN + column * (column_width() + GAP)
            bottom = matted(page, x, column_width(), exposure.codes(light), label)
        page.y = bottom + 14


def _edge(page: Page, rate: float | Fraction, shown: Shown) -> None:
    """Light of a followed edge, from 10 to 90 % marked, and the images of a thing."""
    page.heading("A bright edge that moves right, to an eye that follows it")
    axes = page.axes(MARGIN + 56, page.y + 8, *PLOT)
    wide = max(edge_time(rate, shown), 1e-3)
    middles = images_at(rate, shown)
    low, high = min(middles.min() - wide, -1.6 * wide), max(0.6 * wide, middles.max() + 0.6 * wide)
    place = np.linspace(low, high, 1201)
    light = edge_seen(place, rate, shown)
    axes.axhspan(100 * LOW, 100 * HIGH, color=RULE, alpha=0.35, linewidth=0)
    still: Style = {"color": FAINT, "linewidth": page.points(1), "linestyle": (0, (2, 2))}
    axes.plot(
        [1e3 * low, 0, 0, 1e3 * high], [100, 100, 0, 0], label="moving without steps", **still
    )
    axes.plot(1e3 * place, 100 * light, color=SERIES[0], linewidth=page.points(2), label="as shown")
    axes.plot(1e3 * middles, np.full(len(middles), -7), "^", color=SERIES[1],
              markersize=page.points(7), label="middle of an image", clip_on=False)  # fmt: skip
    axes.set(xlim=(1e3 * low, 1e3 * high), ylim=(-4, 106), yticks=[0, 10, 50, 90, 100])
    axes.set_xlabel("place, in ms of the way (times the speed: px)", labelpad=page.points(8))
    axes.set_ylabel("light, %")
    axes.grid(axis="x", color=RULE, linewidth=page.points(0.75))
    axes.legend(loc="upper right", frameon=False, fontsize=page.points(SMALL), labelcolor=INK)
    page.y += 8 + PLOT[1] + 56


def _timeline(page: Page, rate: float | Fraction, shown: Shown) -> None:
    """Which picture is on show when, in turns of two colours, and when there is light."""
    page.heading("What is on show, when")
    tempo = cadence(rate, shown)
    axes = page.axes(MARGIN + 56, page.y + 6, PLOT[0], 2 * BAR + 8)
    count = int(np.ceil(ROUNDS_S * float(rate))) + 1
    starts = tempo.first_refresh(np.arange(count + 1)) / shown.refresh_hz
    for picture, (start, end) in enumerate(pairwise(starts)):
        colour = SERIES[(0, 2)[picture % 2]]
        axes.broken_barh(
            [(1e3 * start, 1e3 * (end - start))], (1.1, 0.8), color=colour, linewidth=0
        )
        if end > start and 1e3 * start < 1e3 * ROUNDS_S:
            axes.text(1e3 * start, 1.5, f" {picture}", va="center", color="white", clip_on=True,
                      fontsize=page.points(SMALL))  # fmt: skip
    flashes = lit(rate, shown)
    length = tempo.refreshes / shown.refresh_hz
    for turn in range(int(np.ceil(ROUNDS_S / length))):
        spans = [(1e3 * (a + turn * length), 1e3 * (b - a)) for a, b in flashes]
        axes.broken_barh(spans, (0.1, 0.8), color=SERIES[3], linewidth=0)
    axes.set(xlim=(0, 1e3 * ROUNDS_S), ylim=(0, 2), yticks=[0.5, 1.5])
    axes.set_yticklabels(["light", "picture"])
    axes.set_xlabel("time, ms", labelpad=page.points(6))
    page.y += 6 + 2 * BAR + 8 + 48
