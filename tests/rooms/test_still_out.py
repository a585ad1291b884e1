"""Light out: what other readers find in the files, code by code."""

import re
import struct
import zlib

import av
import colour
import numpy as np
import OpenEXR
import pytest

import emulate
from emulate.errors import OutputError, RequestError
from emulate.frames.frame import Metadata
from emulate.frames.sdr import light_from_sdr_picture, sdr_from_light
from emulate.frames.writing import pq_codes_from_light

WRITERS = [emulate.write_exr, emulate.write_pq_png, emulate.write_sdr_png]


@pytest.fixture
def light():
    rng = np.random.default_rng(23)
    return (10 ** rng.uniform(-4, 4, (12, 17, 3))).astype(np.float32)


def decoded(path, format_name):
    """The picture as libavcodec's PNG decoder reads it."""
    with av.open(str(path)) as container:
        return next(container.decode(video=0)).to_ndarray(format=format_name)


def chunks(path):
    data, at, found = path.read_bytes(), 8, []
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        assert zlib.crc32(kind + body) == struct.unpack_from(">I", data, at + 8 + length)[0]
        found.append((kind.decode(), body))
        at += 12 + length
    return found


def test_exr_as_openexr_reads_it(tmp_path, light):
    path = emulate.write_exr(light, tmp_path / "a.exr")
    file = OpenEXR.File(str(path), separate_channels=True)
    for number, name in enumerate("RGB"):
        assert (file.channels()[name].pixels == light[..., number]).all()
    header = file.header()
    assert header["whiteLuminance"] == 1.0
    expected = (0.708, 0.292, 0.170, 0.797, 0.131, 0.046, 0.3127, 0.3290)  # BT.2020-2 table 3
    np.testing.assert_allclose(header["chromaticities"], expected, rtol=1e-6)


def test_exr_comes_back_without_a_doubt(tmp_path, light):
    frame = emulate.load_frame(emulate.write_exr(light, tmp_path / "a.exr"))
    assert (frame.light == light).all()
    assert frame.caveats == ()
    half = emulate.load_frame(emulate.write_exr(light, tmp_path / "b.exr", half=True))
    assert (half.light == light.astype(np.float16).astype(np.float32)).all()


def test_exr_of_a_view_is_not_garbage(tmp_path, light):
    for number, view in enumerate([light[::-1], light[:, ::2], np.asfortranarray(light)]):
        path = emulate.write_exr(view, tmp_path / f"{number}.exr")
        assert (emulate.load_frame(path).light == view).all()


def test_half_too_bright_is_refused(tmp_path):
    with pytest.raises(RequestError, match="half accepts up to 65504"):
        emulate.write_exr(np.full((2, 2, 3), 70000.0), tmp_path / "a.exr", half=True)
    assert not list(tmp_path.iterdir())


def test_pq_codes_to_the_code_value():
    """Light to code by colour-science's ST 2084, over every decade and at printed values."""
    light = np.geomspace(1e-6, 1e4, 3000).reshape(-1, 1, 3)
    stored = light.astype(np.float32).astype(np.float64)
    exact = colour.models.eotf_inverse_ST2084(stored) * 65535
    codes = pq_codes_from_light(light)
    near_tie = np.abs(exact % 1 - 0.5) < 1e-7
    assert (codes == np.floor(exact + 0.5))[~near_tie].all()
    # full-range ten-bit codes of physics §1
    printed = np.array([0.1, 1, 10, 100, 203, 1000, 4000, 10000, 99999]).reshape(3, 1, 3)
    codes = pq_codes_from_light(printed, bits=10).ravel().tolist()
    assert codes == [64, 153, 307, 520, 594, 769, 923, 1023, 1023]
    assert pq_codes_from_light(np.zeros((1, 1, 3))).max() == 0  # 7.31e-7 of 65535 rounds to 0


