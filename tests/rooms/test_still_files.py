"""Every format in, bit for bit, against files that other libraries or these tests put together."""

import struct
import zlib
from fractions import Fraction
from pathlib import Path

import av
import colour
import numpy as np
import OpenEXR
import pytest
import tifffile

import emulate
from emulate.errors import MaterialError, RequestError
from emulate.frames import size
from emulate.frames.frame import Metadata

HDR = Path(__file__).parents[3] / "shared" / "hdr"


@pytest.fixture
def rng():
    return np.random.default_rng(17)


def codes_of(frame):
    picture = frame.picture
    return np.stack([picture.first, picture.second, picture.third], axis=-1)


def texts(frame):
    return " | ".join(caveat.text for caveat in frame.caveats)


# --- EXR -----------------------------------------------------------------------------------------


def exr(path, channels, **header):
    OpenEXR.File({"compression": OpenEXR.ZIP_COMPRESSION, **header}, channels).write(str(path))
    return path


def rgb(values):
    return {name: np.ascontiguousarray(values[..., i]) for i, name in enumerate("RGB")}


BT2020 = (0.708, 0.292, 0.170, 0.797, 0.131, 0.046, 0.3127, 0.3290)  # ITU-R BT.2020-2 table 3


@pytest.mark.parametrize("kind", [np.float16, np.float32])
def test_exr_bt2020_absolute_is_bit_exact(tmp_path, rng, kind):
    values = (rng.random((9, 11, 3)) * 1000).astype(kind)
    path = exr(tmp_path / "a.exr", rgb(values), chromaticities=BT2020)
    frame = emulate.load_frame(path, absolute=True)
    assert (frame.light == values.astype(np.float32)).all()
    assert frame.caveats == ()


def test_exr_without_a_word_is_bt709_at_203(tmp_path, rng):
    values = rng.random((4, 5, 3)).astype(np.float32)
    frame = emulate.load_frame(exr(tmp_path / "a.exr", rgb(values)))
    # ITU-R BT.2087-0, 4.1: BT.709 to BT.2020, four digits
    mix = np.array([[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]])
    np.testing.assert_allclose(frame.light, 203 * values @ mix.T, atol=203 * 1e-4)
    assert "203 cd/m² is assumed" in texts(frame)
    assert "gamut bt709 is assumed" in texts(frame)


def test_what_a_still_was_mastered_for_is_said_over_the_file(tmp_path):
    plain = exr(tmp_path / "a1.exr", rgb(np.ones((4, 5, 3), np.float32)))
    said = emulate.load_frame(plain, mastered=4000)
    assert said.metadata == Metadata(mastering_peak=4000)
    assert said.caveats == emulate.load_frame(plain).caveats
    (again,) = emulate.open_clip(tmp_path, mastered=4000, rate=1)
    assert again.metadata == said.metadata
    points = tuple(zip(BT2020[::2], BT2020[1::2], strict=True))
    claims = Metadata(1000.0, 0.005, points, 900.0, 300.0)
    told = emulate.write_pq_png(said.light, tmp_path / "told.png", claims)
    over, same = (emulate.load_frame(told, mastered=peak) for peak in (4000, 1000))
    assert (over.metadata.mastering_peak, over.metadata.max_cll) == (4000, 900)
    assert texts(over) == "the file says mastered for 1000 cd/m², you say 4000 cd/m²; yours is used"
    assert (same.metadata.mastering_peak, same.caveats) == (1000, ())


@pytest.mark.parametrize("peak", [4.9, 10001, float("nan")])
def test_a_mastering_screen_that_cannot_be_is_refused(tmp_path, peak):
    with pytest.raises(RequestError, match=r"mastered .*; accepted is 5 to 10000 cd/m²"):
        emulate.load_frame(tmp_path / "none.exr", mastered=peak)


def test_exr_own_primaries_and_white_are_adapted(tmp_path, rng):
    values = rng.random((4, 5, 3)).astype(np.float32) + 0.2
    ap1 = (0.713, 0.293, 0.165, 0.830, 0.128, 0.044, 0.32168, 0.33767)  # S-2014-004 (ACEScg)
    frame = emulate.load_frame(
        exr(tmp_path / "a.exr", rgb(values), chromaticities=ap1, whiteLuminance=100.0)
    )
    spaces = colour.RGB_COLOURSPACES
    expected = colour.RGB_to_RGB(
        values, spaces["ACEScg"], spaces["ITU-R BT.2020"], chromatic_adaptation_transform="Bradford"
    )
    np.testing.assert_allclose(frame.light, 100 * expected, rtol=2e-3)
    assert frame.caveats == ()
    said = emulate.load_frame(tmp_path / "a.exr", gamut="bt2020")
    np.testing.assert_array_equal(said.light, (values.astype(np.float64) * 100).astype(np.float32))
    assert "you say gamut bt2020; yours is used" in texts(said)


def test_exr_impossible_attributes_are_dropped(tmp_path):
    flat = (0.3, 0.3) * 4
    path = exr(
        tmp_path / "a.exr",
        rgb(np.ones((2, 2, 3), np.float32)),
        chromaticities=flat,
        whiteLuminance=-5.0,
    )
    told = texts(emulate.load_frame(path))
    assert "chromaticities" in told
    assert "whiteLuminance of -5 cannot be" in told


