"""The three journeys of the README as a newcomer goes them: its own blocks, in an empty folder."""

from __future__ import annotations

import csv
import json
import os
import re
import shlex
import subprocess
import sys

import pytest
import typer

from emulate import load_findings, load_frame, load_panel, open_clip
from emulate.cli import app
from emulate.demo_frames import session
from emulate.demo_frames.session import filled_sheet
from emulate.findings.formatting import timecode
from emulate.readings.patterns.plan import pattern_set
from tests.house.plan import ROOT

README = (ROOT / "README.md").read_text("utf-8")
JOURNEYS = ("1. My readings", "2. A film", "3. Two tone curves")
GROUP = typer.main.get_command(app)


def _section(title):
    """The text below a heading of rank two or three that begins so, up to the next one."""
    below = re.split(rf"^##+ {re.escape(title)}.*\n", README, maxsplit=1, flags=re.M)[1]
    return re.split(r"^##+ ", below, maxsplit=1, flags=re.M)[0]


def _words(title):
    return " ".join(_section(title).split())


def _blocks(text):
    return re.findall(r"^```sh\n(.*?)^```", text, re.M | re.S)


def _commands(script):
    """Words of each line that calls `emulate`, comments and what a here-document holds left out."""
    script = re.sub(r"<<'END'\n.*?^END$", "", script, flags=re.M | re.S).replace("\\\n", " ")
    lines = [shlex.split(line, comments=True) for line in script.splitlines()]
    return [words[1:] for words in lines if words[:1] == ["emulate"]]


@pytest.fixture(scope="module")
def bin_with_emulate(tmp_path_factory):
    """A folder with an `emulate` that runs by the interpreter of the tests."""
    place = tmp_path_factory.mktemp("bin")
    code = "from emulate.cli import main; main()"
    (place / "emulate").write_text(f'#!/bin/sh\nexec "{sys.executable}" -c "{code}" "$@"\n')
    (place / "emulate").chmod(0o755)
    return place


@pytest.fixture(scope="module")
def gone(tmp_path_factory, bin_with_emulate):
    """The folder, and what each journey printed: all blocks as they stand, one after the other."""
    place, printed = tmp_path_factory.mktemp("empty"), {}
    path = f"{bin_with_emulate}{os.pathsep}{os.environ['PATH']}"
    for title in JOURNEYS:
        ran = subprocess.run(
            ["bash", "-euc", "".join(_blocks(_section(title)))],
            cwd=place,
            capture_output=True,
            env={**os.environ, "PATH": path, "COLUMNS": "200"},
            timeout=240,
            text=True,
            encoding="utf-8",
        )
        assert ran.returncode == 0, f"{title}: {ran.stderr}"
        printed[title] = ran.stdout
    return place, printed


def test_readings_typed_by_hand_become_a_panel(gone):
    """The fit is held to the recipe of the invented set, in demo_frames/session.py."""
    place, printed = gone
    panel = load_panel(place / "mine.toml")
    assert panel.name == session.NAME
    low, high = panel.fit["interval"]["cell.contrast"]
    assert low < session.CONTRAST < high
    low, high = panel.fit["interval"]["light.open_cdm2"]
    assert low < session.L_OPEN < high
    assert panel.spread.sigma_h[0] == pytest.approx(session.SIGMAS[0], rel=0.05)
    assert panel.primaries.red == pytest.approx(session.RED, abs=0.003)
    low, high = panel.fit["interval"]["cell.contrast"]
    said = f"native contrast of {panel.cell.contrast:.0f}:1 ({low:.0f} to {high:.0f})"
    assert said in _words(JOURNEYS[0])
    assert "undetermined" in printed[JOURNEYS[0]]


