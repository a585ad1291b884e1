"""Pan: where the screen looks dirty while grey passes over it, a map for each level."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from emulate.findings.formatting import light_text
from emulate.findings.panning import Pan
from emulate.pictures.page import Drawing, Page, Paper
from emulate.pictures.sampling import cells_drawn
from emulate.pictures.scales import size_beside, step_bar, with_scale
from emulate.pictures.sources import readings_source, said
from emulate.pictures.style import FAINT, MAT, look, rgb, step_colours

TALLEST = 300  # px of a map


@look()
def draw_pan(pans: Sequence[Pan], paper: Paper | None = None) -> Drawing:
    """A map for each level of what stays on the screen, in visible steps either way.

    One square a cell of 0.1°; below one step it is left empty.
    """
    page = Page(paper or Paper())
    page.title(
        "A pan across grey",
        "What stays in place while soft grey bands pass, in visible steps lighter or darker than "
        "its surroundings. Under one step nothing is drawn; slow shading is left out.",
    )
    for pan in pans:
        _level(page, pan)
    figure = page.finished(readings_source(pans[0].findings))
    told = " ".join(said(pan.findings, "dirt.worst", "dirt.area") for pan in pans)
    return Drawing("pan", "A pan across grey", told, figure)


def _level(page: Page, pan: Pan) -> None:
    page.heading(f"Grey of {light_text(pan.level)}")
    names = ("dirt.worst", "dirt.area", *(n for n in pan.findings if n.startswith("grid.")))
    page.paragraph(said(pan.findings, *names), color=FAINT)
    page.y += 6
    rows, columns = pan.dirt.shape
    size = size_beside((rows, columns), TALLEST)
    drawn = page.drawn(size)
    ground = np.broadcast_to(rgb(MAT), (*drawn, 3))
    with_scale(page, step_colours(cells_drawn(np.abs(pan.dirt), drawn), ground), size, step_bar)
    page.y += 18
