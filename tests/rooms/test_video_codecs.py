"""Every codec gives back the codes that went in; what the stream says of them is understood."""

from __future__ import annotations

import re
from fractions import Fraction

import numpy as np
import pytest

from emulate.errors import MaterialError, RequestError
from emulate.frames.clip import open_clip
from emulate.frames.said import Said
from emulate.frames.stream import exact_rate
from emulate.frames.video import frame_of_clip
from tests.rooms.moving import (
    HDR_TAGS,
    LOSSLESS,
    SDR_TAGS,
    X265,
    flat_planes,
    needs_encoder,
    noise_planes,
    same_codes,
    write_moving,
)

GBR = (2, 0, 1)  # how planar R′G′B′ is stored: green, blue, red (libavutil/pixfmt.h)

EXACT = [
    ("libx265", "yuv420p10le", ".mp4", LOSSLESS),
    ("libx265", "yuv420p10le", ".ts", LOSSLESS),
    ("libx265", "yuv422p10le", ".mkv", LOSSLESS),
    ("libx265", "yuv444p12le", ".mp4", LOSSLESS),
    ("libx265", "gbrp12le", ".mkv", LOSSLESS),
    ("libsvtav1", "yuv420p10le", ".mp4", {"svtav1-params": "lossless=1", "preset": "10"}),
    ("libvpx-vp9", "yuv420p10le", ".webm", {"lossless": "1"}),
    ("libvpx-vp9", "yuv420p", ".webm", {"lossless": "1"}),
    ("ffv1", "yuv420p10le", ".mkv", {}),
    ("ffv1", "yuv422p12le", ".mkv", {}),
    ("ffv1", "yuv444p16le", ".mkv", {}),
    ("ffv1", "gbrp10le", ".mkv", {}),
    ("ffv1", "gbrp16le", ".mkv", {}),
]


@pytest.fixture(autouse=True)
def _quiet(monkeypatch):
    monkeypatch.setenv("SVT_LOG", "1")


@pytest.mark.parametrize(("encoder", "pixels", "suffix", "options"), EXACT)
def test_lossless_codes_come_back(tmp_path, encoder, pixels, suffix, options):
    frames = [noise_planes(pixels, i) for i in range(5)]
    tags = (9, 16, 0, 1) if pixels.startswith("gbr") else HDR_TAGS
    path = write_moving(
        tmp_path / f"a{suffix}", encoder, pixels, frames, options=options, tags=tags
    )
    order = GBR if pixels.startswith("gbr") else (0, 1, 2)
    read = list(open_clip(path))
    assert [same_codes(f.picture, p, order) for f, p in zip(read, frames, strict=True)] == [
        True
    ] * 5
    encoding = read[0].encoding
    assert (encoding.transfer, encoding.gamut, encoding.full_range) == ("pq", "bt2020", False)
    assert encoding.matrix == ("rgb" if pixels.startswith("gbr") else "bt2020")
    assert encoding.bits == int(re.search(r"p(\d*)", pixels)[1] or 8)


def test_prores_is_near(tmp_path):
    """Not lossless: flat pictures come back within a code or two, the order of frames exactly."""
    frames = [flat_planes("yuv422p10le", i) for i in range(8)]
    path = write_moving(tmp_path / "a.mov", "prores_ks", "yuv422p10le", frames)
    for frame, planes in zip(open_clip(path), frames, strict=True):
        assert frame.picture.second.shape == (64, 48)
        assert np.abs(frame.picture.first.astype(int) - planes[0]).max() <= 2
        assert frame.encoding.siting == "left"  # 4:2:2 is co-sited, ITU-R BT.2020-2 table 4
        assert frame.caveats == ()


def test_light_of_a_grey_code_is_the_printed_one(tmp_path):
    """1000 cd/m² is narrow ten-bit code 723: ITU-R BT.2408-7 table of PQ levels, rounded."""
    planes = [np.full((64, 96), 723, np.uint16)] + [np.full((32, 48), 512, np.uint16)] * 2
    path = write_moving(tmp_path / "a.mp4", "libx265", "yuv420p10le", [planes], options=LOSSLESS)
    light = frame_of_clip(path).light
    assert light.shape == (64, 96, 3)
    assert np.ptp(light) < 1e-3
    assert light.mean() == pytest.approx(1000, rel=0.005)  # half a code is 0.45 %


