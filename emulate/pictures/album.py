"""Album: every picture of one frame on one panel."""

from __future__ import annotations

import os
from collections.abc import Callable

from emulate.findings.finding import Findings
from emulate.frames.frame import Frame
from emulate.pictures.backlight import draw_backlight
from emulate.pictures.curve import draw_curve
from emulate.pictures.halo import draw_halo
from emulate.pictures.loss import draw_loss
from emulate.pictures.page import Drawing, Paper, Picture, save_drawings
from emulate.pictures.pair import draw_pair
from emulate.rendering import Rendering

DRAW: tuple[Callable[[Frame, Rendering, Findings, Paper | None], Drawing], ...] = (
    draw_pair,
    draw_loss,
    draw_halo,
    draw_backlight,
    draw_curve,
)


def draw_all(
    frame: Frame,
    rendering: Rendering,
    findings: Findings,
    folder: str | os.PathLike[str],
    *,
    paper: Paper | None = None,
    ending: str = ".png",
) -> list[Picture]:
    """Pair, loss, halo, backlight and curve of one frame, saved into `folder`, which is made.

    ending: .png, .svg or .pdf. Raises RequestError for another, OutputError where the folder cannot
    be written.
    """
    drawings = (draw(frame, rendering, findings, paper) for draw in DRAW)
    return save_drawings(drawings, folder, ending)
