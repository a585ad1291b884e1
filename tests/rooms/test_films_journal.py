"""Stopped at any moment, gone on with, and the same bytes in the end; damage told and skipped."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from emulate import Viewer, open_clip, save_film, scan, write_exr
from emulate.errors import OutputError, RequestError
from emulate.films.entries import Checkpoint, End, entry_of, text_of
from emulate.films.journal import open_journal
from tests.rooms.filmed import PANEL, VIEWER, bytes_of, lights, write_film

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    return open_clip(write_film(tmp_path_factory.mktemp("film") / "film.mp4"))


def scanned(clip, folder, **rest):
    found = scan(clip, PANEL, viewer=VIEWER, journal=folder / "journal.jsonl", **rest)
    save_film(found, folder)
    return found


@pytest.fixture(scope="module")
def whole(clip, tmp_path_factory):
    """A folder made in one go."""
    folder = tmp_path_factory.mktemp("whole")
    scanned(clip, folder)
    return folder


def test_no_journal_gives_the_same(clip, whole, tmp_path):
    save_film(scan(clip, PANEL, viewer=VIEWER), tmp_path)
    assert bytes_of(tmp_path) == bytes_of(whole)


@pytest.mark.parametrize("share", [0.001, 0.02, 0.5, 0.77, 0.9999])
def test_cut_off_at_any_byte_it_goes_on_to_the_same_bytes(clip, whole, tmp_path, share):
    data = (whole / "journal.jsonl").read_bytes()
    (tmp_path / "journal.jsonl").write_bytes(data[: int(share * len(data))])
    scanned(clip, tmp_path)
    assert bytes_of(tmp_path) == bytes_of(whole)
    assert (tmp_path / "journal.jsonl").read_bytes() == data


def test_a_journal_goes_on_where_it_stopped(clip, whole, tmp_path):
    data = (whole / "journal.jsonl").read_bytes()
    (tmp_path / "journal.jsonl").write_bytes(data[: int(0.7 * len(data))])
    told = []
    scanned(clip, tmp_path, on_progress=told.append)
    assert told[0].known == told[0].done == 25  # the last checkpoint follows frame 24
    complete = []
    scanned(clip, tmp_path, on_progress=complete.append)
    assert [each.done for each in complete] == [len(told) - 1 + 25]  # nothing left to do


KILLED = """
import os, signal, sys
from pathlib import Path
from emulate import open_clip, scan
from tests.rooms.filmed import PANEL, VIEWER

def tell(now):
    if now.done == 40:
        os.kill(os.getpid(), signal.SIGKILL)

scan(open_clip(sys.argv[1]), PANEL, viewer=VIEWER, journal=sys.argv[2], on_progress=tell)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no SIGKILL on this system")
def test_killed_it_goes_on_to_the_same_bytes(clip, whole, tmp_path):
    journal = tmp_path / "journal.jsonl"
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(clip.source.path), str(journal)],
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == -signal.SIGKILL
    assert 0 < journal.stat().st_size < (whole / "journal.jsonl").stat().st_size
    scanned(clip, tmp_path)
    assert bytes_of(tmp_path) == bytes_of(whole)


def test_garbled_from_a_line_on_it_starts_before_it(clip, whole, tmp_path):
    data = bytearray((whole / "journal.jsonl").read_bytes())
    data[int(0.6 * len(data))] ^= 0x20
    (tmp_path / "journal.jsonl").write_bytes(data)
    scanned(clip, tmp_path)
    assert bytes_of(tmp_path) == bytes_of(whole)


@pytest.mark.parametrize(
    ("changed", "word"),
    [
        ({"panel": replace(PANEL, open_cdm2=901.0)}, "panel"),
        ({"panel": replace(PANEL, zones=replace(PANEL.zones, decay_s=0.5))}, "panel"),
        ({"policy": "by_frame"}, "policy"),
        ({"viewer": Viewer(distance_h=9.0)}, "viewer"),
        ({"room_lux": 5.0}, "room"),
        ({"angle": 5.0}, "angle"),
    ],
)
def test_a_journal_of_something_else_is_refused(clip, whole, changed, word):
    asked = {"panel": PANEL, "viewer": VIEWER} | changed
    with pytest.raises(RequestError, match=f"begun with another {word}; accepted is"):
        scan(clip, journal=whole / "journal.jsonl", **asked)


def test_a_journal_of_another_clip_or_stretch_is_refused(clip, whole, tmp_path):
    journal = whole / "journal.jsonl"
    with pytest.raises(RequestError, match="another stretch of the clip"):
        scan(replace(clip, end_s=1.0), PANEL, viewer=VIEWER, journal=journal)
    data = bytearray(clip.source.path.read_bytes())
    data[-1] ^= 1
    other = tmp_path / "film.mp4"
    other.write_bytes(data)
    with pytest.raises(RequestError, match="another clip"):
        scan(open_clip(other), PANEL, viewer=VIEWER, journal=journal)


