"""Crushed: which dark parts sit on a floor, and whose floor it is (physics §9)."""

from __future__ import annotations

from emulate.findings.evidence import CRUSHED, Answer, Evidence, Loss
from emulate.findings.finding import Finding
from emulate.findings.formatting import opening, share_text, steps_text

_SHARE = "Share of the picture's area, letterbox left out."
_CAUSES = {
    "curve": (
        Loss.CRUSHED_CURVE,
        "because the tone curve has no more levels there",
        "the tone curve",
        "In the panel's own light, where the tone curve's slope is under 0.05 at the low end.",
    ),
    "leak": (
        Loss.CRUSHED_LEAK,
        "because the panel cannot go darker over its backlight",
        "light leaking through the panel",
        "In the panel's own light, where every channel is as closed as the cell can be.",
    ),
    "room": (
        Loss.CRUSHED_ROOM,
        "under the room's light on the screen",
        "the room's light",
        "Only with the room's reflection: where a floor of the panel is lifted by it, or where the "
        "panel's own light, visible in the dark, is less than one step above the reflection.",
    ),
}
_WHERE = (
    "A pixel is crushed where the reference is above 0 cd/m², its luminance is at least one "
    "visible step (ITU-R BT.2124) off, either way, and it sits on a floor"
)


def find_crushed(evidence: Evidence) -> Answer:
    """Areas on a floor, by cause and together, and how far off they are."""
    counts = evidence.loss_counts
    area, pixels = counts.share(CRUSHED), counts.of(CRUSHED)
    depth = evidence.crushed_steps / pixels if pixels else 0.0
    found = {"crushed.area": _whole(area), "crushed.depth": _depth(depth)}
    for name, (code, *_) in _CAUSES.items():
        found[f"crushed.{name}"] = _by_cause(name, counts.share(code))
    return Answer(found, {})


def _whole(area: float) -> Finding:
    sentence = (
        f"{opening(share_text(area))} of the picture is crushed: "
        f"its shadows run into one dark tone."
        if area
        else "Nothing is crushed."
    )
    definition = f"{_WHERE} (tone curve, leakage or room, each pixel counted once). {_SHARE}"
    return Finding(area, "share", sentence, definition)


def _depth(steps: float) -> Finding:
    sentence = (
        f"Where shadows are crushed, they are off by {steps_text(steps)} on average."
        if steps
        else "No shadow is off through crushing."
    )
    definition = f"{_WHERE}. Mean difference in visible steps over the crushed pixels, as seen."
    return Finding(steps, "steps", sentence, definition)


def _by_cause(name: str, area: float) -> Finding:
    _, because, culprit, rule = _CAUSES[name]
    sentence = (
        f"{opening(share_text(area))} of the picture is crushed {because}."
        if area
        else f"Nothing is crushed by {culprit}."
    )
    definition = f"{_WHERE}. {rule} {_SHARE}"
    return Finding(area, "share", sentence, definition)
