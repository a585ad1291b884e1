"""Panel files: read, written back to the same bytes, and refused by key path."""

from __future__ import annotations

import re
import string
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import emulate
from emulate.errors import OutputError, PanelError
from emulate.panel.cell import Angles, Cell
from emulate.panel.facts import facts
from emulate.panel.file import (
    LARGEST_BYTES,
    checked,
    document_from_panel,
    load_panel,
    panel_from_text,
    save_panel,
    text_from_panel,
)
from emulate.panel.limiter import Limiter
from emulate.panel.panel import Panel
from emulate.panel.primaries import Primaries
from emulate.panel.spread import Spread
from emulate.panel.tone import Tone, ToneReading
from emulate.panel.uniformity import Uniformity
from emulate.panel.zones import SelfEmissive, Zones
from emulate.values import numbers

FULL = """
format = "emulate-panel/1"
name = "Lantern 16"
notes = "invented"
[light]
open_cdm2 = 900.0
[tone]
acts_on = "luminance"
policy = "by_metadata"
[[tone.curve]]
mastering_peak = 1000
signal = [0.0, 0.25, 0.5, 0.75, 1.0]
light = [0.0, 5.15, 92.2, 700.0, 900.0]
[[tone.curve]]
mastering_peak = 4000
signal = [0.0, 1.0]
light = [0.0, 900.0]
[primaries]
red = [0.680, 0.320]
green = [0.265, 0.690]
blue = [0.150, 0.060]
white = [0.3100, 0.3290]
[tracking]
level = [0.1, 1.0, 100.0]
red = [1.0, 1.01, 1.0]
green = [1.0, 1.0, 1.0]
blue = [1.0, 0.97, 1.0]
[zones]
columns = 16
rows = 6
peak_weight = 0.7
gamma = 0.8
attack_s = 0.05
[spread]
weight = [0.85, 0.15]
sigma_h = [0.06, 0.35]
[limiter]
load = [0.0, 0.25, 1.0]
gain = [1.0, 1.0, 0.6]
acts = "clips"
[cell]
contrast = 5000.0
compensation = 0.9
[angles]
degree = [0.0, 30.0, 60.0]
contrast = [5000.0, 2500.0, 800.0]
gain = [1.0, 0.8, 0.5]
[uniformity]
grid = [[0.9, 1.0, 0.9], [0.95, 1.0, 0.95]]
[surface]
reflectance = 0.01
[fit]
digest = "ab\\"c"
when = 2026-01-02
[fit.intervals]
"cell.contrast" = [4800.0, 5200.0]
[[fit.groups]]
name = "windows"
"""
LEAST = 'format = "emulate-panel/1"\nname = "least"\n[light]\nopen_cdm2 = 500\n'


def refused(text: str) -> str:
    with pytest.raises(PanelError) as caught:
        panel_from_text(text, "panel.toml")
    message = str(caught.value)
    assert message.startswith("panel.toml")
    assert "\n" not in message
    assert "accepted is" in message
    return message


def test_every_key_arrives() -> None:
    panel = panel_from_text(FULL)
    assert (panel.name, panel.notes, panel.open_cdm2) == ("Lantern 16", "invented", 900.0)
    assert (panel.tone.acts_on, panel.tone.policy) == ("luminance", "by_metadata")
    assert [curve.mastering_peak for curve in panel.tone.curves] == [1000, 4000]
    assert panel.tone.curves[0].light.tolist() == [0.0, 5.15, 92.2, 700.0, 900.0]
    assert panel.primaries == Primaries((0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.31, 0.329))
    assert panel.tracking.blue.tolist() == [1.0, 0.97, 1.0]
    assert panel.zones == Zones(6, 16, peak_weight=0.7, gamma=0.8, attack_s=0.05)
    assert panel.spread.sigma_h.tolist() == [0.06, 0.35]
    assert (panel.limiter.gain.tolist(), panel.limiter.acts) == ([1.0, 1.0, 0.6], "clips")
    assert panel.cell == Cell(5000.0, 0.9)
    assert panel.angles.contrast.tolist() == [5000.0, 2500.0, 800.0]
    assert panel.uniformity.grid.shape == (2, 3)
    assert panel.surface.reflectance == 0.01
    assert panel.fit == tomllib.loads(FULL)["fit"]
    assert panel.caveats == ()


