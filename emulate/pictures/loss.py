"""Loss: where the panel shows less than was mastered, and why."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from emulate.findings.evidence import Detail, Loss
from emulate.findings.finding import Findings
from emulate.findings.formatting import share_text
from emulate.frames.frame import Frame
from emulate.pictures.ground import NOTE, ground
from emulate.pictures.page import Drawing, Page, Paper
from emulate.pictures.pair import GAP, LABEL, RIM, column_width
from emulate.pictures.sampling import area_mean, fitted
from emulate.pictures.sources import said, source
from emulate.pictures.style import (
    CAUSES,
    HEADING,
    MARGIN,
    MAT,
    PAGE,
    SMALL,
    Rgb,
    laid_over,
    look,
    rgb,
)
from emulate.rendering import Rendering

TALLEST = 380  # px of one map
LINE = 19  # px of a legend line
DIM = 0.65  # of a cause's colour in the dark part of its texture


@dataclass(frozen=True)
class Kind:
    """One map: which bits of which findings map it shows, each by cause and finding name."""

    title: str
    source: str
    causes: tuple[tuple[str, str, int, str], ...]  # colour, words, bit, finding


KINDS = (
    Kind(
        "Clipped: bright detail held at a ceiling",
        "loss",
        (
            ("curve", "by the tone curve", Loss.CLIPPED_CURVE, "clipped.curve"),
            ("dimming", "by too little light", Loss.CLIPPED_ZONE, "clipped.zone"),
            ("gamut", "by the primaries", Loss.CLIPPED_GAMUT, "clipped.gamut"),
        ),
    ),
    Kind(
        "Crushed: dark detail held at a floor",
        "loss",
        (
            ("curve", "by the tone curve", Loss.CRUSHED_CURVE, "crushed.curve"),
            ("leak", "by light leaking", Loss.CRUSHED_LEAK, "crushed.leak"),
            ("room", "by the room's light", Loss.CRUSHED_ROOM, "crushed.room"),
        ),
    ),
    Kind(
        "Fine detail lost",
        "detail",
        (
            ("curve", "by the tone curve", Detail.LOST_CURVE, "detail.curve"),
            ("dimming", "by dimming", Detail.LOST_DIMMING, "detail.dimming"),
            ("room", "by the room's light", Detail.LOST_ROOM, "detail.room"),
        ),
    ),
    Kind(
        "Small lights dimmed",
        "loss",
        (("dimming", "by too little light", Loss.DIMMED, "dimmed.area"),),
    ),
)


@look()
def draw_loss(
    frame: Frame, rendering: Rendering, findings: Findings, paper: Paper | None = None
) -> Drawing:
    """Four maps, one a kind of loss, each cause in its colour and texture with its area share.

    A drawn pixel mixes the colours by the area they hold in it, as light mixes: a loss too small
    to be seen at this size is faint here too.
    """
    page = Page(paper or Paper())
    page.title("What is lost, where and why", _subtitle(findings))
    size = fitted(frame.shape, (TALLEST, column_width() - 2 * RIM))
    dim = ground(frame.light, page.drawn(size))
    for index, kind in enumerate(KINDS):
        x = MARGIN + index % 2 * (column_width() + GAP)
        y = round(page.y) + index // 2 * (_height(size) + GAP)
        _map(page, x, y, kind, _over(dim, findings.maps[kind.source], kind), findings)
    page.y = round(page.y) + 2 * _height(size) + GAP
    figure = page.finished(f"{source(frame, rendering, findings)} {NOTE}")
    return Drawing("loss", "What is lost, where and why", _alt(frame, rendering, findings), figure)


def _subtitle(findings: Findings) -> str:
    """Clipped and crushed, and a limiter that turns the whole picture down: no map shows that."""
    dimmed = ("dimmed.limiter",) if findings["dimmed.limiter"].value < 1 else ()
    return said(findings, "clipped.area", "crushed.area", *dimmed)


def _height(size: tuple[int, int]) -> int:
    return LABEL + 4 + size[0] + RIM + 3 * LINE + 4


def _map(page: Page, x: int, y: int, kind: Kind, codes: Rgb, findings: Findings) -> None:
    rows, columns = (side // page.paper.scale for side in codes.shape[:2])
    width = column_width()
    page.mat(x, y, width, _height((rows, columns)), MAT)
    page.text(x + RIM, y + LABEL / 2 + 2, kind.title, px=HEADING, color=PAGE, weight="bold")
    page.image(x + (width - columns) // 2, y + LABEL + 4, codes, (rows, columns))
    below = y + LABEL + 4 + rows + RIM
    for index, (cause, words, _, name) in enumerate(kind.causes):
        line = below + index * LINE
        page.image(x + RIM, line + 2, textured(rgb(CAUSES[cause]), cause, (12, 26)))
        label = f"{words}: {share_text(findings[name].value)} of the picture"
        page.text(x + RIM + 34, line + 8, label, px=SMALL, color=PAGE)


def _over(dim: Rgb, bits: NDArray[np.uint8], kind: Kind) -> Rgb:
    """The map's colours over the ground; where causes meet, each has its part of the pixel."""
    masks = {cause: (bits & bit) != 0 for cause, _, bit, _ in kind.causes}
    together = np.maximum(np.sum(list(masks.values()), axis=0, dtype=np.uint8), 1)
    size = (dim.shape[0], dim.shape[1])
    return laid_over(
        dim,
        [
            (textured(rgb(CAUSES[cause]), cause, size), area_mean(mask / together, size))
            for cause, mask in masks.items()
            if mask.any()
        ],
    )


def textured(colour: Rgb, cause: str, size: tuple[int, int]) -> Rgb:
    """`colour` over `size` in the texture of its cause: the second sign beside colour."""
    row, column = np.indices(size)
    dark = {
        "curve": np.zeros(size, dtype=bool),
        "dimming": (row + column) % 6 < 2,
        "gamut": (row % 4 < 2) & (column % 4 < 2),
        "leak": row % 4 < 1,
        "room": column % 4 < 1,
    }[cause]
    return np.where(dark[..., None], np.rint(colour * DIM), colour).astype(np.uint8)


def _alt(frame: Frame, rendering: Rendering, findings: Findings) -> str:
    seen = f"{_subtitle(findings)} {said(findings, 'detail.area', 'dimmed.area')}"
    return f"Loss map of {frame.name} on {rendering.panel.name}. {seen}".strip()