def test_exr_negative_light_is_clipped_and_told_but_only_once_in_bt2020(tmp_path):
    values = np.ones((10, 10, 3), np.float32)
    values[0, 0] = [1.0, -0.05, 0.5]  # outside BT.709, inside BT.2020
    path = exr(tmp_path / "wide.exr", rgb(values))
    inside = emulate.load_frame(path, absolute=True)
    assert "negative" not in texts(inside)
    assert inside.light[0, 0].min() > 0
    values[3, 4] = [0.1, -2.0, 0.1]
    path = exr(tmp_path / "negative.exr", rgb(values), chromaticities=BT2020)
    frame = emulate.load_frame(path, absolute=True)
    assert frame.light[3, 4].tolist() == pytest.approx([0.1, 0, 0.1])
    assert "2 % of the pixels hold light that is negative in BT.2020, down to -2 cd/m²" in texts(
        frame
    )


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_exr_non_finite_is_refused_with_its_place(tmp_path, bad):
    values = np.ones((6, 7, 3), np.float32)
    values[4, 2, 1] = bad
    path = exr(tmp_path / "a.exr", rgb(values))
    with pytest.raises(MaterialError, match=r"a.exr: row 4, column 2, green holds -?(nan|inf)"):
        emulate.load_frame(path)


def test_exr_damaged_pixels_are_refused(tmp_path, rng):
    smooth = np.linspace(0, 1, 64 * 64 * 3, dtype=np.float32).reshape(64, 64, 3)
    data = bytearray(exr(tmp_path / "a.exr", rgb(smooth)).read_bytes())
    data[-600:-300] = rng.bytes(300)
    with pytest.raises(MaterialError, match=r"b.exr: (truncated or damaged|not a whole EXR)"):
        emulate.load_frame(saved(tmp_path, bytes(data), "b.exr"))


@pytest.mark.parametrize("order", ["INCREASING_Y", "DECREASING_Y"])
@pytest.mark.parametrize("compression", ["NO", "RLE", "ZIPS", "PIZ", "PXR24", "DWAA"])
def test_exr_every_packing(tmp_path, rng, order, compression):
    values = rng.random((70, 33, 3)).astype(np.float16)
    header = {
        "compression": getattr(OpenEXR, f"{compression}_COMPRESSION"),
        "lineOrder": getattr(OpenEXR, order),
    }
    OpenEXR.File(header, rgb(values)).write(str(tmp_path / "a.exr"))
    light = emulate.load_frame(tmp_path / "a.exr", absolute=True, gamut="bt2020").light
    np.testing.assert_allclose(light, values, atol=0.05 if compression == "DWAA" else 0)


def test_exr_tiles(tmp_path, rng):
    values = rng.random((70, 133, 3)).astype(np.float32)
    tiles = OpenEXR.TileDescription()
    tiles.xSize, tiles.ySize = 32, 16
    header = {"type": OpenEXR.tiledimage, "tiles": tiles}
    OpenEXR.File(header, rgb(values)).write(str(tmp_path / "a.exr"))
    light = emulate.load_frame(tmp_path / "a.exr", absolute=True, gamut="bt2020").light
    assert (light == values).all()
    cut = saved(tmp_path, (tmp_path / "a.exr").read_bytes()[:-1], "b.exr")
    with pytest.raises(MaterialError, match="within its pixels"):
        emulate.load_frame(cut)


def test_exr_light_beyond_float_is_refused(tmp_path):
    path = exr(tmp_path / "a.exr", rgb(np.full((2, 2, 3), 3e38, np.float32)))
    with pytest.raises(MaterialError, match="row 0, column 0, red holds inf"):
        emulate.load_frame(path)


def test_exr_luminance_alone_and_alpha(tmp_path, rng):
    grey = rng.random((5, 6)).astype(np.float32)
    frame = emulate.load_frame(exr(tmp_path / "y.exr", {"Y": grey}), absolute=True, gamut="bt2020")
    assert (frame.light == grey[..., None]).all()
    assert "luminance alone" in texts(frame)
    values = rng.random((5, 6, 3)).astype(np.float32)
    path = exr(tmp_path / "a.exr", {**rgb(values), "A": grey})
    frame = emulate.load_frame(path, absolute=True, gamut="bt2020")
    assert (frame.light == values).all()
    assert "alpha is ignored" in texts(frame)


def test_exr_of_several_parts_gives_the_first_with_colour(tmp_path, rng):
    values = rng.random((5, 6, 3)).astype(np.float32)
    parts = [
        OpenEXR.Part({"name": "depth"}, {"Z": np.ones((5, 6), np.float32)}),
        OpenEXR.Part({"name": "colour"}, rgb(values)),
    ]
    OpenEXR.File(parts).write(str(tmp_path / "a.exr"))
    frame = emulate.load_frame(tmp_path / "a.exr", absolute=True, gamut="bt2020")
    assert (frame.light == values).all()
    assert "2 parts; the first with colour, part 1, is read" in texts(frame)


