"""Sunlit snow: a drifted field below a range of peaks."""

from __future__ import annotations

import numpy as np

from .canvas import Canvas, Image, mixed, step
from .noise import fractal, sampled, slopes, tile
from .terrain import Camera, Seen, looked_at

SUNLIT = 4300.0  # cd/m²: a snow face square to the sun as graded; outdoors it is six times that
SKYLIT = np.array([260, 330, 430], np.float32)  # cd/m²: snow lit by the blue sky alone
SUN = np.array([-0.80, 0.42, -0.43], np.float32)  # towards the sun: left, up, behind the eye
BLUE = np.array([150, 300, 640], np.float32)  # cd/m²: the sky overhead
PALE = np.array([640, 820, 1080], np.float32)  # cd/m²: the sky above the peaks
DRIFT = 0.11  # height of the drifts, in the units the eye stands 0.4 above
ROCK = np.array([0.10, 0.085, 0.075], np.float32)  # reflectance against snow


def drifts_in_sunlit_snow(canvas: Canvas, rng: np.random.Generator) -> Image:
    """Does snow in the sun keep its drifts, or does it run together into one white?"""
    massif, drift, grain, cover, sky = rng.spawn(5)
    peaks, dunes = tile(3, massif, 8, ridged=True), tile(4, drift, 4, ridged=True)
    camera = Camera(height=0.40, focal=1.15, horizon=0.60)
    seen = looked_at(canvas, camera, lambda x, z: _height(peaks, dunes, x, z), 0.35, 40.0)
    land = _lit(seen, peaks, dunes, tile(24, grain, 5), fractal(canvas, (20, 20), cover, 5))
    return mixed(land, _sky(canvas, sky), seen.sky[..., None])


def _rise(along: Image) -> Image:
    """How far the mountains have risen at a distance: the field is flat, then the range begins."""
    return 8.5 * step(7.0, 22.0, along)


def _height(peaks: Image, dunes: Image, across: Image, along: Image) -> Image:
    mountains = sampled(peaks, across / 26 + 0.12, along / 26) + 0.25
    field = DRIFT * sampled(dunes, across / 9, along / 14)
    return np.asarray(field + _rise(along) * np.maximum(mountains, 0.02), np.float32)


def _lit(seen: Seen, peaks: Image, dunes: Image, ripples: Image, cover: Image) -> Image:
    """Light off the land (h, w, 3): sun on the slope, sky everywhere, rock where it is steep."""
    across, along = _slope(seen, peaks, dunes, ripples)
    facing = (SUN[1] - SUN[0] * across - SUN[2] * along) / np.sqrt(1 + across**2 + along**2)
    sun = SUNLIT * np.maximum(facing, 0)[..., None] * np.array([1.0, 0.975, 0.93], np.float32)
    steep = np.hypot(across, along) + 0.10 * cover
    bare = step(1.3, 1.8, steep) * step(9.0, 13.0, seen.along)
    face = (sun + SKYLIT) * mixed(np.ones(3, np.float32), ROCK, bare[..., None])
    return mixed(face, PALE, 0.42 * step(4.0, 44.0, seen.along)[..., None])


def _slope(seen: Seen, peaks: Image, dunes: Image, ripples: Image) -> tuple[Image, Image]:
    rise = _rise(seen.along) / 26
    far = [rise * sampled(part, seen.across / 26 + 0.12, seen.along / 26) for part in slopes(peaks)]
    near = [DRIFT / 9 * sampled(part, seen.across / 9, seen.along / 14) for part in slopes(dunes)]
    fade = np.exp(-seen.along / 5)
    fine = [
        0.0016 * fade * sampled(part, seen.across / 1.6, seen.along / 0.8)
        for part in slopes(ripples)
    ]
    return far[0] + near[0] + fine[0], far[1] + near[1] + fine[1]


def _sky(canvas: Canvas, rng: np.random.Generator) -> Image:
    depth = step(0.45, -0.15, canvas.y)[..., None]
    wisps = fractal(canvas, (7, 2.2), rng, 7) + 1.0 * (canvas.y - 0.25)
    cloud = (2300 * step(0.0, 2.6, wisps) * step(0.0, 0.1, canvas.y + 0.06))[..., None]
    return mixed(PALE, BLUE, depth) + cloud * np.array([1.0, 0.98, 0.95], np.float32)
