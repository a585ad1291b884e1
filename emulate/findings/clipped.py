"""Clipped: which bright parts sit at a ceiling, and which ceiling (physics §9)."""

from __future__ import annotations

from emulate.findings.evidence import CLIPPED, Answer, Evidence, Loss
from emulate.findings.finding import Finding
from emulate.findings.formatting import opening, share_text, steps_text

_WHERE = (
    "A pixel is clipped where its largest channel falls at least one visible step (ITU-R BT.2124) "
    "below the reference in the panel's own light, the room's reflection taken off, and it sits at "
    "a ceiling"
)
_SHARE = "Share of the picture's area, letterbox left out."
_CAUSES = {
    "curve": (
        Loss.CLIPPED_CURVE,
        "because the tone curve has run flat there",
        "the tone curve",
        "the tone curve's slope is under 0.05, signal against signal",
    ),
    "zone": (
        Loss.CLIPPED_ZONE,
        "because the backlight behind it is too dim",
        "the backlight",
        "some channel's cell is open as wide as it goes and asks for more than comes through "
        "(light that a limiter only turns down is dimmed, not clipped)",
    ),
    "gamut": (
        Loss.CLIPPED_GAMUT,
        "because the panel cannot make so bright or so pure a colour",
        "the panel's range of colours",
        "the panel's primaries had to be held to what they can give",
    ),
}


def find_clipped(evidence: Evidence) -> Answer:
    """Areas at a ceiling, by cause and together, and how deep the cut is."""
    counts, lost = evidence.loss_counts, evidence.clipped[1]
    area, pixels = counts.share(CLIPPED), counts.of(CLIPPED)
    depth = lost / pixels if pixels else 0.0
    found = {"clipped.area": _whole(area), "clipped.depth": _depth(depth)}
    for name, (code, *_) in _CAUSES.items():
        found[f"clipped.{name}"] = _by_cause(name, counts.share(code))
    return Answer(found, {})


def _whole(area: float) -> Finding:
    sentence = (
        f"{opening(share_text(area))} of the picture is clipped: "
        f"it should be brighter than the panel shows."
        if area
        else "Nothing is clipped."
    )
    definition = f"{_WHERE} (tone curve, backlight or gamut, each pixel counted once). {_SHARE}"
    return Finding(area, "share", sentence, definition)


def _depth(steps: float) -> Finding:
    sentence = (
        f"Where the picture is clipped, it is short by {steps_text(steps)} on average."
        if steps
        else "Nothing is short of light through clipping."
    )
    definition = f"{_WHERE}. Mean fall of the largest channel over the clipped pixels."
    return Finding(steps, "steps", sentence, definition)


def _by_cause(name: str, area: float) -> Finding:
    _, because, culprit, rule = _CAUSES[name]
    sentence = (
        f"{opening(share_text(area))} of the picture is clipped {because}."
        if area
        else f"Nothing is clipped by {culprit}."
    )
    definition = f"{_WHERE}: {rule}. A pixel with several causes counts for each. {_SHARE}"
    return Finding(area, "share", sentence, definition)
