"""From patterns to a panel and what it is worth, as a reviewer goes; and what is refused."""

from __future__ import annotations

import csv
import json
import os

import numpy as np
import pytest

from emulate import load_findings, load_panel, write_exr
from emulate.demo_frames import scene
from emulate.readings.patterns.plan import pattern_set
from tests.journeys.commands import emulate
from tests.twins.simulator import Truth, shown

FAMILIES = ("window", "checker", "spill", "ramp", "primary", "grow")
TRUTH = Truth(
    900.0, 4, 8, a=0.7, gamma=0.9, w=0.2, omega=(1.0,), sigma=(0.12,), CR=2500.0,
    load=(0.0, 0.4, 1.0), gain=(1.0, 1.0, 0.75),
)  # fmt: skip


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    return tmp_path_factory.mktemp("session")


@pytest.fixture(scope="module")
def sheet(place):
    """Patterns written by the command, and the sheet filled by the plain-numpy simulator."""
    asked = [argument for family in FAMILIES for argument in ("--only", family)]
    done = emulate("patterns", "shown", "--size", "320x180", "--peak", "1000", "--no-clips", *asked,
                   cwd=place)  # fmt: skip
    assert done.status == 0, done.told
    assert "seizures" in done.out
    blank = place / "shown" / "sheet.csv"
    assert f"Fill shown{os.sep}sheet.csv" in done.out
    filled = place / "filled.csv"
    filled.write_text(_filled(blank.read_text("utf-8")), "utf-8")
    return filled


def _filled(text: str) -> str:
    rng = np.random.default_rng(8)
    looks = pattern_set(shape=(180, 320), peaks=(1000,), families=FAMILIES).looks
    lines = text.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("stimulus,"))
    rows = list(csv.DictReader(lines[start:]))
    out = []
    for row, look in zip(rows, looks, strict=True):
        xyz = shown(TRUTH, look.stimulus, look.spot) * (1 + 0.01 * rng.standard_normal())
        row["luminance_cdm2"] = f"{xyz[1]:.6g}"
        if xyz[1] > 0.01:
            row["x"], row["y"] = (f"{value / xyz.sum():.5f}" for value in xyz[:2])
        out.append(",".join(row.values()))
    return "\n".join([*lines[: start + 1], *out]) + "\n"


def test_every_still_is_there(sheet, place):  # noqa: ARG001
    stills = {path.name[:3] for path in (place / "shown" / "stills").glob("*.png")}
    patterns = pattern_set(shape=(180, 320), peaks=(1000,), families=FAMILIES)
    assert stills == {f"{stimulus.number:03d}" for stimulus in patterns.stimuli}


def test_fit_then_check(sheet, place):
    done = emulate("fit", sheet.name, "-o", "mine.toml", "--zones", "8x4", "--name", "Basalt",
                   cwd=place)  # fmt: skip
    assert done.status == 0, done.told
    panel = load_panel(place / "mine.toml")
    assert panel.name == "Basalt"
    assert panel.cell.contrast == pytest.approx(TRUTH.CR, rel=0.05)
    assert panel.spread.sigma_h[0] == pytest.approx(TRUTH.sigma[0], rel=0.05)
    assert "width of the 1st spread, picture heights" in done.out
    assert "Doubt:" in done.out  # what no pattern asks for is said
    done = emulate("check", "mine.toml", sheet.name, "--out", "trusted", "--no-held-out", cwd=place)
    assert done.status == 0, done.told
    assert {file.name for file in (place / "trusted").iterdir()} == {
        "trust.png", "trust.json", "readings.csv"
    }  # fmt: skip
    findings = load_findings(place / "trusted" / "trust.json")
    assert findings["trust.sigmas"].value < 1.6  # the simulator is the model: noise alone is left
    assert findings["trust.steps"].sentence in done.out
    table = (place / "trusted" / "readings.csv").read_text("utf-8")
    rows = list(csv.DictReader(table.splitlines()))
    assert {row["loop"] for row in rows} == {"closed loop"}
    assert all(float(row["measured_cdm2"]) > 0 for row in rows)


