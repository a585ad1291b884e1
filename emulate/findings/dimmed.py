"""Dimmed: small bright things starved by their zone, light lost in highlights (physics §9), and a
limiter that turns the whole picture down [ours]."""

from __future__ import annotations

from math import nan

import numpy as np
from numpy.typing import NDArray

from emulate.findings.evidence import (
    Answer,
    Bytes,
    Evidence,
    Loss,
    Starved,
)
from emulate.findings.finding import Finding
from emulate.findings.formatting import count_text, opening, share_text, steps_text
from emulate.sight import CELL_DEGREES, cell_pixels

SMALL_DEGREES = 1.0  # [ours]: a little finger at arm's length; what is larger is a clipped area

_RULE = (
    "A small bright thing is a group of touching pixels (corners count) that are clipped by their "
    "backlight (at least one visible step of ITU-R BT.2124 short, their cells open as wide as they "
    "go) and that fits into a square of 1°; larger groups are clipped areas. Bright specks of a "
    "texture, as of snow in the sun, are such groups too"
)
FEW = 100  # things that somebody might count, ours; where there are more, some may be a texture's
SPECKS = ", or bright specks of a texture,"

_SUM = (
    "the sum of the panel's own luminance by the sum of what a perfect backlight would show (more "
    "than asked at one pixel does not make up for less at another)"
)

_TURNED = (
    "Light left is the limiter's gain as far as the cells do not make up for it: the panel's own "
    "light over what it would be with the limiter off (a limiter that cells make up for leaves all "
    "of it; what it cuts off then is clipped)"
)


def find_dimmed(evidence: Evidence) -> Answer:
    """Small things that lost light, what is left of it, and what is left of all highlights."""
    things, count = small_things(evidence)
    starved = evidence.starved(things, Loss.DIMMED) if count else Starved(0, 0.0, 0.0, 0.0)
    found = {
        "dimmed.area": _area(starved.pixels / evidence.area),
        "dimmed.things": _things(count),
        "dimmed.depth": _depth(starved.short / starved.pixels if count else 0.0),
        "dimmed.kept": _kept(_share_of(starved.asked, starved.kept)),
        "dimmed.highlights": _highlights(_share_of(*evidence.highlights_kept)),
    }
    return Answer(found | _turned_down(evidence), {"loss": things} if count else {})


def small_things(evidence: Evidence) -> tuple[Bytes, int]:
    """Loss.DIMMED (h, w) where the active picture has small bright things, and their count."""
    if not evidence.loss_counts.of(Loss.CLIPPED_ZONE):
        return np.broadcast_to(np.uint8(0), evidence.frame.shape), 0
    cell = cell_pixels(evidence.viewer, evidence.frame.shape[0])
    out = evidence.blank()
    return out, mark_small(evidence.clipped[0], evidence.bounds, cell, out)


def mark_small(codes: Bytes, bounds: tuple[int, int, int, int], cell: float, out: Bytes) -> int:
    """Loss.DIMMED in out (h, w) where codes (h, w) hold small things, and how many these are.

    bounds: rows and columns of the active picture; cell [px]: of 0.1°.
    """
    from emulate._kernels import things as kernels

    bit = np.uint8(Loss.CLIPPED_ZONE)
    count = kernels.count_runs(codes, bit, bounds)
    runs, firsts = np.empty((count, 3), np.int64), np.empty(bounds[1] - bounds[0] + 1, np.int64)
    roots = np.empty(count, np.int64)
    kernels.find_runs(codes, bit, bounds, runs, firsts)
    kernels.join_runs(runs, firsts, roots)
    small = _fits(runs, roots, cell)
    kernels.mark_runs(runs, small, np.uint8(Loss.DIMMED), out)
    return int(np.count_nonzero(small & (roots == np.arange(count))))