def test_exr_data_window_lands_in_the_display_window(tmp_path, rng):
    values = rng.random((4, 5, 3)).astype(np.float32) + 1
    windows = {
        "dataWindow": (np.array([2, -1], np.int32), np.array([6, 2], np.int32)),
        "displayWindow": (np.array([0, 0], np.int32), np.array([5, 7], np.int32)),
    }
    path = exr(tmp_path / "a.exr", rgb(values), **windows)
    light = emulate.load_frame(path, absolute=True, gamut="bt2020").light
    assert light.shape == (8, 6, 3)
    assert (light[:3, 2:] == values[1:, :4]).all()
    assert light.sum() == pytest.approx(values[1:, :4].sum(), rel=1e-6)


@pytest.mark.parametrize(
    ("channels", "message"),
    [
        ({"Z": np.ones((2, 2), np.float32)}, "channels Z; accepted are R, G, B or Y alone"),
        ({n: np.ones((2, 2), np.float32) for n in "RG"}, "channels G, R; accepted"),
        ({n: np.ones((2, 2), np.uint32) for n in "RGB"}, "whole numbers"),
    ],
)
def test_exr_without_colour_is_refused(tmp_path, channels, message):
    with pytest.raises(MaterialError, match=message):
        emulate.load_frame(exr(tmp_path / "a.exr", channels))


# --- PNG -----------------------------------------------------------------------------------------


def chunk(kind, data):
    crc = zlib.crc32(kind + data)
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", crc)


