"""Codes become light in one place: check values, other people's matrices, a plain numpy twin."""

import colour
import numba
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from emulate.errors import MaterialError, RequestError
from emulate.frames.decode import light_from_planes
from emulate.frames.frame import CodePicture, Encoding
from emulate.frames.gamut import adaptation, bt2020_matrix, is_gamut, named_gamut
from emulate.frames.said import Said, settle

# cd/m², narrow 10-bit and full 10-bit codes: physics §1, computed from SMPTE ST 2084 with
# arbitrary-precision arithmetic. A code stands for a small range of light around the printed one.
PRINTED = [
    (0.1, 119, 64),
    (1, 195, 153),
    (10, 327, 307),
    (100, 509, 520),
    (203, 573, 594),
    (1000, 723, 769),
    (4000, 855, 923),
    (10000, 940, 1023),
]
COLOUR_NAMES = {"bt2020": "ITU-R BT.2020", "p3": "P3-D65", "bt709": "ITU-R BT.709"}


def grey(codes: list[int], encoding: Encoding) -> np.ndarray:
    """Light of the red channel of a row of neutral codes, 4:2:0 where there is a matrix."""
    first = np.array([codes], np.uint16)
    chroma = first
    if encoding.matrix != "rgb":
        chroma = np.full((1, -(-len(codes) // 2)), 2 ** (encoding.bits - 1), np.uint16)
    light = CodePicture(first, chroma, chroma, encoding).light()
    assert (light == light[..., :1]).all(), "a neutral code came out coloured"
    return light[0, :, 0]


def planes(rng: np.random.Generator, shape: tuple[int, int], down: int, across: int, bits: int):
    half = (-(-shape[0] // down), -(-shape[1] // across))
    return [rng.integers(0, 2**bits, size, dtype=np.uint16) for size in (shape, half, half)]


@pytest.mark.parametrize("matrix", ["rgb", "bt2020", "bt709", "bt601"])
@pytest.mark.parametrize("full_range", [False, True])
def test_printed_codes(matrix, full_range):
    encoding = Encoding("pq", matrix=matrix, full_range=full_range, bits=10)
    codes = [row[2 if full_range else 1] for row in PRINTED]
    below, at, above = (grey([c + d for c in codes], encoding) for d in (-1, 0, 1))
    printed = np.array([row[0] for row in PRINTED])
    steps = np.maximum(at - below, above - at)
    assert (np.abs(at - printed) <= steps / 2 * 1.01 + 1e-6).all()


@pytest.mark.parametrize("bits", [8, 10, 12, 16])
@pytest.mark.parametrize("full_range", [False, True])
def test_every_code_is_exact(bits, full_range):
    """Against the transfer function of colour-science, which follows ST 2084, rounded once."""
    codes = np.arange(2**bits) if bits <= 12 else np.arange(0, 2**bits, 7)
    low, span = (0, 2**bits - 1) if full_range else (16 * 2 ** (bits - 8), 219 * 2 ** (bits - 8))
    signal = np.clip((codes - low) / span, 0, 1)
    expected = colour.models.eotf_ST2084(signal).astype(np.float32)
    light = grey(list(codes), Encoding("pq", full_range=full_range, bits=bits))
    np.testing.assert_allclose(light, expected, rtol=2e-7, atol=1e-9)


def test_codes_outside_narrow_range_hold_at_black_and_follow_the_curve_above_white():
    light = grey([0, 63, 64, 940, 1023], Encoding("pq", full_range=False, bits=10))
    assert light.tolist() == [0, 0, 0, 10000, 10000]  # physics §1: E clipped to 0..1


def test_hlg_and_sdr_greys():
    """BT.2100-2 table 5 by colour-science; BT.1886 with 100 % at 203 cd/m² (BT.2408)."""
    codes = np.arange(64, 941, 12)
    signal = (codes - 64) / 876
    hlg = grey(list(codes), Encoding("hlg", full_range=False, bits=10, scale=1000))
    np.testing.assert_allclose(
        hlg,
        colour.models.eotf_BT2100_HLG(np.repeat(signal[:, None], 3, 1), L_W=1000)[:, 0],
        rtol=1e-6,
        atol=1e-6,
    )
    sdr = grey(list(codes), Encoding("sdr", full_range=False, bits=10, scale=203))
    np.testing.assert_allclose(
        sdr, colour.models.eotf_BT1886(signal, L_B=0, L_W=203), rtol=1e-6, atol=1e-9
    )


def test_hlg_of_colours_goes_through_the_luminance_of_the_scene():
    rng = np.random.default_rng(3)
    codes = rng.integers(0, 1024, (7, 9, 3), dtype=np.uint16)
    picture = CodePicture(*np.moveaxis(codes, -1, 0), Encoding("hlg", bits=10, scale=600))
    expected = colour.models.eotf_BT2100_HLG(codes / 1023, L_W=600)
    # colour-science keeps the system gamma of BT.2100 note 5f, as here
    np.testing.assert_allclose(picture.light(), expected, rtol=1e-5, atol=1e-4)


@pytest.mark.parametrize("matrix", ["bt2020", "bt709", "bt601"])
@pytest.mark.parametrize("full_range", [False, True])
def test_matrix_agrees_with_colour_science(matrix, full_range):
    name = {"bt2020": "ITU-R BT.2020", "bt709": "ITU-R BT.709", "bt601": "ITU-R BT.601"}[matrix]
    weights = colour.WEIGHTS_YCBCR[name]
    rng = np.random.default_rng(5)
    codes = rng.integers(100, 900, (5, 6, 3), dtype=np.uint16)
    picture = CodePicture(
        *np.moveaxis(codes, -1, 0),
        Encoding("linear", matrix=matrix, full_range=full_range, bits=10, scale=1.0),
    )
    signal = colour.YCbCr_to_RGB(
        codes, weights, in_bits=10, in_int=True, in_legal=not full_range, out_legal=False
    )
    if full_range:  # colour-science centres full-range chroma at 511.5; H.273 centres it at 512
        signal = colour.YCbCr_to_RGB(
            (codes - np.array([0, 512, 512])) / 1023, weights, in_legal=False, out_legal=False
        )
    np.testing.assert_allclose(picture.light(), np.clip(signal, 0, 1), atol=2e-7)


def upsampled(chroma, shape, siting):
    """Bilinear, written apart: numpy's interpolation along one axis and then the other."""
    rows, columns = shape
    off_y, off_x = {"left": (0.5, 0), "topleft": (0, 0), "centre": (0.5, 0.5)}[siting]
    out = chroma.astype(float)
    if chroma.shape[0] != rows:
        at = np.arange(chroma.shape[0]) * 2 + off_y
        out = np.apply_along_axis(lambda c: np.interp(np.arange(rows), at, c), 0, out)
    if chroma.shape[1] != columns:
        at = np.arange(chroma.shape[1]) * 2 + off_x
        out = np.apply_along_axis(lambda c: np.interp(np.arange(columns), at, c), 1, out)
    return out


@pytest.mark.parametrize("siting", ["left", "topleft", "centre"])
@pytest.mark.parametrize(("down", "across"), [(1, 1), (1, 2), (2, 2), (2, 1)])
@pytest.mark.parametrize("shape", [(8, 10), (7, 9), (1, 1)])
def test_planes_against_a_plain_twin(siting, down, across, shape):
    rng = np.random.default_rng(8)
    first, second, third = planes(rng, shape, down, across, 10)
    encoding = Encoding("pq", "p3", "bt2020", False, 10, siting)
    light = light_from_planes(CodePicture(first, second, third, encoding))
    y = (first - 64.0) / 876
    cb, cr = ((upsampled(c, shape, siting) - 512) / 896 for c in (second, third))
    kr, kb = 0.2627, 0.0593  # ITU-R BT.2020-2 table 4
    red, blue = y + 2 * (1 - kr) * cr, y + 2 * (1 - kb) * cb
    green = (y - kr * red - kb * blue) / (1 - kr - kb)
    linear = colour.models.eotf_ST2084(np.clip(np.stack([red, green, blue], -1), 0, 1))
    expected = np.maximum(linear @ bt2020_matrix("p3").T, 0)
    np.testing.assert_allclose(light, expected, rtol=5e-6, atol=1e-5)


def test_siting_moves_an_edge_of_colour_half_a_pixel():
    """A step in chroma: centred samples lie half a luma pixel to the right of left-sited ones."""
    first = np.full((2, 12), 400, np.uint16)
    chroma = np.array([[512, 512, 512, 700, 700, 700]], np.uint16)
    neutral = np.full_like(chroma, 512)
    weights = {}
    for siting in ("left", "centre"):
        encoding = Encoding("linear", "bt2020", "bt709", True, 10, siting, 1.0)
        red = light_from_planes(CodePicture(first, neutral, chroma, encoding))[0, :, 0]
        weights[siting] = (red - red[0]) / (red[-1] - red[0])
    np.testing.assert_allclose(weights["left"][4:8], [0, 0.5, 1, 1], atol=1e-5)
    np.testing.assert_allclose(weights["centre"][4:8], [0, 0.25, 0.75, 1], atol=1e-5)


@pytest.mark.parametrize("gamut", ["bt709", "p3"])
def test_gamuts_agree_with_colour_science(gamut):
    expected = colour.matrix_RGB_to_RGB(
        colour.RGB_COLOURSPACES[COLOUR_NAMES[gamut]],
        colour.RGB_COLOURSPACES["ITU-R BT.2020"],
        chromatic_adaptation_transform=None,
    )
    np.testing.assert_allclose(
        bt2020_matrix(gamut), expected, atol=2e-4
    )  # its matrices are rounded
    np.testing.assert_allclose(bt2020_matrix(gamut).sum(axis=1), 1, atol=1e-12)


def test_bt2020_itself_is_left_alone_to_the_bit():
    assert (bt2020_matrix("bt2020") == np.eye(3)).all()


def test_adaptation_agrees_with_colour_science():
    aces = (0.32168, 0.33767)  # SMPTE ST 2065-1 white
    xyz = colour.xy_to_XYZ(np.array([aces, (0.3127, 0.3290)]))
    expected = colour.adaptation.matrix_chromatic_adaptation_VonKries(*xyz, transform="Bradford")
    np.testing.assert_allclose(adaptation(aces), expected, atol=1e-7)


def test_a_container_of_another_white_keeps_white_white():
    ap0 = ((0.7347, 0.2653), (0.0, 1.0), (0.0001, -0.077), (0.32168, 0.33767))  # ST 2065-1
    np.testing.assert_allclose(bt2020_matrix(ap0).sum(axis=1), 1, atol=1e-12)
    assert is_gamut(ap0)
    near = ((0.64001, 0.33), (0.3, 0.6), (0.15, 0.06), (0.3127, 0.329))
    assert named_gamut(near) == "bt709"
    assert named_gamut(ap0) == ap0


def test_same_bytes_for_any_number_of_threads():
    rng = np.random.default_rng(2)
    first, second, third = planes(rng, (33, 40), 2, 2, 10)
    picture = CodePicture(
        first, second, third, Encoding("hlg", "p3", "bt2020", False, 10, scale=1e3)
    )
    once = light_from_planes(picture)
    before = numba.get_num_threads()
    try:
        numba.set_num_threads(1)
        assert light_from_planes(picture).tobytes() == once.tobytes()
    finally:
        numba.set_num_threads(before)


@given(st.integers(0, 1023), st.integers(0, 1023), st.integers(0, 1023), st.booleans())
@settings(max_examples=60, deadline=None)
def test_light_of_any_code_is_light(y, u, v, full_range):
    codes = [np.array([[c]], np.uint16) for c in (y, u, v)]
    light = CodePicture(*codes, Encoding("pq", "bt709", "bt709", full_range, 10)).light()
    assert np.isfinite(light).all()
    assert (light >= 0).all()
    assert (light <= 10000 * 1.0001).all()


def test_planes_that_do_not_fit_are_refused():
    first, chroma = np.zeros((8, 8), np.uint16), np.zeros((3, 4), np.uint16)
    with pytest.raises(MaterialError, match=r"\(3, 4\) beside one of \(8, 8\)"):
        CodePicture(first, chroma, chroma, Encoding("pq", matrix="bt2020", bits=10)).light()
    whole, half = np.zeros((8, 8), np.uint16), np.zeros((4, 4), np.uint16)
    with pytest.raises(MaterialError, match="colour planes of"):
        CodePicture(first, whole, half, Encoding("pq", matrix="bt2020", bits=10)).light()


def test_the_caller_wins_with_a_caveat_and_silence_is_assumed_with_one():
    file = Said(transfer="pq", full_range=False)
    caller = Said(transfer="hlg", gamut="p3")
    assumed = Said(transfer="sdr", gamut="bt709", siting="left")
    encoding, caveats = settle("frame", file, caller, assumed, bits=10)
    assert (encoding.transfer, encoding.gamut, encoding.full_range) == ("hlg", "p3", False)
    assert encoding.scale == 1000  # nominal peak of the reference display, BT.2100-2 table 5
    texts = [caveat.text for caveat in caveats]
    assert texts == [
        "the file says transfer pq, you say transfer hlg; yours is used",
        "nothing says where its chroma is sited; siting left is assumed",
        "nothing says the peak of its display; 1000 cd/m² is assumed",
    ]


def test_agreement_is_silent_and_an_idle_word_is_not():
    said = Said(transfer="pq", gamut="bt2020")
    assert settle("f", said, said, Said(transfer="sdr"))[1] == ()
    caveats = settle("f", said, Said(scale=80), Said(transfer="sdr"))[1]
    assert [c.text for c in caveats] == ["you say scale 80; it has no meaning for pq"]
    encoding, caveats = settle("f", Said(scale=100), Said(absolute=True), Said(transfer="linear"))
    assert encoding.scale == 1
    assert caveats[0].text == "the file says 100 cd/m², you say 1 cd/m²; yours is used"


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"scale": 0.0}, "scale 0; accepted is light above 0"),
        ({"scale": float("nan")}, "scale nan"),
        ({"hlg_peak": -1.0}, "hlg_peak -1"),
        ({"sdr_white": float("inf")}, "sdr_white inf"),
        ({"transfer": "gamma"}, "transfer 'gamma'; accepted are pq, hlg, sdr, linear"),
        ({"matrix": "bt470"}, "matrix 'bt470'"),
        ({"siting": "right"}, "siting 'right'"),
        ({"gamut": "wide"}, "gamut 'wide'; accepted are bt2020, p3, bt709"),
        ({"gamut": ((0.3, 0.3), (0.3, 0.3), (0.3, 0.3))}, "gamut"),
        ({"gamut": ((0.7, 0.3), (0.2, 0.8), (0.1, 0.1), (0.9, 0.9))}, "gamut"),
        ({"scale": 5.0, "absolute": True}, "say one of them"),
    ],
)
def test_what_cannot_be_said_is_refused(wrong, message):
    with pytest.raises(RequestError, match=message):
        Said(**wrong)
