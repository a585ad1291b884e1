"""A small frame, a panel with everything that can go wrong, and what comes of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

from emulate.errors import Caveat
from emulate.findings.finding import Findings
from emulate.findings.measure import measure
from emulate.frames.frame import Frame
from emulate.panel.cell import Cell
from emulate.panel.limiter import Limiter
from emulate.panel.panel import Panel
from emulate.panel.primaries import Primaries
from emulate.panel.spread import Spread
from emulate.panel.surface import Surface
from emulate.panel.tone import Tone, ToneReading
from emulate.panel.zones import Zones
from emulate.rendering import Rendering, render
from emulate.values import numbers

PANEL = Panel(
    "Quarry",
    800.0,
    tone=Tone(
        curves=(
            ToneReading(0.0, numbers([0, 0.25, 0.5, 0.7, 1]), numbers([0, 5.15, 92.2, 600, 800])),
        )
    ),
    primaries=Primaries((0.68, 0.32), (0.265, 0.69), (0.15, 0.06)),
    zones=Zones(4, 6, peak_weight=0.6, reach=0.2),
    spread=Spread(numbers([0.8, 0.2]), numbers([0.1, 0.4])),
    limiter=Limiter(numbers([0, 0.2, 1]), numbers([1, 1, 0.6])),
    cell=Cell(1200.0),
    surface=Surface(0.01),
    caveats=(Caveat("spread", "guessed"),),
)

Case = tuple[Frame, Rendering, Findings]


def light(rows: int, columns: int) -> np.ndarray:
    """Black, a ramp of shadow and a lamp, in that order from the left, with some colour."""
    across = np.linspace(0, 1, columns, dtype=np.float32)[None, :, None]
    ramp = np.where(across > 0.3, 3 * across**4, 0.0) * np.array([1.0, 0.8, 0.5])
    lamp = np.where((across > 0.6) & (across < 0.75), 2500.0, 0.0)
    down = np.linspace(0, 1, rows, dtype=np.float32)[:, None, None]
    return (ramp + np.where((down > 0.3) & (down < 0.6), lamp, 0.0)).astype(np.float32)


def case(rows: int = 54, columns: int = 96, name: str = "lamp", panel: Panel = PANEL) -> Case:
    fine = min(rows, columns)
    if isinstance(panel.zones, Zones) and fine < 6:
        panel = replace(panel, zones=Zones(1, 1, grain_px=1))
    frame = Frame.from_light(light(rows, columns), name)
    rendering = render(frame, panel, room_lux=5.0)
    return frame, rendering, measure(frame, rendering)


def codes(path: Path) -> np.ndarray:
    """(h, w, 3) of a PNG, by Pillow."""
    with Image.open(path) as image:
        return np.asarray(image.convert("RGB"))


def linear(code: np.ndarray) -> np.ndarray:
    """IEC 61966-2-1:1999, 5.2, written apart from the room under test."""
    v = np.asarray(code, dtype=np.float64) / 255
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