def test_anew_writes_over_it(clip, whole, tmp_path):
    (tmp_path / "journal.jsonl").write_bytes((whole / "journal.jsonl").read_bytes())
    short = replace(clip, end_s=0.1)
    found = scan(short, PANEL, viewer=VIEWER, journal=tmp_path / "journal.jsonl", anew=True)
    assert len(found.table) == 3


def test_stills_keep_a_journal_too(tmp_path):
    folder = tmp_path / "stills"
    folder.mkdir()
    for number, light in enumerate(lights()[:3]):
        write_exr(light, folder / f"f_{number}.exr")
    journal = tmp_path / "journal.jsonl"
    first = scan(open_clip(folder, rate=24), PANEL, viewer=VIEWER, journal=journal)
    again = scan(open_clip(folder, rate=24), PANEL, viewer=VIEWER, journal=journal)
    assert np.array_equal(first.table.values, again.table.values, equal_nan=True)
    write_exr(lights()[9], folder / "f_2.exr")
    with pytest.raises(RequestError, match="another clip"):
        scan(open_clip(folder, rate=24), PANEL, viewer=VIEWER, journal=journal)


def test_a_file_that_is_no_journal_is_left_alone(clip, tmp_path):
    place = tmp_path / "journal.jsonl"
    place.write_text("my notes\n")
    with pytest.raises(RequestError, match="not a journal of ours"):
        scan(clip, PANEL, viewer=VIEWER, journal=place)
    assert place.read_text() == "my notes\n"


def test_a_journal_has_one_writer(tmp_path):
    pytest.importorskip("fcntl", reason="no locks on this system")
    with (
        open_journal(tmp_path / "j", {"clip": "a"}),
        pytest.raises(RequestError, match="another process is writing it"),
        open_journal(tmp_path / "j", {"clip": "a"}),
    ):
        pass


def test_a_place_that_cannot_be_written_is_said(clip, tmp_path):
    with pytest.raises(OutputError, match="cannot be written"):
        scan(clip, PANEL, viewer=VIEWER, journal=tmp_path / "missing" / "journal.jsonl")


def test_entries_read_back_as_they_were_written(whole):
    lines = (whole / "journal.jsonl").read_text("utf-8").splitlines()[1:]
    entries = [entry_of(line[9:]) for line in lines]
    assert [text_of(entry) for entry in entries] == [line[9:] for line in lines]
    assert sum(isinstance(entry, Checkpoint) for entry in entries) == 3
    assert isinstance(entries[-1], End)


@pytest.fixture(scope="module")
def damaged(clip, tmp_path_factory):
    """The same film with some bytes flipped in its middle; pictures carry check sums."""
    data = bytearray(clip.source.path.read_bytes())
    middle = len(data) // 2
    for at in range(middle, middle + 40):
        data[at] ^= 0xA5
    path = tmp_path_factory.mktemp("damaged") / "film.mp4"
    path.write_bytes(data)
    return open_clip(path)


def test_a_damaged_stretch_is_told_by_its_time_and_the_rest_is_done(damaged, tmp_path):
    found = scanned(damaged, tmp_path)
    assert found.damage == damaged.damage()
    assert len(found.damage) == 1
    lost = found.damage[0]
    index, time_s = found.table.index, found.table.time_s
    assert not ((time_s >= lost.start_s - 1e-9) & (time_s < lost.end_s - 1e-9)).any()
    assert index[0] == 0
    assert len(index) + round((lost.end_s - lost.start_s) * 24) == damaged.frames
    first_after = found.table["fluctuation.area"][time_s >= lost.end_s - 1e-9][:1]
    assert all(value != value for value in first_after)  # NaN: no frame right before it
    assert any("left out" in str(doubt) for doubt in found.caveats)
    assert str(lost.text) in (tmp_path / "findings.json").read_text("utf-8")


@pytest.mark.parametrize("share", [0.6])
def test_damaged_and_stopped_it_comes_to_the_same(damaged, tmp_path, share):
    scanned(damaged, tmp_path)
    data = (tmp_path / "journal.jsonl").read_bytes()
    before = bytes_of(tmp_path)
    os.truncate(tmp_path / "journal.jsonl", int(share * len(data)))
    scanned(damaged, tmp_path)
    assert bytes_of(tmp_path) == before
    assert (tmp_path / "journal.jsonl").read_bytes() == data
