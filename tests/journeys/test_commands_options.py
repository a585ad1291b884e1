"""Options from outside: their help, their bounds, what a shell completes, what is checked first."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from math import inf, nextafter

import pytest
import typer

from emulate import Processing, Viewer
from emulate.cli import VERBS, app
from emulate.demo_frames import SCENES, panel_files
from emulate.errors import RequestError
from emulate.films.motion import Shown
from emulate.outputs import whole_folder
from emulate.readings.patterns.families import FAMILIES
from emulate.whatif.changes import NAMES
from tests.house.plan import ROOT
from tests.journeys.commands import emulate

GROUP = typer.main.get_command(app)
EXAMPLES = [example for _, example in VERBS]


@pytest.mark.parametrize("example", EXAMPLES)
def test_every_example_is_one_that_its_command_takes(example, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    program, verb, *arguments = shlex.split(example)
    assert program == "emulate"
    context = GROUP.commands[verb].make_context(verb, arguments)
    assert set(context.params) >= {"out"} or verb in ("panel", "range")
    assert GROUP.commands[verb].epilog == f"Example: {example}"
    assert not list(tmp_path.iterdir())


def test_examples_of_help_and_readme_agree():
    """More questions, a line each; the README says where its spectra lie."""
    block = (ROOT / "README.md").read_text("utf-8").partition("## More questions")[2]
    lines = [line.partition("#")[0].split() for line in block.split("```")[1].splitlines()[1:]]
    asked = {" ".join(word.rpartition("/demo_frames/")[2] for word in words) for words in lines}
    assert len(asked) == 8
    assert asked <= set(EXAMPLES)


def test_every_command_has_an_example():
    assert {example.split()[1] for example in EXAMPLES} == set(GROUP.commands)


def test_no_description_is_cut_off_at_80_columns():
    told = emulate("--help", columns=80).out
    assert "..." not in told.partition("Commands:")[2]
    assert max(map(len, told.splitlines())) <= 80


def test_help_names_the_families_of_patterns():
    told = " ".join(emulate("patterns", "--help", columns=80).out.split())
    assert ", ".join(FAMILIES) in told


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        ("emulate pic", ["picture"]),
        ("emulate picture frame.exr --room", ["--room-lux"]),
        ("emulate demo --scene st", [name for name in SCENES if name.startswith("st")]),
        ("emulate panel mi", ["mine.toml"]),
        ("emulate picture frame.exr --panel su", []),  # none: the shell goes on with its own
        ("emulate picture frame.exr --panel sub/", ["sub/other.toml"]),
        ("emulate patterns out --only ch", ["checker", "chart24", "chart140"]),
        ("emulate whatif frame.exr --change o", [name for name in NAMES if name[0] == "o"]),
    ],
)
def test_bash_completes(asked, expected, called, tmp_path, monkeypatch):
    (tmp_path / "sub").mkdir()
    for name in ("mine.toml", "sub/other.toml", "middle.txt"):
        (tmp_path / name).touch()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("_EMULATE_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", asked)
    monkeypatch.setenv("COMP_CWORD", str(len(asked.split(" ")) - 1))
    status, out, _ = called()
    assert status == 0
    assert out.split() == expected


def test_completion_never_looks_at_the_folder_to_fill(called, tmp_path, monkeypatch):
    """Half a command names no folder yet; a file in its place is told when it is asked for."""
    (tmp_path / "taken").touch()
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("_EMULATE_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", "emulate picture frame.exr --out taken --room")
    monkeypatch.setenv("COMP_CWORD", "5")
    assert called()[:2] == (0, "--room-lux\n")


@pytest.mark.parametrize("shell", ["bash", "zsh"])
def test_a_script_for_each_shell_is_made(shell, called, monkeypatch):
    monkeypatch.setenv("_EMULATE_COMPLETE", f"source_{shell}")
    status, script, _ = called()
    assert status == 0
    assert f"_EMULATE_COMPLETE=complete_{shell}" in script


def test_the_script_works_in_bash():
    """What bash does at a tab: it calls the function of the script and reads COMPREPLY."""
    script = (
        'emulate() { "$PYTHON" -c "from emulate.cli import main; main()"; }; export -f emulate\n'
        'env() { local -x "${@:1:3}"; "$4"; }\n'  # the words of the script, our interpreter
        'eval "$(_EMULATE_COMPLETE=source_bash emulate)"\n'
        "COMP_WORDS=(emulate spec); COMP_CWORD=1; _emulate_completion emulate\n"
        'echo "${COMPREPLY[@]}"; complete -p emulate'
    )
    done = subprocess.run(
        ["bash", "-c", script], capture_output=True, text=True, timeout=60,
        env={**os.environ, "PYTHON": sys.executable},
    )  # fmt: skip
    assert done.stdout.splitlines()[0] == "spectrum", done.stderr
    assert "-F _emulate_completion emulate" in done.stdout


def _out_of_range():
    """Option, a value that is not accepted, and the words that say what is."""
    picture, motion = ["picture", "frame.exr", "-p", "p.toml", "-o", "out"], ["motion", "-o", "out"]
    return [
        (picture, "--room-lux", "-5", "0 or more lux"),
        (picture, "--room-lux", "nan", "0 or more lux"),
        (picture, "--room-lux", "inf", "0 or more lux"),
        (picture, "--angle", "90", "above -90 and below 90 degrees"),
        (picture, "--distance", "0", "0.3 to 30"),
        (picture, "--age", "200", "5 to 110 years"),
        (picture, "--scale", "0", "above 0 cd/m²"),
        (picture, "--sdr-white", "20000", "above 0, at most 10000 cd/m²"),
        (picture, "--at", "-1", "0 or more s"),
        (picture, "--subpixels", "9", "1 to 8"),
        (["film", "c.mp4", "-p", "p.toml", "-o", "out"], "--every", "0", "1 or more"),
        (["film", "c.mp4", "-p", "p.toml", "-o", "out"], "--rate", "0", "above 0"),
        (["seats", "f.exr", "-p", "p.toml", "-o", "out", "--angle", "0"], "--angle", "95", "below"),
        (["brightness", "f.exr", "-p", "p.toml", "-o", "out"], "--setting", "2", "0.01 to 1"),
        (["whatif", "f.exr", "-p", "p.toml", "-o", "out"], "--rows", "10", "90 or more pixels"),
        (["pan", "p.toml", "-o", "out"], "--level", "7000", "above 0, at most 6666 cd/m²"),
        (["range", "p.toml"], "--peak", "1", "above 1, at most 10000 cd/m²"),
        (["sharpness", "-o", "out"], "--swing", "0.5", "above 0, at most 0.45 of the signal"),
        (["patterns", "out"], "--repeats", "0", "1 to 20"),
        (["fit", "sheet.csv", "-o", "p.toml"], "--noise", "60", "above 0, at most 50 %"),
        (motion, "--refresh", "0", "1 to 1000 Hz"),
        (motion, "--hold", "2", "0.001 to 1"),
        (motion, "--strobes", "0", "1 to 16"),
        (motion, "--speed", "0", "above 0"),
    ]


def test_a_number_out_of_range_is_told_before_anything_is_read(called, tmp_path, monkeypatch):
    """None of the files is there, and none is missed: the option is named, and what it takes."""
    monkeypatch.chdir(tmp_path)
    for command, option, value, accepted in _out_of_range():
        status, _, told = called(*command, option, value)
        assert status == 2, option
        assert f"'{option}': {value}; accepted is " in told
        assert accepted in told
        assert f"(emulate {command[0]} --help lists what is accepted)" in told
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("made", "low", "high"),
    [
        (lambda x: Viewer(distance_h=x), 0.3, 30.0),
        (lambda x: Viewer(age=x), 5.0, 110.0),
        (lambda x: Processing(softness=x), 0.0, 50.0),
        (lambda x: Processing(noise=x), 0.0, 100.0),
        (lambda x: Shown(refresh_hz=x), 1.0, 1000.0),
        (lambda x: Shown(hold_share=x), 0.001, 1.0),
        (lambda x: Shown(pixel_s=x), 0.0, 1.0),
        (lambda x: Shown(zone_s=x), 0.0, 10.0),
    ],
)
def test_bounds_of_options_are_those_of_the_rooms_behind_them(made, low, high):
    """The numbers that the options state (in ms where they ask for ms), asked of the library."""
    for inside in (low, high):
        made(inside)
    for outside in (nextafter(low, -inf), nextafter(high, inf)):
        with pytest.raises(RequestError):
            made(outside)


def _unusable(tmp_path):
    (tmp_path / "taken").write_text("not a folder")
    (tmp_path / "folder").mkdir()
    taken = tmp_path / "taken"
    panel, frame = panel_files()[0], tmp_path / "none.exr"
    return [
        ["picture", frame, "-p", panel, "-o", taken],
        ["picture", frame, "-p", panel, "-o", taken / "below"],
        ["picture", frame, "-p", panel, "-o", "/proc/none"],  # where nobody can write
        ["film", frame, "-p", panel, "-o", taken],
        ["compare", frame, "-p", panel, "-o", taken],
        ["whatif", frame, "-p", panel, "-o", taken],
        ["demo", "-o", taken],
        ["patterns", taken],
        ["check", panel, tmp_path / "none.csv", "-o", taken],
        ["page", tmp_path / "none", "-o", tmp_path / "folder"],
        ["fit", tmp_path / "none.csv", "-o", tmp_path / "nowhere" / "p.toml"],
    ]


def test_a_place_that_cannot_be_written_is_told_before_anything_is_read(called, tmp_path):
    """The frame and the readings are not there either; the place is what is told."""
    commands = _unusable(tmp_path)
    before = sorted(tmp_path.rglob("*"))
    for command in commands:
        status, _, told = called(*command)
        assert status == 2, command
        assert str(command[-1]) in told
        assert "none.exr" not in told
        assert "none.csv" not in told
    assert sorted(tmp_path.rglob("*")) == before


def test_what_is_made_is_put_together_inside_a_folder_that_is_there(tmp_path):
    """Where above it nobody may write, or another disk begins, it can be filled all the same."""
    (tmp_path / "mine").mkdir()
    with whole_folder(tmp_path / "mine") as scratch:
        assert scratch.parent == tmp_path / "mine"
        (scratch / "made").touch()
    assert [file.name for file in (tmp_path / "mine").iterdir()] == ["made"]
