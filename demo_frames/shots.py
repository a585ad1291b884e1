"""Shots: light that moves, each named for the question it asks of a panel."""

from __future__ import annotations

import numpy as np

from .canvas import WIDTH, Canvas, Image, glowing
from .noise import sampled, slopes, tile
from .reel import Shot
from .snow import drifts_in_sunlit_snow
from .window import window_and_table

SECONDS = {  # length of each shot
    "lamp_across_black": 3.0,
    "fade_and_return": 3.0,
    "cave_to_snow": 3.0,
    "posts_passing": 2.0,
}
LAMP = 2000.0  # cd/m²; its red asks for nearly twice that
LAMP_SIZE = 0.011  # radius in picture heights
LAMP_SPEED = 0.48  # picture heights a second
DARKEST = 0.02  # of the signal, where the fade turns round
CUT_S = 1.5  # s, when the cave ends
CAVE = 0.25  # cd/m²: sets the nearest rock to about one
POSTS_SPEED = 0.5  # picture heights a second
POSTS = 0.24  # picture heights from one fence's edge to the next


def lamp_across_black(canvas: Canvas, rng: np.random.Generator) -> Shot:
    """Does its light travel with the lamp, or does a grey patch jump from zone to zone under it?"""
    del rng
    colour = LAMP * glowing(2400.0)

    def at(time_s: float) -> Image:
        x = 0.17 + LAMP_SPEED * time_s
        y = 0.5 + 0.16 * np.sin(2.1 * time_s)
        apart = np.hypot(canvas.x - np.float32(x), canvas.y - np.float32(y))
        face = np.clip((LAMP_SIZE - apart) * canvas.rows + 0.5, 0, 1)
        haze = 2e-8 / (apart**2 + 3e-5)
        return np.asarray((face + haze)[..., None] * colour, np.float32)

    return at


def fade_and_return(canvas: Canvas, rng: np.random.Generator) -> Shot:
    """Does a fade run evenly to black and back, or does it step and pump?"""
    still = np.asarray(window_and_table(canvas, rng), np.float32)
    length = SECONDS["fade_and_return"]

    def at(time_s: float) -> Image:
        signal = 0.5 + 0.5 * np.cos(2 * np.pi * time_s / length)
        gain = (DARKEST + (1 - DARKEST) * signal) ** 2.4  # even in the signal of a BT.1886 fader
        return np.asarray(still * np.float32(gain))

    return at


def cave_to_snow(canvas: Canvas, rng: np.random.Generator) -> Shot:
    """After the cut from a dark cave to snow in the sun, how long does the light take to follow?"""
    rock, land = rng.spawn(2)
    cave = _cave(canvas, rock)
    snow = np.asarray(drifts_in_sunlit_snow(canvas, land), np.float32)
    return lambda time_s: cave if time_s < CUT_S - 1e-9 else snow


def _cave(canvas: Canvas, rng: np.random.Generator) -> Image:
    """A passage lit from beside the eye: rock by angle about its axis and distance along it."""
    relief = tile(5, rng, 7, ridged=True)
    x, y = canvas.x - np.float32(0.52 * WIDTH), canvas.y - np.float32(0.47)
    away = 0.30 / np.maximum(np.hypot(x, 0.9 * y), 0.02)
    turn = np.arctan2(y, x) / np.float32(2 * np.pi)
    across, along = slopes(relief)
    facing = 1.0 + 0.055 * sampled(along, turn, away / 5) - 0.04 * sampled(across, turn, away / 5)
    bumps = 1 + 0.6 * sampled(relief, turn, away / 5)
    light = CAVE * np.clip(facing, 0.03, 4) * bumps / (0.4 + away) ** 3
    return np.asarray(np.maximum(light, 0)[..., None] * glowing(3200.0), np.float32)


def posts_passing(canvas: Canvas, rng: np.random.Generator) -> Shot:
    """Do the edges of a fence that passes stay sharp to an eye that follows it?"""
    del rng
    widths = np.array([1, 2, 4, 8]) / 270  # picture heights; one is two pixels at 540 rows
    lights = np.array([1.0, 12.0, 120.0, 600.0], np.float32)  # cd/m²: one row of fences each
    rows = np.minimum((canvas.y[:, 0] * len(lights)).astype(int), len(lights) - 1)

    def at(time_s: float) -> Image:
        shift = POSTS_SPEED * time_s
        cover = np.zeros(canvas.columns)
        for fence in range(-10, 16):
            left = fence * POSTS + shift
            for post, width in enumerate(widths):
                start = left + 0.02 + post * 0.05
                cover += _covered(canvas, start, start + width)
        light = 0.25 + np.outer(lights[rows], cover)
        return np.repeat(light.astype(np.float32)[..., None], 3, axis=2)

    return at


def _covered(canvas: Canvas, left: float, right: float) -> Image:
    """Share (w,) of each column between two places in picture heights, exact."""
    column = np.arange(canvas.columns)
    inside = np.minimum(right * canvas.rows, column + 1) - np.maximum(left * canvas.rows, column)
    return np.asarray(np.clip(inside, 0, 1))