def test_the_readings_are_those_of_the_invented_set(gone):
    """Each typed row is a row of the sheet that the patterns come with, read off the recipe."""
    place, _ = gone
    families = ("ramp", "window", "checker", "primary", "grow", "spill")
    patterns = pattern_set(shape=(1080, 1920), peaks=(1000,), families=families, repeats=1)
    full = list(csv.DictReader(_without_remarks(filled_sheet(patterns))))
    read = {(row["stimulus"], row["spot_x"]): row["luminance_cdm2"] for row in full}
    typed = list(csv.DictReader(_without_remarks((place / "readings.csv").read_text("utf-8"))))
    assert len(typed) == 25
    for row in typed:
        light = read[row["stimulus"].strip(), f"{float(row[' spot_x']):.4f}"]
        assert float(row[" luminance_cdm2"]) == pytest.approx(float(light), rel=0.006)
    stills = {int(file.name[:3]) for file in (place / "put_on_screen" / "stills").iterdir()}
    assert {int(row["stimulus"]) for row in typed} < stills
    sheet = (place / "put_on_screen" / "sheet.csv").read_text("utf-8").splitlines()
    assert (place / "readings.csv").read_text("utf-8").splitlines()[:5] == sheet[:5]


def _without_remarks(text):
    return [line for line in text.splitlines() if not line.startswith("#")]


def test_the_panel_is_checked(gone):
    place, printed = gone
    assert (place / "trusted" / "trust.png").is_file()
    trust = load_findings(place / "trusted" / "trust.json")
    assert trust["trust.steps"].value < 1  # all met to within what an eye can see
    assert 0.7 < trust["held_out.inside"].value < 1  # zones differ, which the model does not know
    assert trust["held_out.inside"].sentence in printed[JOURNEYS[0]]


def test_a_film_loses_what_the_readme_says(gone):
    place, printed = gone
    assert open_clip(place / "film.mkv").duration_s == pytest.approx(3)
    watched = json.loads((place / "watched" / "findings.json").read_text("utf-8"))
    mean, most = (watched["film"][name] for name in ("halo.area", "halo.area.worst"))
    told = f"{mean['value']:.0%} of the picture on average and {most['value']:.0%} at most"
    assert told.replace("%", " %") in _words(JOURNEYS[1])
    (when,) = (each["time_s"] for each in watched["moments"] if each["loss"] == "halo")
    assert f"at {timecode(when)}" in _words(JOURNEYS[1])
    assert mean["sentence"] in printed[JOURNEYS[1]]
    assert len(list((place / "watched" / "stills").glob("*.png"))) > 3
    assert 1e5 < (place / "watched.html").stat().st_size < 15e6


def test_two_curves_are_told_apart(gone):
    place, printed = gone
    frame = load_frame(place / "frame.exr")
    assert frame.light.max() == pytest.approx(1000, rel=1e-3)  # mastered for that peak
    assert not frame.caveats
    compared = json.loads((place / "compared" / "comparison.json").read_text("utf-8"))
    lost = [each["findings"]["detail.highlights.lost"]["value"] for each in compared["cases"]]
    fixed, by_frame = (f"{100 * value:.2g} %" for value in lost)
    told = f"loses {by_frame} of the fine detail in the highlights, the fixed one {fixed}"
    assert told in _words(JOURNEYS[2])
    steps = [each["findings"]["dimmed.limiter.depth"]["value"] for each in compared["cases"]]
    assert f"({steps[0]:.0f} against {steps[1]:.0f} visible steps)" in _words(JOURNEYS[2])
    assert compared["sentence"] in printed[JOURNEYS[2]]
    assert 1e5 < (place / "review.html").stat().st_size < 15e6


def test_nothing_but_what_the_readme_names_is_left(gone):
    place, _ = gone
    made = {"put_on_screen", "readings.csv", "mine.toml", "trusted", "film.mkv", "watched"}
    made |= {"watched.html", "frame.exr", "compared", "review.html"}
    assert {file.name for file in place.iterdir()} == made


@pytest.mark.parametrize(
    "words",
    [words for block in _blocks(README) for words in _commands(block)],
    ids=lambda words: " ".join(words)[:60],
)
def test_every_command_of_the_readme_is_one_that_exists(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    GROUP.commands[words[0]].make_context(words[0], words[1:])
    assert not list(tmp_path.iterdir())
