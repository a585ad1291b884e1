"""Land in perspective: which point of a height field each pixel sees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .canvas import WIDTH, Canvas, Image

Height = Callable[[Image, Image], Image]  # height of the land at (across, along)


@dataclass(frozen=True)
class Camera:
    """Eye height and focal length, in world units and picture heights; the row of the horizon."""

    height: float
    focal: float
    horizon: float


@dataclass(frozen=True)
class Seen:
    """Across and along (h, w), in world units, of the land at each pixel; share of sky."""

    across: Image
    along: Image
    sky: Image


def looked_at(canvas: Canvas, camera: Camera, height: Height, near: float, far: float) -> Seen:
    """Walks away from the eye in 700 steps and keeps what rises above all that stands before it."""
    along = np.geomspace(near, far, 700, dtype=np.float32)[:, None]
    sideways = (canvas.x - WIDTH / 2) / camera.focal
    raised = (height(sideways * along, along) - camera.height) / along * camera.focal
    depth, sky = _first_above(
        np.maximum.accumulate(raised, axis=0), camera.horizon - canvas.y[:, 0]
    )
    distance = np.interp(depth, np.arange(len(along)), along[:, 0]).astype(np.float32)
    return Seen(sideways * distance, distance, sky)


def _first_above(horizon: Image, sight: Image) -> tuple[Image, Image]:
    """Fractional step (h, w) at which each line of sight meets the land, and where it misses."""
    depth = np.empty((len(sight), horizon.shape[1]), np.float32)
    for column in range(horizon.shape[1]):
        profile = horizon[:, column]
        step = np.clip(np.searchsorted(profile, sight), 1, len(profile) - 1)
        below, above = profile[step - 1], profile[step]
        share = np.clip((sight - below) / np.maximum(above - below, 1e-9), 0, 1)
        depth[:, column] = step - 1 + share
    sky = np.clip((sight[:, None] - horizon[-1]) * len(sight) + 0.5, 0, 1)
    return depth, sky.astype(np.float32)