def png(samples, *chunks, colour_type=2, filters=0, interlace=0, depth=None):
    """A PNG put together by hand; samples (h, w, channels), every row filtered with `filters`."""
    big = samples.astype(samples.dtype.newbyteorder(">"))
    raw = big.view(np.uint8).reshape(len(samples), -1).astype(int)
    step = samples.shape[2] * samples.dtype.itemsize
    left = np.pad(raw, ((0, 0), (step, 0)))[:, :-step]
    above = np.pad(raw, ((1, 0), (0, 0)))[:-1]
    corner = np.pad(left, ((1, 0), (0, 0)))[:-1]
    guess = left + above - corner
    by = [abs(guess - left), abs(guess - above), abs(guess - corner)]
    paeth = np.where(
        (by[0] <= by[1]) & (by[0] <= by[2]), left, np.where(by[1] <= by[2], above, corner)
    )
    taken = [0, left, above, (left + above) // 2, paeth][filters]
    rows = np.pad(((raw - taken) % 256).astype(np.uint8), ((0, 0), (1, 0)), constant_values=filters)
    height, width, _ = samples.shape
    bits = depth or 8 * samples.dtype.itemsize
    header = struct.pack(">2I5B", width, height, bits, colour_type, 0, 0, interlace)
    body = [chunk(b"IHDR", header), *chunks, chunk(b"IDAT", zlib.compress(rows.tobytes()))]
    return b"\x89PNG\r\n\x1a\n" + b"".join([*body, chunk(b"IEND", b"")])


def saved(tmp_path, data, name="a.png"):
    path = tmp_path / name
    path.write_bytes(data)
    return path


PQ = chunk(b"cICP", bytes([9, 16, 0, 1]))  # BT.2020, PQ, RGB, full: ITU-T H.273


@pytest.mark.parametrize("filters", range(5))
@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_png_every_filter(tmp_path, rng, filters, kind):
    samples = rng.integers(0, np.iinfo(kind).max, (9, 7, 3), endpoint=True, dtype=kind)
    frame = emulate.load_frame(saved(tmp_path, png(samples, PQ, filters=filters)))
    assert (codes_of(frame) == samples).all()
    assert ("8 bits" in texts(frame)) == (kind is np.uint8)


def test_png_written_by_another_library(tmp_path, rng):
    samples = rng.integers(0, 65536, (16, 24, 3), dtype=np.uint16)
    encoder = av.CodecContext.create("png", "w")
    encoder.width, encoder.height, encoder.pix_fmt = 24, 16, "rgb48be"
    encoder.time_base = Fraction(1, 25)
    picture = av.VideoFrame.from_ndarray(samples, format="rgb48be")
    packets = [*encoder.encode(picture), *encoder.encode(None)]
    path = saved(tmp_path, b"".join(bytes(packet) for packet in packets))
    assert (codes_of(emulate.load_frame(path)) == samples).all()


def test_png_pq_light_and_metadata(tmp_path):
    """Code 49271 of 65535 is 1000 cd/m² to the nearest code (physics §1: E = .7518270962)."""
    samples = np.full((2, 3, 3), round(0.7518270962 * 65535), np.uint16)
    xy = [35400, 14600, 8500, 39850, 6550, 2300, 15635, 16450]  # BT.2020 and D65 in 0.00002
    mastering = struct.pack(">8H2I", *xy, 1000 * 10000, 50)
    levels = struct.pack(">2I", 812 * 10000, 95 * 10000)
    data = png(samples, PQ, chunk(b"mDCV", mastering), chunk(b"cLLI", levels))
    frame = emulate.load_frame(saved(tmp_path, data))
    np.testing.assert_allclose(frame.light, 1000, rtol=1e-4)
    assert frame.caveats == ()
    assert frame.metadata == Metadata(
        1000.0,
        pytest.approx(0.005),
        ((0.708, 0.292), (0.17, 0.797), (0.131, 0.046), (0.3127, 0.329)),
        812.0,
        95.0,
    )


def test_png_claims_that_cannot_be_are_dropped(tmp_path):
    xy = [8500, 39850, 35400, 14600, 6550, 2300, 15635, 16450]  # green before red
    mastering = struct.pack(">8H2I", *xy, 1000, 50)  # a peak of 0.1 cd/m²
    levels = struct.pack(">2I", 100 * 10000, 500 * 10000)
    data = png(
        np.zeros((1, 1, 3), np.uint16), PQ, chunk(b"mDCV", mastering), chunk(b"cLLI", levels)
    )
    frame = emulate.load_frame(saved(tmp_path, data))
    assert frame.metadata == Metadata()
    assert "0.1" in texts(frame)
    assert "order" in texts(frame)
    assert "MaxFALL 500" in texts(frame)


@pytest.mark.parametrize(
    ("chunks", "transfer", "gamut", "words"),
    [
        ([], "sdr", "bt709", "nothing says its transfer function"),
        ([chunk(b"cICP", bytes([9, 18, 0, 1]))], "hlg", "bt2020", "1000 cd/m² is assumed"),
        ([chunk(b"cICP", bytes([12, 16, 0, 0]))], "pq", "p3", ""),
        ([chunk(b"cICP", bytes([12, 16, 9, 1]))], "pq", "p3", "matrix 9"),
        ([chunk(b"cICP", bytes([22, 16, 0, 1]))], "pq", "bt709", "code point 22 of its primaries"),
        ([chunk(b"cICP", b"\x09")], "sdr", "bt709", "not four bytes"),
        ([chunk(b"sRGB", b"\0"), chunk(b"gAMA", struct.pack(">I", 45455))], "sdr", "bt709", "sRGB"),
        ([chunk(b"gAMA", struct.pack(">I", 100000))], "linear", "bt709", "the light of 1.0"),
        ([chunk(b"gAMA", struct.pack(">I", 45455))], "sdr", "bt709", "a gamma of 0.45455"),
        ([chunk(b"gAMA", struct.pack(">I", 5))], "sdr", "bt709", "which is not read"),
        ([chunk(b"iCCP", b"a profile\0\0x")], "sdr", "bt709", "'a profile' is not read"),
        (
            [
                chunk(
                    b"cHRM",
                    struct.pack(">8I", 31270, 32900, 68000, 32000, 26500, 69000, 15000, 6000),
                )
            ],
            "sdr",
            "p3",
            "",
        ),
        ([PQ, chunk(b"sRGB", b"\0")], "pq", "bt2020", ""),
    ],
)
def test_png_colour_chunks(tmp_path, chunks, transfer, gamut, words):
    data = png(np.full((2, 2, 3), 40000, np.uint16), *chunks)
    frame = emulate.load_frame(saved(tmp_path, data))
    assert (frame.encoding.transfer, frame.encoding.gamut) == (transfer, gamut)
    assert words in texts(frame)


def test_png_narrow_range_and_the_callers_word(tmp_path):
    data = png(
        np.full((2, 2, 3), 16 * 256 + 219 * 256, np.uint16), chunk(b"cICP", bytes([9, 16, 0, 0]))
    )
    path = saved(tmp_path, data)
    np.testing.assert_allclose(emulate.load_frame(path).light, 10000)
    said = emulate.load_frame(path, full_range=True, transfer="sdr", sdr_white=100)
    assert said.light.max() < 100
    assert "the file says transfer pq, you say transfer sdr; yours is used" in texts(said)
    assert "the file says narrow range, you say full range" in texts(said)


def test_png_grey_palette_and_transparency(tmp_path, rng):
    grey = rng.integers(0, 65536, (4, 5, 2), dtype=np.uint16)
    frame = emulate.load_frame(saved(tmp_path, png(grey, PQ, colour_type=4)))
    assert (codes_of(frame) == grey[..., :1]).all()
    assert "transparency is ignored" in texts(frame)
    colours = rng.integers(0, 256, (7, 3), dtype=np.uint8)
    indices = rng.integers(0, 7, (4, 5, 1), dtype=np.uint8)
    data = png(indices, chunk(b"PLTE", colours.tobytes()), colour_type=3)
    assert (codes_of(emulate.load_frame(saved(tmp_path, data))) == colours[indices[..., 0]]).all()
    data = png(indices, chunk(b"PLTE", colours[:2].tobytes()), colour_type=3)
    with pytest.raises(MaterialError, match="names colour"):
        emulate.load_frame(saved(tmp_path, data))


# --- TIFF ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "options",
    [
        {},
        {"compression": "zlib", "predictor": True},
        {"byteorder": ">"},
        {"bigtiff": True},
        {"planarconfig": "separate"},
        {"tile": (16, 16)},
    ],
)
@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_tiff_codes(tmp_path, rng, options, kind):
    samples = rng.integers(0, np.iinfo(kind).max, (17, 21, 3), endpoint=True, dtype=kind)
    stored = np.moveaxis(samples, -1, 0) if "planarconfig" in options else samples
    tifffile.imwrite(tmp_path / "a.tif", stored, photometric="rgb", **options)
    frame = emulate.load_frame(tmp_path / "a.tif", transfer="pq", gamut="bt2020")
    assert (codes_of(frame) == samples).all()
    assert frame.encoding.transfer == "pq"
    assert texts(frame).startswith("8 bits") if kind is np.uint8 else frame.caveats == ()


