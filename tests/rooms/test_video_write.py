"""Clips out: what is read back is what was written, and files are whole or not there."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import av
import numpy as np
import pytest
from PIL import Image

from emulate.errors import OutputError, RequestError
from emulate.frames.clip import open_clip
from emulate.frames.encode import write_animation, write_clip, write_sdr_clip
from emulate.frames.frame import CodePicture, DynamicMetadata, Encoding, Frame, Metadata
from emulate.frames.ycbcr import pq_picture, sdr_picture
from emulate.transfer import PQ_C1, PQ_C2, PQ_C3, PQ_M1, PQ_M2
from tests.rooms.moving import needs_encoder, noise_planes, same_codes

BT2020 = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046), (0.3127, 0.3290))
HDR10 = Metadata(1000.0, 0.005, BT2020, 1000.0, 400.0)


def plain_planes(light, chroma):
    """The numpy twin: PQ (SMPTE ST 2084), BT.2020-2 table 4 and 5, narrow ten bits, averages."""
    y = np.clip(np.asarray(light, np.float64), 0, 10000) / 10000
    e = ((PQ_C1 + PQ_C2 * y**PQ_M1) / (1 + PQ_C3 * y**PQ_M1)) ** PQ_M2
    if chroma == "rgb":
        return [np.floor(876 * e[..., i] + 64 + 0.5) for i in range(3)]
    luma = e @ [0.2627, 0.6780, 0.0593]
    planes = [np.floor(876 * luma + 64 + 0.5)]
    for channel, divisor in ((2, 1.8814), (0, 1.4746)):
        c = (e[..., channel] - luma) / divisor
        if chroma != "444":
            held = np.pad(c, ((0, 0), (1, 1)), mode="edge")
            c = (0.25 * held[:, :-2] + 0.5 * held[:, 1:-1] + 0.25 * held[:, 2:])[:, ::2]
        if chroma == "420":
            held = np.pad(c, ((1, 1), (0, 0)), mode="edge")
            c = (0.25 * held[:-2] + 0.5 * held[1:-1] + 0.25 * held[2:])[::2]
        planes.append(np.floor(896 * c + 512 + 0.5))
    return planes


def some_light(count, height=64, width=96, seed=2):
    rng = np.random.default_rng(seed)
    return [(10 ** rng.uniform(-3, 4, (height, width, 3))).astype(np.float32) for _ in range(count)]


@pytest.mark.parametrize("chroma", ["420", "422", "444", "rgb"])
def test_planes_equal_the_plain_twin(chroma):
    (light,) = some_light(1, 18, 22)
    picture = pq_picture(light, chroma=chroma)
    ours = (picture.first, picture.second, picture.third)
    for plane, expected in zip(ours, plain_planes(light, chroma), strict=True):
        assert plane.dtype == np.uint16
        assert np.array_equal(plane, expected)


@pytest.mark.parametrize(
    ("light", "code"),
    [
        (0.1, 119),
        (1, 195),
        (10, 327),
        (100, 509),
        (203, 573),
        (1000, 723),
        (4000, 855),
        (10000, 940),
    ],
)
def test_greys_get_the_printed_codes(light, code):
    """Narrow ten-bit PQ codes: ITU-R BT.2408-7 and SMPTE ST 2084, rounded."""
    picture = pq_picture(np.full((4, 4, 3), light, np.float32))
    assert np.all(picture.first == code)
    assert np.all(picture.second == 512)
    assert np.all(picture.third == 512)


@pytest.mark.parametrize(
    ("codec", "chroma", "suffix"),
    [
        ("hevc", "420", ".mp4"),
        ("hevc", "422", ".mov"),
        ("hevc", "444", ".mkv"),
        ("hevc", "rgb", ".mp4"),
        ("av1", "420", ".mp4"),
        ("ffv1", "420", ".mkv"),
        ("ffv1", "rgb", ".mkv"),
    ],
)
def test_lossless_is_code_for_code(tmp_path, codec, chroma, suffix):
    needs_encoder({"hevc": "libx265", "av1": "libsvtav1", "ffv1": "ffv1"}[codec])
    light = some_light(5)
    metadata = None if codec == "ffv1" else HDR10
    path = tmp_path / f"a{suffix}"
    assert (
        write_clip(light, path, rate=23.976, codec=codec, chroma=chroma, metadata=metadata) == path
    )
    clip = open_clip(path)
    assert clip.source.rate == Fraction(24000, 1001)
    assert clip.frames == 5
    for frame, values in zip(clip, light, strict=True):
        assert same_codes(frame.picture, plain_planes(values, chroma))
        assert frame.encoding == pq_picture(values, chroma=chroma).encoding
        assert frame.caveats == ()
    if metadata is not None:
        got = clip.metadata
        assert np.allclose(got.mastering_primaries, BT2020, atol=2e-5)  # AV1 counts in 1/65536
        assert (got.mastering_peak, got.max_cll, got.max_fall) == pytest.approx((1000, 1000, 400))
        assert got.mastering_black == pytest.approx(0.005, abs=3.1e-5)  # AV1: steps of 1/16384


def test_codes_are_written_as_they_are(tmp_path):
    """Twelve-bit HLG 4:2:2 of a frame comes back with its codes and its meaning."""
    encoding = Encoding("hlg", "bt2020", "bt2020", full_range=False, bits=12, scale=1000.0)
    frames = [
        Frame(CodePicture(*noise_planes("yuv422p12le", i), encoding), encoding=encoding)
        for i in range(3)
    ]
    clip = open_clip(write_clip(iter(frames), tmp_path / "a.mp4", rate=50), hlg_peak=1000)
    assert clip.encoding == encoding
    for frame, given in zip(clip, frames, strict=True):
        assert same_codes(
            frame.picture, [given.picture.first, given.picture.second, given.picture.third]
        )


def test_same_input_same_bytes(tmp_path):
    light = some_light(4)
    for name, options in (
        ("a.mp4", {}),
        ("a.mkv", {"codec": "ffv1"}),
        ("b.mp4", {"lossless": False}),
    ):
        first = write_clip(light, tmp_path / name, rate=24, **options).read_bytes()
        assert write_clip(light, tmp_path / name, rate=24, **options).read_bytes() == first
    rgb = smooth_pictures()
    first = write_sdr_clip(rgb, tmp_path / "s.mp4", 24).read_bytes()
    assert write_sdr_clip(rgb, tmp_path / "s.mp4", 24).read_bytes() == first


@pytest.mark.parametrize("count", [1, 2, 3, 5])
def test_short_clips(tmp_path, count):
    light = [np.full((64, 96, 3), 5.0 * (i + 1), np.float32) for i in range(count)]
    for name, lossless in (("a.mp4", True), ("b.mkv", False)):
        clip = open_clip(write_clip(light, tmp_path / name, rate=24, lossless=lossless))
        assert [f.index for f in clip] == list(range(count))
        assert clip.damage() == ()


def test_lossy_is_near_and_smaller(tmp_path):
    ramp = np.linspace(0.05, 30, 96, dtype=np.float32) ** 2
    light = [np.broadcast_to(np.roll(ramp, i)[None, :, None], (64, 96, 3)) for i in range(6)]
    small = write_clip(light, tmp_path / "a.mp4", rate=24, lossless=False)
    for frame, values in zip(open_clip(small), light, strict=True):
        error = frame.picture.first.astype(int) - plain_planes(values, "420")[0]
        assert np.sqrt((error**2).mean()) < 8


def smooth_pictures():
    """Ramps, greys and flat saturated patches, as findings' pictures have them."""
    across = np.linspace(0, 255, 96)
    pictures = []
    for i in range(4):
        picture = np.zeros((64, 96, 3))
        picture[:16] = across[None, :, None]
        picture[16:32, :, i % 3] = 200
        picture[32:48] = (255, 128, 10 * i)
        picture[48:] = 40 + 50 * i
        pictures.append(np.round(picture).astype(np.uint8))
    return pictures


