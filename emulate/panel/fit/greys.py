"""Greys: what a ramp read in its window leaves open about the same grey on the whole screen.

Where zones spread their light, a window lacks some from beyond its edge; how much of that the cell
makes up for, and how zones are driven by a grey, no pattern parts. The curve that is fitted makes
the window right, so it is the whole screen that may come out wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from emulate.panel.fit.noise import averaged
from emulate.panel.fit.prediction import predicted
from emulate.panel.panel import Panel
from emulate.readings.patterns.colours import SLIDE_LIGHTS
from emulate.readings.readings import CENTRE, Reading, Readings, Repeats
from emulate.transfer import LUMINANCE_2020
from emulate.values import Numbers

TELLABLE = 0.01  # share by which a grey must come out brighter to be told, ours
DIMMEST = 1.0  # cd/m²: below, what leaks through the cell has its part, ours
NEAR = 0.02  # share of the extent by which a spot may miss the middle, ours
SLIDE = f"uniformity_{SLIDE_LIGHTS[0]:03.0f}"


def whole_screen(panel: Panel, readings: Readings) -> str:
    """By how much the panel shows a full-screen grey brighter than the ramp's window, and what was
    read of one, or which to read; nothing where both come out alike."""
    greys = _straight(readings, "ramp")
    if not greys:
        return ""
    ratio = _light(panel, [_whole(group) for group in greys]) / _light(panel, greys)
    if ratio.max() <= 1 + TELLABLE:
        return ""
    most = f"up to {ratio.max() - 1:.0%} brighter than the ramp's window was read"
    taken = "it is taken as full, so that a full-screen grey may come out"
    return f"{taken} {most}; {_slide(panel, readings)}"


def _slide(panel: Panel, readings: Readings) -> str:
    """The brightest grey slide beside what the panel shows of it, or which one to read."""
    slides = _straight(readings, "uniformity")
    if not slides:
        return (
            f"read one in the middle (pattern {SLIDE} of emulate patterns --only uniformity), and "
            "emulate check sets it beside what the panel shows"
        )
    slide = max(slides, key=lambda group: group.mean)
    (shown,) = _light(panel, [slide])
    name = slide.stimulus.name
    return f"{name} reads {slide.mean:.3g} cd/m² in the middle where the panel shows {shown:.3g}"


def _straight(readings: Readings, kind: str) -> tuple[Repeats, ...]:
    """Repeats of bright enough greys, seen in the middle, square on and in the dark."""
    return averaged([reading for reading in readings.of(kind) if _tells(reading)])


def _tells(reading: Reading) -> bool:
    level = reading.stimulus.signal_at(reading.spot)
    off = max(abs(at - middle) for at, middle in zip(reading.spot, CENTRE, strict=True))
    dark = reading.angle == 0 and reading.room_lux == 0
    return dark and off <= NEAR and len(set(level)) == 1 and reading.luminance >= DIMMEST


def _whole(group: Repeats) -> Repeats:
    """The same grey over the whole screen."""
    first = group.readings[0]
    level = first.stimulus.signal_at(first.spot)
    stimulus = replace(first.stimulus, number=0, background=level, patches=())
    return replace(group, readings=(replace(first, stimulus=stimulus),))


def _light(panel: Panel, groups: Sequence[Repeats]) -> Numbers:
    return np.asarray(predicted(panel, groups) @ LUMINANCE_2020)
