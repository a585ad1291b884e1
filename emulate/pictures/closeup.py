"""Close-up: the spot where a panel loses most that an eye can see, found by a rule.

The rule: a window an eighth of the picture wide and high is laid over the active picture at every
pixel, and the one that holds the most visible loss is taken. A pixel counts with its ΔE_ITP
(visible steps, ITU-R BT.2124) where a finding marks it as clipped, crushed, dimmed, or as having
lost fine detail; elsewhere, with the visible steps of the glow it lies in; elsewhere with nothing.
Of equal windows the first in reading order is taken. Where no finding marks anything, ΔE_ITP itself
is counted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from emulate.findings.evidence import CLIPPED, CRUSHED, LOST, Loss
from emulate.findings.finding import Findings
from emulate.findings.formatting import share_text, steps_text
from emulate.findings.headline import SPOKEN
from emulate.frames.frame import Frame
from emulate.pictures.exposure import brightest, rounded_up
from emulate.pictures.sampling import cells_drawn
from emulate.rendering import Rendering
from emulate.values import Numbers, Pixels

PART = 8  # windows along each side of the picture; our choice
LARGEST = 320  # px of a close-up's longer side: larger windows are shown smaller; our choice
SHOWN = 0.9  # of the loss in a close-up lies in light below its white; our choice


@dataclass(frozen=True)
class Spot:
    """A window of the frame in px; steps: mean visible loss in it; marked: share of it that a
    finding marks. white [cd/m²]: of the exposure that shows it: nine tenths of the loss lie in
    light below, in the brighter of both pictures, rounded up as the whites of slices are. mostly:
    what most of the loss is, in words; empty where nothing is marked."""

    top: int
    left: int
    height: int
    width: int
    steps: float
    marked: float
    white: float
    mostly: str = ""

    @property
    def box(self) -> tuple[int, int, int, int]:
        return self.top, self.left, self.height, self.width

    @property
    def sentence(self) -> str:
        """What the window is, for a viewer."""
        if not self.marked:
            return "No finding marks anything; this is where light and colour are furthest off."
        return (
            f"The worst spot of all losses together: {share_text(self.marked)} of this window has "
            f"lost something, by {steps_text(self.steps)} on average, mostly {self.mostly}."
        )


def worst_spot(frame: Frame, rendering: Rendering, findings: Findings) -> Spot:
    """The window of a frame with the most visible loss, by the rule above.

    findings: with their maps, as `measure` gives them.
    """
    top, bottom, left, right = frame.active or (0, frame.shape[0], 0, frame.shape[1])
    marks, weights = (each[top:bottom, left:right] for each in _weights(frame, findings))
    height, width = (max(1, side // PART) for side in weights.shape)
    sums = _box_sums(weights, height, width)
    row, column = map(int, np.unravel_index(int(np.argmax(sums)), sums.shape))
    window = slice(row, row + height), slice(column, column + width)
    inside = marks[window]
    share = float(inside.mean()) if marks.any() else 0.0
    steps = float(sums[row, column]) / max(int(np.count_nonzero(inside)), 1)
    box = (top + row, left + column, height, width)
    whole = slice(top + row, top + row + height), slice(left + column, left + column + width)
    mostly = _mostly(frame, findings, whole, weights[window]) if share else ""
    return Spot(*box, steps, share, _white(frame, rendering, box, weights[window]), mostly)


def _mostly(frame: Frame, findings: Findings, window: tuple[slice, slice], weights: Numbers) -> str:
    """The loss that holds most of the weights in a window, as a viewer calls it."""
    loss, detail = (findings.maps[name][window] for name in ("loss", "detail"))
    glow = cells_drawn(findings.maps["halo_steps"], frame.shape)[window] >= 1
    lost = detail & LOST != 0
    kinds = {
        "clipped.area": (loss & CLIPPED != 0) & (loss & Loss.DIMMED == 0),
        "crushed.area": loss & CRUSHED != 0,
        "dimmed.things": loss & Loss.DIMMED != 0,
        "detail.lost": lost,
        "halo.area": glow & ~lost & (loss == 0),
    }
    return SPOKEN[max(kinds, key=lambda name: float(weights[kinds[name]].sum()))]


def _white(
    frame: Frame, rendering: Rendering, box: tuple[int, int, int, int], weights: Numbers
) -> float:
    """The light under which nine tenths of the loss lie, in the brighter of both pictures."""
    reference, shown = (brightest(part_of(light, box)) for light in (frame.light, rendering.light))
    level = np.maximum(reference, shown).ravel()
    order = np.argsort(level, kind="stable")
    counted = np.cumsum(weights.ravel()[order])
    return rounded_up(float(level[order][np.searchsorted(counted, SHOWN * counted[-1])]))


def part_of(light: Pixels, box: tuple[int, int, int, int]) -> Pixels:
    """The part of light (h, w, 3) in a box (top, left, height, width)."""
    top, left, height, width = box
    return np.ascontiguousarray(light[top : top + height, left : left + width])


def _weights(frame: Frame, findings: Findings) -> tuple[Numbers, Numbers]:
    """Which pixels a finding marks, and the visible steps each counts with (h, w)."""
    maps = findings.maps
    glow = cells_drawn(maps["halo_steps"], frame.shape)
    lost = (maps["loss"] != 0) | (maps["detail"] & LOST != 0)
    steps = maps["colour"].astype(np.float64)
    marks = lost | (glow >= 1)
    if not marks.any():
        return marks, steps
    return marks, np.where(lost, steps, np.where(marks, glow, 0.0))


def _box_sums(weights: Numbers, height: int, width: int) -> Numbers:
    """Sum over each window of `height` × `width` that lies inside, by its first pixel.

    Over an integer lattice, so that equal windows have equal sums.
    """
    fine = np.rint(weights * 1024).astype(np.int64)
    table = np.pad(fine.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    upper = table[height:, width:] - table[:-height, width:]
    return np.asarray((upper - table[height:, :-width] + table[:-height, :-width]) / 1024)