@pytest.mark.parametrize(
    ("tags", "expected"),
    [
        ((9, 18, 9, 1), ("hlg", "bt2020", "bt2020", False)),
        ((1, 1, 1, 1), ("sdr", "bt709", "bt709", False)),
        ((12, 16, 1, 2), ("pq", "p3", "bt709", True)),
        ((9, 16, 9, 2), ("pq", "bt2020", "bt2020", True)),
    ],
)
def test_code_points_of_the_stream(tmp_path, tags, expected):
    """Numbers are those of ITU-T H.273 tables 2 to 4, range those of libavutil."""
    frames = [flat_planes("yuv420p10le", 3)]
    names = ("colorprim", "transfer", "colormatrix")
    told = ":".join(f"{n}={t}" for n, t in zip(names, tags[:3], strict=True))
    options = {"x265-params": f"{X265}:{told}:range={'full' if tags[3] == 2 else 'limited'}"}
    path = write_moving(
        tmp_path / "a.mp4", "libx265", "yuv420p10le", frames, tags=tags, options=options
    )
    e = frame_of_clip(path).encoding
    assert (e.transfer, e.gamut, e.matrix, e.full_range) == expected


@pytest.mark.parametrize(("place", "siting"), [(0, "left"), (1, "centre"), (2, "topleft")])
@pytest.mark.parametrize("suffix", [".mp4", ".mkv"])
def test_chroma_siting_of_the_stream(tmp_path, place, siting, suffix):
    """Places are those of ITU-T H.273 Chroma420SampleLocType."""
    options = {"x265-params": f"{X265}:chromaloc={place}"}
    frames = [flat_planes("yuv420p10le", 3)]
    path = write_moving(tmp_path / f"a{suffix}", "libx265", "yuv420p10le", frames, options=options)
    assert frame_of_clip(path).encoding.siting == siting


def test_untagged_is_assumed_aloud_and_the_caller_is_believed(tmp_path):
    frames = [flat_planes("yuv420p10le", 3)]
    path = write_moving(
        tmp_path / "a.mkv", "ffv1", "yuv420p10le", frames, tags=(2, 2, 2, 0), options={}
    )
    frame = frame_of_clip(path)
    told = " ".join(str(c) for c in frame.caveats)
    assert (frame.encoding.transfer, frame.encoding.gamut) == ("sdr", "bt709")
    for word in ("transfer", "primaries", "matrix", "range", "sited"):
        assert word in told
    said = Said(transfer="pq", gamut="bt2020", matrix="bt2020", full_range=False, siting="left")
    frame = frame_of_clip(path, said=said)
    assert frame.caveats == ()
    assert (frame.encoding.transfer, frame.encoding.matrix) == ("pq", "bt2020")


def test_caller_against_stream_is_a_caveat(tmp_path):
    frames = [flat_planes("yuv420p10le", 3)]
    path = write_moving(tmp_path / "a.mp4", "libx265", "yuv420p10le", frames, options=LOSSLESS)
    clip = open_clip(path, transfer="hlg")
    assert clip.encoding.transfer == "hlg"
    assert any("pq" in str(c) and "hlg" in str(c) for c in clip.caveats)


def test_eight_bits_are_widened(tmp_path):
    frames = [noise_planes("yuv420p", 0)]
    path = write_moving(tmp_path / "a.mkv", "ffv1", "yuv420p", frames, tags=SDR_TAGS, options={})
    picture = frame_of_clip(path).picture
    assert picture.first.dtype == np.uint16
    assert picture.encoding.bits == 8
    assert same_codes(picture, frames[0])


