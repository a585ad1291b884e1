"""What-if, seats, pans, ranges, sharpness, spectra and brightness as commands."""

from __future__ import annotations

import numpy as np
import pytest

from emulate import load_frame, load_panel, write_exr, write_sdr_png
from emulate.demo_frames import CLIPS, SCENES, panel_files, scene

PANELS = {file.stem: file for file in panel_files()}


@pytest.fixture(scope="module")
def stills(tmp_path_factory):
    folder = tmp_path_factory.mktemp("stills")
    light = scene("window_and_table", rows=90).light
    return write_exr(light, folder / "hdr.exr"), write_sdr_png(light, folder / "sdr.png")


def _made(folder):
    return {file.name for file in folder.iterdir()}


def test_whatif_draws_tells_and_writes(called, stills, tmp_path):
    out = tmp_path / "asked"
    status, told, wrong = called("whatif", stills[0], "--panel", PANELS["coarse_zones"], "--out",
                                 out, "--absolute", "--rows", 90, "--change", "peak")  # fmt: skip
    assert status == 0, wrong
    assert _made(out) == {"whatif.png", "whatif.json", "whatif.csv", "results.json", "page"}
    assert "clipped.peak" in told
    assert "searched on" not in told  # 90 rows are not reduced
    assert "clipped.zones" not in told


def test_seats_are_compared(called, stills, tmp_path):
    out = tmp_path / "seats"
    status, told, wrong = called("seats", stills[0], "--absolute", "-p", PANELS["coarse_zones"],
                                 "--angle", 0, "--angle", 60, "--out", out)  # fmt: skip
    assert status == 0, wrong
    assert _made(out) == {"side_by_side.png", "differences.png", "comparison.json"}
    assert "60° off the axis, dark room: white keeps 36 % of its light" in told


def test_a_pan_is_mapped(called, tmp_path):
    status, told, wrong = called(
        "pan", PANELS["self_emissive"], "--level", 20, "-o", tmp_path / "p"
    )
    assert status == 0, wrong
    assert _made(tmp_path / "p") == {"pan.png", "pan_20.json"}
    assert "dirt.worst" in told


def test_a_wrong_range_is_told(called):
    status, told, wrong = called("range", PANELS["self_emissive"], "--taken", "full")
    assert status == 0, wrong
    assert "they should not show" in told
    assert "taken for full" in told


def test_sharpness_is_drawn(called, tmp_path):
    status, told, wrong = called("sharpness", "--softness", 1, "-o", tmp_path / "s")
    assert status == 0, wrong
    assert _made(tmp_path / "s") == {"sharpness.png", "sharpness.json"}
    assert "star.half" in told


def test_spectra_go_into_a_panel(called, tmp_path):
    file = tmp_path / "spectra.csv"
    at = np.arange(380, 781)
    rows = [f"{nm},{int(nm == 630)},{int(nm == 532)},{int(nm == 467)}" for nm in at]
    file.write_text("wavelength_nm,red,green,blue\n" + "\n".join(rows))
    new = tmp_path / "new.toml"
    status, told, wrong = called("spectrum", file, "-p", PANELS["self_emissive"], "-o", new)
    assert status == 0, wrong
    assert "spectrum.bt2020.xy" in told
    assert load_panel(new).primaries.red == pytest.approx((0.708, 0.292), abs=6e-4)
    status, _, wrong = called("spectrum", file, "-p", PANELS["self_emissive"])
    assert status == 2
    assert "accepted is --panel with --out" in wrong


def test_brightness_takes_hdr_and_sdr(called, stills, tmp_path):
    out = tmp_path / "dim"
    status, told, wrong = called("brightness", *stills, "-p", PANELS["self_emissive"], "-o", out,
                                 "--setting", 1, "--setting", 0.5, "--sdr-full", 400)  # fmt: skip
    assert status == 0, wrong
    assert "Setting 50%: white 200 cd/m²" in told
    assert {"brightness_1.png", "brightness_2.json"} < _made(out)


def test_a_scene_is_written_as_light_or_as_pq(called, tmp_path):
    """Both files hold the scene as the recipe makes it; PQ to half a step of 16 bits."""
    asked = ("scene", "neon_without_white", "--rows", 90, "--peak", 1000, "--out")
    made = scene("neon_without_white", rows=90, peak=1000)
    for name, near in (("f.exr", 0.0), ("f.png", 2e-4)):
        status, told, wrong = called(*asked, tmp_path / name)
        assert status == 0, wrong
        assert "Do pure colours keep hue" in told
        frame = load_frame(tmp_path / name)
        np.testing.assert_allclose(frame.light, made.light, rtol=near, atol=near)
        assert not frame.caveats
    assert frame.metadata.mastering_peak == 1000


def test_scenes_and_clips_are_listed(called):
    status, told, _ = called("scene")
    assert status == 0
    assert all(name in told for name in (*SCENES, *CLIPS))


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("lamps",), "scene lamps: accepted is one of drifts_in_sunlit_snow"),
        (("--out", "f.exr"), "accepted is one of"),
        (("neon_without_white",), "--out with .exr or .png"),
        (("lamp_across_black", "--out", "f.exr"), "f.exr: accepted for lamp_across_black is"),
        (("neon_without_white", "--out", "no/such/f.exr"), "no/such"),
    ],
)
def test_a_scene_that_cannot_be_written_is_one_line(arguments, said, called, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    status, _, told = called("scene", *arguments)
    assert status == 2
    assert said in told.splitlines()[-1]
    assert not list(tmp_path.iterdir())