@pytest.mark.parametrize("kind", [np.float16, np.float32, np.float64])
def test_tiff_floats_are_light(tmp_path, rng, kind):
    values = (rng.random((7, 8, 3)) * 900).astype(kind)
    tifffile.imwrite(tmp_path / "a.tif", values, photometric="rgb")
    frame = emulate.load_frame(tmp_path / "a.tif", absolute=True, gamut="bt2020")
    assert (frame.light == values.astype(np.float32)).all()
    assert frame.caveats == ()


def test_tiff_floats_may_hold_pq(tmp_path):
    signal = np.linspace(0, 1, 24, dtype=np.float32).reshape(2, 4, 3)
    tifffile.imwrite(tmp_path / "a.tif", signal, photometric="rgb")
    frame = emulate.load_frame(tmp_path / "a.tif", transfer="pq", gamut="bt2020")
    expected = colour.models.eotf_ST2084(signal.astype(np.float64))
    np.testing.assert_allclose(frame.light, expected, rtol=1e-5)
    assert "the file says transfer linear, you say transfer pq" in texts(frame)


def test_tiff_grey_pages_and_alpha(tmp_path, rng):
    grey = rng.integers(0, 65536, (3, 5, 6), dtype=np.uint16)
    tifffile.imwrite(tmp_path / "a.tif", grey, photometric="minisblack")
    frame = emulate.load_frame(tmp_path / "a.tif")
    assert (codes_of(frame) == grey[0, ..., None]).all()
    assert "3 pages; the first is read" in texts(frame)
    rgba = rng.integers(0, 65536, (5, 6, 4), dtype=np.uint16)
    tifffile.imwrite(tmp_path / "b.tif", rgba, photometric="rgb", extrasamples=["unassalpha"])
    frame = emulate.load_frame(tmp_path / "b.tif")
    assert (codes_of(frame) == rgba[..., :3]).all()
    assert "further channels are ignored" in texts(frame)


@pytest.mark.parametrize(
    ("values", "options"),
    [
        (np.zeros((4, 4, 3), np.uint32), {"photometric": "rgb"}),
        (np.zeros((4, 4), np.int16), {"photometric": "minisblack"}),
        (np.zeros((4, 4), bool), {"photometric": "minisblack"}),
        (np.zeros((4, 4), np.uint8), {"photometric": "miniswhite"}),
        (np.zeros((4, 4, 3), np.complex64), {"photometric": "minisblack"}),
    ],
)
def test_tiff_of_another_kind_is_refused(tmp_path, values, options):
    tifffile.imwrite(tmp_path / "a.tif", values, **options)
    with pytest.raises(MaterialError, match="accepted are 8 or 16-bit whole numbers"):
        emulate.load_frame(tmp_path / "a.tif")


# --- Radiance ------------------------------------------------------------------------------------


def ward(pixels):
    """(m + ½)/256 · 2^(e − 128), 0 where e = 0: Ward, "Real pixels", Graphics Gems II, 1991."""
    mantissa, exponent = pixels[..., :3].astype(float), pixels[..., 3:].astype(float)
    return np.where(exponent > 0, (mantissa + 0.5) / 256 * 2.0 ** (exponent - 128), 0)


def radiance(data, size_line, *variables):
    header = ["#?RADIANCE", *variables, "FORMAT=32-bit_rle_rgbe", "", size_line, ""]
    return "\n".join(header).encode() + data


def new_packed(line):
    """Run lengths component by component: runs of three or more, literals between."""
    out = bytearray([2, 2, len(line) >> 8, len(line) & 255])
    for component in line.T:
        at = 0
        while at < len(component):
            run = 1
            while at + run < len(component) and run < 127 and component[at + run] == component[at]:
                run += 1
            if run > 2:
                out += bytes([128 + run, component[at]])
            else:
                run = 1
                out += bytes([1, component[at]])
            at += run
    return bytes(out)


@pytest.fixture
def pixels(rng):
    values = rng.integers(0, 256, (6, 11, 4), dtype=np.uint8)
    values[..., 3] = rng.integers(120, 140, (6, 11))
    values[2, :, :] = values[2, 0, :]
    values[3, 4] = 0
    return values


LOOK = {"gamut": "bt2020", "absolute": True}


def test_radiance_flat_and_packed(tmp_path, pixels):
    flat = radiance(pixels.tobytes(), "-Y 6 +X 11")
    packed = radiance(b"".join(map(new_packed, pixels)), "-Y 6 +X 11")
    for data in (flat, packed):
        frame = emulate.load_frame(saved(tmp_path, data, "a.hdr"), **LOOK)
        assert (frame.light == ward(pixels).astype(np.float32)).all()
        assert frame.caveats == ()


def test_radiance_old_run_lengths(tmp_path):
    first, last = [10, 20, 30, 130], [40, 50, 60, 129]
    data = bytes([*first, 1, 1, 1, 44, 1, 1, 1, 1, *last])  # 44 + 1·256 repeats of the first
    path = saved(tmp_path, radiance(data, "-Y 1 +X 302"), "a.hdr")
    expected = ward(np.array([[first] * 301 + [last]], np.uint8)).astype(np.float32)
    assert (emulate.load_frame(path, **LOOK).light == expected).all()


