"""Colour: how far colours are off, with luminance and without it (physics §9)."""

from __future__ import annotations

from functools import cache

import numpy as np

from emulate._kernels import findings as kernels
from emulate.colorimetry import ICTCP_FROM_LMS, LMS_FROM_RGB
from emulate.findings.evidence import ROUNDING_STEPS, Answer, Evidence, steps_table
from emulate.findings.finding import Finding
from emulate.findings.formatting import opening, share_text, steps_text
from emulate.transfer import LUMINANCE_2020
from emulate.values import Pixels, locked

HIGH = 95  # percentile [ours]
SEEN = 1.0  # ITU-R BT.2124-0: just noticeable for the most critical adaptation
PLAIN = 3.0  # common practice, no source: off by so much is plain to see

_WHOLE = (
    "ΔE_ITP of ITU-R BT.2124 between the reference and what is seen, pixel by pixel, letterbox "
    "left out (differences under 0.01 are rounding and count as none)"
)
_HUE = (
    f"{_WHOLE}, after the seen light is scaled to the reference's luminance, so that only hue and "
    f"saturation are left; black has neither and counts as none"
)


def find_colour(evidence: Evidence) -> Answer:
    """ΔE_ITP: mean, 95th percentile, and shares over 1 and 3; then the same without luminance."""
    whole, hue = colour_steps(evidence)
    found = _found("colour", "light and colour", evidence.active(whole), _WHOLE)
    found |= _found("colour.hue", "hue and saturation", evidence.active(hue), _HUE)
    return Answer(found, {"colour": whole.astype(np.float16)})


def colour_steps(evidence: Evidence) -> Pixels:
    """(2, h, w): ΔE_ITP, and ΔE_ITP with the seen light scaled to the reference's luminance."""
    out = np.empty((2, *evidence.frame.shape), np.float32)
    kernels.colour_steps(
        evidence.frame.light,
        evidence.rendering.light,
        steps_table(),
        *_matrices(),
        LUMINANCE_2020,
        np.float32(ROUNDING_STEPS),
        out,
    )
    return locked(out)


@cache
def _matrices() -> tuple[Pixels, Pixels]:
    """LMS from RGB, and I, T, P from PQ-coded LMS: ICtCp with Ct halved (ITU-R BT.2124-0)."""
    mix = ICTCP_FROM_LMS * np.array([[1.0], [0.5], [1.0]])
    return locked(LMS_FROM_RGB.astype(np.float32)), locked(mix.astype(np.float32))


def _found(name: str, what: str, steps: Pixels, rule: str) -> dict[str, Finding]:
    high = float(np.percentile(steps, HIGH, method="inverted_cdf"))
    return {
        f"{name}.mean": _mean(what, float(steps.mean(dtype=np.float64)), rule),
        f"{name}.high": _high(what, high, rule),
        f"{name}.over_1": _over(what, float((steps > SEEN).mean()), SEEN, rule),
        f"{name}.over_3": _over(what, float((steps > PLAIN).mean()), PLAIN, rule),
    }


def _mean(what: str, steps: float, rule: str) -> Finding:
    sentence = (
        f"{opening(what)} are off by {steps_text(steps)} on average."
        if steps
        else f"{opening(what)} are right everywhere."
    )
    return Finding(steps, "steps", sentence, f"{rule}. Mean.")


def _high(what: str, steps: float, rule: str) -> Finding:
    sentence = (
        f"In 95 % of the picture {what} are off by no more than {steps_text(steps)}."
        if steps
        else f"In 95 % of the picture {what} are right."
    )
    return Finding(steps, "steps", sentence, f"{rule}. 95th percentile.")


def _over(what: str, share: float, bound: float, rule: str) -> Finding:
    sentence = (
        f"In {share_text(share)} of the picture {what} are off by more than {steps_text(bound)}."
        if share
        else f"Nowhere are {what} off by more than {steps_text(bound)}."
    )
    return Finding(share, "share", sentence, f"{rule}. Share of the pixels over {bound:g}.")
