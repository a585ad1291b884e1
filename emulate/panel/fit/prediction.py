"""Prediction: the light a panel shows the meter for a reading, through every effect it has.

The recipe at one pixel: what `render` computes of the whole picture at full resolution, in a
fraction of the time, since a stimulus is rectangles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from emulate.panel.cell import seen_from
from emulate.panel.fit.looks import Lamp, expected, laid_out
from emulate.panel.fit.mosaic import Mosaic, mosaic_of
from emulate.panel.panel import Panel
from emulate.panel.policy import curve_for
from emulate.panel.primaries import light_from_panel, panel_light
from emulate.panel.surface import reflected_light
from emulate.panel.tone import toned
from emulate.panel.tracking import tracked
from emulate.panel.uniformity import uniformity_map
from emulate.readings.readings import Repeats
from emulate.readings.stimulus import Stimulus, frame_of, pixel_at
from emulate.values import Numbers

SMALL = (54, 96)  # rows, columns of the frame a policy looks at; what it asks for is levels, ours
MAP = (540, 960)  # rows, columns at which unevenness is looked up, ours


def predicted(panel: Panel, groups: Sequence[Repeats]) -> Numbers:
    """BT.2020 light (n, 3) [cd/m²] that the meter would read of each group, settled."""
    light = np.empty((len(groups), 3))
    circumstances = [(g.readings[0].angle, g.readings[0].room_lux) for g in groups]
    for angle, lux in dict.fromkeys(circumstances):
        index = [n for n, each in enumerate(circumstances) if each == (angle, lux)]
        light[index] = _seen(panel, [groups[n] for n in index], angle, lux)
    return light


def _seen(panel: Panel, groups: Sequence[Repeats], angle: float, lux: float) -> Numbers:
    """The same, from one angle in one room."""
    view = seen_from(angle, panel.cell, panel.angles)
    lamp = Lamp(
        panel.open_cdm2,
        panel.zones,
        panel.spread,
        panel.limiter,
        replace(panel.cell, contrast=view.contrast),
    )
    asked = _asked(panel, list(dict.fromkeys(group.stimulus for group in groups)))
    looks = laid_out(groups, panel.zones, panel.open_cdm2, asked)
    emitted = expected(looks, lamp).astype(np.float32)[:, None]  # pixels in one column
    emitted = tracked(emitted, panel.tracking)
    field = uniformity_map(panel.uniformity, MAP)
    even = np.array([field[pixel_at(g.readings[0].spot, MAP)] for g in groups])
    shown = light_from_panel(emitted * even[:, None, None], panel.primaries)[:, 0]
    return np.asarray(view.gain * shown + reflected_light(panel.surface, lux), dtype=np.float64)


def _asked(panel: Panel, stimuli: Sequence[Stimulus]) -> dict[Stimulus, Mosaic]:
    """What the panel is asked for: the tone curve its policy takes, then its primaries.

    Stimuli of one curve go through as one row of pixels.
    """
    by_curve: dict[object, list[Stimulus]] = {}
    for stimulus in stimuli:
        by_curve.setdefault(_content(panel, stimulus), []).append(stimulus)
    asked: dict[Stimulus, Mosaic] = {}
    for members in by_curve.values():
        mosaics = [mosaic_of(stimulus) for stimulus in members]
        row = np.concatenate([mosaic.light.reshape(1, -1, 3) for mosaic in mosaics], axis=1)
        curve = curve_for(panel, frame_of(members[0], SMALL)).curve
        tone, why = toned(row.astype(np.float32), curve, panel.tone.acts_on)
        wanted = panel_light(tone, panel.primaries, panel.open_cdm2, why, out=tone)[0]
        ends = np.cumsum([mosaic.light.size // 3 for mosaic in mosaics])
        parts = np.split(wanted.astype(np.float64), ends[:-1])
        asked |= {
            stimulus: replace(mosaic, light=part.reshape(mosaic.light.shape))
            for stimulus, mosaic, part in zip(members, mosaics, parts, strict=True)
        }
    return asked


def _content(panel: Panel, stimulus: Stimulus) -> object:
    """What the curve can hang on: the picture itself, or what its file says of it."""
    if panel.tone.policy == "by_frame":
        return stimulus
    return stimulus.mastering_peak, stimulus.max_cll, stimulus.max_fall
