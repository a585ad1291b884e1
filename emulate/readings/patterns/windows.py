"""Windows, checkerboards and black: how much light is left, and how little."""

from __future__ import annotations

from emulate.readings.patterns.place import Shape, window
from emulate.readings.stimulus import BLACK, WHITE, Patch, Stimulus

AREAS = (0.01, 0.02, 0.05, 0.10, 0.18, 0.25, 0.50, 1.00)  # common practice, no source
SQUARES = (3, 5, 9, 17)  # squares along each side, odd so that one lies in the middle, ours


def windows(shape: Shape, peak: float) -> list[Stimulus]:
    """Full white on black, 1 % to 100 % of the area."""
    return [
        Stimulus(
            "window",
            f"window_{100 * area:03.0f}",
            shape,
            (window(area, shape, WHITE),),
            level=WHITE,
            value=area,
            mastering_peak=peak,
        )
        for area in AREAS
    ]


def black(shape: Shape, peak: float) -> Stimulus:
    """Nothing lit at all."""
    return Stimulus("black", "black", shape, mastering_peak=peak)


def checkers(shape: Shape, peak: float) -> list[Stimulus]:
    """Squares of white and black, the middle one white, then black: the meter stays in place."""
    return [checker(count, lit, shape, peak) for count in SQUARES for lit in (True, False)]


def checker(count: int, lit: bool, shape: Shape, peak: float) -> Stimulus:
    """`count` × `count` fields of the picture's form; `lit`: the middle one is white."""
    fields = tuple(
        _field(row, column, count, shape)
        for row in range(count)
        for column in range(count)
        if ((row + column) % 2 == 0) == lit  # the middle one is even
    )
    return Stimulus(
        "checker",
        f"checker_{count:02d}_{'white' if lit else 'black'}",
        shape,
        fields,
        level=WHITE if lit else BLACK,
        value=float(count),
        mastering_peak=peak,
    )


def _field(row: int, column: int, count: int, shape: Shape) -> Patch:
    top, bottom = row * shape[0] // count, (row + 1) * shape[0] // count
    left, right = column * shape[1] // count, (column + 1) * shape[1] // count
    return Patch(top, left, bottom - top, right - left, WHITE)
