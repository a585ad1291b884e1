"""Motion: decoded again, frame by frame; tagged as what it is; looked at for flashing."""

from __future__ import annotations

from dataclasses import replace

import av
import numpy as np
import pytest

from emulate import Frame, render
from emulate.errors import RequestError
from emulate.pictures.exposure import Slice
from emulate.pictures.motion import (
    GAP,
    flashing_of,
    over_backlight,
    side_by_side,
    wiped,
    write_motion,
)
from emulate.pictures.wipe import page_size
from tests.rooms.pictured import PANEL, light

LIFE = Slice("middle", 203.0, 0.0, 0.0)
RATE = 12.0


def pairs(count: int = 6, dim: float = 1.0, shape=(54, 96)):
    """Frames of a lamp that fades, and the panel's picture of each."""
    for index in range(count):
        frame = Frame.from_light(light(*shape) * np.float32(dim ** index), "lamp",
                                 index=index, time_s=index / RATE)  # fmt: skip
        yield frame, render(frame, PANEL)


def decoded(path) -> tuple[list[np.ndarray], object]:
    with av.open(str(path)) as file:
        stream = file.streams.video[0]
        frames = list(file.decode(stream))
        return [frame.to_ndarray(format="yuv420p") for frame in frames], frames[0]


def test_side_by_side_is_both_pictures_and_a_gap():
    frame, rendering = next(iter(pairs()))
    (picture,) = side_by_side([(frame, rendering)], LIFE, 96)
    np.testing.assert_array_equal(picture[:, :96], LIFE.codes(frame.light))
    np.testing.assert_array_equal(picture[:, 96 + GAP :], LIFE.codes(rendering.light))


def test_a_wipe_goes_across_and_back():
    frame, rendering = next(iter(pairs()))
    lines = []
    for picture in wiped([(frame, rendering)] * 48, LIFE, 96, RATE):
        white = np.flatnonzero((picture == picture[:1]).all(axis=(0, 2)) & (picture[0, :, 0] > 240))
        lines.append(white.mean() / 96 if white.size else np.nan)
    assert lines[0] == pytest.approx(0.5, abs=0.03)
    assert np.nanmin(lines) < 0.1
    assert np.nanmax(lines) > 0.9


def test_the_backlight_lies_under_the_picture():
    frame, rendering = next(iter(pairs()))
    (picture,) = over_backlight([(frame, rendering)], LIFE, 96)
    rows, _ = page_size(frame.shape, 96)
    np.testing.assert_array_equal(picture[:rows], LIFE.codes(rendering.light))
    below = picture[rows + GAP :].astype(int).sum(axis=-1)
    assert below.shape == (rows, 96)
    at = np.unravel_index(rendering.backlight.argmax(), rendering.backlight.shape)
    assert below[at] > np.median(below)


def test_video_is_bt709_and_reads_back(tmp_path):
    """R′G′B′ to Y′ by ITU-R BT.709-6 3.2 and 3.5, narrow; within 2 codes after H.264."""
    made = write_motion(pairs, LIFE, tmp_path / "film.mp4", rate=RATE, width=96)
    frames, first = decoded(made.path)
    assert len(frames) == 6
    assert (first.color_primaries, first.color_trc, first.colorspace) == (1, 1, 1)
    assert first.color_range == 1
    pictures = list(side_by_side(pairs(), LIFE, 96))
    for codes, picture in zip(frames, pictures, strict=True):
        luma = 16 + 219 * (picture / 255) @ [0.2126, 0.7152, 0.0722]
        height, width = picture.shape[:2]
        assert np.abs(codes[:height, :width] - luma).mean() < 1.0
        assert np.abs(codes[:height, :width] - luma).max() < 8
    assert made.slowed == 1
    assert not made.caution
    assert "203 cd/m²" in made.alt


def test_a_loop_is_lossless(tmp_path):
    made = write_motion(pairs, LIFE, tmp_path / "loop.png", rate=RATE, layout="wipe", width=96)
    with av.open(str(made.path)) as file:
        frames = [frame.to_ndarray(format="rgb24") for frame in file.decode(video=0)]
    for seen, drawn in zip(frames, wiped(pairs(), LIFE, 96, RATE), strict=True):
        np.testing.assert_array_equal(seen, drawn)


def test_flashing_is_slowed_and_said(tmp_path):
    """Six flashes a second become three; the pictures stay the same."""
    lit = Frame.from_light(np.full((36, 64, 3), 150, np.float32), "lit")
    dark = replace(Frame.from_light(np.zeros((36, 64, 3), np.float32), "dark"))
    plain = replace(PANEL, zones=replace(PANEL.zones, rows=2, columns=2))
    seen = [(frame, render(frame, plain)) for frame in [lit, dark] * 12]
    made = write_motion(lambda: seen, LIFE, tmp_path / "flash.mp4", rate=12.0, width=64)
    assert made.flashing.risky
    assert made.slowed == pytest.approx(2.0)
    assert made.rate == pytest.approx(6.0)
    assert made.caution.startswith("Caution, flashing")
    assert "2 times slower" in made.caution
    assert "not a certificate" in made.caution
    with av.open(str(made.path)) as file:
        assert float(file.streams.video[0].average_rate) == pytest.approx(6.0)
    shown = flashing_of(side_by_side(seen, LIFE, 64), made.rate)
    assert not shown.risky


def test_what_cannot_be_is_refused(tmp_path):
    for path, layout, match in (
        ("film.gif", "wipe", "accepted is .mp4 or .png"),
        ("film.mp4", "mirror", "accepted are side_by_side, wipe, backlight"),
    ):
        with pytest.raises(RequestError, match=match):
            write_motion(pairs, LIFE, tmp_path / path, rate=RATE, layout=layout)
    with pytest.raises(RequestError, match="accepted is at least one"):
        write_motion(list, LIFE, tmp_path / "film.mp4", rate=RATE)
    assert not list(tmp_path.iterdir())
