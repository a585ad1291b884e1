"""Processing: each stage against what it leaves of patterns whose answer is known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from emulate import (
    Frame,
    Panel,
    Processing,
    draw_sharpness,
    measure,
    measure_sharpness,
    processed,
    render,
    save_drawing,
)
from emulate.errors import RequestError
from emulate.processing import (
    noise_from_modulation,
    softened,
    softness_from_modulation,
    with_subpixels,
    without_noise,
)
from emulate.showing import Conditions, show


def _sines(period: float, amplitude: float, size: int = 96):
    """A signal around 0.5 that is a sine across, a cosine at the middle of the first pixel."""
    across = 0.5 + amplitude * np.cos(2 * np.pi * (np.arange(size) + 0.5) / period)
    return np.repeat(np.tile(across, (size, 1))[..., None], 3, axis=2)


def test_nothing_to_do_is_the_frame_itself():
    frame = Frame.from_light(np.random.default_rng(1).uniform(0, 900, (32, 32, 3)))
    assert processed(frame, Processing()) is frame


@pytest.mark.parametrize("period", [3.0, 4.0, 8.0])
@pytest.mark.parametrize("sigma", [0.4, 1.1])
def test_softness_keeps_what_a_gaussian_keeps(period, sigma):
    """Fourier transform of a Gaussian: exp(−2π²σ²f²)."""
    before = _sines(period, 0.1)
    after = softened(before, sigma)
    kept = math.exp(-2 * (math.pi * sigma / period) ** 2)
    assert after - 0.5 == pytest.approx(kept * (before - 0.5), abs=1e-9)
    assert softness_from_modulation(kept, period) == pytest.approx(sigma)


def test_noise_reduction_takes_its_strength_off_lines_of_one_pixel():
    """Lines of ±a: a 3 × 3 mean is ∓a/3, what is fine 4a/3; less τ, a − τ is left."""
    lines = np.tile(np.where(np.arange(32) % 2, 0.51, 0.49), (32, 1))
    signal = np.repeat(lines[..., None], 3, axis=2)
    after = without_noise(signal, 3.6)[:, 2:-2]
    assert np.abs(after - 0.5) == pytest.approx(np.full(after.shape, 0.01 - 3.6 / 720))
    assert noise_from_modulation(0.5, 7.2) == pytest.approx(3.6)
    weak = without_noise(signal, 20.0)[:, 2:-2]  # below the strength all that is fine goes
    assert np.abs(weak - 0.5) == pytest.approx(np.full(weak.shape, 0.01 / 3))


def test_noise_reduction_leaves_edges_and_flats_where_they_are():
    step = np.repeat(np.where(np.arange(32) < 16, 0.3, 0.7)[None, :, None], 32, axis=0)
    step = np.repeat(step, 3, axis=2)
    assert np.abs(without_noise(step, 2.0) - step).max() < 2.1 / 720


def test_shared_subpixels_average_red_and_blue_and_leave_green():
    light = np.zeros((4, 8, 3), np.float32)
    light[:, ::2] = (100.0, 50.0, 30.0)
    after = with_subpixels(light, 2)
    assert np.array_equal(after[..., 1], light[..., 1])
    assert after[0, :, 0] == pytest.approx(np.full(8, 50.0))
    assert after[1, 1:-1, 0] == pytest.approx(np.full(6, 50.0))  # groups begin one pixel later
    assert after[0, :, 2].sum() == pytest.approx(light[0, :, 2].sum())
    broad = np.zeros((2, 8, 3), np.float32)
    broad[:, 2:4, 0] = 100.0
    assert with_subpixels(broad, 2)[0, :, 0] == pytest.approx(broad[0, :, 0])
    assert with_subpixels(broad, 2)[1, :, 0] == pytest.approx([0, 50, 50, 50, 50, 0, 0, 0])


def test_chroma_420_keeps_greys_and_luma_and_loses_fine_colour():
    rng = np.random.default_rng(3)
    grey = np.repeat(rng.uniform(0.1, 900, (32, 32, 1)), 3, axis=2)
    after = processed(Frame.from_light(grey), Processing(chroma="420")).light
    assert after == pytest.approx(grey.astype(np.float32), rel=2e-3)
    found = measure_sharpness(Processing(chroma="420")).findings
    kept = [found[f"lines.{width}px"].value for width in (1, 2, 4)]
    assert kept[0] < 0.1  # one chroma sample for both
    assert kept[0] < kept[1] < kept[2] < 1
    assert kept[2] > 0.7
    assert found["star.fine"].value == pytest.approx(1.0, abs=0.01)


def test_chroma_422_is_as_fine_as_444_down_the_picture():
    light = np.zeros((32, 32, 3), np.float32)
    light[::2] = (150.0, 0.0, 0.0)
    light[1::2] = (0.0, 58.1, 0.0)
    kept = processed(Frame.from_light(light), Processing(chroma="422")).light
    lost = processed(Frame.from_light(light), Processing(chroma="420")).light
    assert kept == pytest.approx(light, rel=5e-3, abs=0.05)
    assert np.abs(lost - light).max() > 20


def test_a_star_tells_the_softness_it_went_through():
    """exp(−2π²σ²/p²) = ½ at p = πσ√(2/ln 2)."""
    sigma = 1.5
    found = measure_sharpness(Processing(softness=sigma)).findings
    assert found["star.half"].value == pytest.approx(math.pi * sigma * math.sqrt(2 / math.log(2)),
                                                     rel=0.03)  # fmt: skip
    untouched = measure_sharpness(Processing()).findings
    assert untouched["star.fine"].value == pytest.approx(1.0)
    assert untouched["lines.1px"].value == pytest.approx(1.0)


def test_detail_that_processing_takes_is_found_on_a_panel():
    rng = np.random.default_rng(5)
    light = 80 * np.exp(rng.normal(0, 0.03, (120, 160, 1)))
    frame = Frame.from_light(np.repeat(light, 3, axis=2))
    panel = Panel("plain", 600.0)
    kept = measure(frame, render(frame, panel))
    shown = processed(frame, Processing(noise=30.0))
    lost = measure(frame, render(shown, panel))
    assert kept["detail.lost"].value == 0
    assert lost["detail.lost"].value > 0.5
    assert any("noise reduction of 30 steps" in str(doubt) for doubt in lost.caveats)


def test_a_picture_is_shown_as_it_was_processed(tmp_path):
    light = np.tile(np.where(np.arange(160) % 2, 60.0, 90.0)[None, :, None], (90, 1, 3))
    frame, panel = Frame.from_light(light, "lines"), Panel("plain", 600.0)
    soft = Conditions(processing=Processing(softness=3.0))
    assert show(frame, panel, tmp_path / "a", light=False)["detail.lost"].value == 0
    assert show(frame, panel, tmp_path / "b", soft, light=False)["detail.lost"].value > 0.9
    with pytest.raises(RequestError, match="accepted is one of the two"):
        show(frame, panel, tmp_path / "c", Conditions(intervals=True, processing=soft.processing))


def test_the_page_shows_the_star_before_and_after(tmp_path):
    measured = measure_sharpness(Processing("420", 0.8, 2.0, 2))
    drawing = draw_sharpness(measured)
    assert measured.findings["star.half"].sentence in drawing.alt
    assert save_drawing(drawing, tmp_path / "s.png").path.stat().st_size > 20000


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"chroma": "411"}, "accepted is 444, 422 or 420"),
        ({"softness": -1.0}, "accepted is 0 to 50"),
        ({"softness": math.nan}, "accepted is 0 to 50"),
        ({"noise": 200.0}, "accepted is 0 to 100"),
        ({"subpixels": 0}, "accepted is 1 to 8"),
    ],
)
def test_what_no_set_does_is_refused(asked, said):
    with pytest.raises(RequestError, match=said):
        Processing(**asked)


def test_readings_that_cannot_be_are_refused():
    with pytest.raises(RequestError, match="share above 0"):
        softness_from_modulation(1.2, 4.0)
    with pytest.raises(RequestError, match="share above 0"):
        noise_from_modulation(0.5, 0.0)
    with pytest.raises(RequestError, match="swing"):
        measure_sharpness(Processing(), swing=0.6)
