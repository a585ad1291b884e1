"""The benchmark's own clocks, and that what it measures us against gives the same pictures.

Outside: `render_plainly` is the recipe effect by effect, and the twins here are written apart from
it in float64 numpy, scipy and colour-science.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache, partial
from typing import Any

import numpy as np
import pytest

from benchmarks import films, plain, tidy
from benchmarks.telling import csv_of, table
from benchmarks.timing import Line, environment, interleaved, memory
from emulate import load_panel, measure
from emulate.demo_frames import panel_files, scene
from emulate.frames.frame import CodePicture, Frame
from emulate.frames.ycbcr import pq_picture
from emulate.panel.panel import Panel
from emulate.panel.zones import Zones
from emulate.rendering import Rendering, render_plainly
from emulate.sight import Viewer

SHAPE = (96, 160)
CLOSE = {  # largest share by which light may differ, over 1e-3 cd/m²
    plain: 1e-5,  # float32 against float64
    tidy: 5e-3,  # a table of 65 536 entries of the signal, read at the nearest: half an entry is
    # up to 0.3 % of the light near black
}
BORDER = 1e-3  # of the picture: pixels whose steps lie so near a bound that rounding decides


@cache
def _lamps() -> CodePicture:
    return pq_picture(scene("lamps_on_black_water", rows=SHAPE[0]).light[:, : SHAPE[1]])


@pytest.fixture(scope="module", params=["coarse", "of many zones"])
def shown(request: pytest.FixtureRequest) -> tuple[CodePicture, Panel, Rendering]:
    panel = load_panel(next(each for each in panel_files() if each.stem == "coarse_zones"))
    assert isinstance(panel.zones, Zones)
    if request.param == "of many zones":
        panel = replace(panel, zones=replace(panel.zones, rows=17, columns=23))
    picture = _lamps()
    frame = Frame(picture, "lamps", encoding=picture.encoding)
    return picture, panel, render_plainly(frame, panel)


@pytest.mark.parametrize("twin", [plain, tidy])
def test_a_twin_shows_what_the_recipe_shows(
    twin: Any, shown: tuple[CodePicture, Panel, Rendering]
) -> None:
    picture, panel, expected = shown
    reference, found = twin.rendered(picture, panel)
    for ours, theirs in (
        (picture.light(), reference),
        (expected.light, found.light),
        (expected.asked, found.asked),
        (expected.backlight, found.backlight),
    ):
        np.testing.assert_array_less(np.abs(ours - theirs), CLOSE[twin] * (np.abs(ours) + 1e-3))


@pytest.mark.parametrize("twin", [plain, tidy])
def test_a_twin_finds_what_the_findings_find(
    twin: Any, shown: tuple[CodePicture, Panel, Rendering]
) -> None:
    picture, panel, expected = shown
    frame, near = Frame(picture, "lamps", encoding=picture.encoding), Viewer(distance_h=8.0)
    ours = measure(frame, expected, viewer=near, colour=False)
    theirs = twin.found(*twin.rendered(picture, panel), near)
    assert sorted(theirs) == ["clipped.area", "crushed.area", "detail.area", "halo.area"]
    for name, share in theirs.items():
        assert share == pytest.approx(ours[name].value, abs=BORDER), name
    assert theirs["clipped.area"] > 0.01
    assert theirs["crushed.area"] > 0.01


def test_tasks_take_turns_each_called_before_and_slow_ones_called_once() -> None:
    calls: list[str] = []
    ticks: Iterator[float] = iter(range(100))
    timed = interleaved(
        {name: partial(calls.append, name) for name in "abc"},
        rounds=3,
        slow=frozenset("c"),
        clock=lambda: float(next(ticks)),
    )
    assert "".join(calls) == "aabb" + "aabbc" + "aabb"
    assert {name: len(each.seconds) for name, each in timed.items()} == {"a": 3, "b": 3, "c": 1}
    assert all(each.median == 1.0 for each in timed.values())


def test_ratios_are_of_the_same_thing() -> None:
    lines = [
        Line("light", "ours", "4K", 8_294_400, 96, 2, 0.03, 7),
        Line("light", "ours", "4K", 8_294_400, 96, 1, 0.06, 7),
        Line("light", "copy", "4K", 8_294_400, 96, 2, 0.01, 7),
        Line("light", "plain", "4K", 8_294_400, 96, 1, 6.0, 1),
        Line("light", "plain", "1080p", 2_073_600, 96, 1, 1.0, 1),
    ]
    two, one = list(table(lines))[1:3]
    assert two.split() == ["light", "4K", "96", "2", "30.0", "33.3", "200.00", "3.0"]
    assert one.split() == ["light", "4K", "96", "1", "60.0", "16.7", "100.00"]
    assert csv_of(lines).splitlines()[1] == "light,ours,4K,8294400,96,2,0.03,7"


def test_where_it_ran_is_said() -> None:
    assert "numba" in environment()
    assert "load average" in environment()
    assert 0 < memory("VmRSS") <= memory("VmHWM")


def test_a_film_is_told_beside_its_decoder_and_its_kernels() -> None:
    """By hand: 30 + 60 of 100 ms of the cores, and the clock's 80 of 100 and 20 of 100."""
    found = {
        films.DECODE: films.Cost(0.020, 0.030),
        films.KERNELS: films.Cost(0.080, 0.060),
        films.SCAN: films.Cost(0.100, 0.100),
    }
    said = "\n".join(films.told("4K", "hevc", found))
    assert "kernels 60.0%, decoder 30.0%, beside them 10.0%" in said
    assert "20% of the decoder's alone and 80% of the kernels' alone; it had 1.00 of" in said