def test_grey_and_packed_and_alpha(tmp_path):
    grey = [np.arange(64 * 96, dtype=np.uint16).reshape(64, 96) % 1000]
    path = write_moving(tmp_path / "g.mkv", "ffv1", "gray10le", [grey], options={})
    picture = frame_of_clip(path).picture
    assert np.array_equal(picture.first, grey[0])
    assert picture.third is not None
    frames = [noise_planes("yuva444p10le", 1)]
    path = write_moving(tmp_path / "y.mkv", "ffv1", "yuva444p10le", frames, options={})
    frame = frame_of_clip(path)
    assert same_codes(frame.picture, frames[0])
    assert any("alpha" in str(c) for c in frame.caveats)


def test_packed_rgb(tmp_path):
    needs_encoder("ffv1", "bgr0")
    rng = np.random.default_rng(3)
    rgb = rng.integers(0, 256, (64, 96, 3)).astype(np.uint8)
    stored = np.concatenate([rgb[..., ::-1], np.zeros((64, 96, 1), np.uint8)], axis=2)
    picture = frame_of_clip(_packed(tmp_path / "p.mkv", stored)).picture
    assert np.array_equal(np.stack([picture.first, picture.second, picture.third], -1), rgb)


def _packed(path, stored):
    import av

    with av.open(str(path), "w") as file:
        stream = file.add_stream("ffv1", rate=24)
        stream.height, stream.width = stored.shape[:2]
        stream.pix_fmt = "bgr0"
        frame = av.VideoFrame(stored.shape[1], stored.shape[0], "bgr0")
        lines = np.frombuffer(frame.planes[0], np.uint8).reshape(stored.shape[0], -1)
        lines[:, : 4 * stored.shape[1]] = stored.reshape(stored.shape[0], -1)
        frame.pts = 0
        file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    return path


@pytest.mark.parametrize(
    ("number", "exact"),
    [
        (23.976, Fraction(24000, 1001)),
        (29.97, Fraction(30000, 1001)),
        (59.94, Fraction(60000, 1001)),
        (119.88, Fraction(120000, 1001)),
        (24, Fraction(24)),
        (25.0, Fraction(25)),
        (12.5, Fraction(25, 2)),
    ],
)
def test_rounded_rates(number, exact):
    """The 1000/1001 family: SMPTE ST 2036-1, from memory."""
    assert exact_rate(number) == exact


def test_refusals(tmp_path):
    with pytest.raises(MaterialError, match=r"none\.mp4"):
        frame_of_clip(tmp_path / "none.mp4")
    text = tmp_path / "text.mp4"
    text.write_text("nothing moves here")
    with pytest.raises(MaterialError, match=r"text\.mp4: cannot be read as video"):
        open_clip(text)
    path = write_moving(
        tmp_path / "a.mkv", "ffv1", "yuv420p10le", [flat_planes("yuv420p10le", i) for i in range(3)]
    )
    with pytest.raises(MaterialError, match="no frame 3"):
        frame_of_clip(path, index=3)
    with pytest.raises(MaterialError, match="no frame"):
        frame_of_clip(path, at_s=9.0)
    with pytest.raises(RequestError, match="say one"):
        frame_of_clip(path, at_s=0.0, index=0)
    for wrong in ({"index": -1}, {"at_s": -0.1}, {"at_s": float("nan")}):
        with pytest.raises(RequestError):
            frame_of_clip(path, **wrong)
    for wrong in ({"every": 0}, {"start_s": -1}, {"start_s": 1, "end_s": 1}, {"rate": 0}):
        with pytest.raises(RequestError):
            open_clip(path, **wrong)
    with pytest.raises(MaterialError, match="no frame begins"):
        open_clip(path, start_s=5)


def test_a_file_of_sound_alone_is_refused(tmp_path):
    import av

    path = tmp_path / "sound.mkv"
    with av.open(str(path), "w") as file:
        stream = file.add_stream("flac", rate=48000)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 4096), np.int16), "s16", "mono")
        frame.sample_rate, frame.pts = 48000, 0
        file.mux(stream.encode(frame))
        file.mux(stream.encode(None))
    with pytest.raises(MaterialError, match="no video stream"):
        open_clip(path)
