"""Boxes of white on black: spill around one, one that grows inside a zone, one that is switched."""

from __future__ import annotations

from emulate.readings.patterns.place import Shape, pixels, window
from emulate.readings.patterns.tone import PATCH_AREA
from emulate.readings.stimulus import WHITE, Moment, Patch, Stimulus

SPILL_BOX_H = 0.10  # side of the box in picture heights, ours
SPILL_GAPS_H = (0.02, 0.05, 0.10, 0.20, 0.35, 0.50, 0.70)  # meter to the box's edge, ours
GROW_SIDES_H = (0.01, 0.02, 0.03, 0.05, 0.08, 0.12, 0.18, 0.25)  # ours
STEP_HALF_S = 3.0  # on for so long, off for so long: far below any flash limit, ours
STEP_CYCLES = 3  # ours


def spill(shape: Shape, peak: float) -> list[Stimulus]:
    """A box to the left of the middle, then above it, ever farther away.

    The box moves and the meter stays in the middle: no aiming, and no unevenness of the screen in
    the readings. A reviewer who would rather move the meter adds rows with another spot.
    """
    side = pixels(SPILL_BOX_H, shape)
    gaps = [pixels(gap, shape) for gap in SPILL_GAPS_H]
    middle_row, middle_column = shape[0] // 2, shape[1] // 2
    beside = [
        Patch(middle_row - side // 2, middle_column - gap - side, side, side, WHITE)
        for gap in gaps
        if gap + side <= middle_column
    ]
    above = [
        Patch(middle_row - gap - side, middle_column - side // 2, side, side, WHITE)
        for gap in gaps
        if gap + side <= middle_row
    ]
    return [_spill("horizontal", box, shape, peak) for box in beside] + [
        _spill("vertical", box, shape, peak) for box in above
    ]


def grow(shape: Shape, peak: float) -> list[Stimulus]:
    """A box that grows right and down from the middle of the screen.

    With an even number of zones a zone begins there, with an odd number the middle one lies around
    it: either way the box grows inside one zone until it fills it.
    """
    sides = [pixels(side, shape) for side in GROW_SIDES_H]
    return [
        Stimulus(
            "grow",
            f"grow_{1000 * share:03.0f}",
            shape,
            (Patch(shape[0] // 2, shape[1] // 2, side, side, WHITE),),
            level=WHITE,
            value=side / shape[0],
            mastering_peak=peak,
        )
        for side, share in zip(sides, GROW_SIDES_H, strict=True)
    ]


def grow_spot(shape: Shape) -> tuple[float, float]:
    """Where the meter looks while the box grows: the middle of the smallest one."""
    half = pixels(GROW_SIDES_H[0], shape) / 2
    return (shape[1] // 2 + half) / shape[1], (shape[0] // 2 + half) / shape[0]


def step(shape: Shape, peak: float) -> Stimulus:
    """A white window of 10 % of the area, off and on, for the time response."""
    lit = (window(PATCH_AREA, shape, WHITE),)
    moments = [
        Moment(index * STEP_HALF_S, lit if index % 2 else ())
        for index in range(2 * STEP_CYCLES + 2)
    ]
    return Stimulus(
        "step",
        "step",
        shape,
        level=WHITE,
        value=PATCH_AREA,
        mastering_peak=peak,
        moments=tuple(moments),
    )


def _spill(axis: str, box: Patch, shape: Shape, peak: float) -> Stimulus:
    gap = shape[1] // 2 - box.left - box.width
    if axis == "vertical":
        gap = shape[0] // 2 - box.top - box.height
    return Stimulus(
        "spill",
        f"spill_{axis}_{1000 * gap / shape[0]:03.0f}",
        shape,
        (box,),
        value=gap / shape[0],
        axis="vertical" if axis == "vertical" else "horizontal",
        mastering_peak=peak,
    )
