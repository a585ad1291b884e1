"""A small box that moves across, along the middle line: what the zones count is read from.

The stills stand at places a golden-section rule spreads unevenly, so that no zone count hides
behind the step. The moving ones are for a logger, or for counting by eye.
"""

from __future__ import annotations

from typing import Literal

from emulate.readings.patterns.place import Shape, pixels
from emulate.readings.stimulus import WHITE, Moment, Patch, Stimulus

Axis = Literal["horizontal", "vertical"]
BOX_H = 0.02  # side of the box in picture heights, ours
STILLS = {"horizontal": 49, "vertical": 25}  # ours
UNEVEN = 0.45  # share of the step that a place may stray, ours
GOLDEN = (5**0.5 - 1) / 2
CROSSING_S = {"horizontal": 60.0, "vertical": 40.0}  # ours: slow enough to count by eye
MOMENT_S = 0.125  # ours: ten places in each of 48 zones
REST_S = 2.0  # black before and after, ours


def crawl(axis: Axis, shape: Shape, peak: float) -> list[Stimulus]:
    """Stills of the box at uneven places from one edge to the other."""
    count = STILLS[axis]
    return [_still(axis, _place(index, count), index, shape, peak) for index in range(count)]


def crawling(axis: Axis, shape: Shape, peak: float) -> Stimulus:
    """The box moving from one edge to the other, black before and after."""
    steps = round(CROSSING_S[axis] / MOMENT_S)
    moving = [
        Moment(REST_S + step * MOMENT_S, (_box(axis, (step + 0.5) / steps, shape),))
        for step in range(steps)
    ]
    end = REST_S + CROSSING_S[axis]
    return Stimulus(
        "crawl",
        f"crawling_{axis}",
        shape,
        level=WHITE,
        axis=axis,
        mastering_peak=peak,
        moments=(Moment(0.0, ()), *moving, Moment(end, ()), Moment(end + REST_S, ())),
    )


def crawl_spot(stimulus: Stimulus) -> tuple[float, float]:
    """Where the meter looks: the middle of the box."""
    box = stimulus.patches[0]
    rows, columns = stimulus.shape
    return (box.left + box.width / 2) / columns, (box.top + box.height / 2) / rows


def box_centre(box: Patch, axis: str, shape: Shape) -> float:
    """Centre of a box along an axis, as share of the picture's extent."""
    if axis == "vertical":
        return (box.top + box.height / 2) / shape[0]
    return (box.left + box.width / 2) / shape[1]


def _still(axis: Axis, share: float, index: int, shape: Shape, peak: float) -> Stimulus:
    box = _box(axis, share, shape)
    return Stimulus(
        "crawl",
        f"crawl_{axis}_{index:02d}",
        shape,
        (box,),
        level=WHITE,
        value=box_centre(box, axis, shape),
        axis=axis,
        mastering_peak=peak,
    )


def _place(index: int, count: int) -> float:
    stray = (index * GOLDEN) % 1 - 0.5
    return (index + 0.5 + UNEVEN * stray) / count


def _box(axis: Axis, share: float, shape: Shape) -> Patch:
    """The box at a share 0..1 of its way; across its way it begins at the middle line."""
    side = pixels(BOX_H, shape)
    if axis == "horizontal":
        return Patch(shape[0] // 2, round(share * (shape[1] - side)), side, side, WHITE)
    return Patch(round(share * (shape[0] - side)), shape[1] // 2, side, side, WHITE)
