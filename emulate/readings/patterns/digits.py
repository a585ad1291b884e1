"""The stimulus number, in seven bars a digit, dim, in the lower right corner."""

from __future__ import annotations

from emulate.readings.patterns.code import code_of, grey
from emulate.readings.patterns.place import Shape
from emulate.readings.stimulus import Patch

NUMBER_LIGHT = 1.0  # cd/m²: legible in a dark room, ours
NUMBER_HEIGHT_H = 1 / 54  # picture heights: 20 px of 1080, ours
BARS = {  # which of top, upper left, upper right, middle, lower left, lower right, bottom are lit
    "0": "1110111",
    "1": "0010010",
    "2": "1011101",
    "3": "1011011",
    "4": "0111010",
    "5": "1101011",
    "6": "1101111",
    "7": "1010010",
    "8": "1111111",
    "9": "1111011",
}


def corner_number(number: int, shape: Shape) -> tuple[Patch, ...]:
    """The bars of a number; it keeps one digit height from both edges."""
    unit = max(1, round(NUMBER_HEIGHT_H * shape[0] / 10))
    text = f"{number:03d}"
    left = shape[1] - 10 * unit - 8 * unit * len(text)
    return tuple(
        bar
        for place, digit in enumerate(text)
        for bar in _digit(digit, shape[0] - 20 * unit, left + 8 * unit * place, unit)
    )


def _digit(digit: str, top: int, left: int, unit: int) -> list[Patch]:
    """Bars one unit thick in a cell of 5 × 9 units; none lies on another."""
    places = [(0, 0, 1, 5), (1, 0, 3, 1), (1, 4, 3, 1), (4, 0, 1, 5), (5, 0, 3, 1), (5, 4, 3, 1)]
    signal = grey(code_of(NUMBER_LIGHT))
    return [
        Patch(top + y * unit, left + x * unit, height * unit, width * unit, signal)
        for (y, x, height, width), lit in zip([*places, (8, 0, 1, 5)], BARS[digit], strict=True)
        if lit == "1"
    ]
