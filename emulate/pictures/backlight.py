"""Backlight: how much light stands behind the picture, and how each zone is driven."""

from __future__ import annotations

import numpy as np

from emulate.findings.finding import Findings
from emulate.findings.formatting import share_text
from emulate.frames.frame import Frame
from emulate.panel.zones import Zones, zone_edges
from emulate.pictures.page import Drawing, Page, Paper
from emulate.pictures.sampling import area_mean
from emulate.pictures.scales import light_bar, size_beside, with_scale
from emulate.pictures.sources import said, source
from emulate.pictures.style import INK, PAGE, SMALL, amount_colours, look
from emulate.rendering import Rendering
from emulate.values import Numbers, Pixels

TALLEST = 520  # px of picture
FEWEST, MOST = 2, 5  # decades shown below the panel's full light: no less, lest little looks much
ROOM_FOR_DRIVE = (30, 16)  # px of zone (width, height) for its drive to be written in it
ROOM_FOR_GRID = 5  # px of zone for its border to be drawn
LIGHT_FROM = 0.6  # of the colours for amounts: from here dark type reads better


@look()
def draw_backlight(
    frame: Frame, rendering: Rendering, findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Backlight B in cd/m² on a logarithmic scale, with the zone grid and drives where they fit.

    The scale ends at the panel's full light and runs down two to five whole decades, as the
    picture needs.
    """
    page = Page(paper or Paper())
    page.title("Backlight", _subtitle(rendering))
    size = size_beside(frame.shape, TALLEST)
    light, top = area_mean(rendering.backlight, page.drawn(size)), rendering.panel.open_cdm2
    low = _foot(light, top)
    codes = amount_colours(_share(light, low, top))
    corner = with_scale(page, codes, size, light_bar(low, top))
    if isinstance(rendering.panel.zones, Zones):
        _grid(page, corner, size, rendering, low)
    figure = page.finished(source(frame, rendering, findings))
    return Drawing("backlight", "Backlight", _alt(frame, rendering, findings), figure)


def _subtitle(rendering: Rendering) -> str:
    zones = rendering.panel.zones
    gain = f"The limiter leaves {share_text(rendering.gain)} of the light."
    if not isinstance(zones, Zones):
        return f"Every pixel is its own light: no zones. {gain}"
    return f"{zones.columns} × {zones.rows} zones, driven in per cent of full light. {gain}"


def _foot(light: Pixels, top: float) -> float:
    darkest = max(float(light.min()), top / 10**MOST)
    decades = int(np.ceil(np.log10(top / darkest)))
    return float(top / 10.0 ** min(max(decades, FEWEST), MOST))


def _share(light: Pixels, low: float, top: float) -> Numbers:
    return np.asarray(np.log10(np.maximum(light, low) / low) / np.log10(top / low))


def _grid(
    page: Page, corner: tuple[int, int], size: tuple[int, int], rendering: Rendering, low: float
) -> None:
    """Zone borders and drives, each only where zones are large enough on the page."""
    (x, y), (down, right) = corner, size
    rows, columns = rendering.drive.shape
    height, width = rendering.backlight.shape
    ys = y + np.array(zone_edges(rows, height)) * down / height
    xs = x + np.array(zone_edges(columns, width)) * right / width
    if min(down / rows, right / columns) >= ROOM_FOR_GRID:
        across = [((x, at), (x + right, at)) for at in ys[1:-1]]
        page.lines(
            np.array(across + [((at, y), (at, y + down)) for at in xs[1:-1]]),
            alpha=0.45,
            capstyle="butt",
        )
    if right / columns >= ROOM_FOR_DRIVE[0] and down / rows >= ROOM_FOR_DRIVE[1]:
        _drives(page, (ys, xs), rendering, low)


def _drives(page: Page, edges: tuple[Numbers, Numbers], rendering: Rendering, low: float) -> None:
    ys, xs = ((edge[1:] + edge[:-1]) / 2 for edge in edges)
    rows, columns = rendering.drive.shape
    means = area_mean(rendering.backlight, (rows, columns))
    light = _share(means, low, rendering.panel.open_cdm2) > LIGHT_FROM
    for (row, column), drive in np.ndenumerate(rendering.drive):
        colour = INK if light[row, column] else PAGE
        words = f"{100 * drive:.0f}"
        page.text(float(xs[column]), float(ys[row]), words, px=SMALL, color=colour, ha="center")


def _alt(frame: Frame, rendering: Rendering, findings: Findings) -> str:
    where = f"Light behind {frame.name} on {rendering.panel.name}, from dark to bright."
    return f"{where} {_subtitle(rendering)} {said(findings, 'halo.area')}".strip()
