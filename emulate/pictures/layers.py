"""Layers: maps of loss with nothing under them, to lie over a page's picture of the reference.

Each cause has the colour and texture that it has in the loss map; how opaque a pixel is says how
much of the area under it is lost.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from emulate.findings.finding import Findings
from emulate.findings.results import Cause
from emulate.pictures.loss import KINDS, Kind, textured
from emulate.pictures.sampling import area_mean, cells_drawn
from emulate.pictures.style import CAUSES, STEP_COLOURS, STEP_EDGES, Rgb, rgb, step_colours

OPACITIES = 15  # levels of opacity above none: finer ones are not told apart, and cost bytes; ours
NAMES = ("clipped", "crushed", "detail", "dimmed")  # of KINDS, in their order
GLOW = "halo"


@dataclass(frozen=True, eq=False)
class Overlay:
    """One map: codes (rows, columns, 4) with alpha, and what its colours mean."""

    name: str
    title: str
    codes: Rgb
    causes: tuple[Cause, ...]


def overlays(findings: Findings, size: tuple[int, int]) -> tuple[Overlay, ...]:
    """The maps of a frame's findings at `size` (rows, columns); those that are empty are left out.

    findings: with their maps, as `measure` gives them.
    """
    made = [_loss(name, kind, findings, size) for name, kind in zip(NAMES, KINDS, strict=True)]
    return tuple(each for each in [*made, _halo(findings, size)] if each.codes[..., 3].any())


def legend_colours() -> dict[str, str]:
    """Colour by the key of a cause: those of losses, and of a glow by its steps."""
    steps = {f"{GLOW}-{edge}": c for edge, c in zip(STEP_EDGES, STEP_COLOURS, strict=True)}
    return CAUSES | steps


def _loss(name: str, kind: Kind, findings: Findings, size: tuple[int, int]) -> Overlay:
    bits = findings.maps[kind.source]
    masks = {cause: (bits & bit) != 0 for cause, _, bit, _ in kind.causes}
    count = np.maximum(np.sum(list(masks.values()), axis=0, dtype=np.uint8), 1)
    colours, shares = [], []
    for cause, mask in masks.items():
        colours.append(textured(rgb(CAUSES[cause]), cause, size))
        shares.append(area_mean(mask / count, size) if mask.any() else np.zeros(size, np.float32))
    causes = tuple(Cause(cause, words, found) for cause, words, _, found in kind.causes)
    return Overlay(name, kind.title, _mixed(np.array(colours), np.array(shares)), causes)


def _mixed(colours: Rgb, shares: NDArray[np.float32]) -> Rgb:
    """Codes with alpha of colours (n, rows, columns, 3) by their shares (n, rows, columns)."""
    opaque = shares.sum(axis=0)
    mean = (colours * shares[..., None]).sum(axis=0) / np.maximum(opaque, 1e-9)[..., None]
    return _with_alpha(np.rint(mean).astype(np.uint8), opaque)


def _halo(findings: Findings, size: tuple[int, int]) -> Overlay:
    steps = cells_drawn(findings.maps["halo_steps"], size)
    codes = step_colours(steps, np.zeros((*size, 3), np.uint8))
    causes = tuple(
        Cause(f"{GLOW}-{edge}", f"{edge} visible step{'s' * (edge > 1)} and more", "halo.area")
        for edge in STEP_EDGES
    )
    glows = np.where(steps >= STEP_EDGES[0], 0.8, 0.0)  # the picture shows through; our choice
    return Overlay(GLOW, "Halo: light that should not be there", _with_alpha(codes, glows), causes)


def _with_alpha(codes: Rgb, opaque: NDArray[np.floating]) -> Rgb:
    alpha = np.ceil(np.clip(opaque, 0, 1) * OPACITIES) * (255 // OPACITIES)
    seen = np.where(alpha[..., None] > 0, codes, 0)
    return np.concatenate([seen, alpha[..., None]], axis=-1).astype(np.uint8)
