"""Frames and renderings made by hand, so that every finding on them can be worked out on paper."""

from __future__ import annotations

import numpy as np

from emulate.errors import Caveat
from emulate.frames.frame import Frame
from emulate.panel.curves import identity
from emulate.panel.panel import Panel
from emulate.rendering import Cause, Rendering, State

NO_CAUSE = Cause(0)


def grey(luminance):
    """Light (h, w, 3) of neutral pixels from luminance (h, w) [cd/m²]."""
    return np.repeat(np.asarray(luminance, np.float32)[..., None], 3, axis=2)


def frame_of(luminance, **rest):
    return Frame.from_light(grey(luminance), **rest)


def rendering_of(frame, light=None, *, asked=None, why=None, reflected=0.0, open_cdm2=1000.0):
    """A rendering with the given own light; the room's is added, what is left out is as asked."""
    asked = frame.light if asked is None else asked
    own = asked if light is None else light
    return Rendering(
        light=np.ascontiguousarray(own + np.float32(reflected), np.float32),
        asked=np.ascontiguousarray(asked, np.float32),
        backlight=np.full(frame.shape, open_cdm2, np.float32),
        drive=np.ones((1, 1)),
        gain=1.0,
        why=np.zeros(frame.shape, np.uint8) if why is None else np.asarray(why, np.uint8),
        reflected=reflected,
        curve=identity(),
        panel=Panel("by hand", open_cdm2),
        state=State(np.ones((1, 1)), 1.0, 0.0, 0.0),
        caveats=(Caveat("panel", "made by hand"),),
    )


def square(shape, rows, columns, inside, outside=0.0):
    """(h, w): `inside` on rows × columns (slices), `outside` elsewhere."""
    image = np.full(shape, float(outside))
    image[rows, columns] = inside
    return image
