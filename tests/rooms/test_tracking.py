"""Tracking: each channel times its own share at its own level."""

import numpy as np

from emulate.colorimetry import colour_science
from emulate.panel.tracking import Tracking, tracked
from emulate.values import numbers

WARM = Tracking(
    numbers([0.1, 1.0, 100.0]),
    numbers([1.1, 1.0, 1.02]),
    numbers([1.0, 1.0, 1.0]),
    numbers([0.8, 0.9, 0.95]),
)


def light() -> np.ndarray:
    rng = np.random.default_rng(8)
    picture = (10 ** rng.uniform(-3, 3, (20, 30, 3))).astype(np.float32)
    picture[0, 0] = 0
    return picture


def test_the_default_is_exact() -> None:
    picture = light()
    assert np.array_equal(tracked(picture, Tracking()), picture)


def test_pixels_equal_the_numpy_twin() -> None:
    """Linear interpolation by numpy on PQ signals by colour-science."""
    pq = colour_science().models.eotf_inverse_ST2084
    picture = light()
    shares = [
        np.interp(pq(picture[..., c].astype(float)), pq(WARM.level), share)
        for c, share in enumerate((WARM.red, WARM.green, WARM.blue))
    ]
    expected = picture * np.stack(shares, axis=-1)
    np.testing.assert_allclose(tracked(picture, WARM), expected, rtol=1e-6)


def test_readings_are_met_and_held_outside() -> None:
    picture = np.array([[[0.001] * 3, [0.1] * 3, [1] * 3, [100] * 3, [900] * 3]], dtype=np.float32)
    shares = tracked(picture, WARM) / picture
    np.testing.assert_allclose(shares[0, :, 0], [1.1, 1.1, 1.0, 1.02, 1.02], rtol=1e-6)
    np.testing.assert_allclose(shares[0, :, 2], [0.8, 0.8, 0.9, 0.95, 0.95], rtol=1e-6)


def test_out_may_be_the_light_itself() -> None:
    picture = light()
    expected = tracked(picture, WARM)
    assert np.array_equal(tracked(picture, WARM, out=picture), expected)
