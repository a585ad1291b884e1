"""Cell: what the liquid crystal, or the pixel itself, makes of the light behind it (physics §6)."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from emulate.errors import Caveat, RequestError
from emulate.panel.cause import Cause
from emulate.values import Numbers, Pixels, Value, numbers

NOISE = 1e-5  # share by which float32 light may exceed another and still count as equal, ours
WIDEST_DEGREES = 90.0  # from there the front of a screen is not seen


@dataclass(frozen=True)
class Cell:
    """contrast [CR], inf = no leakage; compensation [κ], 1 = the cell knows its backlight."""

    contrast: float = float("inf")
    compensation: float = 1.0


@dataclass(frozen=True, eq=False)
class Angles(Value):
    """Contrast and gain at rising viewing angles [degree] (n,); the default is no change."""

    degree: Numbers = field(default_factory=lambda: numbers([]))
    contrast: Numbers = field(default_factory=lambda: numbers([]))
    gain: Numbers = field(default_factory=lambda: numbers([]))


@dataclass(frozen=True)
class View:
    """The cell as seen from somewhere, and what is doubted.

    contrast [CR(θ)]; gain: of the light against the axis; compensation [κ].
    """

    contrast: float
    gain: float
    compensation: float
    caveats: tuple[Caveat, ...] = ()


def seen_from(angle: float, cell: Cell, angles: Angles) -> View:
    """The cell from `angle` [degree] off axis, either side; between readings linear in the angle.

    Beyond the last reading it is held, with a caveat. Raises RequestError from 90° on.
    """
    off = abs(angle)
    if not off < WIDEST_DEGREES:
        raise RequestError(f"angle = {angle}: accepted is −90 to 90 degrees, ends left out")
    degree, contrast, gain = _with_axis(cell, angles)
    return View(
        float(np.interp(off, degree, contrast)),
        float(np.interp(off, degree, gain)),
        cell.compensation,
        _doubts(off, float(degree[-1])),
    )


def emitted(
    asked: Pixels,
    backlight: Pixels,
    view: View,
    leak: float,
    unknown_gain: float,
    open_cdm2: float,
    why: NDArray[np.uint8],
) -> Pixels:
    """Light (h, w, 3) [cd/m²] out of the cell, for asked (h, w, 3) before backlight [B] (h, w).

    leak [1/CR]. unknown_gain: the part of the limiter's gain that the cell does not make up for.
    why (h, w) gains the bits ZONE, WIDE_OPEN, FLOOR and ALL_FLOOR of Cause.
    """
    from emulate._kernels.cell import open_cells

    light = np.empty_like(asked)
    open_cells(
        asked,
        backlight,
        _powers(unknown_gain, open_cdm2, view.compensation),
        unknown_gain,
        view.compensation,
        open_cdm2,
        leak,
        NOISE,
        (int(Cause.ZONE), int(Cause.WIDE_OPEN), int(Cause.FLOOR), int(Cause.ALL_FLOOR)),
        light,
        why,
    )
    return light


def _powers(unknown_gain: float, open_cdm2: float, compensation: float) -> NDArray[np.float32]:
    """B̂/B at the bounds of slices of B; one number where the cell knows its backlight."""
    from emulate._kernels.slices import bounds

    if compensation == 1.0:
        return np.ones(1, np.float32)
    behind = bounds().astype(np.float64)
    share = (open_cdm2 / behind) ** (1 - compensation) / unknown_gain**compensation
    return np.asarray(share, np.float32)


def _with_axis(cell: Cell, angles: Angles) -> tuple[Numbers, Numbers, Numbers]:
    """Readings (n,) with the axis before them: its contrast is the cell's and its gain is 1."""
    missing = 1 if angles.degree.size == 0 or angles.degree[0] > 0 else 0
    return (
        np.append([0.0][:missing], angles.degree),
        np.append([cell.contrast][:missing], angles.contrast),
        np.append([1.0][:missing], angles.gain),
    )


def _doubts(off: float, last: float) -> tuple[Caveat, ...]:
    text = f"seen from {off:g}°, read only to {last:g}°: the reading at {last:g}° is held"
    return (Caveat("angle", text),) if off > last else ()


def turned(light: Pixels, view: View, out: Pixels | None = None) -> Pixels:
    """Light (h, w, 3) as it leaves towards the viewer. `out` may be `light`."""
    return np.multiply(light, np.float32(view.gain), out=out)
