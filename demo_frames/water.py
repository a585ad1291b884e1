"""A harbour at night: small strong lamps, and water that is black between their reflections."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .canvas import WIDTH, Canvas, Image, glowing, mixed, step
from .noise import fractal, sampled, slopes, tile

HORIZON = 0.44  # row of the waterline, in picture heights
FOCAL = 1.3  # picture heights
EYE = 6.0  # m above the water
NIGHT = np.array([0.0028, 0.0040, 0.0075], np.float32)  # cd/m²: a clouded sky over a small town
WATER_INDEX = 0.02  # reflectance of water straight down, Fresnel at n = 1.33
WAVES = ((60.0, 0.020), (17.0, 0.045), (5.0, 0.05))  # m along a tile of waves, and how steep


@dataclass(frozen=True)
class Lamp:
    """Where (picture heights), how large (picture heights), how bright (3,) [cd/m²]."""

    x: float
    y: float
    size: float
    light: Image


def lamps_on_black_water(canvas: Canvas, rng: np.random.Generator) -> Image:
    """Does the water stay black between the lamps, and do the small lamps keep their light?"""
    shore, small, waves, cloud = rng.spawn(4)
    lamps = (*_quay(), *_windows(small))
    shoreline = round(HORIZON * canvas.rows)
    light = mixed(_sky(canvas, cloud), NIGHT * 0.12, _land(canvas, shore)[..., None])
    light[shoreline:] = _water(canvas, canvas.y[shoreline:], lamps, waves)
    for lamp in lamps:
        _add_face(canvas, light, lamp)
    return np.asarray(light + _haze(canvas, lamps), np.float32)


def _quay() -> list[Lamp]:
    """A row of street lamps along the quay, two floodlights, the green and red of the entrance."""
    warm, white = glowing(2050.0), glowing(3900.0)
    places = np.array([0.13, 0.24, 0.335, 0.42, 0.50, 0.57, 0.635, 0.69, 0.74])
    lamps = [
        Lamp(float(x), float(0.393 + 0.030 * k / 9), 0.0042 - 0.0003 * k, (1900.0 - 90 * k) * warm)
        for k, x in enumerate(places)
    ]
    lamps += [Lamp(1.13, 0.372, 0.0052, 3800.0 * white), Lamp(1.168, 0.372, 0.0052, 3800.0 * white)]
    red, green = np.array([260, 8, 2], np.float32), np.array([4, 420, 90], np.float32)
    return [*lamps, Lamp(1.47, 0.417, 0.003, red), Lamp(1.61, 0.414, 0.003, green)]


def _windows(rng: np.random.Generator) -> list[Lamp]:
    """Lit windows on the hill, far smaller and dimmer."""
    places = np.stack([rng.uniform(0.05, 1.72, 60), rng.uniform(0.405, 0.432, 60)], axis=1)
    light = rng.uniform(2.0, 4.6, 60)
    return [
        Lamp(float(x), float(y), 0.0011, float(np.exp(power)) * glowing(2400.0))
        for (x, y), power in zip(places, light, strict=True)
    ]


def _sky(canvas: Canvas, rng: np.random.Generator) -> Image:
    cloud = step(-1.6, 2.4, fractal(canvas, (5, 2), rng, 6))
    near_town = np.exp(-((canvas.y - HORIZON) ** 2) / 0.03) * np.exp(-((canvas.x - 0.5) ** 2) / 0.5)
    town = (0.012 * near_town * (0.4 + cloud))[..., None] * glowing(2300.0)
    return np.asarray(NIGHT * (0.35 + 0.9 * cloud[..., None]) + town, np.float32)


def _land(canvas: Canvas, rng: np.random.Generator) -> Image:
    """Hills and roofs above the waterline, black against the sky."""
    hills = fractal(Canvas(canvas.rows), (1, 1.5), rng, 7)[0][None, :]
    top = (
        HORIZON - 0.055 - 0.03 * hills * step(0.0, 0.5, canvas.x) - 0.05 * step(1.2, 0.2, canvas.x)
    )
    inside = np.clip((canvas.y - top) * canvas.rows, 0, 1)
    return np.asarray(inside * np.clip((HORIZON - canvas.y) * canvas.rows, 0, 1), np.float32)


def _water(canvas: Canvas, y: Image, lamps: tuple[Lamp, ...], rng: np.random.Generator) -> Image:
    """Each ripple is a mirror that looks somewhere else: up to the lamps, or to the dark sky."""
    dip = np.maximum(y - HORIZON, 0.5 / canvas.rows) / FOCAL
    across, along, lost = _ripples(canvas, dip, rng)
    azimuth = (canvas.x - WIDTH / 2) / FOCAL + 2 * dip * across
    height = dip + 2 * along
    mirror = WATER_INDEX + (1 - WATER_INDEX) * (1 - dip) ** 5
    light = NIGHT * (0.12 + 0.5 * step(-0.15, 0.5, height))[..., None]
    for lamp in lamps:
        columns, glint = _glint(canvas, lamp, azimuth, height, lost)
        light[:, columns] += glint[..., None] * lamp.light
    return np.asarray(light * mirror[..., None], np.float32)


def _ripples(canvas: Canvas, dip: Image, rng: np.random.Generator) -> tuple[Image, Image, Image]:
    """Slopes across and along the gaze (h, w), and the deviation a pixel is too coarse to show."""
    distance = np.minimum(EYE / dip, 1500.0)
    side = (canvas.x - WIDTH / 2) / FOCAL * distance
    total = [np.zeros(side.shape, np.float32), np.zeros(side.shape, np.float32)]
    for source, (length, steep) in zip(rng.spawn(3), WAVES, strict=True):
        shown = steep * np.exp(-distance / (16 * length))
        for axis, slope in enumerate(slopes(tile(6, source, 4))):
            deviation = slope.std()
            total[axis] += shown / deviation * sampled(slope, side / length, distance / length)
    lost = 0.010 + 0.03 * step(10.0, 300.0, distance)
    return total[0], total[1], lost


def _glint(
    canvas: Canvas, lamp: Lamp, azimuth: Image, height: Image, lost: Image
) -> tuple[slice, Image]:
    """The lamp in the ripples: the columns it can reach, and its share of light there."""
    reach = 0.16 if lamp.size > 0.002 else 0.04
    left, right = (int((lamp.x + side * reach) * canvas.rows) for side in (-1, 1))
    columns = slice(max(0, left), max(0, right))
    wide, tall = np.hypot(lamp.size / FOCAL, 0.0016), np.hypot(lamp.size / FOCAL, lost)
    aside = (azimuth[:, columns] - (lamp.x - WIDTH / 2) / FOCAL) / wide
    above = (height[:, columns] - (HORIZON - lamp.y) / FOCAL) / tall
    share = (lamp.size / FOCAL) ** 2 / (wide * tall)
    return columns, np.asarray(share * np.exp(-(aside**2 + above**2) / 2), np.float32)


def _add_face(canvas: Canvas, light: Image, lamp: Lamp) -> None:
    """The lamp's own face, its edge smoothed over a pixel."""
    size = max(lamp.size, 0.55 / canvas.rows)
    middle, reach = (lamp.y * canvas.rows, lamp.x * canvas.rows), size * canvas.rows + 3
    rows, columns = (slice(max(0, int(m - reach)), int(m + reach)) for m in middle)
    apart = np.hypot(canvas.x[:, columns] - lamp.x, canvas.y[rows] - lamp.y)
    light[rows, columns] += (
        np.clip((size - apart) * canvas.rows + 0.5, 0, 1)[..., None] * lamp.light
    )


def _haze(canvas: Canvas, lamps: tuple[Lamp, ...]) -> Image:
    """Damp air about the lamps: falls with the square of the distance."""
    glow = np.zeros((*canvas.shape, 3), np.float32)
    for lamp in lamps:
        if lamp.size > 0.002:
            apart = (canvas.x - lamp.x) ** 2 + (canvas.y - lamp.y) ** 2
            glow += (1.4e-8 / (apart + 3e-5))[..., None] * lamp.light * (lamp.size / 0.004) ** 2
    return glow
