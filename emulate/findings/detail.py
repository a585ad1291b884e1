"""Detail: which fine contrast can no longer be seen, where, and what took it (physics §9)."""

from __future__ import annotations

from emulate.findings.evidence import LOST, Answer, Detail, Evidence
from emulate.findings.finding import Finding
from emulate.findings.formatting import opening, share_text, steps_text

_RULE = (
    "Fine contrast is a pixel's luminance in visible steps (ITU-R BT.2124) less its mean over a "
    "box of 0.1° (odd, at least 3 pixels, edges replicated). Visible at one step or more in the "
    "reference; lost where less than one step is left in what is seen (changes under 0.01 steps "
    "are rounding, not loss)"
)
_REGIONS = {
    "highlights": "highlights (0.1° around at 203 cd/m² or more in the reference)",
    "middle": "middle tones (0.1° around between 1 and 203 cd/m² in the reference)",
    "shadows": "shadows (0.1° around at 1 cd/m² or less in the reference)",
}
_BITS = {  # of `Detail`: one that the region has, those that it has not
    "highlights": (Detail.HIGHLIGHT, 0),
    "middle": (0, Detail.HIGHLIGHT | Detail.SHADOW),
    "shadows": (Detail.SHADOW, 0),
}
_SPOKEN = {"highlights": "highlights", "middle": "middle tones", "shadows": "shadows"}
_CAUSES = {
    "curve": (
        Detail.LOST_CURVE,
        "the tone curve or the panel's colours",
        "already lost in what a perfect backlight would show",
    ),
    "dimming": (
        Detail.LOST_DIMMING,
        "the dimming backlight or the panel's leakage",
        "lost in the panel's own light, yet not in what a perfect backlight would show",
    ),
    "room": (
        Detail.LOST_ROOM,
        "the room's light on the screen",
        "lost only once the room's reflection is added",
    ),
}


def find_detail(evidence: Evidence) -> Answer:
    """Detail lost: all of it, by region and by cause, as share of the frame and of the visible."""
    codes, contrast = evidence.detail
    counts = evidence.detail_counts
    pixels = counts.of(LOST)
    found = {
        "detail.area": _area("", counts.share(LOST)),
        "detail.lost": _lost("", _ratio(pixels, counts.of(Detail.VISIBLE))),
        "detail.depth": _depth(contrast / pixels if pixels else 0.0),
    }
    for name, (within, outside) in _BITS.items():
        lost, visible = (counts.of_both(bits, within, outside) for bits in (LOST, Detail.VISIBLE))
        found[f"detail.{name}.area"] = _area(name, lost / counts.pixels)
        found[f"detail.{name}.lost"] = _lost(name, _ratio(lost, visible))
    for name, (code, *_) in _CAUSES.items():
        found[f"detail.{name}"] = _by_cause(name, counts.share(code))
    return Answer(found, {"detail": codes})


def _ratio(part: int, whole: int) -> float:
    return part / whole if whole else 0.0


def _area(region: str, share: float) -> Finding:
    place = f" in the {_SPOKEN[region]}" if region else ""
    sentence = (
        f"{opening(share_text(share))} of the picture loses fine detail{place}."
        if share
        else f"No fine detail{place} is lost."
    )
    where = f", in {_REGIONS[region]}" if region else ""
    definition = f"{_RULE}{where}. Share of the picture's area, letterbox left out."
    return Finding(share, "share", sentence, definition)


def _lost(region: str, share: float) -> Finding:
    place = f" in the {_SPOKEN[region]}" if region else ""
    sentence = (
        f"{opening(share_text(share))} of the fine detail you could see{place} is lost."
        if share
        else f"None of the visible fine detail{place} is lost."
    )
    where = f", in {_REGIONS[region]}" if region else ""
    definition = f"{_RULE}{where}. Share of the pixels whose fine contrast is visible."
    return Finding(share, "share", sentence, definition)


def _depth(steps: float) -> Finding:
    sentence = (
        f"Where fine detail is lost, it loses {steps_text(steps)} of contrast on average."
        if steps
        else "No fine detail loses its contrast."
    )
    definition = f"{_RULE}. Mean fall of the size of the contrast over the lost pixels."
    return Finding(steps, "steps", sentence, definition)


def _by_cause(name: str, share: float) -> Finding:
    _, culprit, rule = _CAUSES[name]
    sentence = (
        f"{opening(share_text(share))} of the picture loses fine detail to {culprit}."
        if share
        else f"No fine detail is lost to {culprit}."
    )
    definition = f"{_RULE}: {rule}. Share of the picture's area, letterbox left out."
    return Finding(share, "share", sentence, definition)
