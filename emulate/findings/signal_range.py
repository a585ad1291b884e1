"""Signal range: what a set makes of codes near black, below it, near white and above it. [ours]

A ladder of patches on black is shown in PQ codes; it is sent in one range and may be taken for the
other, as a wrong setting does.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import nan
from typing import Literal, get_args

import numpy as np

from emulate.errors import RequestError
from emulate.findings.evidence import VISIBLE_STEPS, luminance_of
from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import count_text, light_text, steps_text
from emulate.frames.frame import Frame, Metadata
from emulate.panel.panel import Panel
from emulate.rendering import render
from emulate.sight import steps_from_light
from emulate.transfer import (
    PQ_PEAK,
    code_from_signal,
    light_from_pq,
    pq_from_light,
    signal_from_code,
)
from emulate.values import Numbers, Value, numbers

Range = Literal["narrow", "full"]
BITS = 10
ABOVE_BLACK = 40  # codes looked at above black, one by one [ours]
BELOW = (4, 20, 36, 52)  # codes below narrow black 64; 0 to 3 are for timing, ITU-R BT.2100-2
STRIDE = 4  # codes between the bright patches [ours]
BRIGHT = 120  # bright patches below the content's peak, and as many as there are above it
COLUMNS = 16  # of patches
PATCH = 12  # px a side, and as much black around it
RULE = (
    "Patches of 10-bit PQ codes on black, as many px of black between them as they are wide; "
    "luminance as seen in the dark at the middle of each"
)


@dataclass(frozen=True, eq=False)
class SignalRange(Value):
    """code (n,) sent, rising, and light (n,) [cd/m²] seen at it; findings `range.*`."""

    code: Numbers
    light: Numbers
    sent: Range
    taken: Range
    findings: Findings


def measure_range(
    panel: Panel,
    *,
    peak: float = 1000.0,
    sent: Range = "narrow",
    taken: Range = "narrow",
    policy: str | None = None,
) -> SignalRange:
    """What `panel` makes of codes around black and around `peak` [cd/m²], sent in one range and
    taken for another.

    Findings: `range.black.first`, the codes above black until one can be told from it;
    `range.below`, steps between a code below black and black (narrow range only);
    `range.white.last`, the light of the brightest code that still differs from the one 4 below it;
    `range.black.light` and `range.white.light`. Raises RequestError for another range or a peak
    that is not above 1 and at most 10000 cd/m², and as `render`.
    """
    for asked in (sent, taken):
        if asked not in get_args(Range):
            raise RequestError(f"range {asked}: accepted is {' or '.join(get_args(Range))}")
    if not 1 < peak <= PQ_PEAK:
        raise RequestError(f"peak = {peak} cd/m²: accepted is above 1, at most {PQ_PEAK:g}")
    dark, bright, black, top = _codes(peak, sent)

    def seen(codes: Numbers) -> Numbers:
        return _seen(codes, panel, peak, taken, policy)

    lights = seen(dark), seen(bright)
    found = _dark(dark, lights[0], black)
    found |= _bright(bright, lights[1], seen(bright - STRIDE), top)
    basis = f"Sent in {sent} range, taken for {taken}; mastered at {light_text(peak)}."
    findings = Findings(found, panel.caveats, panel=panel.name, basis=basis)
    code, light = (numbers(np.concatenate(both)) for both in ((dark, bright), lights))
    return SignalRange(code, light, sent, taken, findings)


def _codes(peak: float, sent: Range) -> tuple[Numbers, Numbers, float, float]:
    """The dark and the bright codes, and those of black and of the content's peak."""
    full = sent == "full"
    black = float(code_from_signal(0.0, BITS, full_range=full))
    top = float(code_from_signal(pq_from_light(peak), BITS, full_range=full))
    below = () if full else BELOW
    dark = np.concatenate([np.array(below), black + np.arange(ABOVE_BLACK + 1)])
    last = 2**BITS - 1 if full else 1019  # 1020 to 1023 are for timing, ITU-R BT.2100-2
    bright = top + STRIDE * np.arange(-BRIGHT, int((last - top) // STRIDE) + 1)
    return dark, bright[bright - STRIDE > dark[-1]], black, top


def _seen(codes: Numbers, panel: Panel, peak: float, taken: Range, policy: str | None) -> Numbers:
    """Luminance at each of the patches (n,) [cd/m²]."""
    signal = np.clip(signal_from_code(codes, BITS, full_range=taken == "full"), 0.0, 1.0)
    rows = -(-len(codes) // COLUMNS)
    places = [divmod(index, COLUMNS) for index in range(len(codes))]
    picture = np.zeros((2 * PATCH * max(rows, 5) + PATCH, 2 * PATCH * COLUMNS + PATCH, 3))
    for (row, column), light in zip(places, light_from_pq(signal), strict=True):
        top, left = PATCH * (1 + 2 * row), PATCH * (1 + 2 * column)
        picture[top : top + PATCH, left : left + PATCH] = light if light > 1e-9 else 0.0
    frame = Frame.from_light(picture, "ladder", metadata=Metadata(mastering_peak=peak))
    seen = luminance_of(render(frame, panel, policy=policy).light)
    middle = [(PATCH * (1 + 2 * row) + PATCH // 2, PATCH * (1 + 2 * column) + PATCH // 2)
              for row, column in places]  # fmt: skip
    return np.array([float(seen[place]) for place in middle])


def _dark(code: Numbers, light: Numbers, black: float) -> dict[str, Finding]:
    steps = steps_from_light(light)
    at_black = int(np.flatnonzero(code == black)[0])
    found = {"range.black.light": _black(float(light[at_black]))}
    found["range.black.first"] = _first(code[at_black:], steps[at_black:])
    if at_black:
        found["range.below"] = _below(float(np.ptp(steps[: at_black + 1])))
    return found


def _bright(code: Numbers, light: Numbers, under: Numbers, top: float) -> dict[str, Finding]:
    rises = steps_from_light(light) - steps_from_light(under) >= VISIBLE_STEPS
    return {
        "range.white.light": _white(float(light.max())),
        "range.white.last": _last(code[rises], light[rises], top),
    }


def _black(light: float) -> Finding:
    sentence = f"Black is shown as {light_text(light)}."
    return Finding(light, "cd/m²", sentence, f"{RULE}. At the code for black.")


def _first(code: Numbers, steps: Numbers) -> Finding:
    told = np.flatnonzero(steps - steps[0] >= VISIBLE_STEPS)
    definition = f"{RULE}. Codes above black of the first patch a visible step above black."
    if not told.size:
        sentence = f"None of the first {ABOVE_BLACK} codes above black can be told from black."
        return Finding(nan, "count", sentence, definition)
    codes = float(code[told[0]] - code[0])
    sentence = f"The first code that can be told from black is {count_text(codes)} above it."
    return Finding(codes, "count", sentence, definition)


def _below(steps: float) -> Finding:
    sentence = (
        f"Codes below black differ from black by {steps_text(steps)}: they should not show."
        if steps >= VISIBLE_STEPS
        else "Codes below black show as black, as they should."
    )
    return Finding(steps, "steps", sentence, f"{RULE}. Codes 4 to 52 against 64, in visible steps.")


def _white(light: float) -> Finding:
    sentence = f"The brightest code is shown at {light_text(light)}."
    return Finding(light, "cd/m²", sentence, f"{RULE}. The brightest of them.")


def _last(code: Numbers, light: Numbers, top: float) -> Finding:
    """code and light of the patches that can be told apart."""
    definition = (
        f"{RULE}. Of patches that flash between two codes {STRIDE} apart, the brightest that "
        f"changes by a visible step: its code less that of the content's peak; negative where "
        f"light is clipped before it."
    )
    if not code.size:
        sentence = "No two of the bright codes can be told apart."
        return Finding(nan, "count", sentence, definition)
    off = float(code[-1] - top)
    place = "at" if off == 0 else f"{count_text(abs(off))} codes {'above' if off > 0 else 'below'}"
    told = f"up to {place} the content's peak, {light_text(float(light[-1]))}"
    return Finding(off, "count", f"Codes can be told apart {told}.", definition)