def test_what_is_absent_is_an_identity_and_stays_absent() -> None:
    panel = panel_from_text(LEAST)
    assert panel.zones == SelfEmissive()
    assert panel.cell == Cell()
    assert panel.primaries == Primaries()
    assert panel.uniformity.grid.tolist() == [[1.0]]
    assert set(tomllib.loads(text_from_panel(panel))) == {"format", "name", "light"}


@pytest.mark.parametrize("text", [FULL, LEAST])
def test_round_trip_is_the_same_bytes(text: str, tmp_path: Path) -> None:
    first = save_panel(panel_from_text(text), tmp_path / "first.toml")
    second = save_panel(load_panel(first), tmp_path / "second.toml")
    assert first.read_bytes() == second.read_bytes()
    assert b"\r" not in first.read_bytes()


def test_the_written_file_says_what_was_read() -> None:
    written, read = tomllib.loads(text_from_panel(panel_from_text(FULL))), tomllib.loads(FULL)
    for table, keys in read.items():
        if isinstance(keys, dict):
            assert keys.items() <= written[table].items()
    assert written["fit"] == read["fit"]


panels = st.builds(
    Panel,
    name=st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20),
    notes=st.text(st.characters(exclude_categories=["Cs"]), max_size=20),
    open_cdm2=st.floats(1e-3, 10000),
    zones=st.builds(
        Zones,
        rows=st.integers(1, 50),
        columns=st.integers(1, 50),
        gamma=st.floats(0.1, 5),
        reach=st.floats(0, 1),
    ),
    limiter=st.builds(
        lambda low: Limiter(numbers([0, 0.3, 1]), numbers([1, 1, low])), st.floats(0.01, 1)
    ),
    cell=st.builds(Cell, contrast=st.floats(1.5, 1e6) | st.just(float("inf"))),
    uniformity=st.builds(
        lambda a, b: Uniformity(numbers([[a, 1.0], [1.0, b]])), st.floats(0.1, 2), st.floats(0.1, 2)
    ),
)


@settings(max_examples=60, deadline=None)
@given(panels)
def test_any_panel_round_trips(panel: Panel) -> None:
    text = text_from_panel(panel)
    again = panel_from_text(text)
    assert text_from_panel(again) == text
    assert document_from_panel(again) == document_from_panel(panel)


def test_whole_numbers_and_a_byte_order_mark_are_read(tmp_path: Path) -> None:
    path = tmp_path / "panel.toml"
    path.write_bytes(b"\xef\xbb\xbf" + LEAST.replace("\n", "\r\n").encode())
    assert load_panel(path).open_cdm2 == 500.0