def test_check_without_a_folder_prints_every_reading(sheet, place):
    done = emulate("check", "mine.toml", sheet.name, "--no-held-out", cwd=place)
    assert done.status == 0, done.told
    listed = {line.split()[0] for line in done.out.splitlines() if line.strip()}
    assert {"window_100", "checker_17_black", "spill_vertical_050"} <= listed
    assert "Held out" not in done.out
    assert "never saw" not in done.out


def test_accuracy_of_the_same_sheet(sheet, place):
    done = emulate("accuracy", sheet.name, "--out", "measured", cwd=place)
    assert done.status == 0, done.told
    assert "White windows on black" in done.out
    assert (place / "measured" / "eotf.png").is_file()
    assert json.loads((place / "measured" / "accuracy.json").read_text("utf-8"))["findings"]


def test_findings_on_a_fitted_panel_have_intervals(sheet, place):  # noqa: ARG001
    write_exr(scene("lamps_on_black_water", rows=90).light, place / "frame.exr")
    done = emulate("picture", "frame.exr", "--panel", "mine.toml", "--out", "seen", cwd=place)
    assert done.status == 0, done.told
    area = load_findings(place / "seen" / "findings.json")["halo.area"]
    assert area.interval
    low, high = area.interval
    assert low < area.value < high
    assert " to " in area.sentence
    assert area.sentence in done.out


@pytest.mark.parametrize("mutation", ["words for light", "misspelt header", "no rows", "no file"])
def test_a_malformed_sheet_is_one_line_and_leaves_nothing(mutation, sheet, tmp_path):
    text = sheet.read_text("utf-8")
    bad = tmp_path / "bad.csv"
    lines = text.splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("stimulus,"))
    changed = {
        "words for light": [*lines[: start + 1], _worded(lines[start + 1]), *lines[start + 2 :]],
        "misspelt header": [line.replace("luminance_cdm2", "luminanse_cdm2") for line in lines],
        "no rows": lines[: start + 1],
        "no file": None,
    }[mutation]
    if changed is not None:
        bad.write_text("\n".join(changed) + "\n", "utf-8")
    before = set(tmp_path.iterdir())
    for command in (
        ("fit", bad, "-o", "mine.toml", "--zones", "8x4"),
        ("accuracy", bad, "--out", "measured"),
    ):
        done = emulate(*command, cwd=tmp_path)
        assert done.status == 2
        assert len(done.lines) == 1
        assert "bad.csv" in done.lines[0]
        assert not done.out
        assert set(tmp_path.iterdir()) == before


def _worded(line: str) -> str:
    cells = line.split(",")
    cells[11] = "bright"
    return ",".join(cells)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("patterns", "out", "--size", "wide"), "COLUMNSxROWS"),
        (("patterns", "out", "--size", "320x181"), "even numbers"),
        (("patterns", "out", "--only", "dogs"), "dogs"),
        (("patterns", "out", "--decimal", "dot"), "point or comma"),
        (("fit", "filled.csv", "-o", "p.toml", "--zones", "many"), "COLUMNSxROWS"),
        (("fit", "filled.csv", "-o", "p.toml", "--noise", "900"), "--noise"),
        (("fit", "filled.csv", "-o", "no/such/p.toml", "--zones", "8x4"), "no/such"),
        (("check", "nothing.toml", "filled.csv"), "nothing.toml"),
    ],
)
def test_what_cannot_be_done_is_one_line(arguments, said, sheet, tmp_path):
    (tmp_path / "filled.csv").write_text(sheet.read_text("utf-8"), "utf-8")
    done = emulate(*arguments, cwd=tmp_path)
    assert done.status == 2
    assert said in done.lines[-1]
    assert {file.name for file in tmp_path.iterdir()} == {"filled.csv"}
