"""Short invented films on file, for tests of scanning: a cave with a lamp, a cut, and snow."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

import numpy as np

from emulate import Panel, Viewer, write_clip
from emulate.panel.cell import Cell
from emulate.panel.limiter import Limiter
from emulate.panel.spread import Spread
from emulate.panel.zones import Zones
from emulate.values import numbers

H, W, RATE = 36, 64, 24
CAVE, SNOW = 31, 27  # frames of each scene: more than one checkpoint, and not a whole number
Y, X = np.mgrid[0:H, 0:W]
VIEWER = Viewer(distance_h=10.0)  # few cells, so that tests are quick

PANEL = Panel(
    "Slow",
    900.0,
    zones=Zones(3, 4, attack_s=0.06, decay_s=0.4, latency_frames=1, resets_at_cuts=True),
    spread=Spread(numbers([1.0]), numbers([0.08])),
    limiter=Limiter(numbers([0, 0.1, 1]), numbers([1, 1, 0.6]), "dims", 0.5, 0.2),
    cell=Cell(2500.0),
)


@cache
def lights() -> tuple[np.ndarray, ...]:
    cave = [
        0.05 + 700.0 * np.exp(-((X - 8 - 1.5 * k) ** 2 + (Y - 28) ** 2) / 20) for k in range(CAVE)
    ]
    snow = 400 + 350 * np.sin(X / 5) * np.cos(Y / 7) + 3 * Y
    film = [*cave, *(snow * 0.98**k for k in range(SNOW))]
    return tuple(np.repeat(light[..., None], 3, axis=2).astype(np.float32) for light in film)


def write_film(path: Path) -> Path:
    return write_clip(lights(), path, rate=RATE)


def bytes_of(folder: Path) -> dict[str, bytes]:
    """Every file under a folder but its journal."""
    files = (Path(place) / name for place, _, names in os.walk(folder) for name in names)
    return {
        str(file.relative_to(folder)): file.read_bytes()
        for file in sorted(files)
        if file.suffix != ".jsonl"
    }
