"""Parts of a page: exposures that panels share, the worst spot, layers, and bytes."""

from __future__ import annotations

import io

import imageio.v3 as iio
import numpy as np
import pytest
from PIL import Image

from emulate import load_frame, load_panel
from emulate.demo_frames import panel_files
from emulate.errors import RequestError
from emulate.findings.evidence import Loss
from emulate.findings.finding import Findings
from emulate.findings.results import Exposures
from emulate.findings.windows import white_windows
from emulate.frames.compact import hdr_png_bytes, webp_bytes
from emulate.frames.frame import Frame
from emulate.pictures.closeup import part_of, worst_spot
from emulate.pictures.exposure import Slice, slices
from emulate.pictures.layers import OPACITIES, overlays
from emulate.pictures.wipe import (
    WHITES,
    common_slices,
    exposures,
    main_slice,
    page_light,
    page_size,
    shares_above,
)
from tests.rooms.pictured import case


def test_webp_keeps_every_code():
    rng = np.random.default_rng(1)
    for channels in (3, 4):
        codes = rng.integers(0, 256, (37, 53, channels), dtype=np.uint8)
        codes[..., 3:] = np.where(codes[..., 3:] == 0, 1, codes[..., 3:])
        with Image.open(io.BytesIO(webp_bytes(codes))) as image:
            np.testing.assert_array_equal(np.asarray(image), codes)
        np.testing.assert_array_equal(iio.imread(webp_bytes(codes), extension=".webp"), codes)
    for wrong in (np.zeros((4, 4), np.uint8), np.zeros((4, 4, 3), np.uint16)):
        with pytest.raises(RequestError, match="accepted is uint8"):
            webp_bytes(wrong)


def test_real_light_keeps_ten_bits_of_pq(tmp_path):
    """PQ by colour-science's ST 2084; sixteen bits that repeat the ten (W3C PNG 13.12)."""
    from colour.models import eotf_inverse_ST2084

    light = np.geomspace(0.001, 10000, 3 * 16 * 9).reshape(9, 16, 3).astype(np.float32)
    data = hdr_png_bytes(light)
    (tmp_path / "real.png").write_bytes(data)
    frame = load_frame(tmp_path / "real.png")
    assert (frame.encoding.transfer, frame.encoding.gamut) == ("pq", "bt2020")
    codes = np.stack([frame.picture.first, frame.picture.second, frame.picture.third], axis=-1)
    expected = np.rint(1023 * eotf_inverse_ST2084(light.astype(np.float64), 10000)).astype(int)
    assert np.abs((codes >> 6).astype(int) - expected).max() == 0
    np.testing.assert_array_equal(codes & 63, codes >> 10)
    assert b"sBIT\x0a\x0a\x0a" in data


@pytest.mark.parametrize(
    ("shape", "width", "size"),
    [((1080, 1920), 960, (540, 960)), ((1080, 1920), 704, (396, 704)), ((90, 160), 960, (90, 160)),
     ((804, 1920), 960, (402, 960)), ((1920, 1080), 960, (960, 540)), ((1, 5000), 960, (1, 960)),
     ((3, 3), 960, (2, 2))],
)  # fmt: skip
def test_pages_have_pictures_of_even_size(shape, width, size):
    assert page_size(shape, width) == size


def test_page_light_is_the_mean_of_the_area():
    light = np.random.default_rng(2).random((20, 40, 3), dtype=np.float32)
    means = light.astype(np.float64).reshape(10, 2, 20, 2, 3).mean(axis=(1, 3))
    np.testing.assert_allclose(page_light(light, 20), means, rtol=1e-6)


def test_shares_above_are_counted():
    light = np.random.default_rng(3).lognormal(2, 3, (30, 40, 3)).astype(np.float32)
    light[0, 0] = WHITES[10]  # on a white is not above it
    counted = [(light.max(axis=-1) > np.float32(white)).mean() for white in WHITES]
    np.testing.assert_allclose(shares_above(light), counted, atol=1e-12)
    assert WHITES[0] == 0.1
    assert WHITES[-1] == 10000
    assert len(WHITES) == 51  # ten a decade, both ends


def test_panels_of_a_scene_share_the_brightest_white_of_each_region():
    def asked(**wanted: float) -> Exposures:
        above = tuple(np.linspace(0.5, 0, len(WHITES)))
        return Exposures(tuple(wanted.items()), tuple(WHITES), above, above)

    first, second = common_slices(
        [asked(shadow=0.5, middle=100.0), asked(shadow=1.0, middle=80.0, highlight=160.0)]
    )
    assert [(one.name, one.white) for one in first] == [("shadow", 1.0), ("highlight", 160.0)]
    assert first == second  # middle lay less than a factor two under highlight
    assert first[0].above_reference == pytest.approx(0.5 - 0.5 * 10 / 50)  # 1.0 is the 11th white


