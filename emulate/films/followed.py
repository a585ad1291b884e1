"""Followed: motion as shown in numbers, each with its sentence and its definition."""

from __future__ import annotations

from fractions import Fraction
from math import nan

import numpy as np

from emulate.errors import RequestError
from emulate.films.motion import Shown, cadence, edge_time, images_at
from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import (
    count_text,
    milliseconds_text,
    opening,
    pixels_text,
    share_text,
)
from emulate.values import Numbers

EXTENDED = 0.8  # BET over EBET: a straight ramp has 80 % of its width from 10 to 90 %
_EYE = "to an eye that follows the motion evenly"
_BET = (
    f"Blurred edge time: from 10 to 90 % of the light of a moving edge, {_EYE}, the mean over the "
    "cadence (VESA FPDM 2.0 and ICDM IDMS, from memory)"
)
_DWELL = "How long a picture of the content stays, where each refresh shows the newest that is due"


def measure_motion(rate: float | Fraction, shown: Shown, *, px_per_s: float) -> Findings:
    """What is left of motion of px_per_s in content of `rate` pictures a second, put on show so.

    Names: motion.edge, motion.extended and motion.edge_px; motion.images and motion.image_gap;
    motion.light; motion.dwell_shortest, motion.dwell_longest, motion.unevenness and motion.dropped.
    Raises RequestError for a rate or a speed that cannot be.
    """
    if not 0 < px_per_s < np.inf:
        raise RequestError(f"speed = {px_per_s} px/s: accepted is above 0")
    found = {
        **_edge(edge_time(rate, shown), px_per_s),
        **_images(np.asarray(images_at(rate, shown)), px_per_s),
        "motion.light": _light(shown.hold_share),
        **_pace(cadence(rate, shown).dwell_s),
    }
    return Findings(found, basis=basis_of(rate, shown, px_per_s))


def basis_of(rate: float | Fraction, shown: Shown, px_per_s: float) -> str:
    """How it is put on show, in one sentence."""
    flashes = {True: "without a gap", False: _flashes(shown)}[shown.hold_share == 1]
    slow = [
        f"{what} settling in {milliseconds_text(1e3 * constant)} (time constant)"
        for what, constant in (("pixels", shown.pixel_s), ("zones", shown.zone_s))
        if constant
    ]
    return ", ".join(
        [
            f"{float(rate):g} pictures a second on {shown.refresh_hz:g} Hz, lit {flashes}",
            *slow,
            f"moving by {px_per_s:g} px a second.",
        ]
    )


def _flashes(shown: Shown) -> str:
    share = share_text(shown.hold_share)
    if shown.strobes == 1:
        return f"for {share} of each refresh in one flash at its end"
    return f"for {share} of each refresh in {shown.strobes} flashes"


def _edge(seconds: float, px_per_s: float) -> dict[str, Finding]:
    time, width = milliseconds_text(1e3 * seconds), pixels_text(seconds * px_per_s)
    extended = 1e3 * seconds / EXTENDED
    sentences = (
        f"A moving edge is smeared over {time} of its way.",
        f"Made straight from end to end, the smear takes {milliseconds_text(extended)}.",
        f"A moving edge is smeared over {width}.",
    )
    return {
        "motion.edge": Finding(1e3 * seconds, "ms", sentences[0], f"{_BET}."),
        "motion.extended": Finding(
            extended, "ms", sentences[1], f"{_BET}, divided by 0.8: what MPRT is a mean of."
        ),
        "motion.edge_px": Finding(
            seconds * px_per_s, "px", sentences[2], f"{_BET}, times the speed: blurred edge width."
        ),
    }


def _images(middles: Numbers, px_per_s: float) -> dict[str, Finding]:
    count = len(middles)
    gap = float(np.abs(np.diff(middles)).max()) * px_per_s if count > 1 else nan
    several = f"A moving thing is seen {count_text(count)} times side by side."
    rule = (
        "Stretches that flashes paint on the retina of an eye that follows the motion, joined "
        "where they touch. [ours]"
    )
    apart = (
        f"The images of a moving thing lie {pixels_text(gap)} apart."
        if count > 1
        else "There is no second image to lie apart."
    )
    return {
        "motion.images": Finding(
            float(count), "count", several if count > 1 else "A moving thing is seen once.", rule
        ),
        "motion.image_gap": Finding(
            gap, "px", apart, f"{rule} Widest distance between middles of neighbours."
        ),
    }


def _light(share: float) -> Finding:
    sentence = (
        f"The flashes keep {share_text(share)} of the light."
        if share < 1
        else "No light is given up for motion."
    )
    definition = (
        "Time with light over all time: what a still picture keeps of its light, unless the "
        "display flashes brighter than it shines."
    )
    return Finding(share, "share", sentence, definition)


def _evenness(uneven: float, dropped: float) -> str:
    if uneven:
        return f"The pace is uneven by {share_text(uneven)} either way of its middle."
    if dropped:
        return "Pictures stay equally long, though others are left out between them."
    return "The pace is even."


def _pace(dwell_s: Numbers) -> dict[str, Finding]:
    stays = dwell_s[dwell_s > 0]
    shortest, longest = 1e3 * float(stays.min()), 1e3 * float(stays.max())
    uneven = (longest - shortest) / (longest + shortest)
    dropped = float(np.mean(dwell_s == 0))
    even = longest - shortest < 1e-6
    pace = (
        f"Every picture stays for {milliseconds_text(longest)}."
        if even
        else f"Pictures stay for {milliseconds_text(shortest)} to {milliseconds_text(longest)}."
    )
    return {
        "motion.dwell_shortest": Finding(shortest, "ms", pace, f"{_DWELL}: the shortest."),
        "motion.dwell_longest": Finding(longest, "ms", pace, f"{_DWELL}: the longest."),
        "motion.unevenness": Finding(
            0.0 if even else uneven,
            "share",
            _evenness(0.0 if even else uneven, dropped),
            f"{_DWELL}: longest less shortest over their sum. [ours]",
        ),
        "motion.dropped": Finding(
            dropped,
            "share",
            f"{opening(share_text(dropped))} of the pictures are never shown."
            if dropped
            else "Every picture is shown.",
            f"{_DWELL}: share of pictures for which no refresh is left.",
        ),
    }
