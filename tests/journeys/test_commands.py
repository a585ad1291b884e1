"""Commands from outside: what they make, what they say, and what they refuse without a trace."""

import json
import os
import signal
import subprocess
import sys

import numpy as np
import pytest

from emulate import Frame, load_findings, load_frame, write_exr
from emulate.cli import main
from emulate.demo_frames import SCENES, panel_files, question, scene
from tests.journeys.commands import emulate

PANELS = {file.stem: file for file in panel_files()}
PICTURES = {"pair.png", "loss.png", "halo.png", "backlight.png", "curve.png"}
LIGHT = {"light.exr", "light_pq.png", "light_sdr.png"}
KEPT = {"findings.json", "results.json", "page"}  # page: the parts that a page is made of
ODD_NAME = "-[red]ü #1 [b]"


@pytest.fixture(scope="module")
def still(tmp_path_factory):
    """A small real scene as an absolute EXR with an odd name."""
    path = tmp_path_factory.mktemp("still") / f"{ODD_NAME}.exr"
    return write_exr(scene("lamps_on_black_water", rows=180).light, path)


@pytest.fixture(scope="module")
def seen(still):
    """`emulate picture` from the folder of a file whose name begins with a dash."""
    out = still.parent / ODD_NAME / "into [b]this"
    done = emulate("picture", "--panel", PANELS["coarse_zones"], f"--out={out}", "--absolute", "--",
                   still.name, cwd=still.parent)  # fmt: skip
    assert done.status == 0, done.told
    return done, out


def test_picture_makes_findings_pictures_and_light(seen):
    _, out = seen
    assert {file.name for file in out.iterdir()} == PICTURES | LIGHT | KEPT
    for name in PICTURES | LIGHT - {"light.exr"}:
        assert (out / name).read_bytes().startswith(b"\x89PNG\r\n\x1a\n")


def test_picture_prints_every_finding_and_says_what_to_open(seen):
    done, out = seen
    findings = load_findings(out / "findings.json")
    for name, finding in findings.items():
        assert name in done.out
        assert finding.sentence in done.out
    assert f"Open {out}{os.sep}pair.png first" in done.out
    assert ODD_NAME in findings.frame


def test_findings_file_is_plain_json(seen):
    document = json.loads((seen[1] / "findings.json").read_text("utf-8"))
    assert document["panel"] == "Tallow"
    assert document["findings"]["halo.area"]["value"] > 0


def test_light_files_hold_the_same_light(seen):
    """EXR holds it exactly, PQ at 16 bits to a part in a thousand (SMPTE ST 2084 steps)."""
    exr = load_frame(seen[1] / "light.exr", absolute=True).light
    pq = load_frame(seen[1] / "light_pq.png").light
    np.testing.assert_allclose(pq, exr, rtol=2e-3, atol=1e-5)


def _called(arguments, capsys, monkeypatch):
    """As a process, without the seconds that each takes to start."""
    monkeypatch.setattr(sys, "argv", ["emulate", *map(str, arguments)])
    with pytest.raises(SystemExit) as left:
        main()
    return left.value.code, *capsys.readouterr()


def test_options_reach_the_light(still, tmp_path, capsys, monkeypatch):
    """A lit room lifts every pixel by the same light; ten times the scale is more light."""
    light = {}
    for name, options in {
        "lit": ["--absolute", "--room-lux", "100"],
        "scaled": ["--scale", "10", "--policy", "fixed", "--angle", "30", "--distance", "1.6"],
    }.items():
        asked = ["picture", still, "--panel", PANELS["self_emissive"], "--out", tmp_path / name]
        status, _, told = _called([*asked, *options], capsys, monkeypatch)
        assert status == 0, told
        light[name] = load_frame(tmp_path / name / "light.exr", absolute=True).light
    # Lambert: 100 lux on a reflectance of 0.009 is 100·0.009/π cd/m²; the darkest pixel is that.
    assert light["lit"].min() == pytest.approx(100 * 0.009 / np.pi, rel=0.02)
    assert np.median(light["scaled"]) > 2 * 0.93 * np.median(load_frame(still, absolute=True).light)


def test_panel_says_what_a_file_holds():
    done = emulate("panel", PANELS["fine_zones"])
    assert done.status == 0
    assert "64 × 36 = 2304" in done.out
    assert "5600:1" in done.out


def test_demo_shows_a_scene_on_every_panel(tmp_path):
    done = emulate("demo", "--size", "small", "--scene", SCENES[1], cwd=tmp_path)
    assert done.status == 0, done.told
    made = {each.name for each in (tmp_path / "demo").iterdir()}
    assert made == {SCENES[1], "results.json"}
    for stem in PANELS:
        made = {file.name for file in (tmp_path / "demo" / SCENES[1] / stem).iterdir()}
        assert made == PICTURES | KEPT
        assert stem in done.out
    assert question(SCENES[1]) in done.out
    assert f"Open demo/{SCENES[1]}/coarse_zones/pair.png first" in done.out