MUTATIONS = [
    ("rows = 6", "rows = 0", "zones.rows = 0; accepted is a whole number, 1 to 4320"),
    ("rows = 6", "rows = 6.5", "zones.rows = 6.5"),
    ("rows = 6", "rows = true", "zones.rows = true"),
    ("rows = 6", 'rows = "6"', 'zones.rows = "6"'),
    ("rows = 6", "", "zones.rows is missing"),
    ("rows = 6", "row = 6", "zones.row is not a key (is it rows?)"),
    ("[zones]", "[zone]", "zone is not a key (is it zones?)"),
    ("open_cdm2 = 900.0", "open_cdm2 = nan", "light.open_cdm2 = nan"),
    ("open_cdm2 = 900.0", "open_cdm2 = inf", "light.open_cdm2 = inf"),
    ("open_cdm2 = 900.0", "open_cdm2 = 0", "light.open_cdm2 = 0"),
    ("open_cdm2 = 900.0", "open_cdm2 = 1e5", "light.open_cdm2 = 100000.0"),
    ("open_cdm2 = 900.0", "open_cdm2 = 9" + 400 * "0", "light.open_cdm2 = 9000"),
    ("open_cdm2 = 900.0", "open_cdm2 = 9" + 5000 * "0", "too many digits"),
    ("open_cdm2 = 900.0", "", "light.open_cdm2 is missing"),
    ('name = "Lantern 16"', "", "name is missing"),
    ('name = "Lantern 16"', 'name = ""', 'name = ""'),
    ('name = "Lantern 16"', 'name = "a\\nb"', 'name = "a\\nb"; accepted is one line of text'),
    ('"luminance"', '"rgb"', "tone.acts_on = \"rgb\"; accepted is max_rgb, per_channel"),
    ('"by_metadata"', '"dynamic"', 'tone.policy = "dynamic"'),
    ("700.0, 900.0]", "90.0, 900.0]", "tone.curve#1.light#4 = 90.0 after 92.2"),
    ("[0.0, 0.25, 0.5,", "[0.3, 0.25, 0.5,", "tone.curve#1.signal#2 = 0.25 after 0.3"),
    ("[0.0, 0.25, 0.5,", "[0.0, 0.0, 0.5,", "tone.curve#1.signal#2 = 0.0 after 0.0"),
    ("[0.0, 0.25, 0.5,", "[0.0, 0.5,", "tone.curve#1.light has 5 numbers and signal has 4"),
    ("0.75, 1.0]", "0.75, 1.1]", "tone.curve#1.signal#5 = 1.1"),
    ("signal = [0.0, 1.0]", "signal = [0.0]", "tone.curve#2.signal = [0.0]; accepted is two"),
    ("mastering_peak = 4000", "mastering_peak = 1000", "curve#2.mastering_peak = 1000.0 twice"),
    ("mastering_peak = 4000", "mastering_peak = -1", "tone.curve#2.mastering_peak = -1"),
    ("red = [0.680, 0.320]", "red = [0.1, 0.1]", "primaries: no triangle, or not in this order"),
    ("red = [0.680, 0.320]", "red = [0.7, 0.4]", "primaries.red = [0.7, 0.4]"),
    ("red = [0.680, 0.320]", "red = [0.7]", "primaries.red = [0.7]"),
    ("red = [0.680, 0.320]", "", "primaries.red is missing"),
    ("white = [0.3100, 0.3290]", "white = [0.7, 0.1]", "primaries.white = [0.7, 0.1]"),
    ("level = [0.1, 1.0", "level = [1.0, 0.1", "tracking.level#2 = 0.1 after 1.0"),
    ("level = [0.1, 1.0", "level = [0.0, 1.0", "tracking.level#1 = 0.0"),
    ("blue = [1.0, 0.97, 1.0]", "blue = [1.0]", "tracking.blue has 1 numbers and level has 3"),
    ("blue = [1.0, 0.97, 1.0]", "blue = [1.0, -1.0, 1.0]", "tracking.blue#2 = -1.0"),
    ("weight = [0.85, 0.15]", "weight = [0.85, 0.25]", "spread.weight = [0.85, 0.25]"),
    ("sigma_h = [0.06, 0.35]", "sigma_h = [0.06]", "spread.sigma_h has 1 numbers"),
    ("sigma_h = [0.06, 0.35]", "sigma_h = [0.06, -1]", "spread.sigma_h#2 = -1"),
    ("load = [0.0, 0.25", "load = [0.1, 0.25", "limiter.load = [0.1, 0.25, 1.0]"),
    ("gain = [1.0, 1.0, 0.6]", "gain = [0.9, 1.0, 0.6]", "limiter.gain#2 = 1.0 after 0.9"),
    ("gain = [1.0, 1.0, 0.6]", "gain = [1.1, 1.0, 0.6]", "limiter.gain#1 = 1.1"),
    ('"clips"', '"clip"', 'limiter.acts = "clip"; accepted is dims or clips'),
    ("contrast = 5000.0", "contrast = inf", "cell.contrast = inf"),
    ("contrast = 5000.0", "contrast = 1", "cell.contrast = 1"),
    ("contrast = 5000.0\n", "", "cell.contrast is missing, and angles.contrast is there"),
    ("compensation = 0.9", "compensation = 2", "cell.compensation = 2"),
    ("degree = [0.0, 30.0", "degree = [0.0, 90.0", "angles.degree#2 = 90.0"),
    ("degree = [0.0, 30.0", "degree = [40.0, 30.0", "angles.degree#2 = 30.0 after 40.0"),
    ("[0.95, 1.0, 0.95]", "[0.95, 1.0]", "uniformity.grid = [  [0.9, 1.0, 0.9],  [0.95, 1.0],]"),
    ("[0.95, 1.0, 0.95]", "[]", "uniformity.grid#2 = []"),
    ("[0.95, 1.0, 0.95]", "[0, 1, 1]", "uniformity.grid#2#1 = 0"),
    ("reflectance = 0.01", "reflectance = 1.5", "surface.reflectance = 1.5"),
    ("[surface]", "[[surface]]", "surface = [{reflectance = 0.01}]; accepted is a table [surface]"),
    ("[surface]", "shade = 1\n[surface]", "uniformity.shade is not a key"),
    ("acts_on", "act_on", "tone.act_on is not a key (is it acts_on?)"),
    ("panel/1", "panel/2", 'format = "emulate-panel/2"; accepted is "emulate-panel/1"'),
    ('format = "emulate-panel/1"', "", "format is missing"),
    ("gamma = 0.8", "gamma = 0", "zones.gamma = 0"),
    ("attack_s = 0.05", "attack_s = 1979-05-27", "zones.attack_s = 1979-05-27"),
    ("attack_s = 0.05", "attack_s = -0.05", "zones.attack_s = -0.05"),
    ("attack_s = 0.05", "cut = 1.0", "zones.cut = 1.0"),
    ("attack_s = 0.05", "latency_frames = 61", "zones.latency_frames = 61"),
    ("attack_s = 0.05", "resets_at_cuts = 1", "zones.resets_at_cuts = 1"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "expected"), MUTATIONS)