def _fits(runs: NDArray[np.int64], roots: NDArray[np.int64], cell: float) -> NDArray[np.bool]:
    """Which runs (n,) are of a group that fits into a square of SMALL_DEGREES."""
    lowest, highest = np.full((2, len(runs)), runs.max() + 1), np.full((2, len(runs)), -1)
    for axis, (first, last) in enumerate(((runs[:, 0], runs[:, 0]), (runs[:, 1], runs[:, 2] - 1))):
        np.minimum.at(lowest[axis], roots, first)
        np.maximum.at(highest[axis], roots, last)
    sides = (highest - lowest).max(axis=0) + 1
    return np.asarray(sides[roots] <= SMALL_DEGREES / CELL_DEGREES * cell)


def _share_of(asked: float, kept: float) -> float:
    return kept / asked if asked else nan


def _turned_down(evidence: Evidence) -> dict[str, Finding]:
    """What the limiter leaves, where that shows, and by how much."""
    rendering = evidence.rendering
    left = rendering.panel.limiter.unknown(rendering.gain)
    share, depth = evidence.turned_down(left) if left < 1 else (0.0, 0.0)
    return {
        "dimmed.limiter": _limiter(left),
        "dimmed.limiter.area": _limiter_area(share),
        "dimmed.limiter.depth": _limiter_depth(depth),
    }


def _limiter(left: float) -> Finding:
    sentence = (
        f"The limiter dims the whole picture to {share_text(left)} of its light."
        if left < 1
        else "No limiter dims the picture."
    )
    return Finding(left, "share", sentence, f"{_TURNED}.")


def _limiter_area(share: float) -> Finding:
    sentence = (
        f"{opening(share_text(share))} of the picture is visibly darker than without the limiter."
        if share
        else "Nothing is visibly darker through the limiter."
    )
    definition = (
        f"{_TURNED}. Share of the picture's area, letterbox left out, that it darkens by one "
        "visible step (ITU-R BT.2124) or more."
    )
    return Finding(share, "share", sentence, definition)


def _limiter_depth(steps: float) -> Finding:
    sentence = (
        f"Where the limiter shows, it takes {steps_text(steps)} on average."
        if steps
        else "The limiter takes nothing that can be seen."
    )
    definition = f"{_TURNED}. Mean fall of luminance where it is one visible step or more."
    return Finding(steps, "steps", sentence, definition)


def _area(share: float) -> Finding:
    sentence = (
        f"{opening(share_text(share))} of the picture is small bright things that come out too dim."
        if share
        else "No small bright thing comes out too dim."
    )
    definition = f"{_RULE}. Share of the picture's area, letterbox left out."
    return Finding(share, "share", sentence, definition)


def _things(count: int) -> Finding:
    text = (
        "1 small bright thing comes"
        if count == 1
        else f"{count_text(count)} small bright things{SPECKS * (count > FEW)} come"
    )
    sentence = f"{text} out too dim." if count else "Every small bright thing gets its light."
    return Finding(float(count), "count", sentence, f"{_RULE}. Number of such groups.")


def _depth(steps: float) -> Finding:
    sentence = (
        f"The small bright things that are too dim are short by {steps_text(steps)} on average."
        if steps
        else "No small bright thing is short of light."
    )
    definition = f"{_RULE}. Mean fall of luminance below the reference over their pixels."
    return Finding(steps, "steps", sentence, definition)


def _kept(share: float) -> Finding:
    definition = f"{_RULE}. Over them, {_SUM}; undetermined where there are none."
    sentence = (
        "There are no dimmed small things to keep light."
        if np.isnan(share)
        else f"The small bright things that are too dim keep {share_text(share)} of their light."
    )
    return Finding(share, "share", sentence, definition)


def _highlights(share: float) -> Finding:
    definition = (
        "Highlights are where the reference, averaged over 0.1°, is 203 cd/m² or more. Over them, "
        f"{_SUM}; undetermined where there are none."
    )
    if np.isnan(share):
        return Finding(share, "share", "There are no highlights in this picture.", definition)
    sentence = f"Highlights keep {share_text(share)} of the light a perfect backlight would give."
    return Finding(share, "share", sentence, definition)
