"""Timing kept with a panel: refresh and input lag on file, of no effect on light."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from emulate import Frame, Panel, load_panel, render, save_panel
from emulate.errors import PanelError
from emulate.panel.facts import facts
from emulate.panel.timing import Timing
from emulate.values import numbers

HEAD = 'format = "emulate-panel/1"\nname = "x"\n[light]\nopen_cdm2 = 500.0\n'


@pytest.fixture
def timed() -> Panel:
    timing = Timing(numbers([60.0, 120.0]), numbers([15.0, 8.5]))
    return replace(Panel("timed", 500.0), timing=timing)


def test_it_comes_back_from_a_file_to_the_same_bytes(timed, tmp_path):
    first = save_panel(timed, tmp_path / "one.toml")
    assert "[timing]\nrefresh_hz = [60.0, 120.0]\ninput_lag_ms = [15.0, 8.5]" in first.read_text()
    again = load_panel(first)
    assert save_panel(again, tmp_path / "two.toml").read_bytes() == first.read_bytes()
    assert again.timing.input_lag_ms.tolist() == [15.0, 8.5]


def test_a_panel_without_it_is_written_as_before(tmp_path):
    assert "timing" not in save_panel(Panel("x", 500.0), tmp_path / "x.toml").read_text()


def test_refresh_alone_will_do(tmp_path):
    file = tmp_path / "x.toml"
    file.write_text(f"{HEAD}[timing]\nrefresh_hz = [48.0, 60.0]\n")
    panel = load_panel(file)
    assert panel.timing.input_lag_ms.size == 0
    assert ("refresh", "48, 60 Hz") in facts(panel)


def test_lag_is_told_in_pictures_too(timed):
    """15 ms at 60 Hz is 0.9 of a picture, 8.5 ms at 120 Hz 1.02."""
    assert timed.timing.frames_late() == pytest.approx([0.9, 1.02])
    assert ("input lag at 60 Hz", "15 ms, 0.9 pictures") in facts(timed)


def test_no_light_depends_on_it(timed):
    frame = Frame.from_light(np.linspace(0, 600, 90 * 160 * 3).reshape(90, 160, 3))
    assert np.array_equal(render(frame, timed).light, render(frame, Panel("x", 500.0)).light)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("refresh_hz = []", "timing.refresh_hz = []; accepted is one or more rates from 1 to 1000"),
        ("refresh_hz = [120.0, 60.0]", "timing.refresh_hz#2 = 60.0 after 120.0; accepted is"),
        ("refresh_hz = [60.0]\ninput_lag_ms = [1.0, 2.0]",
         "timing.input_lag_ms has 2 numbers and refresh_hz has 1; accepted is as many"),
        ("refresh_hz = [60.0]\ninput_lag_ms = [-1.0]", "accepted is one time per rate, 0 to 10000"),
        ("input_lag_ms = [1.0]", "timing.refresh_hz is missing"),
        ("refresh = [60.0]", "timing.refresh is not a key (is it refresh_hz?)"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_its_key(table, said, tmp_path):
    file = tmp_path / "x.toml"
    file.write_text(f"{HEAD}[timing]\n{table}\n")
    with pytest.raises(PanelError) as refused:
        load_panel(file)
    assert said in str(refused.value)