def test_refusals_name_the_key_and_the_value(old: str, new: str, expected: str) -> None:
    assert old in FULL
    assert expected in refused(FULL.replace(old, new, 1))


@pytest.mark.parametrize("table", ["cell", "angles", "spread"])
def test_a_panel_without_zones_cannot_leak(table: str) -> None:
    tables = {
        "cell": "[cell]\ncontrast = 5000.0",
        "angles": "[angles]\ndegree = [0.0]\ncontrast = [900.0]\ngain = [1.0]",
        "spread": "[spread]\nweight = [1.0]\nsigma_h = [0.1]",
    }
    message = refused(f"{LEAST}{tables[table]}\n")
    assert "without [zones]; accepted is add [zones]" in message


def test_a_panel_without_zones_may_dim_off_axis() -> None:
    text = f"{LEAST}[angles]\ndegree = [0.0, 60.0]\ngain = [1.0, 0.6]\n"
    panel = panel_from_text(text)
    assert np.isinf(panel.angles.contrast).all()
    assert "contrast" not in tomllib.loads(text_from_panel(panel))["angles"]


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("format = \n", "panel.toml, line 1, column 10: "),
        (LEAST + "[light]\n", "panel.toml, line 5, column 7: "),
        (LEAST + "x = 1\nx = 2\n", "panel.toml, line 6, column 6: "),
        ("a = " + "[" * 5000, "nested too deep"),
        ("\x00", "panel.toml, line 1, column 1: "),
    ],
)
def test_syntax_errors_say_where(text: str, place: str) -> None:
    assert place in refused(text)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_any_text_is_a_panel_or_one_clear_line(data: st.DataObject) -> None:
    """Cuts and splices anywhere in a good file: read or refused, never a traceback."""
    at = data.draw(st.integers(0, len(FULL)))
    gap = data.draw(st.integers(0, 12))
    patch = data.draw(st.text(string.printable + "é€\x00", max_size=8))
    said, panel = "", None
    try:
        panel = panel_from_text(FULL[:at] + patch + FULL[at + gap :], "panel.toml")
    except PanelError as error:
        said = str(error)
    if panel is None:
        assert re.match(r"panel\.toml[:,] .*accepted is [^\n]+$", said)
    else:
        assert text_from_panel(panel)


def test_files_that_are_none(tmp_path: Path) -> None:
    huge, latin = tmp_path / "huge.toml", tmp_path / "latin.toml"
    with huge.open("wb") as file:
        file.truncate(LARGEST_BYTES + 1)
    latin.write_bytes(LEAST.encode() + b"# caf\xe9\n")
    for path, expected in {
        tmp_path / "absent.toml": "no such file",
        tmp_path: "not a file",
        huge: "too large",
        latin: "line 5: not UTF-8",
    }.items():
        with pytest.raises(PanelError, match=expected):
            load_panel(path)


