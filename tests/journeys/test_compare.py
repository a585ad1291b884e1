"""Comparing and motion as a user meets them, and the table of the README held true."""

from __future__ import annotations

import importlib.util
import json
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from emulate import load_findings, load_frame, write_clip, write_exr
from emulate.cli import main
from emulate.demo_frames import clip, panel_files, scene

ROOT = Path(__file__).parents[2]
PANELS = {file.stem: file for file in panel_files()}
PICTURES = {"differences.png", "curves.png", "side_by_side.png"}
MADE = PICTURES | {"comparison.json", "results.json", "page"}


def called(arguments, capsys, monkeypatch):
    """As a process, without the seconds that each takes to start."""
    monkeypatch.setattr(sys, "argv", ["emulate", *map(str, arguments)])
    monkeypatch.setenv("COLUMNS", "160")
    with pytest.raises(SystemExit) as left:
        main()
    return left.value.code, *capsys.readouterr()


@pytest.fixture
def still(tmp_path):
    return write_exr(scene("window_and_table", rows=180, peak=1000.0).light, tmp_path / "[w].exr")


def test_compare_fills_a_folder_and_says_who_loses_least(still, tmp_path, capsys, monkeypatch):
    out = tmp_path / "into [b]this"
    status, told, _ = called(
        ["compare", still, "--absolute", "-p", PANELS["self_emissive"],
         "-p", PANELS["coarse_zones"], "--policy", "fixed:st2094_10:4000",
         "--policy", "by_frame:st2094_10", "--out", out],
        capsys, monkeypatch,
    )  # fmt: skip
    assert status == 0
    assert {file.name for file in out.iterdir()} == MADE
    document = json.loads((out / "comparison.json").read_text("utf-8"))
    assert [case["label"] for case in document["cases"]] == [
        "Ember, fixed:st2094_10:4000", "Ember, by_frame:st2094_10",
        "Tallow, fixed:st2094_10:4000", "Tallow, by_frame:st2094_10",
    ]  # fmt: skip
    assert document["sentence"].split(" (")[0] in told
    for entry in document["differences"]:
        assert entry["name"] in told
    for picture in PICTURES:
        with Image.open(out / picture) as image:
            assert image.width == 1000
    assert f"Open {out / 'differences.png'} first" in told


def test_compare_takes_a_clip_and_one_frame_of_it(tmp_path, capsys, monkeypatch):
    reel = clip("cave_to_snow", rows=90)
    path = write_clip([reel.frame(i) for i in range(33, 39)], tmp_path / "cut.mkv", rate=24,
                      codec="ffv1")  # fmt: skip
    pair = ["-p", PANELS["coarse_zones"], "-p", PANELS["self_emissive"]]
    status, told, _ = called(
        ["compare", path, *pair, "--out", tmp_path / "clip"], capsys, monkeypatch
    )
    assert status == 0
    assert "lag." in told
    assert {file.name for file in (tmp_path / "clip").iterdir()} == MADE
    frame = ["compare", path, *pair, "--index", "0", "--out", tmp_path / "frame"]
    status, told, _ = called(frame, capsys, monkeypatch)
    assert status == 0
    assert "lag." not in told


def test_motion_shows_our_posts_to_an_eye_that_follows_them(tmp_path, capsys, monkeypatch):
    """24 pictures a second held: 0.8/24 s of the way from 10 to 90 % (geometry)."""
    out = tmp_path / "seen"
    status, told, _ = called(
        ["motion", "--refresh", "48", "--hold", "0.5", "--out", out], capsys, monkeypatch
    )
    assert status == 0
    assert {f.name for f in out.iterdir()} == {
        "motion.json", "motion.png", "followed.exr", "followed_pq.png",
    }  # fmt: skip
    found = load_findings(out / "motion.json")
    assert found["motion.images"].value == 2
    assert found["motion.light"].value == 0.5
    assert found["motion.edge"].sentence in told
    reference = clip("posts_passing").frame(0).light
    seen = load_frame(out / "followed.exr", absolute=True).light
    assert seen.mean(dtype=np.float64) == pytest.approx(reference.mean() / 2, rel=0.02)


def test_motion_of_a_frame_on_a_panel(still, tmp_path, capsys, monkeypatch):
    status, _, told = called(
        ["motion", still, "--absolute", "--panel", PANELS["self_emissive"], "--rate", "60",
         "--speed", "0.1", "--pixel-ms", "2", "--out", tmp_path / "on"],
        capsys, monkeypatch,
    )  # fmt: skip
    assert status == 0, told
    assert load_findings(tmp_path / "on" / "motion.json").panel == "Ember"


def test_refusals_are_one_line_and_leave_nothing(still, tmp_path, capsys, monkeypatch):
    panel, to = PANELS["self_emissive"], ["--out", tmp_path / "out"]
    for arguments in (
        ["compare", still, "-p", panel, *to],
        ["compare", still, "-p", panel, "--policy", "fixed", "--policy", "often", *to],
        ["compare", tmp_path / "none.mkv", "-p", panel, "-p", panel, *to],
        ["compare", still, *to],
        ["motion", "--hold", "0", *to],
        ["motion", "--strobes", "99", *to],
        ["motion", "--speed", "1e9", *to],
        ["motion", tmp_path / "none.exr", *to],
    ):
        before = sorted(tmp_path.rglob("*"))
        status, out, told = called(arguments, capsys, monkeypatch)
        lines = [line for line in told.strip().splitlines() if line.startswith("emulate: ")]
        assert (status, len(lines), out) == (2, 1, ""), f"{arguments}: {told}"
        assert sorted(tmp_path.rglob("*")) == before


def test_the_table_in_the_readme_is_what_its_command_prints():
    """One row is made again; the whole takes a minute."""
    spec = importlib.util.spec_from_file_location("table", ROOT / "benchmarks/static_dynamic.py")
    table = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(table)
    readme = (ROOT / "README.md").read_text("utf-8")
    assert table.head() in readme
    assert table.row("neon_without_white", 1000.0) in readme
    for name in table.SCENES:
        assert readme.count(f"| {name.replace('_', ' ')} |") == len(table.PEAKS)