@pytest.mark.parametrize("vertical", ["-", "+"])
@pytest.mark.parametrize("horizontal", ["-", "+"])
@pytest.mark.parametrize("columns_first", [False, True])
def test_radiance_orientations(tmp_path, pixels, vertical, horizontal, columns_first):
    """−Y +X is as read; +Y counts from the bottom, −X from the right; X first stores columns."""
    stored = pixels
    if vertical == "+":
        stored = stored[::-1]
    if horizontal == "-":
        stored = stored[:, ::-1]
    line = f"{vertical}Y 6 {horizontal}X 11"
    if columns_first:
        stored, line = stored.swapaxes(0, 1), f"{horizontal}X 11 {vertical}Y 6"
    path = saved(tmp_path, radiance(np.ascontiguousarray(stored).tobytes(), line), "a.hdr")
    assert (emulate.load_frame(path, **LOOK).light == ward(pixels).astype(np.float32)).all()


def test_radiance_exposure_correction_and_primaries(tmp_path, pixels):
    variables = ["EXPOSURE=2", "EXPOSURE= 4.0", "COLORCORR=1 2 0.5", "# a comment"]
    data = radiance(pixels.tobytes(), "-Y 6 +X 11", *variables)
    light = emulate.load_frame(saved(tmp_path, data, "a.hdr"), **LOOK).light
    np.testing.assert_allclose(light, ward(pixels) / [8, 16, 4], rtol=1e-6)
    p3 = "PRIMARIES=0.680 0.320 0.265 0.690 0.150 0.060 0.3127 0.3290"
    data = radiance(pixels.tobytes(), "-Y 6 +X 11", p3)
    frame = emulate.load_frame(saved(tmp_path, data, "a.hdr"))
    assert frame.encoding.gamut == "p3"
    assert texts(frame) == "nothing says the light of 1.0; 203 cd/m² is assumed"


def test_radiance_xyze(tmp_path, pixels):
    data = radiance(pixels.tobytes(), "-Y 6 +X 11").replace(b"rle_rgbe", b"rle_xyze")
    frame = emulate.load_frame(saved(tmp_path, data, "a.hdr"), absolute=True)
    matrix = colour.RGB_COLOURSPACES["ITU-R BT.2020"].matrix_XYZ_to_RGB
    expected = np.maximum(ward(pixels) @ matrix.T, 0)
    np.testing.assert_allclose(frame.light, expected, atol=2e-3 * expected.max())


def test_radiance_written_by_another_library(tmp_path, rng):
    """Within half a mantissa step of what was written, and without bias: the ½ belongs there."""
    values = (rng.random((24, 40, 3)) * 10 ** rng.uniform(-3, 3, (24, 40, 1))).astype(np.float32)
    encoder = av.CodecContext.create("hdr", "w")
    encoder.width, encoder.height, encoder.pix_fmt = 40, 24, "gbrpf32le"
    encoder.time_base = Fraction(1, 25)
    picture = av.VideoFrame.from_ndarray(values, format="gbrpf32le")
    packets = [*encoder.encode(picture), *encoder.encode(None)]
    path = saved(tmp_path, b"".join(bytes(packet) for packet in packets), "a.hdr")
    share = (emulate.load_frame(path, **LOOK).light - values) / values.max(axis=-1, keepdims=True)
    assert np.abs(share).max() <= 1 / 256
    assert abs(share.mean()) < 2e-4


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ((b"-Y 6 +X 11", b"-Y six +X 11"), "no size"),
        ((b"-Y 6 +X 11", b"-Y 6 +Y 11"), "no size"),
        ((b"-Y 6 +X 11", b"-Y 60 +X 11"), "truncated or damaged at scanline 6 of 60"),
        ((b"rle_rgbe", b"rle_cmyk"), "format '32-bit_rle_cmyk'"),
        ((b"EXPOSURE=1", b"EXPOSURE=0"), "exposure"),
        ((b"EXPOSURE=1", b"EXPOSURE=x"), "line 2: 'x' is not 1 numbers"),
        ((b"\n\n", b"\n"), "its header has no end"),
    ],
)
def test_radiance_refusals(tmp_path, pixels, change, message):
    data = radiance(pixels.clip(1, 9).tobytes(), "-Y 6 +X 11", "EXPOSURE=1").replace(*change)
    with pytest.raises(MaterialError, match=message):
        emulate.load_frame(saved(tmp_path, data, "a.hdr"))


# --- AVIF ----------------------------------------------------------------------------------------


def box(kind, *parts):
    body = b"".join(parts)
    return struct.pack(">I", 8 + len(body)) + kind + body


