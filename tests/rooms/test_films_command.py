"""`emulate film`: a clip into a folder, stopped and gone on with, and what it prints."""

from __future__ import annotations

import av
import numpy as np
import pytest
from typer.testing import CliRunner

from emulate import open_clip, save_panel, scan, write_clip
from emulate.cli import app
from emulate.errors import RequestError
from emulate.filming import _moving, film
from emulate.findings.formatting import timecode
from emulate.pictures.film import draw_film
from emulate.pictures.page import save_drawing
from tests.rooms.filmed import CAVE, PANEL, RATE, VIEWER, bytes_of, write_film


@pytest.fixture(scope="module")
def material(tmp_path_factory):
    folder = tmp_path_factory.mktemp("film")
    save_panel(PANEL, folder / "panel.toml")
    return write_film(folder / "film.mp4"), folder / "panel.toml"


def run(material, out, *more):
    clip, panel = map(str, material)
    asked = ["film", clip, "--panel", panel, "--out", str(out), "--distance", "10", "--worst", "1"]
    return CliRunner().invoke(app, [*asked, *more])


def names_in(folder):
    return sorted(each.name for each in folder.iterdir())


@pytest.fixture(scope="module")
def made(material, tmp_path_factory):
    out = tmp_path_factory.mktemp("seen") / "seen"
    return run(material, out), out


def test_it_says_what_is_lost_and_what_to_open(made):
    done, out = made
    assert done.exit_code == 0, done.output
    words = " ".join(done.output.split())
    assert "Area that glows around bright things" in words
    assert f"Scene cuts: {timecode(CAVE / RATE)}." in words
    assert "film.png first" in words
    assert "the stream claims nothing" in words
    assert names_in(out) == [
        "cuts.csv",
        "film.png",
        "findings.json",
        "frames.csv",
        "frames.json",
        "journal.jsonl",
        "moments.csv",
        "page",
        "results.json",
        "stills",
    ]


def test_every_moment_has_its_still(made):
    _, out = made
    lines = (out / "moments.csv").read_text("utf-8").splitlines()
    named = {line.rsplit(",", 1)[1] for line in lines[1:]}
    assert named == set(names_in(out / "stills"))
    assert named


def test_the_worst_moment_after_a_cut_into_the_light_is_not_all_white(tmp_path):
    """Snow of 400 and 800 cd/m² after a cave of 0.5: 800 is an R10 white (ISO 3), and half of it is
    code 188 of sRGB (IEC 61966-2-1)."""
    light = np.where(np.indices((36, 64)).sum(axis=0) % 8 < 4, 800.0, 400.0)
    pictures = [np.full((36, 64), 0.5)] * 8 + [light] * 4
    pictures = [np.repeat(each[..., None], 3, axis=2).astype(np.float32) for each in pictures]
    clip = open_clip(write_clip(pictures, tmp_path / "cut.mkv", rate=RATE, codec="ffv1"))
    found = scan(clip, PANEL, viewer=VIEWER)
    assert found.moments[0].index >= 8
    moving = _moving(clip, PANEL, found, tmp_path / "worst.mp4")
    with av.open(str(moving.path)) as film:
        last = list(film.decode(video=0))[-1].to_ndarray(format="gray8")
    assert np.percentile(last[:, :64], 25) == pytest.approx(188, abs=3)


def test_stopped_it_goes_on_to_the_same_folder(made, material, tmp_path):
    _, whole = made
    out = tmp_path / "seen"
    out.mkdir()
    data = (whole / "journal.jsonl").read_bytes()
    (out / "journal.jsonl").write_bytes(data[: len(data) // 2])
    done = run(material, out)
    assert done.exit_code == 0, done.output
    assert bytes_of(out) == bytes_of(whole)


def test_other_terms_in_the_same_folder_are_refused_or_begun_anew(made, material, tmp_path):
    _, whole = made
    out = tmp_path / "seen"
    out.mkdir()
    (out / "journal.jsonl").write_bytes((whole / "journal.jsonl").read_bytes())
    done = run(material, out, "--policy", "by_frame")
    assert isinstance(done.exception, RequestError)
    assert "another policy" in str(done.exception)
    assert names_in(out) == ["journal.jsonl"]
    assert run(material, out, "--anew", "--end", "0.2", "--policy", "by_frame").exit_code == 0
    assert (out / "film.png").is_file()


def test_the_picture_is_the_same_bytes_each_time_and_says_what_it_shows(material, tmp_path):
    found = scan(open_clip(material[0], end_s=0.5), PANEL, viewer=VIEWER)
    first, second = (draw_film(found) for _ in range(2))
    for number, drawing in enumerate((first, second)):
        save_drawing(drawing, tmp_path / f"{number}.png")
        save_drawing(drawing, tmp_path / f"{number}.svg")
    for ending in ("png", "svg"):
        one, other = ((tmp_path / f"{n}.{ending}").read_bytes() for n in (0, 1))
        assert one == other
    assert found.film["halo.area"].sentence in first.alt


def test_nothing_but_the_journal_is_left_when_it_cannot_go_on(material, tmp_path):
    with pytest.raises(RequestError):
        film(open_clip(material[0]), PANEL, tmp_path / "seen", policy="by_mood")
    assert names_in(tmp_path) in ([], ["seen"])
    assert not bytes_of(tmp_path)
