"""Pair: reference and panel side by side, at the same stated exposure."""

from __future__ import annotations

from emulate.findings.finding import Findings
from emulate.findings.headline import headline
from emulate.frames.frame import Frame
from emulate.pictures.exposure import Slice, slices
from emulate.pictures.page import INNER, Drawing, Page, Paper, shortened
from emulate.pictures.sampling import area_mean, fitted
from emulate.pictures.sources import SDR_NOTE, source
from emulate.pictures.style import FAINT, MARGIN, MAT, PAGE, SMALL, Rgb, look
from emulate.rendering import Rendering
from emulate.values import Pixels

GAP = 12  # px between the mats
RIM = 8  # px of mat around a picture
LABEL = 22  # px of mat above it
TALLEST = 420  # px of picture


@look()
def draw_pair(
    frame: Frame, rendering: Rendering, findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Reference and panel at each exposure slice of the frame, darkest first.

    One drawn pixel is the mean light of the frame's area under it.
    """
    page = Page(paper or Paper())
    page.title("Reference and panel", "Each pair is one plain exposure: no tone mapping, no mix.")
    views = _views(frame, rendering, page)
    for exposure in slices(frame, rendering):
        _row(page, exposure, views, rendering.panel.name)
    figure = page.finished(f"{source(frame, rendering, findings)} {SDR_NOTE}")
    return Drawing("pair", "Reference and panel", _alt(frame, rendering, findings), figure)


def column_width() -> int:
    """Page px of one of the two mats."""
    return (INNER - GAP) // 2


def _views(frame: Frame, rendering: Rendering, page: Page) -> tuple[Pixels, Pixels]:
    rows, columns = fitted(frame.shape, (TALLEST, column_width() - 2 * RIM))
    size = page.drawn((rows, columns))
    return area_mean(frame.light, size), area_mean(rendering.light, size)


def _row(page: Page, exposure: Slice, views: tuple[Pixels, Pixels], panel: str) -> None:
    page.heading(exposure.name.capitalize())
    page.paragraph(exposure.sentence)
    if exposure.warning:
        page.paragraph(exposure.warning, color=FAINT)
    page.y += 6
    labels = ("Reference", f"Panel: {shortened(panel)}")
    for column, (light, label) in enumerate(zip(views, labels, strict=True)):
        x = MARGIN + column * (column_width() + GAP)
        bottom = matted(page, x, column_width(), exposure.codes(light), label)
    page.y = bottom + 18


def matted(page: Page, x: int, width: int, codes: Rgb, label: str) -> int:
    """A picture in the middle of a mat at the page's foot, under its label; the mat's bottom."""
    rows, columns = (int(side) // page.paper.scale for side in codes.shape[:2])
    top = round(page.y)
    page.mat(x, top, width, LABEL + rows + RIM, MAT)
    page.text(x + RIM, top + LABEL / 2 + 1, label, px=SMALL, color=PAGE)
    page.image(x + (width - columns) // 2, top + LABEL, codes, (rows, columns))
    return top + LABEL + rows + RIM


def _alt(frame: Frame, rendering: Rendering, findings: Findings) -> str:
    seen = " ".join(headline(findings))
    pair = f"{frame.name} as mastered and on {rendering.panel.name}, side by side."
    return f"{pair} {seen}".strip()