def coded(tmp_path, rng, siting="colocated"):
    """Ten-bit 4:2:0 planes, and a lossless AVIF of them by SVT-AV1 and libavformat."""
    first = rng.integers(64, 941, (64, 96), dtype=np.uint16)
    second, third = rng.integers(64, 961, (2, 32, 48), dtype=np.uint16)
    path = tmp_path / "coded.avif"
    container = av.open(str(path), "w", format="avif")
    params = f"lossless=1:chroma-sample-position={siting}"
    stream = container.add_stream("libsvtav1", rate=1, options={"svtav1-params": params})
    stream.width, stream.height, stream.pix_fmt = 96, 64, "yuv420p10le"
    context = stream.codec_context
    context.color_primaries, context.color_trc, context.colorspace = 9, 16, 9
    context.color_range = 1
    picture = av.VideoFrame(96, 64, "yuv420p10le")
    for plane, values in zip(picture.planes, (first, second, third), strict=True):
        lines = np.zeros((plane.height, plane.line_size // 2), np.uint16)
        lines[:, : plane.width] = values
        plane.update(lines)
    for packet in [*stream.encode(picture), *stream.encode(None)]:
        container.mux(packet)
    container.close()
    return path, (first, second, third)


@pytest.mark.parametrize(("siting", "expected"), [("colocated", "topleft"), ("vertical", "left")])
def test_avif_planes_are_bit_exact(tmp_path, rng, siting, expected):
    path, planes = coded(tmp_path, rng, siting)
    frame = emulate.load_frame(path)
    found = (frame.picture.first, frame.picture.second, frame.picture.third)
    assert all((a == b).all() for a, b in zip(found, planes, strict=True))
    encoding = frame.encoding
    assert (encoding.transfer, encoding.gamut, encoding.matrix) == ("pq", "bt2020", "bt2020")
    assert (encoding.full_range, encoding.bits, encoding.siting) == (False, 10, expected)
    assert frame.caveats == ()


def rebuilt(path, *properties, kind=b"av01", av1c=True):
    """The coded picture of a file in boxes put together here, with further properties."""
    data = path.read_bytes()
    payload = data[data.index(b"mdat") + 4 :]
    listed = [box(b"ispe", struct.pack(">3I", 0, 96, 64))]
    if av1c:
        at = data.index(b"av1C")
        listed.append(data[at - 4 : at - 4 + struct.unpack(">I", data[at - 4 : at])[0]])
    listed += properties
    owned = bytes([len(listed), *range(1, len(listed) + 1)])
    entry = box(b"infe", b"\2\0\0\0", struct.pack(">HH", 1, 0), kind, b"\0")

    def meta(offset):
        place = struct.pack(">4B4H2I", 0, 0, 0, 0, *[0] * 4, 0, 0)
        place = b"\0\0\0\0\x44\0" + struct.pack(">4H2I", 1, 1, 0, 1, offset, len(payload))
        return box(
            b"meta",
            b"\0\0\0\0",
            box(b"pitm", b"\0\0\0\0", struct.pack(">H", 1)),
            box(b"iloc", place),
            box(b"iinf", b"\0\0\0\0", struct.pack(">H", 1), entry),
            box(
                b"iprp",
                box(b"ipco", *listed),
                box(b"ipma", b"\0\0\0\0", struct.pack(">IH", 1, 1), owned),
            ),
        )

    head = box(b"ftyp", b"avif\0\0\0\0avifmif1")
    return head + meta(len(head) + len(meta(0)) + 8) + box(b"mdat", payload)


def test_avif_boxes_put_together_by_hand(tmp_path, rng):
    path, planes = coded(tmp_path, rng)
    xy = [8500, 39850, 6550, 2300, 35400, 14600, 15635, 16450]  # green, blue, red, white
    extra = [
        box(b"colr", b"nclx", struct.pack(">3HB", 12, 18, 1, 0x80)),
        box(b"mdcv", struct.pack(">8H2I", *xy, 4000 * 10000, 50)),
        box(b"clli", struct.pack(">2H", 1500, 120)),
        box(b"irot", b"\1"),
        box(b"imir", b"\0"),
    ]
    frame = emulate.load_frame(saved(tmp_path, rebuilt(path, *extra), "b.avif"), hlg_peak=1000)
    assert (frame.picture.first == planes[0]).all()
    encoding = frame.encoding
    assert (encoding.transfer, encoding.gamut, encoding.matrix) == ("hlg", "p3", "bt709")
    assert encoding.full_range
    assert frame.metadata == Metadata(
        4000.0,
        pytest.approx(0.005),
        ((0.708, 0.292), (0.17, 0.797), (0.131, 0.046), (0.3127, 0.329)),
        1500.0,
        120.0,
    )
    assert "turned by 90°" in texts(frame)
    assert "mirrored" in texts(frame)


def test_avif_without_nclx_believes_the_coded_picture(tmp_path, rng):
    path, _ = coded(tmp_path, rng)
    silent = box(b"colr", b"nclx", struct.pack(">3HB", 2, 2, 2, 0))
    for properties in ([], [silent]):
        data = rebuilt(path, *properties, av1c=False)
        frame = emulate.load_frame(saved(tmp_path, data, "b.avif"))
        assert (frame.encoding.transfer, frame.encoding.matrix) == ("pq", "bt2020")
        assert not frame.encoding.full_range
    assert "siting left is assumed" in texts(frame)


def test_avif_refusals(tmp_path, rng):
    path, _ = coded(tmp_path, rng)
    with pytest.raises(MaterialError, match="of kind 'grid'; accepted is one AV1 picture"):
        emulate.load_frame(saved(tmp_path, rebuilt(path, kind=b"grid"), "b.avif"))
    whole = path.read_bytes()
    for end in (40, 100, 200, 280, 320, len(whole) // 2, len(whole) - 1):
        with pytest.raises(MaterialError, match=r"c.avif: (truncated|damaged)"):
            emulate.load_frame(saved(tmp_path, whole[:end], "c.avif"))


# --- every format --------------------------------------------------------------------------------


def test_what_is_no_file_of_ours(tmp_path):
    with pytest.raises(MaterialError, match=r"gone.exr: no such file"):
        emulate.load_frame(tmp_path / "gone.exr")
    with pytest.raises(MaterialError, match="a folder; accepted is one file"):
        emulate.load_frame(tmp_path)
    with pytest.raises(MaterialError, match="empty; accepted are EXR"):
        emulate.load_frame(saved(tmp_path, b"", "a.exr"))
    with pytest.raises(MaterialError, match="not a kind of file that is read"):
        emulate.load_frame(saved(tmp_path, b"hello, this is text", "a.exr"))


def test_a_still_has_no_time(tmp_path):
    path = saved(tmp_path, png(np.zeros((1, 1, 3), np.uint16), PQ))
    with pytest.raises(RequestError, match="a still has one frame"):
        emulate.load_frame(path, at_s=1.0)
    assert emulate.load_frame(path, index=0).shape == (1, 1)


def files(tmp_path, rng):
    values = rng.random((64, 64, 3)).astype(np.float32)
    codes = rng.integers(0, 65536, (64, 64, 3), dtype=np.uint16)
    tifffile.imwrite(tmp_path / "a.tif", codes, photometric="rgb", compression="zlib")
    pixels = np.full((64, 64, 4), 130, np.uint8)
    return [
        exr(tmp_path / "a.exr", rgb(values)),
        saved(tmp_path, png(codes, PQ)),
        tmp_path / "a.tif",
        saved(tmp_path, radiance(pixels.tobytes(), "-Y 64 +X 64"), "a.hdr"),
    ]


def test_every_truncation_is_one_clear_error(tmp_path, rng):
    for path in files(tmp_path, rng):
        whole = path.read_bytes()
        for share in (0.001, 0.01, 0.1, 0.5, 0.9, 0.99):
            end = max(5, int(len(whole) * share))
            cut = saved(tmp_path, whole[:end], "cut" + path.suffix)
            with pytest.raises(MaterialError) as caught:
                emulate.load_frame(cut).light  # noqa: B018 - the reading is the point
            assert str(caught.value).count("\n") == 0, path


def test_png_damage_is_told(tmp_path):
    data = bytearray(png(np.zeros((8, 8, 3), np.uint16), PQ))
    data[60] ^= 255
    with pytest.raises(MaterialError, match=r"the checksum of its .* chunk is wrong"):
        emulate.load_frame(saved(tmp_path, bytes(data)))
    short = png(np.zeros((8, 8, 3), np.uint16)).replace(
        chunk(b"IHDR", struct.pack(">2I5B", 8, 8, 16, 2, 0, 0, 0)),
        chunk(b"IHDR", struct.pack(">2I5B", 8, 9, 16, 2, 0, 0, 0)),
    )
    with pytest.raises(MaterialError, match="392 bytes of pixels of 441"):
        emulate.load_frame(saved(tmp_path, short))
    for options, message in [
        ({"depth": 4}, "4 bits of colour type 2; accepted are 8 or 16 bits"),
        ({"interlace": 1}, "interlaced"),
        ({"colour_type": 5}, "colour type 5"),
    ]:
        with pytest.raises(MaterialError, match=message):
            emulate.load_frame(saved(tmp_path, png(np.zeros((8, 8, 3), np.uint16), **options)))


def test_a_declared_size_is_checked_before_anything_is_allocated(tmp_path):
    side = struct.pack(">2I5B", 2**31 - 1, 2**31 - 1, 16, 2, 0, 0, 0)
    bomb = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", side) + chunk(b"IDAT", b"x") + chunk(b"IEND", b"")
    with pytest.raises(MaterialError, match="says it is 2147483647 × 2147483647 pixels"):
        emulate.load_frame(saved(tmp_path, bomb))
    path = saved(tmp_path, radiance(b"", "-Y 999999999 +X 999999999"), "a.hdr")
    with pytest.raises(MaterialError, match="says it is 999999999 × 999999999"):
        emulate.load_frame(path)
    path = exr(tmp_path / "a.exr", rgb(np.ones((2, 2, 3), np.float32)))
    window = struct.pack("<4i", 0, 0, 1, 1)
    huge = struct.pack("<4i", 0, 0, 200_000, 200_000)
    with pytest.raises(MaterialError):
        emulate.load_frame(saved(tmp_path, path.read_bytes().replace(window, huge), "b.exr"))
    assert size.LARGEST >= 15360 * 8640, "16K no longer fits"


REAL = [
    ("GoldenGate.exr", (860, 1262)),
    ("StillLife.exr", (846, 1240)),
    ("interior_cc0.exr", (512, 1024)),
    ("sunset_cc0.exr", (512, 1024)),
    ("river_pq_rec2020.avif", (300, 400)),
]


@pytest.mark.parametrize(("name", "shape"), REAL)
def test_real_material(name, shape):
    if not (HDR / name).exists():
        pytest.skip(f"{HDR / name} is not here")
    frame = emulate.load_frame(HDR / name)
    assert frame.shape == shape
    assert np.isfinite(frame.light).all()
    assert (frame.light >= 0).all()
    if name.endswith("avif"):  # claimed of the picture before it was coded with losses
        assert (frame.metadata.max_cll, frame.metadata.max_fall) == (703, 165)
        assert frame.light.max() == pytest.approx(703, rel=0.05)
        assert frame.light.max(axis=-1).mean() == pytest.approx(165, rel=0.1)