def test_sdr_video_is_bt709_within_two_codes(tmp_path):
    """The matrix written out from ITU-R BT.709-6 3.2-3.5; eight bits, narrow."""
    pictures = smooth_pictures()
    path = write_sdr_clip(pictures, tmp_path / "a.mp4", 25)
    with av.open(str(path)) as file:
        stream = file.streams.video[0]
        assert stream.codec_context.name == "h264"
        assert stream.average_rate == 25
        decoded = list(file.decode(stream))
    assert len(decoded) == 4
    for frame, picture in zip(decoded, pictures, strict=True):
        assert frame.format.name == "yuv420p"
        assert (frame.color_primaries, frame.color_trc, frame.colorspace) == (1, 1, 1)
        assert frame.color_range == 1
        luma = np.frombuffer(frame.planes[0], np.uint8).reshape(64, -1)[:, :96]
        expected = 16 + 219 * (picture / 255) @ [0.2126, 0.7152, 0.0722]
        inside = np.ones(64, bool)
        inside[[15, 16, 31, 32, 47, 48]] = False  # ringing at the edges of patches
        assert np.abs(luma - expected)[inside].max() <= 2
        chroma = np.frombuffer(frame.planes[1], np.uint8).reshape(32, -1)[:, :48]
        blue = (picture[..., 2] / 255 - (picture / 255) @ [0.2126, 0.7152, 0.0722]) / 1.8556
        expected = 128 + 224 * blue[::2, ::2]
        middle = [2, 3, 4, 5, 10, 11, 12, 13, 18, 19, 20, 21, 26, 27, 28, 29]
        assert np.abs(chroma - expected)[middle].max() <= 2


