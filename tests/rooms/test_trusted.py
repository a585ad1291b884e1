"""What the closed loop comes to, by hand; its table and its figure."""

from __future__ import annotations

import csv
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.collections import LineCollection

from emulate import draw_trust, find_trust, save_drawing
from emulate.findings.trust import Row, Trust
from emulate.findings.trusted import COLUMNS, rows_text, trust_tables
from emulate.panel.fit.noise import Noise
from emulate.readings.patterns.plan import pattern_set
from emulate.readings.readings import Reading, Source

STEPS, SIGMAS = (0.5, -1.5, 2.0, 0.0), (1.0, -2.0, 3.0, 0.0)


def _trust(how="closed loop", interval=None) -> Trust:
    looks = pattern_set(shape=(90, 160), peaks=(1000,), families=("window",), repeats=1).looks[1:5]
    rows = [
        Row(
            Reading(look.stimulus, 100.0 * n, Source("s.csv", n)),
            2,
            100.0 * n,
            101.0 * n,
            steps,
            sigmas,
            interval,
        )
        for n, (look, steps, sigmas) in enumerate(zip(looks, STEPS, SIGMAS, strict=True), 1)
    ]
    return Trust(how, "Slate", tuple(rows), Noise(0.01))


def test_root_mean_squares_and_shares_by_hand():
    found = find_trust(_trust(), _trust("held out", (90.0, 310.0)))
    assert found["trust.steps"].value == pytest.approx(np.sqrt((0.25 + 2.25 + 4) / 4))
    assert found["trust.sigmas"].value == pytest.approx(np.sqrt((1 + 4 + 9) / 4))
    assert found["trust.unseen"].value == 0.5  # two of four within a step
    assert found["held_out.inside"].value == 0.75  # 100, 200 and 300 lie in it, 400 does not
    assert "4 means of 8 readings" in found.basis
    assert "scatters by 1 %" in found.basis
    assert "held_out.inside" not in find_trust(_trust())


def test_readings_without_a_row_are_counted_with_why():
    closed = replace(_trust(), left_out={"of the drift patch": 10, "that read no light": 9})
    basis = find_trust(closed).basis
    assert "left out are 10 of the drift patch, and 9 that read no light" in basis
    assert "left out" not in find_trust(_trust()).basis


def test_what_lies_beyond_the_scale_is_counted():
    """Of four readings one is 31 σ off, on a scale that ends at 10."""
    closed = _trust()
    far = replace(closed, rows=(*closed.rows[:3], replace(closed.rows[3], sigmas=31.0)))
    said = [text.get_text() for text in draw_trust(far, None, find_trust(far)).figure.texts]
    assert [text for text in said if text.endswith("beyond 10: 1 reading, filled, up to 31")]
    plain = [text.get_text() for text in draw_trust(closed, None, find_trust(closed)).figure.texts]
    assert not [text for text in plain if "beyond" in text]


def test_held_out_readings_are_drawn_with_their_intervals():
    """Each bar runs from 90 to 310 cd/m² around what was read; three of four hold it."""
    held = replace(_trust("held out", (90.0, 310.0)), widened=1.6)
    figure = draw_trust(_trust(), held, find_trust(_trust(), held)).figure
    assert any("widened 1.6 times" in text.get_text() for text in figure.texts)
    (bars,) = [c for a in figure.axes for c in a.collections if isinstance(c, LineCollection)]
    ends = np.array([segment[:, 1] for segment in bars.get_segments()])
    assert (ends[:, 0] <= 0).all()
    assert np.count_nonzero(ends[:, 1] >= 0) == 3


def test_what_widening_alone_brings_inside_is_said():
    """Logs of 100, 200, 300 and 400 are .51, .18, .59 and .87 off that of √(90·310); half the
    interval is .62 as it is and .39 before it was widened: three and one of four."""
    narrow, held = (
        _trust("held out", (90.0, 310.0)),
        replace(_trust("held out", (90.0, 310.0)), widened=1.6),
    )
    said = find_trust(_trust(), held)["held_out.inside"].sentence
    assert said.startswith("75 % of the readings")
    assert said.endswith("widened 1.6 times: without that about 25 %.")
    idle = replace(held, rows=held.rows[1:2])  # 200 cd/m² lies in it either way
    said = find_trust(_trust(), idle)["held_out.inside"].sentence
    assert said.endswith("though intervals were widened 1.6 times.")
    assert "widened" not in find_trust(_trust(), narrow)["held_out.inside"].sentence


def test_a_page_has_intervals_only_where_they_were_stated():
    closed, held = _trust(), replace(_trust("held out", (90.0, 310.0)), widened=1.6)
    first, second = trust_tables([closed, held])
    assert len(first.head) == len(first.rows[0]) == 4
    assert second.rows == (("windows", "4", "1.3 visible steps", "1.9 ×", "3 of 4"),)
    assert second.sentence.endswith("widened 1.6 times, by what the model misses.")
    still = [replace(row, sigmas=1e-7) for row in closed.rows]
    assert trust_tables([replace(closed, rows=tuple(still))])[0].rows[0][3] == "under 0.01 ×"


def test_every_reading_has_its_line():
    lines = list(csv.reader(rows_text((_trust(), _trust("held out", (90.0, 310.0)))).splitlines()))
    assert tuple(lines[0]) == COLUMNS
    assert len(lines) == 9
    assert all(len(line) == len(COLUMNS) for line in lines)
    assert lines[1][:2] == ["closed loop", "window_001"]
    assert lines[1][-2:] == ["s.csv", "1"]
    assert lines[5][11:13] == ["90", "310"]


def test_the_figure_is_the_same_twice_and_says_its_findings(tmp_path):
    closed, held = _trust(), _trust("held out", (90.0, 310.0))
    found = find_trust(closed, held)
    files = []
    for name in ("a.png", "b.png"):
        drawing = draw_trust(closed, held, found)
        files.append(save_drawing(drawing, tmp_path / name).path.read_bytes())
    assert files[0] == files[1]
    assert all(finding.sentence in drawing.alt for finding in found.values())
