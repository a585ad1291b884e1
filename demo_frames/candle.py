"""A candle in a dark room: everything else lives between 0.005 and 1 cd/m²."""

from __future__ import annotations

import numpy as np

from .canvas import Canvas, Image, glowing, step
from .noise import sampled, tile
from .tracing import (
    Ball,
    Box,
    Tube,
    View,
    illuminance,
    painted,
    rays,
    shone,
    smoothed,
    traced,
)

CANDELA = 1.0  # a wax candle's intensity, whence the unit's name
FLAME = 2600.0  # cd/m² as graded; a real flame is some four times that
GLOW = 0.0035  # share of the candle's light that comes back from the other walls
EYE = (0.0, 0.36, -1.15)  # m
WICK = (-0.17, 0.245, 0.34)  # m

SHAPES = (
    Box((-1.3, -0.06, -0.2), (1.3, 0.0, 0.85)),  # table
    Box((-4.0, -1.5, 1.55), (4.0, 3.0, 1.7)),  # wall
    Box((0.42, 0.42, 1.52), (0.98, 0.86, 1.55)),  # picture on the wall: its frame
    Box((0.47, 0.47, 1.51), (0.93, 0.81, 1.55)),  # and what it shows
    Tube((-0.17, 0.0, 0.34), 0.033, 0.20),  # candle
    Tube((-0.17, 0.0, 0.34), 0.085, 0.012),  # its saucer
    Ball((0.17, 0.075, 0.22), 0.075),  # apple
    Ball((0.33, 0.062, 0.33), 0.062),  # plum
    Tube((-0.52, 0.0, 0.52), 0.055, 0.24),  # bottle: body, shoulder, neck
    Ball((-0.52, 0.235, 0.52), 0.055),
    Tube((-0.52, 0.24, 0.52), 0.02, 0.15),
    Box((0.40, 0.0, 0.02), (0.80, 0.035, 0.30)),  # two books
    Box((0.45, 0.035, 0.05), (0.78, 0.075, 0.27)),
)
REFLECTANCE = np.array(
    [
        (0.26, 0.15, 0.08),
        (0.42, 0.38, 0.33),
        (0.24, 0.15, 0.05),
        (0.16, 0.19, 0.22),
        (0.80, 0.72, 0.58),
        (0.50, 0.50, 0.48),
        (0.42, 0.06, 0.03),
        (0.13, 0.05, 0.12),
        (0.03, 0.07, 0.04),
        (0.03, 0.07, 0.04),
        (0.03, 0.07, 0.04),
        (0.30, 0.07, 0.05),
        (0.08, 0.13, 0.20),
    ],
    np.float32,
)
POLISH = {8: (14, 900), 9: (14, 900), 10: (14, 900), 6: (0.9, 120), 7: (0.9, 120)}  # cd/m²


def candle_and_corners(canvas: Canvas, rng: np.random.Generator) -> Image:
    """Do the corners of a candle-lit room keep their shapes, or do they turn to black or to fog?"""
    view = traced(SHAPES, EYE, rays(canvas, 0.44, 1.55, 0.03))
    lit = CANDELA / np.pi * illuminance(view, SHAPES, WICK, 0.012) + _returned(view)
    colour = _painted(view, rng) * glowing(2600.0)
    shine = (
        _wax(view)[:, None] * np.array([1.0, 0.55, 0.2], np.float32)
        + shone(view, WICK, POLISH)[:, None]
    )
    picture = (lit[:, None] * colour + shine).reshape(*canvas.shape, 3)
    return smoothed(picture, view.which.reshape(canvas.shape)) + _flame(canvas)


def _returned(view: View) -> Image:
    """Light that the rest of the room sends back: faint, from above, less under things [cd/m²]."""
    distance = np.sqrt(((view.point - np.array(WICK, np.float32)[:, None]) ** 2).sum(axis=0))
    return np.asarray(
        GLOW * np.maximum(4 + 3 * view.normal[1] + 2 * view.normal[0], 0.5) / (1 + distance),
        np.float32,
    )


def _painted(view: View, rng: np.random.Generator) -> Image:
    """Reflectance (n, 3): plaster and a rail on the wall, boards of the table, a brush's hills."""
    plaster, wood = (
        tile(count, source, 7) for count, source in zip((6, 4), rng.spawn(2), strict=True)
    )

    def boards(x: Image, y: Image, z: Image) -> Image:
        del y
        gap = np.abs((z + 10.06) % 0.21 - 0.105) > 0.1025
        return np.asarray(
            (1 + 0.35 * sampled(wood, x / 6.0, z / 0.5)) * (1 - 0.6 * gap), np.float32
        )

    def wall(x: Image, y: Image, z: Image) -> Image:
        del z
        return (1 + 0.30 * sampled(plaster, x / 2.2, y / 2.2)) * (1 - 0.5 * (abs(y - 0.3) < 0.006))

    def hills(x: Image, y: Image, z: Image) -> Image:
        del z
        return 0.6 + 1.3 * step(
            -0.01, 0.01, y - 0.63 - 0.06 * np.sin(9 * x) - 0.02 * np.sin(23 * x)
        )

    return painted(view, REFLECTANCE, {0: boards, 1: wall, 3: hills})


def _wax(view: View) -> Image:
    """Wax lets the flame through near its top [cd/m²]."""
    return np.where(view.which == 4, 9 * step(0.11, 0.2, view.point[1]) ** 2, 0)


def _flame(canvas: Canvas) -> Image:
    """A drop of light on the wick, bluish at its foot, with the haze about it."""
    x, y = canvas.x - np.float32(0.7115), canvas.y - np.float32(0.478)
    width = 0.0085 * (1 - 0.55 * step(0.0, -0.06, y))
    body = step(1.0, 0.35, np.hypot(x / width, (y + 0.016) / 0.036))
    core = step(1.0, 0.2, np.hypot(x / 0.004, (y - 0.006) / 0.012))
    haze = 0.00006 / (x**2 + y**2 + 0.0012)
    warm = glowing(2300.0) * (FLAME * (body - 0.65 * core * body) + haze)[..., None]
    blue = step(0.004, 0.018, y) * step(1.0, 0.3, np.hypot(x / 0.007, (y - 0.014) / 0.012))
    return warm + blue[..., None] * np.array([1, 3, 14], np.float32)
