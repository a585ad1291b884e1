"""An ordinary room by day: a bright window, a table in its light, and everything between."""

from __future__ import annotations

import numpy as np

from .canvas import Canvas, Image, mixed, step
from .noise import fractal, sampled, tile
from .tracing import (
    Ball,
    Box,
    Pattern,
    Shape,
    Tube,
    View,
    illuminance,
    painted,
    rays,
    shone,
    smoothed,
    traced,
)

EYE = (0.22, 1.30, -1.62)  # m
PANE = (-0.55, 1.55, 1.6)  # m: middle of the window, for the light that it gives
CANDELA = 900.0  # cd: 0.9 m² of sky as seen through the glass
RETURNED = 34.0  # cd/m² off a white surface from all the other walls

SHAPES: tuple[Shape, ...] = (
    Box((-4.0, -0.2, -3.0), (4.0, 0.0, 2.0)),  # floor
    Box((-4.0, 0.0, 2.0), (-1.25, 3.2, 2.1)),  # wall, around the window
    Box((0.15, 0.0, 2.0), (4.0, 3.2, 2.1)),
    Box((-1.25, 0.0, 2.0), (0.15, 0.95, 2.1)),
    Box((-1.25, 2.15, 2.0), (0.15, 3.2, 2.1)),
    Box((-1.30, 0.91, 1.86), (0.20, 0.95, 2.1)),  # sill
    Box((-0.575, 0.95, 2.03), (-0.525, 2.15, 2.08)),  # bars
    Box((-1.25, 1.62, 2.03), (0.15, 1.66, 2.08)),
    Box((-0.75, 0.70, 0.0), (1.35, 0.75, 1.1)),  # table
    Ball((0.30, 0.82, 0.42), 0.07),  # orange
    Ball((0.44, 0.815, 0.50), 0.065),  # apple
    Ball((0.42, 0.815, 0.33), 0.065),  # lime
    Tube((-0.06, 0.75, 0.55), 0.048, 0.105),  # mug
    Tube((0.92, 0.75, 0.66), 0.07, 0.17),  # flower pot
    Ball((0.92, 1.04, 0.66), 0.14),  # its bush
    Ball((0.83, 0.98, 0.60), 0.09),
    Ball((1.02, 1.00, 0.61), 0.10),
    Box((-0.62, 0.75, 0.18), (-0.28, 0.785, 0.42)),  # books
    Box((-0.60, 0.785, 0.20), (-0.30, 0.815, 0.41)),
    Box((0.75, 1.45, 1.97), (1.55, 2.05, 2.0)),  # picture
    Box((0.79, 1.49, 1.965), (1.51, 2.01, 2.0)),
    Tube((-0.66, 0.0, 0.10), 0.035, 0.71),  # legs of the table
    Tube((1.26, 0.0, 0.10), 0.035, 0.71),
    Tube((1.26, 0.0, 1.00), 0.035, 0.71),
    Tube((-0.66, 0.0, 1.00), 0.035, 0.71),
    Ball((0.95, 1.13, 0.70), 0.10),
    Ball((0.80, 1.08, 0.70), 0.08),
    Ball((1.06, 1.09, 0.72), 0.08),
)
REFLECTANCE = np.array(
    [
        (0.30, 0.22, 0.15),
        *[(0.62, 0.60, 0.54)] * 4,
        *[(0.80, 0.80, 0.78)] * 3,
        (0.36, 0.22, 0.12),
        (0.72, 0.30, 0.03),
        (0.50, 0.06, 0.04),
        (0.26, 0.46, 0.06),
        (0.10, 0.26, 0.42),
        (0.52, 0.25, 0.15),
        *[(0.06, 0.17, 0.05)] * 3,
        (0.45, 0.10, 0.10),
        (0.75, 0.70, 0.58),
        (0.10, 0.08, 0.07),
        (0.50, 0.52, 0.50),
        *[(0.30, 0.19, 0.11)] * 4,
        *[(0.06, 0.17, 0.05)] * 3,
        (0.0, 0.0, 0.0),
    ],
    np.float32,
)
WALLS, TABLE, FRAMED, BUSH = (1, 2, 3, 4), 8, 20, (14, 15, 16, 25, 26, 27)
POLISH = {12: (420, 300), TABLE: (70, 14), **dict.fromkeys((9, 10, 11), (120, 60))}  # cd/m²


def window_and_table(canvas: Canvas, rng: np.random.Generator) -> Image:
    """Does an ordinary room hold together: clouds outside, fruit in the light, books in shadow?"""
    paint, clouds = rng.spawn(2)
    view = traced(SHAPES, EYE, rays(canvas, 0.44, 1.12, 0.13))
    sky = (
        CANDELA / np.pi * illuminance(view, SHAPES, PANE, 0.42) * _outward(view) * _past_table(view)
    )
    room = RETURNED * (0.7 + 0.3 * view.normal[1] - 0.2 * view.normal[0]) * _corners(view)
    day, walls = np.array([0.94, 1.0, 1.09], np.float32), np.array([1.05, 1.0, 0.90], np.float32)
    light = _painted(view, paint) * (sky[:, None] * day + room[:, None] * walls)
    light += shone(view, PANE, POLISH)[:, None] * day
    picture = light.reshape(*canvas.shape, 3)
    outside = (view.which == -1).reshape(canvas.shape)
    picture = np.where(outside[..., None], _outside(canvas, clouds), picture)
    return smoothed(picture, view.which.reshape(canvas.shape))