def test_sdr_codes_of_black_white_and_red():
    """ITU-R BT.709-6 4.5 and 4.6: black 16, white 235; red 63, 102, 240."""
    for rgb, codes in (
        ((0, 0, 0), (16, 128, 128)),
        ((255,) * 3, (235, 128, 128)),
        ((255, 0, 0), (63, 102, 240)),
    ):
        picture = sdr_picture(np.full((4, 4, 3), rgb, np.uint8))
        planes = (picture.first, picture.second, picture.third)
        assert tuple(int(p[1, 1]) for p in planes) == codes


def test_odd_sides_lose_a_line_in_sdr(tmp_path):
    picture = np.full((65, 97, 3), 90, np.uint8)
    clip = open_clip(write_sdr_clip([picture] * 2, tmp_path / "a.mp4", 25))
    assert clip.shape == (64, 96)


def test_animation_is_exact(tmp_path):
    rng = np.random.default_rng(6)
    pictures = [rng.integers(0, 256, (30, 41, 3)).astype(np.uint8) for _ in range(5)]
    path = write_animation(pictures, tmp_path / "a.png", 12.5)
    with Image.open(path) as image:
        assert (image.n_frames, image.info["loop"]) == (5, 0)
        for index, picture in enumerate(pictures):
            image.seek(index)
            assert np.array_equal(np.asarray(image.convert("RGB")), picture)
            assert image.info["duration"] == pytest.approx(80)


def test_refusals_leave_nothing_behind(tmp_path):
    light = some_light(2)
    dark = [np.full((64, 96, 3), -1.0, np.float32)]
    other = [light[0], light[1][:32]]
    half = replace(HDR10, mastering_primaries=None)
    dynamic = replace(HDR10, dynamic=DynamicMetadata())
    wrong = [
        (light, {"rate": 0}, "rate 0"),
        (light, {"codec": "h261"}, "accepted are hevc, av1, ffv1"),
        (light, {"chroma": "411"}, "accepted are 420, 422, 444, rgb"),
        (light, {"codec": "ffv1", "metadata": HDR10}, "no metadata"),
        (light, {"codec": "ffv1", "lossless": False}, "ffv1 is lossless"),
        (light, {"metadata": half}, "both"),
        (light, {"metadata": dynamic}, "dynamic"),
        (dark, {}, "-1"),
        ([], {}, "no frames"),
        (other, {}, "frame 1 is of another size"),
    ]
    for frames, options, message in wrong:
        with pytest.raises(RequestError, match=message):
            write_clip(frames, tmp_path / "a.mp4", **{"rate": 24, **options})
    needs_encoder("libsvtav1")
    with pytest.raises(RequestError, match="does not write yuv444p10le"):
        write_clip(light, tmp_path / "a.mp4", rate=24, codec="av1", chroma="444")
    with pytest.raises(RequestError, match="uint8"):
        write_sdr_clip([light[0]], tmp_path / "a.mp4", 24)
    with pytest.raises(RequestError, match="no pictures"):
        write_animation([], tmp_path / "a.png", 24)
    with pytest.raises(RequestError, match=r"accepted is \.png"):
        write_animation([], tmp_path / "a.gif", 24)
    with pytest.raises(OutputError, match=r"\.zzz"):
        write_clip(light, tmp_path / "a.zzz", rate=24)
    with pytest.raises(OutputError, match="cannot be written"):
        write_clip(light, tmp_path / "none" / "a.mp4", rate=24)
    assert list(tmp_path.iterdir()) == []


def test_a_source_that_fails_midway_leaves_the_old_file(tmp_path):
    path = write_clip(some_light(2), tmp_path / "a.mp4", rate=24)
    before = path.read_bytes()

    def failing():
        yield from some_light(2, seed=9)
        raise KeyError("source")

    with pytest.raises(KeyError, match="source"):
        write_clip(failing(), path, rate=24)
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["a.mp4"]


def test_frames_are_asked_for_one_at_a_time(tmp_path):
    """Writing holds no more than one picture of ours at once."""
    import weakref

    alive: list = []

    def made():
        for values in some_light(12, 64, 64):
            picture = pq_picture(values)
            alive.append(weakref.ref(picture))
            assert sum(ref() is not None for ref in alive) <= 3
            yield picture
            del picture

    write_clip(made(), tmp_path / "a.mkv", rate=24, codec="ffv1")
    assert len(alive) == 12
