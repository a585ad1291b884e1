"""Colour: how far colours are off, with luminance and without it (physics §9)."""

from __future__ import annotations

import numpy as np

from emulate.findings.evidence import Answer, Evidence
from emulate.findings.evidence import colour_steps as colour_steps
from emulate.findings.finding import Finding
from emulate.findings.formatting import opening, share_text, steps_text
from emulate.findings.maps import PLAIN, SEEN, Off

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
    image, (whole, hue) = evidence.off
    found = _found("colour", "light and colour", whole, _WHOLE)
    found |= _found("colour.hue", "hue and saturation", hue, _HUE)
    return Answer(
        found, {"colour": image.astype(np.float16, copy=False)} if evidence.mapping else {}
    )


def _found(name: str, what: str, off: Off, rule: str) -> dict[str, Finding]:
    return {
        f"{name}.mean": _mean(what, off.mean, rule),
        f"{name}.high": _high(what, off.high, rule),
        f"{name}.over_1": _over(what, off.over_1, SEEN, rule),
        f"{name}.over_3": _over(what, off.over_3, PLAIN, rule),
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
