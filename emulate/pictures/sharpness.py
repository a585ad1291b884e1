"""Sharpness: a star before and after processing, and what is left of it against its fineness."""

from __future__ import annotations

from emulate.findings.sharpness import HALF, Sharpness
from emulate.pictures.exposure import Slice
from emulate.pictures.page import WIDTH, Drawing, Page, Paper
from emulate.pictures.pair import GAP, column_width, matted
from emulate.pictures.sources import said
from emulate.pictures.style import FAINT, MARGIN, RULE, SERIES, Style, look

LEFT = 92  # px for the labels of the axis
PLOT = (WIDTH - LEFT - 40, 260)  # px
WHITE = 250.0  # cd/m² of the drawn star: above its brightest


@look()
def draw_sharpness(measured: Sharpness, paper: Paper | None = None) -> Drawing:
    """The star pixel by pixel before and after, and the contrast left at each length of detail."""
    page = Page(paper or Paper())
    findings = measured.findings
    names = ("star.half", "star.fine", *(n for n in findings if n.startswith("lines.")))
    page.title("Sharpness", f"{findings.basis} {said(findings, *names)}")
    exposure, top = Slice("star", WHITE, 0.0, 0.0), page.y
    shown = {"as it came in": measured.before, "as the panel gets it": measured.after}
    for column, (label, light) in enumerate(shown.items()):
        page.y = top
        x = MARGIN + column * (column_width() + GAP)
        bottom = matted(page, x, column_width(), exposure.codes(light), label)
    page.y = bottom + 26
    _kept(page, measured)
    figure = page.finished(
        f"A star of sines on the PQ signal, drawn pixel by pixel. {exposure.sentence}"
    )
    return Drawing("sharpness", "Sharpness", said(findings, *names), figure)


def _kept(page: Page, measured: Sharpness) -> None:
    page.heading("Contrast left of the star, %")
    axes = page.axes(LEFT, page.y + 8, *PLOT)
    line: Style = {"color": SERIES[0], "linewidth": page.points(2)}
    axes.plot(measured.period, 100 * measured.kept, **line)
    half: Style = {"color": FAINT, "linewidth": page.points(1), "linestyle": (0, (5, 3))}
    axes.axhline(100 * HALF, **half)
    ends = float(measured.period[0]), float(measured.period[-1])
    axes.set(xscale="log", xlim=ends, ylim=(0, max(110.0, 105 * float(measured.kept.max()))))
    ticks = (3, 4, 6, 8, 12, 16, 24)
    axes.set_xticks(ticks, [str(each) for each in ticks])
    axes.minorticks_off()
    axes.set_xlabel("light and dark together, px")
    axes.grid(color=RULE, linewidth=page.points(0.75))
    page.y += 8 + PLOT[1] + 52