def test_nothing_is_written_where_it_cannot_be(tmp_path: Path) -> None:
    panel = panel_from_text(LEAST)
    with pytest.raises(OutputError):
        save_panel(panel, tmp_path / "absent" / "panel.toml")
    with pytest.raises(PanelError, match=r"light\.open_cdm2 = -1"):
        save_panel(replace(panel, open_cdm2=-1.0), tmp_path / "panel.toml")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("wrong", "expected"),
    [
        ({"zones": Zones(0, 3)}, "zones.rows = 0"),
        ({"cell": Cell(5000.0)}, "cell.contrast without"),
        ({"spread": Spread(numbers([0.5]), numbers([0.1]))}, "spread.weight = "),
        ({"primaries": Primaries(white=(0.7, 0.1))}, "primaries.white"),
        ({"angles": Angles(numbers([0.0]), numbers([]), numbers([1.0]))}, "angles.contrast"),
        ({"uniformity": Uniformity(numbers([[np.nan]]))}, "uniformity.grid#1#1 = nan"),
        ({"uniformity": Uniformity(numbers([1.0, 2.0]))}, "uniformity.grid#1 = 1.0"),
        ({"tone": Tone("max")}, 'tone.acts_on = "max"'),
        ({"tone": Tone(curves=(ToneReading(0.0, numbers([0, 1]), numbers([5, 1])),))}, "light#2"),
        ({"name": None}, "name = None"),
        ({"notes": "\ud800"}, "surrogates not allowed"),
        ({"fit": {"x": None}}, "None cannot be written"),
        ({"fit": {"x": {1, 2}}}, "cannot be written"),
    ],
)
def test_panels_built_in_python_meet_the_same_rules(
    wrong: dict[str, object], expected: str
) -> None:
    panel = replace(panel_from_text(LEAST), **wrong)  # type: ignore[arg-type]
    with pytest.raises(PanelError, match=re.escape(expected)):
        text_from_panel(panel)


def test_checked_gives_the_panel_back() -> None:
    panel = panel_from_text(FULL)
    again = checked(replace(panel, open_cdm2=np.float64(850.0)))
    assert again.open_cdm2 == 850
    assert "read up to 900, above light.open_cdm2 = 850" in str(again.caveats[0])
    assert checked(again).caveats == again.caveats


def test_two_accounts_of_contrast_on_axis_are_doubted() -> None:
    panel = panel_from_text(FULL.replace("contrast = 5000.0", "contrast = 4000.0", 1))
    assert panel.caveats[0].about == "angles.contrast"


def test_a_map_too_fine_to_read_back_is_not_written(tmp_path: Path) -> None:
    grid = np.random.default_rng(0).uniform(0.9, 1, (500, 1000))
    panel = replace(panel_from_text(LEAST), uniformity=Uniformity(numbers(grid)))
    with pytest.raises(PanelError, match=r"uniformity.grid of fewer rows"):
        save_panel(panel, tmp_path / "panel.toml")
    assert list(tmp_path.iterdir()) == []


def test_facts_tell_a_person_what_the_panel_is() -> None:
    told = dict(facts(panel_from_text(FULL)))
    assert told["white, all open"] == "900 cd/m²"
    assert told["zones"].startswith("16 × 6 = 96")
    assert told["native contrast"] == "5000:1"
    assert told["covers of BT.2020"] == "71.7% in xy, 72.8% in u′v′"  # physics §10
    assert told["limiter"] == "60% of its light at full load, clips"
    bare = dict(facts(panel_from_text(LEAST)))
    assert bare["zones"] == "none, every pixel is its own light"
    assert bare["native contrast"] == "no leakage"


def test_the_front_door() -> None:
    assert emulate.load_panel is load_panel
    assert emulate.save_panel is save_panel
    assert emulate.Panel is Panel


def test_readings_are_told_from_a_panel_file(tmp_path: Path) -> None:
    file = tmp_path / "readings.csv"
    file.write_text("# set: emulate-patterns/1\nstimulus,luminance_cdm2\n6,0.986\n", "utf-8")
    with pytest.raises(PanelError, match=r"looks like readings.*emulate fit .*readings.csv -o"):
        load_panel(file)
