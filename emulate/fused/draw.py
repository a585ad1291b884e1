"""Second pass: the light itself, pixel by pixel, where somebody asks for it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate._kernels.passes import Show, draw_pass
from emulate.fused.sketch import CAUSE_BITS, EVERY, WEIGHTS, Sketch, shown_matrices
from emulate.fused.tiles import bands, plain_edges, tiles
from emulate.fused.workspace import Workspace, on_a_line, working
from emulate.values import Pixels, locked


class Lit(NamedTuple):
    """light (h, w, 3) and backlight (h, w) [cd/m²] float32, as `Rendering` has them."""

    light: Pixels
    backlight: Pixels


class Drawn(NamedTuple):
    """The same with what is asked (h, w, 3), and why (h, w) uint8."""

    light: Pixels
    backlight: Pixels
    asked: Pixels
    why: NDArray[np.uint8]


def lit(sketch: Sketch) -> Lit:
    """Light and backlight; in a workspace that keeps, in its memory until its next frame."""
    shape, keeper = sketch.frame.shape, sketch.work
    if keeper is None or keeper.closed or not keeper.keeps:
        found = Lit(on_a_line((*shape, 3)), on_a_line(shape))
        with working(keeper) as work:
            draw_into(sketch, work, *found)
    else:
        found = Lit(keeper.light(shape), keeper.buffer("backlight", shape, np.float32))
        draw_into(sketch, keeper, *found, kept=True)
    return Lit(*(locked(each) for each in found))


def drawn(sketch: Sketch) -> Drawn:
    """Everything a rendering shows, in memory of its own."""
    shape = sketch.frame.shape
    light, asked = (on_a_line((*shape, 3)) for _ in range(2))
    pictures = Drawn(light, on_a_line(shape), asked, np.empty(shape, np.uint8))
    with working(sketch.work) as work:
        draw_into(sketch, work, *pictures)
    return Drawn(*(locked(each) for each in pictures))


def draw_into(
    sketch: Sketch,
    work: Workspace,
    light: Pixels,
    backlight: Pixels,
    asked: Pixels | None = None,
    why: NDArray[np.uint8] | None = None,
    *,
    kept: bool = False,
) -> None:
    """Fills light (h, w, 3) and backlight (h, w) [cd/m²], and what is asked and why, if wanted.

    kept: `light` holds what the first pass kept.
    """
    height, width = sketch.frame.shape
    show = _show(sketch, light, backlight, asked, why, kept)
    edges, columns = plain_edges(height, EVERY), tiles(plain_edges(width, EVERY))
    work.each_with_scratch(
        0,
        lambda scratch, b: draw_pass(
            scratch,
            b[1],
            b[2],
            width,
            edges,
            columns,
            sketch.source,
            sketch.tone,
            sketch.cell,
            sketch.lamps,
            WEIGHTS,
            show,
        ),
        bands(edges.size - 1),
    )


def _show(
    sketch: Sketch,
    light: Pixels,
    backlight: Pixels,
    asked: Pixels | None,
    why: NDArray[np.uint8] | None,
    kept: bool,
) -> Show:
    out, plain = shown_matrices(sketch)
    wanted = 1 if asked is None else 2
    return Show(
        out=out,
        plain=plain,
        reflected=np.float32(sketch.reflected),
        bits=CAUSE_BITS,
        wanted=wanted,
        kept=int(kept),
        light=light.reshape(-1),
        asked=_NO_LIGHT if asked is None else asked.reshape(-1),
        backlight=backlight.reshape(-1),
        why=_NO_CODES if why is None else why.reshape(-1),
    )


_NO_LIGHT = np.zeros(1, np.float32)  # where nothing is written
_NO_CODES = np.zeros(1, np.uint8)