def _wrong(tmp_path):
    """What cannot be done, and the arguments that ask for it."""
    broken = tmp_path / "broken.exr"
    broken.write_bytes(b"\x76\x2f\x31\x01" + bytes(40))
    text = tmp_path / "text.exr"
    text.write_text("not a picture")
    poor = tmp_path / "poor.toml"
    poor.write_text('format = "emulate-panel/1"\nname = "x"\n[light]\nopen_cdm2 = -3.0\n')
    tiny = write_exr(Frame.from_light(np.ones((4, 4, 3))).light, tmp_path / "tiny.exr")
    good, panel = tiny, PANELS["coarse_zones"]
    to = ["--out", tmp_path / "out" / "deep"]
    return {
        "no such frame": ["picture", tmp_path / "none.exr", "--panel", panel, *to],
        "a folder": ["picture", tmp_path, "--panel", panel, *to],
        "truncated": ["picture", broken, "--panel", panel, *to],
        "no picture": ["picture", text, "--panel", panel, *to],
        "no such panel": ["picture", good, "--panel", tmp_path / "[red]none.toml", *to],
        "bad panel": ["picture", good, "--panel", poor, *to],
        "fewer pixels than zones": ["picture", good, "--panel", panel, *to],
        "bad policy": ["picture", good, "--panel", PANELS["self_emissive"], "--policy", "x", *to],
        "bad transfer": ["picture", good, "--panel", panel, "--transfer", "gamma", *to],
        "bad range": ["picture", good, "--panel", panel, "--range", "wide", *to],
        "bad scale": ["picture", good, "--panel", panel, "--scale", "-1", *to],
        "bad number": ["picture", good, "--panel", panel, "--scale", "many", *to],
        "time of a still": ["picture", good, "--panel", panel, "--at", "1", *to],
        "bad viewer": ["picture", good, "--panel", panel, "--distance", "0", *to],
        "bad angle": ["picture", good, "--panel", PANELS["self_emissive"], "--angle", "95", *to],
        "bad room": ["picture", good, "--panel", PANELS["self_emissive"], "--room-lux", "-1", *to],
        "bad white": ["picture", good, "--panel", panel, "--sdr-white", "0", *to],
        "bad size": ["demo", "--size", "huge", *to],
        "bad scene": ["demo", "--scene", "snow", *to],
        "no panel named": ["picture", good, *to],
        "no such option": ["picture", good, "--panle", panel, *to],
        "no command": [],
        "no such command": ["pictrue"],
        "out is a file": ["picture", good, "--panel", PANELS["self_emissive"], "--out", text],
        "panel is a folder": ["panel", tmp_path],
    }  # fmt: skip


def test_refusals_are_one_line_and_leave_nothing(tmp_path, capsys, monkeypatch):
    for what, arguments in _wrong(tmp_path).items():
        before = sorted(tmp_path.rglob("*"))
        status, out, told = _called(arguments, capsys, monkeypatch)
        lines = [line for line in told.strip().splitlines() if line.startswith("emulate: ")]
        assert status == 2, f"{what}: status {status}\n{told}"
        assert len(lines) == 1, f"{what}: {told}"
        assert not out, what
        assert sorted(tmp_path.rglob("*")) == before, f"{what}: left something behind"


def test_a_refusal_of_a_process_is_one_line_and_status_two(tmp_path):
    done = emulate("panel", tmp_path / "[red]none.toml")
    assert done.status == 2
    assert done.lines == [f"emulate: {tmp_path}/[red]none.toml: no such file; accepted is a panel file (.toml)"]  # fmt: skip  # noqa: E501


def test_a_name_that_is_not_utf8_or_breaks_lines_stays_one_line(tmp_path):
    for name in (b"\xff\xfe.exr", b"two\nlines\x1b[31m.exr"):
        done = emulate("picture", os.fsencode(tmp_path) + b"/" + name, "--panel",
                       PANELS["coarse_zones"], "--out", tmp_path / "out")  # fmt: skip
        assert done.status == 2
        assert len(done.lines) == 1
        assert "\x1b" not in done.told


def test_help_is_there_for_each_command():
    for command in ([], ["demo"], ["picture"], ["panel"]):
        done = emulate(*command, "--help")
        assert done.status == 0
        assert "Usage: emulate" in done.out
    assert "Example: emulate picture" in emulate("picture", "--help").out


def test_ctrl_c_is_a_line_and_leaves_nothing(tmp_path):
    out = tmp_path / "out"
    run = subprocess.Popen(
        [sys.executable, "-c", "from emulate.cli import main; main()", "demo", "--out", out],
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert run.stderr.readline().startswith(SCENES[0])  # the first rendering has begun
    run.send_signal(signal.SIGINT)
    _, told = run.communicate(timeout=60)
    assert run.returncode == 130
    assert told.strip().splitlines()[-1] == "emulate: stopped"
    assert "Traceback" not in told
    assert not [file for file in tmp_path.rglob("*") if file.is_file()]
