"""A letterboxed night scene with a line of white type in the black bar below it."""

from __future__ import annotations

import numpy as np

from .canvas import WIDTH, Canvas, Image, glowing, mixed, step
from .lettering import inked, text_strokes, text_width
from .noise import sampled, tile
from .tracing import Box, Shape, Tube, View, illuminance, rays, smoothed, traced

TYPE = 203.0  # cd/m²: graphics white, ITU-R BT.2408-7 table 1
SIZE = 0.06  # of the type, in picture heights
PEN = 0.0042  # radius of the pen's stroke, in picture heights
LINES = ("Somebody has left the lamp on", "at the far end of the corridor.")
RATIO = 2.39  # width over height of the picture inside the bars
EYE = (0.0, 1.45, -3.4)  # m
LAMP = (0.36, 1.75, 4.9)  # m: behind the door at the end
WINDOW = (-1.0, 2.0, 1.4)  # m: moonlight from the left
MOON = np.array([0.010, 0.016, 0.030], np.float32)  # cd, as a small source stands for the window

SHAPES: tuple[Shape, ...] = (
    Box((-1.2, -0.1, -5.0), (1.2, 0.0, 7.0)),  # floor
    Box((-1.3, 0.0, -5.0), (-1.2, 2.7, 7.0)),  # left wall
    Box((1.2, 0.0, -5.0), (1.3, 2.7, 7.0)),  # right wall
    Box((-1.2, 2.7, -5.0), (1.2, 2.8, 7.0)),  # ceiling
    Box((-1.2, 0.0, 3.6), (0.02, 2.7, 3.7)),  # end wall left of the door
    Box((0.34, 0.0, 3.55), (1.2, 2.7, 3.7)),  # the door, ajar
    Box((0.0, 2.05, 3.6), (0.36, 2.7, 3.7)),  # lintel
    Box((-1.2, 0.0, 6.0), (1.2, 2.7, 6.1)),  # the lit room's far wall
    Tube((-0.86, 0.0, 2.5), 0.16, 0.62),  # a stand in the corridor
)
REFLECTANCE = np.array(
    [
        (0.20, 0.14, 0.09),
        (0.38, 0.39, 0.36),
        (0.38, 0.39, 0.36),
        (0.60, 0.60, 0.58),
        (0.38, 0.39, 0.36),
        (0.24, 0.20, 0.15),
        (0.40, 0.40, 0.38),
        (0.60, 0.50, 0.36),
        (0.15, 0.15, 0.16),
        (0.0, 0.0, 0.0),
    ],
    np.float32,
)


def subtitle_on_black(canvas: Canvas, rng: np.random.Generator) -> Image:
    """Does a line of type leave the black about it black, and the dark picture above it alone?"""
    bar = (1 - WIDTH / RATIO) / 2
    inside = np.clip((canvas.y - bar) * canvas.rows, 0, 1)
    inside = inside * np.clip((1 - bar - canvas.y) * canvas.rows, 0, 1)
    light = _corridor(canvas, rng) * inside[..., None]
    return mixed(light, np.full(3, TYPE, np.float32), _type(canvas)[..., None])


def _type(canvas: Canvas) -> Image:
    """Two centred lines, the lower in the bar, the upper across its edge."""
    strokes = []
    for line, baseline in zip(LINES, (0.876, 0.953), strict=True):
        left = (WIDTH - text_width(line, SIZE)) / 2
        strokes += text_strokes(line, left, baseline, SIZE)
    return inked(canvas, strokes, PEN)


def _corridor(canvas: Canvas, rng: np.random.Generator) -> Image:
    """A dark corridor, a door ajar at its end, a band of lamplight through the gap."""
    view = traced(SHAPES, EYE, rays(canvas, 0.47, 1.25))
    wear = 1 + 0.25 * sampled(tile(5, rng, 7), view.point[2] / 3 + view.point[0], view.point[1] / 3)
    colour = REFLECTANCE[view.which] * wear[:, None]
    lamp = 11.0 * glowing(2500.0) * (illuminance(view, (), LAMP, 0.1) * _through(view))[:, None]
    moon = MOON * illuminance(view, SHAPES[8:], WINDOW, 0.3)[:, None]
    rest = np.array([0.00022, 0.0003, 0.0005], np.float32)
    picture = (colour * ((lamp + moon) / np.float32(np.pi) + rest)).reshape(*canvas.shape, 3)
    return smoothed(picture, view.which.reshape(canvas.shape))


def _through(view: View) -> Image:
    """Which points the lamp reaches: all of its room, and the corridor through the door's gap."""
    x, y, z = view.point
    share = (3.6 - z) / (LAMP[2] - z)
    at_x, at_y = x + share * (LAMP[0] - x), y + share * (LAMP[1] - y)
    soft = 0.01 + 0.1 * share
    gap = step(0.02 - soft, 0.02 + soft, at_x) * step(0.34 + soft, 0.34 - soft, at_x)
    return np.where(z > 3.6, 1, gap * step(2.05 + soft, 2.05 - soft, at_y))
