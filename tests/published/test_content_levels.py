"""MaxCLL and MaxFALL of a film, by the worked example of CTA-861.3 (formula from memory).

The example is ours: two 4×4 frames, one black but for a pixel of (1000, 0, 0), one all (100, 100,
100) but for a pixel of (10, 20, 400). By hand: MaxCLL = 1000; frame averages of max(R, G, B) are
1000/16 = 62.5 and (15·100 + 400)/16 = 118.75, so MaxFALL = 118.75.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from emulate import Panel, open_clip, scan, write_exr
from emulate.films.entries import Column
from emulate.films.summary import summed
from emulate.frames.frame import Metadata


def frames() -> list[np.ndarray]:
    first = np.zeros((4, 4, 3), np.float32)
    first[1, 2] = 1000, 0, 0
    second = np.full((4, 4, 3), 100, np.float32)
    second[3, 0] = 10, 20, 400
    return [first, second]


def scanned(tmp_path, lights, active=None):
    for number, light in enumerate(lights):
        write_exr(light, tmp_path / f"f_{number}.exr")
    clip = replace(open_clip(tmp_path, rate=24), active=active)
    return scan(clip, Panel("plain", 1000.0)).film


def test_the_worked_example(tmp_path):
    film = scanned(tmp_path, frames())
    assert film["content.max_cll"].value == 1000
    assert film["content.max_fall"].value == 118.75
    assert film["content.max_fall_frame"].value == 118.75


def test_both_wordings_of_the_average(tmp_path):
    """With two bars of two rows each, half of the frame is black: the wordings part by two."""
    barred = [np.pad(light, ((2, 2), (0, 0), (0, 0))) for light in frames()]
    film = scanned(tmp_path, barred, active=(2, 6, 0, 4))
    assert film["content.max_fall"].value == 118.75  # the picture alone: our default
    assert film["content.max_fall_frame"].value == 118.75 / 2
    assert "default" in film["content.max_fall"].definition
    assert film["content.max_cll"].value == 1000


def test_what_the_stream_claims_stands_beside_it():
    column = Column("content.max_cll", "cd/m²", "")
    claims = Metadata(max_cll=4000.0)
    values = np.array([[10.0], [1000.0]])
    told = summed([column], np.array([0.0, 1.5]), values, claims)["content.max_cll"]
    assert told.value == 1000
    assert "1000 cd/m²" in told.sentence
    assert "00:00:01.500" in told.sentence
    assert "4000 cd/m²" in told.sentence
