"""What commands say of doubtful panels, odd frames, films and folders, in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from emulate import (
    Frame,
    Panel,
    load_panel,
    measure,
    render,
    save_panel,
    with_bars,
    write_clip,
    write_exr,
)
from emulate.commands.telling import RANKED
from emulate.demo_frames import panel_files
from emulate.films.ranking import LOSSES, ranked
from emulate.findings.formatting import table
from emulate.findings.trust import Row, Trust
from emulate.findings.verdict import verdict, verdict_on_file, with_verdict
from emulate.panel.fit.doubts import doubts_in
from emulate.panel.fit.noise import Noise
from emulate.panel.words import words_of, words_with_unit
from emulate.readings.patterns.tone import drift, near_black
from emulate.readings.readings import Reading, Source

PANELS = {file.stem: file for file in panel_files()}
PLAIN = Panel("plain", 1000.0)


@pytest.fixture(scope="module")
def wide(tmp_path_factory):
    """A frame of 2.4:1 on file, grey with a lamp."""
    light = np.full((80, 192, 3), 5.0)
    light[30:40, 90:100] = 900.0
    return write_exr(light, tmp_path_factory.mktemp("wide") / "wide.exr")


def test_a_frame_of_another_shape_is_a_doubt():
    for shape, doubted in {(90, 160): False, (80, 192): True, (90, 120): True}.items():
        frame = Frame.from_light(np.full((*shape, 3), 5.0))
        told = [str(doubt) for doubt in measure(frame, render(frame, PLAIN)).caveats]
        assert any("shown as if it filled the screen" in text for text in told) is doubted
    frame = Frame.from_light(np.full((80, 192, 3), 5.0))
    assert "2.40:1 on a 16:9 panel" in str(measure(frame, render(frame, PLAIN)).caveats[-1])


@pytest.mark.parametrize(("shape", "barred"), [((80, 192), (108, 192)), ((90, 120), (90, 160))])
def test_bars_make_a_frame_sixteen_by_nine_and_leave_its_pixels(shape, barred):
    light = np.random.default_rng(1).random((*shape, 3), dtype=np.float32)
    seen = with_bars(Frame.from_light(light))
    top, bottom, left, right = seen.active
    assert seen.shape == barred
    np.testing.assert_array_equal(seen.light[top:bottom, left:right], light)
    assert seen.light.sum(dtype=np.float64) == pytest.approx(light.sum(dtype=np.float64))
    assert (top + bottom, left + right) == barred  # in the middle
    assert with_bars(seen) is seen


def test_picture_takes_bars(wide, called, tmp_path):
    asked = ["picture", wide, "--absolute", "-p", PANELS["self_emissive"], "-o", tmp_path / "s"]
    status, told, wrong = called(*asked)
    assert status == 0, wrong
    assert "shown as if it filled the screen" in told
    status, told, wrong = called(*asked, "--bars")
    assert status == 0, wrong
    assert "shown as if it filled the screen" not in told


def _trust(*off):
    """Readings of 10 cd/m² that the panel misses by so many standard deviations of 1 %."""
    rows = []
    for line, (stimulus, sigmas) in enumerate(off, 2):
        reading = Reading(stimulus, 10.0, Source("somewhere/sheet.csv", line))
        rows.append(Row(reading, 1, 10.0, 10 * np.exp(0.01 * sigmas), 0.0, sigmas))
    return Trust("closed loop", "x", tuple(rows), Noise(0.01, 0.0))


def test_a_panel_that_misses_its_readings_is_told_first_and_where_to_look():
    patch, black = drift((90, 160), 1000.0), near_black((90, 160), 1000.0)[0]
    assert verdict(_trust((patch, 1.0), (black, -1.0)), PLAIN) == ""
    told = verdict(_trust((patch, 1.0), (black, -10.0)), PLAIN)  # √(101/2) = 7.1
    assert told.startswith("Do not trust this panel yet: its readings miss the model by 7.1 times")
    assert "First look at near_black: near_black_c065 (sheet.csv, line 3) reads 10 cd/m²" in told
    assert "widened" not in told
    told = verdict(_trust((patch, 1.0), (black, -2.5)), PLAIN)  # √(7.25/2) = 1.9
    assert told.startswith("Take care with this panel: its readings miss the model by 1.9 times")


def test_a_fit_that_widened_its_intervals_says_so_itself():
    """A misfit of 16 per degree of freedom is four times the noise."""
    panel = replace(PLAIN, fit={"misfit": 16.0})
    told = verdict(_trust((drift((90, 160), 1000.0), 1.0)), panel)
    assert told.startswith("Do not trust this panel yet: its readings miss the model by 4 times")
    assert "4 times their noise in the fit of its light source and 1 over all of them, " in told
    assert "intervals were widened to match" in told


def test_a_panel_file_keeps_its_verdict_for_whoever_has_no_readings(tmp_path):
    patch, black = drift((90, 160), 1000.0), near_black((90, 160), 1000.0)[0]
    closed = _trust((patch, 1.0), (black, -10.0))
    save_panel(with_verdict(PLAIN, closed), tmp_path / "kept.toml")
    kept = verdict_on_file(load_panel(tmp_path / "kept.toml"))
    assert kept == verdict(closed, PLAIN)
    assert kept.startswith("Do not trust this panel yet")
    assert verdict_on_file(with_verdict(PLAIN, _trust((patch, 1.0)))) == ""
    assert verdict_on_file(PLAIN) == ""
    older = replace(PLAIN, fit={"misfit": 16.0})  # per degree of freedom: four times the noise
    assert verdict_on_file(older) == (
        "Do not trust this panel yet: its readings miss the model by 4 times their noise, and "
        "intervals were widened to match. First see where, by `emulate check`."
    )


def test_picture_and_compare_begin_with_what_not_to_trust(called, tmp_path):
    verdict_kept = "Do not trust this panel yet: it was read in daylight."
    for name, doubt in (("far", verdict_kept), ("near", "")):
        save_panel(replace(PLAIN, name=name, fit={"verdict": doubt}), tmp_path / f"{name}.toml")
    frame = write_exr(np.full((54, 96, 3), 50.0), tmp_path / "grey.exr")
    panels = [word for name in ("far", "near") for word in ("-p", tmp_path / f"{name}.toml")]
    for command, first in (
        (["picture", frame, *panels[:2], "--no-intervals"], verdict_kept),
        (["compare", frame, *panels], f"far: {verdict_kept}"),
    ):
        status, told, wrong = called(*command, "-o", tmp_path / command[0])
        assert status == 0, wrong
        assert told.splitlines()[0] == first
        assert told.count(verdict_kept) == 1


def test_check_begins_with_what_not_to_trust(called, tmp_path):
    """Greys read at ten times the light of an ideal panel: the first line says so, status 0."""
    sheet = tmp_path / "far.csv"
    sheet.write_text("signal,luminance_cdm2\n" + "".join(
        f"{signal},{light}\n" for signal, light in [(0.3, 100), (0.4, 320), (0.5, 920), (0.5, 921)]
    ))  # fmt: skip
    panel = tmp_path / "plain.toml"
    panel.write_text('format = "emulate-panel/1"\nname = "plain"\n[light]\nopen_cdm2 = 1000.0\n')
    status, told, wrong = called("check", panel, sheet, "--no-held-out")
    assert status == 0, wrong
    assert told.startswith("Do not trust this panel yet: ")
    assert "First look at ramp: " in told.splitlines()[0]
    assert "far.csv, line " in told.splitlines()[0]


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("limiter.gain#5", "limiter gain at the 5th window size"),
        ("spread.sigma_h#1", "width of the 1st spread"),
        ("angles.gain#2", "light at the 2nd angle"),
        ("tone.curve#1.light#23", "1st tone curve, light at the 23rd signal"),
        ("primaries.white#2", "white y"),
        ("uniformity.grid#11#3", "uniformity, 11th row, 3rd column"),
        ("cell.contrast", "native contrast"),
        ("light source", "light source"),
        ("my_sheet.csv, line 3", "my_sheet.csv, line 3"),
    ],
)
def test_key_paths_are_told_in_words(key, words):
    assert words_of(key) == words


def test_numbers_of_a_fit_have_units_and_say_where_they_hold():
    panel = load_panel(PANELS["coarse_zones"])
    load = panel.limiter.load[1]
    told = words_with_unit("limiter.gain#2", panel)
    assert told == f"limiter gain at {round(100 * load)} % load"
    assert words_with_unit("zones.attack_s", panel) == "time of zones to brighten, s"
    assert words_with_unit("light.open_cdm2", panel) == "white, all open, cd/m²"
    degree = panel.angles.degree[1]
    assert words_with_unit("angles.contrast#2", panel) == f"native contrast at {degree:g}°"


def test_doubts_of_a_fit_are_told_in_words():
    fit = {"undetermined": {"limiter.gain#6": "why", "cell.contrast": "why"}}
    (doubt,) = doubts_in(fit)
    assert str(doubt) == "limiter gain at the 6th window size, native contrast: undetermined: why"


def test_what_a_file_does_not_claim_is_a_dash():
    frame = Frame.from_light(np.full((90, 160, 3), 5.0))
    rows = {row.name: row.value for row in table(measure(frame, render(frame, PLAIN)))}
    assert rows["content.claimed_peak"] == rows["content.claimed_max_cll"] == "–"
    assert rows["content.max_cll"] == "5 cd/m²"
    assert rows["clipped.area"] == "0 %"


class _Film:
    """A table of three frames, a second apart, with one loss of so much area and depth."""

    index, time_s = np.arange(3), np.arange(3.0)

    def __init__(self, loss, area, depth):
        names = dict(zip(LOSSES[loss], (area, depth), strict=True))
        zero = np.zeros(3)
        self.columns = {n: zero for each in LOSSES.values() for n in each} | names

    def __getitem__(self, name):
        return self.columns[name]

    def unit_of(self, _):
        return "share"


def test_a_moment_that_covers_nothing_a_figure_can_say_is_no_moment():
    """0.01 % is the smallest share that is written; what is below it is not shown as worst."""
    film = _Film("crushed", np.array([0.00009, 0.0002, 0.0]), np.array([9.0, 1.0, 9.0]))
    assert [(m.index, m.value) for m in ranked(film, 0.5)] == [(1, 0.0002)]


def test_rank_goes_by_area_times_depth_and_the_command_says_so(called, tmp_path):
    film = _Film("clipped", np.array([0.15, 0.17, 0.1]), np.array([3.0, 2.0, 1.0]))
    assert [m.value for m in ranked(film, 0.5)] == [0.15, 0.17, 0.1]
    lights = [np.full((18, 44, 3), level, np.float32) for level in (5.0, 50.0, 500.0)]
    clip = write_clip(lights, tmp_path / "c.mkv", rate=24)
    status, told, wrong = called("film", clip, "-p", PANELS["self_emissive"], "-o", tmp_path / "f",
                                 "--worst", 0)  # fmt: skip
    assert status == 0, wrong
    assert RANKED.split(": ")[0] in told
    assert told.count("shown as if it filled the screen") == 1  # once, for all frames


def test_a_time_beyond_a_clip_is_told_with_its_length(called, tmp_path):
    lights = [np.full((18, 32, 3), 5.0, np.float32)] * 12
    clip = write_clip(lights, tmp_path / "c.mkv", rate=24)
    panel = PANELS["self_emissive"]
    status, _, told = called("picture", clip, "--at", 999, "-p", panel, "-o", tmp_path / "out")
    assert status == 2
    assert "of 12; it lasts 0.500 s" in told
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("option", "said", "meant"),
    [
        ("--gamut", "rec709", "bt709"),
        ("--gamut", "BT2020", "bt2020"),
        ("--gamut", "dci-p3", "p3"),
        ("--transfer", "ST2084", "pq"),
    ],
)
def test_other_words_of_the_trade_get_a_hint(option, said, meant, wide, called, tmp_path):
    status, _, told = called("picture", wide, option, said, "-p", PANELS["self_emissive"],
                             "-o", tmp_path / "out")  # fmt: skip
    assert status == 2
    assert f"{said!r}; accepted are " in told
    assert f"; {meant} is the word here" in told


def test_a_folder_without_results_is_told_what_makes_one(called, tmp_path):
    (tmp_path / "trusted").mkdir()
    (tmp_path / "trusted" / "trust.json").write_text("{}")
    status, _, told = called("page", tmp_path / "trusted", "-o", tmp_path / "page.html")
    assert status == 2
    assert "no results.json here or below" in told
    assert "`emulate demo`, `picture`, `film`, `compare` or `whatif` has filled" in told


def test_bars_of_a_whole_clip_are_refused(called, tmp_path):
    panel = PANELS["self_emissive"]
    status, _, told = called("compare", tmp_path / "c.mkv", "-p", panel, "-p", panel, "--bars",
                             "-o", tmp_path / "out")  # fmt: skip
    assert status == 2
    assert "--bars of a still" in told
