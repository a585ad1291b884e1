"""Scales that stand beside pictures on a mat: light, and visible steps."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from emulate.colorimetry import ITP_SCALE
from emulate.pictures.exposure import Slice, written
from emulate.pictures.page import INNER, Page
from emulate.pictures.sampling import fitted
from emulate.pictures.style import (
    MARGIN,
    PAGE,
    SMALL,
    STEP_COLOURS,
    STEP_EDGES,
    Rgb,
    amount_colours,
)
from emulate.sight import steps_from_light
from emulate.transfer import light_from_pq, pq_from_light

THICK = 16  # px of a bar
APART = 15.0  # px between labels of a bar
RIM = 12  # px of mat around a picture
BESIDE = 124  # px of mat for a scale
ABOVE = 40  # px of a scale for what it measures
SHORTEST = 120  # px of a scale
FAINTEST_TICK = 0.001  # cd/m²; below it no grey of a picture differs from black

Bar = Callable[[Page, int, int, int], None]  # draws a scale at x, y of a height


def size_beside(shape: tuple[int, int], tallest: int) -> tuple[int, int]:
    """Page px (rows, columns) of a picture of `shape` that has a scale beside it."""
    return fitted(shape, (tallest, INNER - 2 * RIM - BESIDE))


def with_scale(page: Page, codes: Rgb, size: tuple[int, int], bar: Bar) -> tuple[int, int]:
    """A picture and its scale on a mat at the page's foot; x, y of the picture in page px."""
    top, height = round(page.y), max(size[0], SHORTEST + ABOVE)
    x, y = MARGIN + RIM, top + RIM
    page.mat(MARGIN, top, 2 * RIM + size[1] + BESIDE, height + 2 * RIM)
    page.image(x, y, codes, size)
    bar(page, x + size[1] + 18, y + ABOVE, height - ABOVE)
    page.y = top + height + 2 * RIM
    return x, y


def light_bar(low: float, high: float) -> Bar:
    """A logarithmic bar of light [cd/m²] in the colours for amounts, low at its foot."""

    def draw(page: Page, x: int, y: int, height: int) -> None:
        codes = amount_colours(np.linspace(1, 0, height * page.paper.scale))[:, None]
        _bar(page, x, y, height, codes, ("backlight,", "cd/m²"))
        span = np.log10(high / low)
        _tick(page, x, y, written(high))
        for value in _decades(low, high / 10 ** (APART / height * span)):
            _tick(page, x, y + height * (1 - np.log10(value / low) / span), written(value))

    return draw


def share_bar(low: float, high: float, measures: tuple[str, str]) -> Bar:
    """A bar of shares in the colours for amounts, `low` at its foot, ticked in tenths as per cent;
    measures: what of, in two short lines."""

    def draw(page: Page, x: int, y: int, height: int) -> None:
        codes = amount_colours(np.linspace(1, 0, height * page.paper.scale))[:, None]
        _bar(page, x, y, height, codes, measures)
        for tenth in range(round(10 * low), round(10 * high) + 1):
            at = y + height * (1 - (tenth / 10 - low) / (high - low))
            _tick(page, x, at, f"{10 * tenth} %")

    return draw


def step_bar(page: Page, x: int, y: int, height: int) -> None:
    """The colours of visible steps, one band a doubling, few at the foot."""
    codes = np.zeros((height * page.paper.scale, 1, 3), dtype=np.uint8)
    bands = np.array_split(np.arange(len(codes)), len(STEP_COLOURS))
    for rows, colour in zip(bands, reversed(STEP_COLOURS), strict=True):
        codes[rows] = np.frombuffer(bytes.fromhex(colour[1:]), np.uint8)
    _bar(page, x, y, height, codes, ("visible", "steps"))
    for index, edge in enumerate(STEP_EDGES):
        _tick(page, x, y + height * (1 - index / len(STEP_EDGES)), str(edge))


def slice_bar(exposure: Slice) -> Bar:
    """What each grey of a slice stands for: visible steps above black, and cd/m².

    The bar runs evenly in the codes of the picture, so a tick lies at the grey its light has there.
    """
    light = np.linspace(0.0, exposure.white, 4096, dtype=np.float32)
    codes = exposure.codes(np.repeat(light, 3).reshape(-1, 1, 3))[:, 0]

    def draw(page: Page, x: int, y: int, height: int) -> None:
        wanted = np.linspace(255, 0, height * page.paper.scale)
        nearest = np.searchsorted(codes[:, 1], np.rint(wanted)).clip(0, len(light) - 1)
        _bar(page, x, y, height, codes[nearest][:, None], ("steps above", "black (cd/m²)"))
        last = y - APART
        for steps, level in _levels(exposure.white):
            at = y + height * (1 - np.interp(level, light, codes[:, 1]) / 255)
            if at >= last + APART:
                _tick(page, x, at, f"{steps:.0f} ({written(level, 2)})")
                last = at

    return draw


def _levels(white: float) -> list[tuple[float, float]]:
    """Steps above black and their light [cd/m²]: white, and the doublings under it, most first."""
    black = float(pq_from_light(0.0))
    top = float(steps_from_light(white)) - ITP_SCALE * black
    doublings = [2.0**n for n in range(10, -1, -1) if 2**n < top]
    levels = [float(light_from_pq(black + steps / ITP_SCALE)) for steps in doublings]
    pairs = [(s, level) for s, level in zip(doublings, levels, strict=True)]
    return [(top, white)] + [pair for pair in pairs if pair[1] >= FAINTEST_TICK]


def _decades(low: float, high: float) -> list[float]:
    first, last = int(np.ceil(np.log10(low) - 1e-9)), int(np.floor(np.log10(high) + 1e-9))
    return [10.0**n for n in range(first, last + 1)]


def _bar(page: Page, x: int, y: int, height: int, codes: Rgb, measures: tuple[str, str]) -> None:
    page.image(x, y, codes.repeat(THICK * page.paper.scale, axis=1), (height, THICK))
    page.text(x, y - 33, measures[0], px=SMALL, color=PAGE)
    page.text(x, y - 19, measures[1], px=SMALL, color=PAGE)


def _tick(page: Page, x: float, y: float, words: str) -> None:
    page.line(x + THICK, y, x + THICK + 4, y, color=PAGE)
    page.text(x + THICK + 8, y, words, px=SMALL, color=PAGE)
