"""Halo: where black glows because light meant for its neighbours leaks through (physics §9)."""

from __future__ import annotations

from math import nan

import numpy as np
from numpy.typing import NDArray

from emulate.findings.evidence import VISIBLE_STEPS, Answer, Evidence
from emulate.findings.evidence import cell_spans as cell_spans
from emulate.findings.finding import Finding
from emulate.findings.formatting import degree_text, light_text, opening, share_text, steps_text
from emulate.panel.panel import Panel
from emulate.sight import CELL_DEGREES, steps_from_light, veiled
from emulate.values import Numbers

SOURCE_SHARE = 0.1  # of L_open: light enough to be what a zone was lit for [ours]
NEARLY_ALL = 95  # percentile that stands for how far a halo reaches [ours]
NEARLY_WORST = 99  # percentile that stands for its strongest part [ours]
UNTOLD = "Whether a glow shows cannot be told"

Mask = NDArray[np.bool]

_RULE = (
    "Lift is the panel's own luminance above what was asked, where a cell is as closed as it can "
    "be in some channel, averaged over squares of 0.1°; a square shows a halo where the lift, "
    "through the glare of the eye (CIE 146) and on top of the room's reflection, adds one visible "
    "step (ITU-R BT.2124) or more"
)


def find_halo(evidence: Evidence) -> Answer:
    """How much of the picture glows, how brightly, how visibly, and how far from its light."""
    asked, lift = evidence.lift
    steps = halo_steps(asked, lift, evidence)
    picture = cells_of_picture(evidence, (steps.shape[0], steps.shape[1]))
    glows = steps >= VISIBLE_STEPS
    here = glows & picture
    bright = asked >= SOURCE_SHARE * evidence.rendering.panel.open_cdm2
    found = {
        "halo.area": _area(_share(glows, picture), unread(evidence.rendering.panel)),
        "halo.brightest": _brightest(float(lift[here].max(initial=0.0))),
        "halo.mean": _mean(_average(lift[here])),
        "halo.strength": _strength(_average(steps[here])),
        "halo.worst": _worst(
            float(np.percentile(steps[here], NEARLY_WORST)) if here.any() else 0.0
        ),
        "halo.reach": _reach(here, bright),
        "halo.bars": _bars(_share(glows, ~picture), bool((~picture).any())),
    }
    maps = {"halo_steps": steps.astype(np.float32), "halo_lift": lift.astype(np.float32)}
    return Answer(found, maps)


def lift_on_cells(evidence: Evidence) -> tuple[Numbers, Numbers]:
    """Asked luminance and lift [cd/m²] on cells of 0.1° (cells down, cells across)."""
    return evidence.lift


def halo_steps(asked: Numbers, lift: Numbers, evidence: Evidence) -> Numbers:
    """Visible steps that the lift adds on each cell, glare and room included, never below 0."""
    ground = asked + evidence.rendering.reflected
    both = veiled(np.stack([ground, ground + lift]), evidence.viewer)
    plain, lifted = steps_from_light(both)
    return np.asarray(np.maximum(lifted - plain, 0.0))


def cells_of_picture(evidence: Evidence, cells: tuple[int, int]) -> Mask:
    """Cells whose middle lies in the active picture."""
    inside = [
        (low <= middle) & (middle < high)
        for middle, low, high in zip(
            (
                (np.arange(n) + 0.5) * e / n
                for n, e in zip(cells, evidence.frame.shape, strict=True)
            ),
            evidence.bounds[::2],
            evidence.bounds[1::2],
            strict=True,
        )
    ]
    return np.logical_and.outer(inside[0], inside[1])


def _share(mask: Mask, of: Mask) -> float:
    count = np.count_nonzero(of)
    return float(np.count_nonzero(mask & of) / count) if count else 0.0


def _average(values: Numbers) -> float:
    return float(values.mean()) if values.size else 0.0


def unread(panel: Panel) -> tuple[str, ...]:
    """What a glow is made of and the readings behind the panel do not tell."""
    open_questions = panel.fit.get("undetermined", {})
    return tuple(
        words
        for key, words in _MAKERS.items()
        if any(name == key or name.startswith(f"{key}.sigma_h#1") for name in open_questions)
    )


_MAKERS = {"spread": "how far its light spreads", "cell.contrast": "how much a closed cell lets by"}


def _area(share: float, unknown: tuple[str, ...] = ()) -> Finding:
    if share:
        sentence = f"{opening(share_text(share))} of the picture shows a glow around bright things."
    elif unknown:
        sentence = f"{UNTOLD}: the panel's readings leave open {' and '.join(unknown)}."
    else:
        sentence = "No glow shows around bright things."
    definition = f"{_RULE}. Share of the squares, letterbox left out."
    return Finding(share, "share", sentence, definition)


def _brightest(light: float) -> Finding:
    sentence = (
        f"At its brightest the glow adds {light_text(light)}."
        if light
        else "No visible glow adds light."
    )
    return Finding(
        light, "cd/m²", sentence, f"{_RULE}. Largest lift over the squares that show it."
    )


def _mean(light: float) -> Finding:
    sentence = (
        f"The visible glow adds {light_text(light)} on average."
        if light
        else "On average no visible glow is added."
    )
    return Finding(light, "cd/m²", sentence, f"{_RULE}. Mean lift over the squares that show it.")


def _strength(steps: float) -> Finding:
    sentence = (
        f"The visible glow stands out by {steps_text(steps)} on average."
        if steps
        else "On average no glow stands out."
    )
    return Finding(steps, "steps", sentence, f"{_RULE}. Mean steps over the squares that show it.")


def _worst(steps: float) -> Finding:
    sentence = (
        f"At its most visible the glow stands out by {steps_text(steps)}."
        if steps
        else "Nowhere does a glow stand out."
    )
    definition = f"{_RULE}. 99th percentile of the steps over the squares that show it."
    return Finding(steps, "steps", sentence, definition)


def _reach(glows: Mask, bright: Mask) -> Finding:
    definition = (
        f"{_RULE}. 95th percentile, over the squares that show it, of the distance to the nearest "
        f"square asked for a tenth of the panel's full light or more; undetermined where there is "
        f"none."
    )
    if not glows.any():
        return Finding(0.0, "degree", "No glow reaches out from bright things.", definition)
    if not bright.any():
        sentence = "How far the glow reaches is undetermined: nothing bright is large enough."
        return Finding(nan, "degree", sentence, definition)
    from scipy.ndimage import distance_transform_edt

    distances = distance_transform_edt(~bright)[glows] * CELL_DEGREES
    degrees = float(np.percentile(distances, NEARLY_ALL))
    sentence = f"The glow reaches up to {degree_text(degrees)} away from bright things."
    return Finding(degrees, "degree", sentence, definition)


def _bars(share: float, any_bars: bool) -> Finding:
    if not any_bars:
        sentence = "The picture has no black bars."
    elif share:
        sentence = f"{opening(share_text(share))} of the black bars glows visibly."
    else:
        sentence = "The black bars do not glow visibly."
    definition = f"{_RULE}. Share of the squares of the letterbox."
    return Finding(share, "share", sentence, definition)