def test_a_still_alone_has_the_slices_of_its_picture():
    frame, rendering, _ = case()
    (found,) = common_slices([exposures(frame, rendering)])
    for one, drawn in zip(found, slices(frame, rendering), strict=True):
        assert (one.name, one.white) == (drawn.name, drawn.white)
        assert one.above_reference == pytest.approx(drawn.above_reference, abs=1e-9)
        assert one.above_panel == pytest.approx(drawn.above_panel, abs=1e-9)


def test_a_page_opens_near_life_unless_that_cuts_off_most():
    dark, life, bright = (
        Slice(str(white), white, above, 0.0)
        for white, above in ((1.0, 0.9), (200.0, 0.2), (4000.0, 0.0))
    )
    assert main_slice((dark, life, bright)) == 1
    assert main_slice((dark, bright)) == 1
    assert main_slice((dark,)) == 0
    cut = Slice("200", 200.0, 0.3, 0.0)
    assert main_slice((dark, cut, bright)) == 2


def _marked(shape=(80, 160)) -> tuple[Frame, object, dict]:
    frame, rendering, findings = case(*shape)
    blank = {name: np.zeros_like(image) for name, image in findings.maps.items()}
    return frame, rendering, blank


def test_the_worst_spot_is_where_most_steps_are_marked():
    frame, rendering, maps = _marked()
    maps["colour"][:] = 3.0  # everywhere, and marked only where a finding says so
    maps["loss"][40:44, 100:108] = Loss.CLIPPED_ZONE
    maps["loss"][10:12, 20:24] = Loss.CRUSHED_LEAK
    spot = worst_spot(frame, rendering, Findings({}, maps=maps))
    assert (spot.height, spot.width) == (10, 20)
    assert spot.top <= 40
    assert spot.top + 10 >= 44
    assert spot.left <= 100
    assert spot.left + 20 >= 108
    assert spot.steps == pytest.approx(3.0, abs=0.01)
    assert spot.marked == pytest.approx(32 / 200)
    assert spot.sentence.endswith("mostly clipping.")
    assert (spot.top, spot.left) == (34, 88)  # the first in reading order that holds all of it


def test_a_glow_counts_with_its_own_steps():
    frame, rendering, maps = _marked()
    maps["colour"][:] = 50.0
    maps["halo_steps"][:4, :4] = 0.9  # under a step: not seen
    maps["halo_steps"][-4:, -4:] = 4.0
    spot = worst_spot(frame, rendering, Findings({}, maps=maps))
    assert spot.top + spot.height == frame.shape[0]
    assert spot.left + spot.width == frame.shape[1]
    assert spot.steps == pytest.approx(4.0)
    assert spot.mostly == "glow"


def test_where_nothing_is_marked_the_furthest_colour_is_shown():
    frame, rendering, maps = _marked()
    maps["colour"][60, 120] = 0.5
    spot = worst_spot(frame, rendering, Findings({}, maps=maps))
    assert spot.marked == 0
    assert spot.top <= 60 < spot.top + spot.height
    assert "No finding marks anything" in spot.sentence
    still = worst_spot(frame, rendering, Findings({}, maps=_marked()[2]))
    assert (still.top, still.left) == (0, 0)


def test_the_spot_of_a_letterbox_lies_in_the_picture():
    from dataclasses import replace

    frame, rendering, maps = _marked()
    maps["loss"][:20] = Loss.CRUSHED_LEAK
    maps["colour"][:20] = 9.0
    framed = replace(frame, active=(20, 60, 0, 160))
    spot = worst_spot(framed, rendering, Findings({}, maps=maps))
    assert 20 <= spot.top <= 60 - spot.height
    assert part_of(frame.light, spot.box).shape == (5, 20, 3)


def test_layers_are_as_opaque_as_the_area_lost():
    frame, _, findings = case()
    maps = {name: np.zeros_like(image) for name, image in findings.maps.items()}
    maps["loss"][:2, :2] = Loss.CLIPPED_CURVE
    maps["loss"][2, 2] = Loss.CLIPPED_CURVE
    (layer,) = overlays(Findings({}, maps=maps), (frame.shape[0] // 2, frame.shape[1] // 2))
    assert layer.name == "clipped"
    alpha = layer.codes[..., 3]
    assert alpha[0, 0] == 255
    assert alpha[1, 1] == -(-OPACITIES // 4) * (255 // OPACITIES)  # a quarter, rounded up
    assert np.count_nonzero(alpha) == 2
    assert overlays(Findings({}, maps=maps | {"loss": maps["loss"] * 0}), (9, 16)) == ()


def test_windows_of_a_panel_without_limits_are_all_white():
    from emulate import Panel

    areas, light = zip(*white_windows(Panel("plain", 500.0), (90, 160)), strict=True)
    assert areas[0] == 0.01
    assert areas[-1] == 1.0
    np.testing.assert_allclose(light, 500.0, rtol=1e-4)


def test_windows_of_the_invented_panels_say_what_limits_them():
    """Zones make small windows darker; power makes large ones darker."""
    small = {file.stem: white_windows(load_panel(file), (180, 320)) for file in panel_files()}
    assert small["coarse_zones"][0].light < 0.8 * small["coarse_zones"][4].light
    assert small["self_emissive"][-1].light < 0.3 * small["self_emissive"][0].light
