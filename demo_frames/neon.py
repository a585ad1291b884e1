"""Neon in a wet alley: light without white, beside brick that it colours."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter
from scipy.signal import fftconvolve

from .canvas import Canvas, Image, brightest, coloured, step
from .lettering import inked, text_strokes, text_width
from .noise import fractal

GROUND = 0.76  # row where the wall meets the street, in picture heights
PROUD = 0.035  # how far the tubes stand off the wall, in picture heights
TUBE = 0.0068  # radius of a tube, in picture heights
DAMP = 0.45  # reflectance of the wet street towards the wall
HUES = {  # xy, cd/m²: neon and phosphor colours near the edge of P3, luminances of bright signs
    "red": (0.675, 0.320, 560.0),
    "amber": (0.560, 0.425, 900.0),
    "green": (0.235, 0.690, 1150.0),
    "cyan": (0.175, 0.330, 950.0),
    "blue": (0.150, 0.062, 210.0),
    "magenta": (0.360, 0.150, 420.0),
}


def neon_without_white(canvas: Canvas, rng: np.random.Generator) -> Image:
    """Do pure colours keep hue, depth and brightness at once, or does one pay for the other?"""
    bricks, street = rng.spawn(2)
    tubes = _tubes(canvas)
    wall = _wall(canvas, bricks) * (_shone(canvas, tubes) + np.float32(0.012))
    wall = np.where(brightest(tubes)[..., None] > 1, np.maximum(wall, tubes), wall)
    return np.where(canvas.y[..., None] < GROUND, wall, _street(canvas, wall, street))


def _tubes(canvas: Canvas) -> Image:
    """The signs themselves (h, w, 3): round tubes, brighter along their middle."""
    light = np.zeros((*canvas.shape, 3), np.float32)
    for hue, radius, strokes in _signs():
        x, y, luminance = HUES[hue]
        core, rim = inked(canvas, strokes, 0.45 * radius), inked(canvas, strokes, radius)
        light += (luminance * (0.55 * rim + 0.45 * core))[..., None] * coloured(x, y)
    return light


def _signs() -> list[tuple[str, float, list[Image]]]:
    """NOON over two waves, a fish, and TEA until late in a ring."""
    noon = text_strokes("NOON", 0.13, 0.36, 0.285)
    tea = text_strokes("TEA", 1.295, 0.29, 0.17)
    late = text_strokes(
        "until late", (2 * 1.455 - text_width("until late", 0.085)) / 2, 0.405, 0.085
    )
    angle = np.linspace(0, 2 * np.pi, 60)
    ring = np.stack([1.455 + 0.27 * np.cos(angle), 0.275 + 0.205 * np.sin(angle)], axis=1)
    sea = np.linspace(0.16, 0.84, 50)
    waves = [
        np.stack([sea, row + 0.016 * np.sin(26 * sea + phase)], axis=1)
        for row, phase in ((0.455, 0.0), (0.50, 1.6))
    ]
    body = np.linspace(-np.pi * 0.85, np.pi * 0.85, 40)
    fish = np.stack([1.02 + 0.085 * np.cos(body), 0.53 + 0.05 * np.sin(body)], axis=1)
    tail = np.array([[0.944, 0.507], [0.885, 0.575], [0.885, 0.485], [0.944, 0.553]])
    return [
        ("red", TUBE, noon),
        ("cyan", TUBE, [_path(wave) for wave in waves]),
        ("magenta", TUBE, [_path(ring)]),
        ("green", TUBE, tea),
        ("amber", TUBE / 2, late),
        ("blue", TUBE, [_path(fish), _path(tail)]),
    ]


def _path(points: Image) -> Image:
    return np.asarray(points, np.float32)


def _shone(canvas: Canvas, tubes: Image) -> Image:
    """What the tubes throw on the wall (h, w, 3): inverse square and cosine, at a quarter size."""
    part = 4
    rows, columns = canvas.rows // part, canvas.columns // part
    coarse = (
        tubes[: rows * part, : columns * part].reshape(rows, part, columns, part, 3).mean((1, 3))
    )
    apart = np.hypot(*np.ogrid[1 - rows : rows, 1 - columns : columns]) * part / canvas.rows
    kernel = (PROUD**2 / (apart**2 + PROUD**2) ** 2 / np.pi * (part / canvas.rows) ** 2)[..., None]
    light = fftconvolve(coarse, kernel.astype(np.float32), mode="same", axes=(0, 1)).clip(0)
    grown = light.repeat(part, axis=0).repeat(part, axis=1)
    edge = ((0, canvas.rows - rows * part), (0, canvas.columns - columns * part), (0, 0))
    return gaussian_filter(np.pad(grown, edge, mode="edge"), (part / 1.5, part / 1.5, 0))


def _wall(canvas: Canvas, rng: np.random.Generator) -> Image:
    """Brick in running bond (h, w, 3) reflectance: each its own shade, mortar, a rough face."""
    shade, face = rng.spawn(2)
    course = canvas.y / 0.034
    along = canvas.x / 0.092 + 0.5 * (np.floor(course) % 2)
    row, column = np.broadcast_arrays(np.floor(course).astype(int), np.floor(along).astype(int))
    tone = 0.65 + 0.7 * shade.random((64, 64), np.float32)[row % 64, column % 64]
    joint = np.minimum(np.minimum(course % 1, 1 - course % 1) * 0.034,
                       np.minimum(along % 1, 1 - along % 1) * 0.092)  # fmt: skip
    mortar = step(0.0028, 0.0012, joint)
    rough = 1 + 0.22 * fractal(canvas, (30, 22), face, 5)
    brick = (tone * rough * (1 - 0.75 * mortar)).clip(0.05)[..., None]
    return np.asarray(brick * np.array([0.34, 0.25, 0.22], np.float32), np.float32)


def _street(canvas: Canvas, wall: Image, rng: np.random.Generator) -> Image:
    """The wall mirrored in wet asphalt: drawn out downwards, broken by puddles and grain."""
    tilt, wet = rng.spawn(2)
    depth = np.maximum(canvas.y - GROUND, 0)
    soft = gaussian_filter(wall, (0.012 * canvas.rows, 0.0015 * canvas.rows, 0))
    wave = fractal(canvas, (60, 9), tilt, 3)
    source = ((GROUND - 2.6 * depth + 0.25 * depth * wave) * canvas.rows).astype(int)
    aside = (np.arange(canvas.columns) + (0.02 * depth * wave * canvas.rows)).astype(int)
    mirrored = soft[source.clip(0, canvas.rows - 1), aside.clip(0, canvas.columns - 1)]
    puddle = step(-0.5, 0.9, fractal(canvas, (14, 4), wet, 6))
    share = DAMP * (0.12 + 0.88 * puddle) * np.exp(-2.2 * depth)
    return np.asarray(mirrored * share[..., None] + 0.004, np.float32)
