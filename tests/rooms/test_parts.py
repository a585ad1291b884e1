"""The parts of a page: light brighter than half floats hold, as suns in scene-linear files are."""

from __future__ import annotations

import numpy as np

from emulate import Frame, Panel, load_frame, measure, render
from emulate.pictures.parts import write_parts


def test_light_beyond_half_floats_is_kept(tmp_path):
    light = np.full((90, 160, 3), 5.0, np.float32)
    light[40:50, 80:90] = 2e5  # IEEE 754 binary16 ends at 65 504
    frame, panel = Frame.from_light(light, "sun"), Panel("plain", 500.0)
    rendering = render(frame, panel)
    entry = write_parts(frame, rendering, measure(frame, rendering), tmp_path)
    assert load_frame(tmp_path / entry.reference).light.max() == np.float32(2e5)
    assert load_frame(tmp_path / entry.shown).light.max() == np.float32(500.0)
