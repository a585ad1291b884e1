"""Halo: where light leaks around bright things, in visible steps, and as it would look."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from emulate.findings.finding import Findings
from emulate.findings.halo import SOURCE_SHARE
from emulate.frames.frame import Frame
from emulate.pictures.exposure import slices
from emulate.pictures.ground import NOTE, ground
from emulate.pictures.page import Drawing, Page, Paper
from emulate.pictures.sampling import area_mean, cells_drawn
from emulate.pictures.scales import size_beside, slice_bar, step_bar, with_scale
from emulate.pictures.sources import SDR_NOTE, said, source
from emulate.pictures.style import FAINT, PAGE, look, step_colours
from emulate.rendering import Rendering
from emulate.transfer import LUMINANCE_2020

TALLEST = 440  # px of either picture


@look()
def draw_halo(
    frame: Frame, rendering: Rendering, findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Halo map in visible steps, and the panel's picture at its darkest slice beside a scale.

    The map has one square a cell of 0.1°; below one step it is left empty. Cells asked for a tenth
    or more of the panel's full light are outlined. The slice keeps the true ratio of halo to black.
    """
    page = Page(paper or Paper())
    page.title("Halo", said(findings, "halo.area", "halo.worst"))
    size = size_beside(frame.shape, TALLEST)
    _map(page, frame, rendering, findings, size)
    page.y += 18
    _slice(page, frame, rendering, size)
    figure = page.finished(f"{source(frame, rendering, findings)} {NOTE} {SDR_NOTE}")
    return Drawing("halo", "Halo", _alt(frame, rendering, findings), figure)


def _map(
    page: Page, frame: Frame, rendering: Rendering, findings: Findings, size: tuple[int, int]
) -> None:
    page.heading("Light that should not be there, in visible steps")
    page.paragraph(
        "One step is just noticeable to the most critical eye; under one nothing is drawn. "
        "Lights are outlined.",
        color=FAINT,
    )
    page.y += 6
    steps, drawn = findings.maps["halo_steps"], page.drawn(size)
    codes = step_colours(cells_drawn(steps, drawn), ground(frame.light, drawn))
    x, y = with_scale(page, codes, size, step_bar)
    _outline(page, (x, y), _lights(rendering, (steps.shape[0], steps.shape[1])), size)


def _slice(page: Page, frame: Frame, rendering: Rendering, size: tuple[int, int]) -> None:
    exposure = slices(frame, rendering)[0]
    page.heading(f"The panel's picture, {exposure.name}")
    page.paragraph(exposure.sentence)
    page.paragraph(exposure.warning, color=FAINT)
    page.y += 6
    codes = exposure.codes(area_mean(rendering.light, page.drawn(size)))
    with_scale(page, codes, size, slice_bar(exposure))


def _lights(rendering: Rendering, cells: tuple[int, int]) -> NDArray[np.bool_]:
    """Cells whose mean luminance is asked to be bright enough to be what a zone was lit for."""
    luminance = rendering.asked @ LUMINANCE_2020.astype(np.float32)
    return area_mean(luminance, cells) >= SOURCE_SHARE * rendering.panel.open_cdm2


def _outline(
    page: Page, corner: tuple[int, int], inside: NDArray[np.bool_], size: tuple[int, int]
) -> None:
    """Lines between cells that are in and cells that are not."""
    tall, wide = size[0] / inside.shape[0], size[1] / inside.shape[1]
    padded = np.pad(inside, 1)
    across = np.argwhere(padded[1:, 1:-1] != padded[:-1, 1:-1])
    down = np.argwhere(padded[1:-1, 1:] != padded[1:-1, :-1])
    segments = [((c, r), (c + 1, r)) for r, c in across] + [((c, r), (c, r + 1)) for r, c in down]
    scaled = np.array(segments, dtype=np.float64).reshape(-1, 2, 2) * (wide, tall) + corner
    page.lines(scaled, color=PAGE)


def _alt(frame: Frame, rendering: Rendering, findings: Findings) -> str:
    seen = said(findings, "halo.area", "halo.brightest", "halo.reach")
    return f"Halo map of {frame.name} on {rendering.panel.name}. {seen}".strip()
