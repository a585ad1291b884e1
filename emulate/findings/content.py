"""Content: how bright the frame itself is, beside what its file claims (physics §1, §9)."""

from __future__ import annotations

from emulate.findings.evidence import Answer, Evidence
from emulate.findings.finding import Finding
from emulate.findings.formatting import light_text
from emulate.findings.maps import brightest_channel as brightest_channel
from emulate.frames.frame import Frame

PERCENTILES = (50.0, 90.0, 99.0, 99.9, 99.99)  # physics §9; 99.99 also steers `by_frame` curves

_LEVEL = "A pixel's level is the largest of its linear red, green and blue (BT.2020, cd/m²)"


def find_content(evidence: Evidence) -> Answer:
    """Light levels measured in the active picture of this frame, and those the file claims."""
    levels = evidence.levels
    metadata = evidence.frame.metadata
    found = {
        "content.max_cll": _brightest(levels.brightest),
        "content.max_fall": _average(levels.mean),
        "content.claimed_max_cll": _claimed("brightest pixel", metadata.max_cll),
        "content.claimed_max_fall": _claimed("brightest frame average", metadata.max_fall),
        "content.claimed_peak": _claimed("mastering screen's peak", metadata.mastering_peak),
    }
    for percent, value in zip(PERCENTILES, levels.percentiles(PERCENTILES), strict=True):
        name = f"{percent:g}".replace(".", "_")
        found[f"content.level_{name}"] = _percentile(percent, value)
    return Answer(found, {})


def basis_of(frame: Frame) -> str:
    """What the file's values were taken to mean, where they carry no scale of their own."""
    if frame.encoding.transfer == "linear":
        return f"1.0 in the file stands for {light_text(frame.encoding.scale)}"
    return f"light read as {frame.encoding.transfer.upper()}"


def _brightest(light: float) -> Finding:
    sentence = (
        f"The brightest pixel asks for {light_text(light)}." if light else "The picture is black."
    )
    definition = f"{_LEVEL}; MaxCLL of CTA-861.3 for this frame: the largest level."
    return Finding(light, "cd/m²", sentence, definition)


def _average(light: float) -> Finding:
    sentence = f"The picture asks for {light_text(light)} on average."
    definition = f"{_LEVEL}; MaxFALL of CTA-861.3 for this frame: the mean, letterbox left out."
    return Finding(light, "cd/m²", sentence, definition)


def _claimed(what: str, light: float) -> Finding:
    sentence = (
        f"{light_text(light)} is claimed for its {what}."
        if light
        else f"The file does not say what its {what} is."
    )
    definition = "As the file's metadata say (SMPTE ST 2086, CTA-861.3), or you; 0 means unknown."
    return Finding(light, "cd/m²", sentence, definition)


def _percentile(percent: float, light: float) -> Finding:
    sentence = f"{percent:g} % of the picture asks for {light_text(light)} or less."
    definition = f"{_LEVEL}; {percent:g}th percentile over the picture, letterbox left out."
    return Finding(light, "cd/m²", sentence, definition)