def _outward(view: View) -> Image:
    """A window sends most of its light straight in, less to the sides (cosine)."""
    towards = view.point - np.array(PANE, np.float32)[:, None]
    inward = -towards[2] / np.sqrt(towards[0] ** 2 + towards[1] ** 2 + towards[2] ** 2)
    return step(-0.02, 0.9, inward) + 0.02


def _past_table(view: View) -> Image:
    """Share of the window that the table top leaves to what lies below it."""
    x, y, z = view.point
    share = (0.74 - y) / (PANE[1] - y)
    at_x, at_z, soft = x + share * (PANE[0] - x), z + share * (PANE[2] - z), 0.02 + 0.4 * share
    inside = step(-0.75 - soft, -0.75 + soft, at_x) * step(1.35 + soft, 1.35 - soft, at_x)
    inside *= step(-soft, soft, at_z) * step(1.1 + soft, 1.1 - soft, at_z)
    return np.where(y < 0.7, 1 - inside, 1)


def _corners(view: View) -> Image:
    """Less light where surfaces meet: under the table, beside things that stand on it."""
    x, y, z = view.point
    under = np.where(y < 0.7, 0.4 + 0.6 * step(0.5, 1.5, np.hypot(x - 0.3, z - 0.5)), 1)
    return 0.25 + 0.75 * under * step(-0.4, 0.9, 2.1 - z + 0.5 * (view.normal[2] < -0.5))


def _painted(view: View, rng: np.random.Generator) -> Image:
    """Reflectance (n, 3) with grain in the wood, leaves on the bush and a picture in the frame."""
    wood, plaster, leaf = (
        tile(count, source, 7) for count, source in zip((4, 8, 28), rng.spawn(3), strict=True)
    )

    def boards(x: Image, y: Image, z: Image) -> Image:
        del y
        return (1 + 0.3 * sampled(wood, z / 5, x / 0.6)) * (1 - 0.5 * ((x + 9) % 0.19 < 0.005))

    def wall(x: Image, y: Image, z: Image) -> Image:
        del z
        return 1 + 0.05 * sampled(plaster, x / 1.5, y / 1.5)

    def leaves(x: Image, y: Image, z: Image) -> Image:
        return 0.9 + 1.6 * sampled(leaf, (x + 0.8 * z) / 1.1, (y - 0.6 * z) / 1.1)

    def hills(x: Image, y: Image, z: Image) -> Image:
        del z
        return 0.5 + 0.6 * step(1.6, 1.62, y + 0.06 * np.sin(7 * x) + 0.1 * sampled(plaster, x, y))

    patterns: dict[int, Pattern] = {0: boards, **dict.fromkeys(WALLS, wall), FRAMED: hills}
    patterns |= {TABLE: lambda x, _, z: 1 + 0.3 * sampled(wood, x / 5, z / 0.5)}
    patterns |= {9: lambda x, y, _: 1 + 0.08 * sampled(leaf, x / 0.3, y / 0.3)}
    return painted(view, REFLECTANCE, patterns | dict.fromkeys(BUSH, leaves))


def _outside(canvas: Canvas, rng: np.random.Generator) -> Image:
    """Heaped clouds in the sun over a far wood: up to 2900 cd/m² through the glass."""
    heap, trees = rng.spawn(2)
    billow = fractal(canvas, (4.2, 3.0), heap, 7)
    body = step(-0.5, 0.35, billow - 2.2 * (canvas.y - 0.36))
    lit = 1350 + 620 * np.tanh(billow - np.roll(billow, round(0.02 * canvas.rows), axis=0) + 0.6)
    lit = lit + 480 * np.tanh(billow)
    sky = mixed(np.array([800, 980, 1250], np.float32), np.array([330, 520, 900], np.float32),
                step(0.62, 0.05, canvas.y)[..., None])  # fmt: skip
    cloud = mixed(sky, np.asarray(lit[..., None] * np.array([1, 0.985, 0.96]), np.float32),
                  body[..., None])  # fmt: skip
    crown = 0.60 + 0.028 * fractal(canvas, (2, 7), trees, 6)
    wood = step(-0.002, 0.004, canvas.y - crown)[..., None]
    leaves = (90 + 45 * fractal(canvas, (22, 22), trees, 5)).clip(12)[..., None]
    return mixed(cloud, leaves * np.array([0.62, 1.0, 0.42], np.float32), wood)
