"""A second process beside a command compiles what the first will need and never outlives it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from emulate import Frame, Panel, company, compiling, load_panel, measure, render
from emulate._kernels import findings as plain_kernels
from emulate._kernels import things
from emulate._kernels.questions import question_pass
from emulate.demo_frames import panel_files
from emulate.frames.frame import CodePicture, Encoding
from emulate.rendering import render_plainly

WAITS = "import time\nfrom emulate.company import follow\nfollow()\ntime.sleep(600)\n"
FIRST = """
import sys, time
from emulate import company
with company.company():
    company.join("waits", meanwhile=int)
    print(company._second.pid, flush=True)
    time.sleep(600)
"""
GREY = Panel("grey", 400.0)


beside_us = pytest.mark.usefixtures("beside")


@pytest.fixture
def beside(tmp_path, monkeypatch) -> Path:
    """A folder whose modules both processes find; `waits` never ends by itself."""
    (tmp_path / "waits.py").write_text(WAITS, "utf-8")
    (tmp_path / "fails.py").write_text("1 / 0\n", "utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    return tmp_path


def codes() -> Frame:
    """Ten bits, 4:2:0, as a video has them: one small light in the dark."""
    first = np.full((180, 320), 100, np.uint16)
    first[90:92, 160:162] = 900
    grey = np.full((90, 160), 512, np.uint16)
    return Frame(
        CodePicture(first, grey, grey, Encoding("pq", matrix="bt2020", full_range=False, bits=10))
    )


def is_running(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@beside_us
def test_calls_from_python_start_no_process():
    company.join("waits", meanwhile=int)
    assert company._second is None


@beside_us
def test_it_ends_with_the_command_whatever_happens():
    begun = []

    def stopped() -> None:
        with company.company():
            company.join("waits", meanwhile=int)
            begun.append(company._second)
            assert begun[0].poll() is None
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert begun[0].returncode == -signal.SIGKILL
    assert company._second is None


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks /proc")
def test_it_ends_with_a_first_process_that_is_killed(beside):
    first = subprocess.Popen(
        [sys.executable, "-c", FIRST],
        stdout=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": os.pathsep.join([str(beside), *sys.path])},
    )
    assert first.stdout is not None
    second = int(first.stdout.readline())
    assert is_running(second)
    first.kill()
    first.communicate()
    until = time.monotonic() + 20
    while is_running(second) and time.monotonic() < until:
        time.sleep(0.02)
    assert not is_running(second)


@beside_us
def test_one_that_fails_costs_nothing_but_time(capfd):
    with company.company():
        company.join("fails", meanwhile=int)
        frame = codes()
        found = measure(frame, render(frame, GREY))  # waits for it
        assert company._second is None
    assert found["content.max_cll"].value > 0
    assert capfd.readouterr() == ("", "")


@beside_us
def test_one_that_hangs_is_not_waited_for(monkeypatch):
    monkeypatch.setattr(company, "PATIENCE", 0.01)
    with company.company():
        company.join("waits", meanwhile=int)
        company.arrived()
        assert company._second is None


def test_where_numba_has_kept_the_kernel_none_is_started():
    """A cache that cannot tell would start one for every command, for nothing."""
    frame = codes()
    measure(frame, render(frame, GREY))
    with company.company():
        compiling.compile_aside(frame, GREY)
        assert company._second is None


@pytest.mark.parametrize("of", ["twin", "plain"])
def test_the_second_process_gets_to_its_end(of):
    """As a command starts it, with what it imports and all that it measures."""
    with company.company():
        company.join("emulate.compiling", of, meanwhile=int)
        second = company._second
        company.arrived()
    assert second is not None
    assert second.returncode == 0


def test_what_is_compiled_is_what_the_frame_needs(monkeypatch):
    asked = []
    monkeypatch.setattr(compiling, "_kept", lambda _: False)
    monkeypatch.setattr(compiling, "_hurry", lambda: None)
    monkeypatch.setattr(compiling, "join", lambda *words, **_: asked.append(words))
    compiling.compile_aside(codes(), GREY)
    sun = Frame.from_light(np.full((40, 40, 3), 1e5))
    compiling.compile_aside(sun, GREY)
    assert asked == [("emulate.compiling", "twin"), ("emulate.compiling", "plain")]


def test_it_compiles_for_the_types_that_frames_have():
    """One signature more would be compiled for nothing, and the first would compile it again."""
    kernels = [question_pass, *vars(plain_kernels).values(), *vars(things).values()]
    kernels = [each for each in kernels if hasattr(each, "signatures")]
    frame, zones = codes(), load_panel(next(f for f in panel_files() if f.stem == "coarse_zones"))
    measure(frame, render(frame, zones))
    measure(frame, render_plainly(frame, zones))
    before = {each.__name__: list(each.signatures) for each in kernels}
    compiling.compile_findings("twin")
    compiling.compile_findings("plain")
    compiling._compile_rest()
    assert {each.__name__: list(each.signatures) for each in kernels} == before
    assert before["question_pass"]
    assert before["detail_codes"]
    assert before["mark_runs"]
    assert before["sums_where"]