def test_every_pq_code_survives_light():
    codes = np.arange(65535 // 3 * 3, dtype=np.uint16).reshape(-1, 1, 3)
    light = colour.models.eotf_ST2084(codes / 65535)
    away = np.abs(pq_codes_from_light(light).astype(int) - codes)
    assert away[codes > 40].max() == 0  # float32 light still tells neighbouring codes apart
    assert away.max() <= 1


def test_pq_png_as_another_library_reads_it(tmp_path, light):
    path = emulate.write_pq_png(light, tmp_path / "a.png")
    assert (decoded(path, "rgb48be") == pq_codes_from_light(light)).all()
    found = chunks(path)
    assert [kind for kind, _ in found] == ["IHDR", "cICP", "IDAT", "IEND"]
    assert found[0][1] == struct.pack(">2I5B", 17, 12, 16, 2, 0, 0, 0)
    assert found[1][1] == bytes([9, 16, 0, 1])  # BT.2020, PQ, RGB, full: ITU-T H.273


def test_pq_png_carries_metadata_and_comes_back(tmp_path, light):
    primaries = ((0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.3127, 0.329))
    metadata = Metadata(1000.0, 0.005, primaries, 812.5, 95.25)
    path = emulate.write_pq_png(light, tmp_path / "a.png", metadata)
    bodies = dict(chunks(path))
    xy = [34000, 16000, 13250, 34500, 7500, 3000, 15635, 16450]  # in 0.00002
    assert bodies["mDCV"] == struct.pack(">8H2I", *xy, 10_000_000, 50)
    assert bodies["cLLI"] == struct.pack(">2I", 8_125_000, 952_500)
    frame = emulate.load_frame(path)
    assert frame.caveats == ()
    found = frame.metadata
    assert (found.mastering_peak, found.mastering_primaries) == (1000, primaries)
    assert (found.max_cll, found.max_fall) == (812.5, 95.25)
    assert (pq_codes_from_light(frame.light) == pq_codes_from_light(light)).mean() > 0.999


def srgb(linear):
    """IEC 61966-2-1 encoding by colour-science."""
    return colour.models.eotf_inverse_sRGB(np.clip(linear, 0, 1))


@pytest.mark.parametrize("white", [100.0, 203.0, 1000.0])
def test_sdr_codes_agree_with_colour_science(light, white):
    spaces = colour.RGB_COLOURSPACES
    matrix = spaces["ITU-R BT.709"].matrix_XYZ_to_RGB @ spaces["ITU-R BT.2020"].matrix_RGB_to_XYZ
    exact = 255 * srgb(light.astype(float) / white @ matrix.T)
    # the matrices of colour-science are rounded to four digits: half a code and a little
    assert np.abs(sdr_from_light(light, white) - exact).max() < 0.6


def test_sdr_greys_are_exact_to_the_code():
    grey = np.linspace(0, 1.2, 30000)
    codes = sdr_from_light(np.repeat(grey[:, None, None], 3, axis=2) * 100, white=100)
    exact = 255 * srgb((grey * 100).astype(np.float32).astype(float) / 100)
    sure = np.abs(exact % 1 - 0.5) > 1e-4
    assert (codes[sure, 0] == np.floor(exact[sure] + 0.5)[:, None]).all()
    assert codes[0].max() == 0
    assert codes[-1].min() == 255


def test_every_sdr_code_survives_light():
    codes = np.random.default_rng(1).integers(0, 256, (64, 64, 3), dtype=np.uint8)
    codes[0, :, :] = np.linspace(0, 255, 64).astype(np.uint8)[:, None]
    light = np.maximum(light_from_sdr_picture(codes, 120.0), 0)
    assert (sdr_from_light(light, 120.0) == codes).all()
    assert light_from_sdr_picture(np.full((1, 1, 3), 255), 120.0) == pytest.approx(120)


def test_sdr_png_says_its_exposure(tmp_path, light):
    path = emulate.write_sdr_png(light, tmp_path / "a.png", white=400)
    assert (decoded(path, "rgb24") == sdr_from_light(light, 400)).all()
    found = dict(chunks(path))
    assert found["sRGB"] == b"\1"
    keyword, text = found["tEXt"].decode("latin-1").split("\0")
    assert re.fullmatch("[A-Z][a-z]+", keyword)
    assert text.startswith("400 cd/m² is shown as white")


@pytest.mark.parametrize("write", WRITERS)
def test_same_light_same_bytes(tmp_path, light, write):
    first, second = (write(light, tmp_path / name) for name in ("a.bin.exr", "b.bin.exr"))
    assert first.read_bytes() == second.read_bytes()


@pytest.mark.parametrize("write", WRITERS)
@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (np.zeros((4, 4)), r"light of shape \(4, 4\); accepted is \(h, w, 3\)"),
        (np.zeros((0, 4, 3)), "accepted is"),
        (np.full((2, 2, 3), -1.0), "row 0, column 0, channel 0 holds -1"),
        (np.full((2, 2, 3), np.nan), "holds nan"),
        (np.full((2, 2, 3), np.inf), "holds inf"),
    ],
)
def test_what_is_no_light_is_refused_and_leaves_nothing(tmp_path, write, wrong, message):
    with pytest.raises(RequestError, match=message):
        write(wrong, tmp_path / "a.png")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("write", WRITERS)
def test_a_place_that_cannot_be_written(tmp_path, light, write):
    with pytest.raises(OutputError, match="cannot be written"):
        write(light, tmp_path / "no folder" / "a.png")


def test_a_white_of_nothing_is_refused(tmp_path, light):
    with pytest.raises(RequestError, match="white of 0"):
        emulate.write_sdr_png(light, tmp_path / "a.png", white=0)
