"""The recipe: from reference light to seen light, one line an effect, in the order light takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from emulate.errors import Caveat
from emulate.panel.cause import Cause as Cause
from emulate.panel.panel import Panel
from emulate.values import Numbers, Pixels, Value


@dataclass(frozen=True, eq=False)
class State(Value):
    """What a clip hands from one frame to the next; None stands for a settled start.

    drive (rows, columns): v of §5.4, before the limiter. gain: of the limiter. peak [cd/m²]: the
    smoothed source peak of `by_frame`. time_s: of the frame. waiting: drives held back by latency,
    oldest first. signature: what tells a scene cut.
    """

    drive: Numbers
    gain: float
    peak: float
    time_s: float
    waiting: tuple[Numbers, ...] = ()
    signature: Numbers | None = None


@dataclass(frozen=True, eq=False)
class Rendering(Value):
    """What the panel shows of a frame.

    light (h, w, 3): BT.2020 cd/m², as seen. asked (h, w, 3): after tone and primaries, what a
    perfect backlight would show. backlight [B] (h, w) cd/m². drive [d] (rows, columns) 0..1, after
    the limiter. gain 0..1. why (h, w) uint8: bits of Cause. reflected [cd/m²]: the room's light off
    the screen, already in `light`. curve: the tone curve that acted.
    """

    light: Pixels
    asked: Pixels
    backlight: Pixels
    drive: Numbers
    gain: float
    why: NDArray[np.uint8]
    reflected: float
    curve: object
    panel: Panel
    state: State
    caveats: tuple[Caveat, ...] = ()
