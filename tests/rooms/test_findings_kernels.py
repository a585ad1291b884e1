"""Each kernel against a plain numpy twin, written apart from it."""

from __future__ import annotations

import numba
import numpy as np
import pytest
from scipy.ndimage import label, uniform_filter

from emulate.findings.colour import colour_steps
from emulate.findings.evidence import ROUNDING_STEPS, Detail, Evidence, Loss, steps_of
from emulate.findings.halo import halo_steps, lift_on_cells
from emulate.frames.frame import Frame
from emulate.rendering import Cause
from emulate.sight import Viewer, steps_from_light
from tests.rooms.handmade import rendering_of

WEIGHTS = np.array([0.2627, 0.6780, 0.0593])  # ITU-R BT.2020-2 table 4
M1, M2 = 2610 / 16384, 2523 / 32  # SMPTE ST 2084
C1, C2, C3 = 3424 / 4096, 2413 / 128, 2392 / 128


def steps(light):
    power = np.clip(np.asarray(light, float) / 10000, 0, 1) ** M1
    return 720 * ((C1 + C2 * power) / (1 + C3 * power)) ** M2


def evidence_of(seed=3, shape=(150, 190), reflected=0.05, **viewer):
    """Smooth random light with noise, a loss of everything, and every bit of why."""
    rng = np.random.default_rng(seed)
    base = uniform_filter(rng.uniform(-12, 12, shape), 9)
    base = (base - base.min()) / np.ptp(base) * 6.5 - 2.5
    light = 10 ** (base[..., None] + rng.normal(0, 0.01, (*shape, 3)))
    light[:3] = 0
    frame = Frame.from_light(light)
    asked = np.minimum(frame.light, np.float32(800))
    own = np.maximum(asked * np.float32(0.97), np.float32(0.02))
    why = rng.integers(0, 128, shape)
    rendering = rendering_of(frame, own, asked=asked, why=why, reflected=reflected)
    return Evidence(frame, rendering, Viewer(**viewer))


@pytest.fixture(scope="module")
def evidence():
    return evidence_of()


def test_steps_from_the_table_are_the_formula_s():
    light = np.concatenate([[0.0, 1e-30, 9999.9, 10000, 2e4], np.geomspace(1e-12, 1e4, 200001)])
    light = light.astype(np.float32)[None]
    assert np.abs(steps_of(light) - steps(light)).max() < 2e-4
    assert (np.diff(steps_of(light)[0, 5:]) >= 0).all()


def test_maps_of_luminance(evidence):
    rendering = evidence.rendering
    assert np.allclose(evidence.luminance, evidence.frame.light @ WEIGHTS, rtol=1e-6)
    assert np.abs(evidence.reference - steps(evidence.frame.light @ WEIGHTS)).max() < 5e-4
    assert np.abs(evidence.asked - steps(rendering.asked @ WEIGHTS)).max() < 5e-4
    assert np.abs(evidence.seen - steps(rendering.light @ WEIGHTS)).max() < 5e-4
    own = np.maximum(rendering.light.astype(float) @ WEIGHTS - rendering.reflected, 0)
    assert np.abs(evidence.own - steps(own)).max() < 1e-3


def test_ceilings(evidence):
    rendering, frame = evidence.rendering, evidence.frame
    own = rendering.light.max(axis=2).astype(float) - rendering.reflected
    fallen = steps(frame.light.max(axis=2)) - steps(own)
    expected = np.zeros(frame.shape, int)
    for cause, loss in (
        (Cause.CURVE_HIGH, Loss.CLIPPED_CURVE),
        (Cause.WIDE_OPEN, Loss.CLIPPED_ZONE),
        (Cause.GAMUT, Loss.CLIPPED_GAMUT),
    ):
        expected |= np.where((rendering.why & cause != 0) & (fallen >= 1), int(loss), 0)
    sure = np.abs(fallen - 1) > 1e-3
    codes, lost = evidence.clipped
    assert (codes == expected)[sure].all()
    assert expected.any()
    assert lost == pytest.approx(fallen[expected != 0].sum(), rel=1e-4)


def test_floors(evidence):
    rendering = evidence.rendering
    reference = evidence.frame.light @ WEIGHTS
    seen = rendering.light @ WEIGHTS
    own = seen - rendering.reflected
    own_off, seen_off = (np.abs(steps(reference) - steps(each)) for each in (own, seen))
    by = {
        Loss.CRUSHED_CURVE: (rendering.why & Cause.CURVE_LOW != 0) & (own_off >= 1),
        Loss.CRUSHED_LEAK: (rendering.why & Cause.ALL_FLOOR != 0) & (own_off >= 1),
    }
    panel = by[Loss.CRUSHED_CURVE] | by[Loss.CRUSHED_LEAK]
    floor = rendering.why & (Cause.CURVE_LOW | Cause.ALL_FLOOR) != 0
    above, over = steps(own) - steps(0), steps(seen) - steps(rendering.reflected)
    by[Loss.CRUSHED_ROOM] = (floor | ((above >= 1) & (over < 1))) & ~panel & (seen_off >= 1)
    expected = sum(np.where(mask & (reference > 0), int(loss), 0) for loss, mask in by.items())
    sure = np.min([np.abs(each - 1) for each in (own_off, seen_off, above, over)], axis=0) > 2e-3
    assert (evidence.crushed == expected)[sure].all()
    assert all((expected & loss).any() for loss in by)


@pytest.mark.parametrize("distance", [0.5, 3.2, 9.0])
def test_detail_and_regions(distance):
    evidence = evidence_of(distance_h=distance)
    step = np.pi / 1800 * distance * evidence.frame.shape[0]  # physics §8
    size = max(3, 2 * int(np.floor((step - 1) / 2 + 0.5)) + 1)

    def box_mean(image):
        return uniform_filter(image.astype(float), size, mode="nearest")

    maps = (evidence.reference, evidence.asked, evidence.own, evidence.seen)
    contrast = [np.abs(each - box_mean(each)) for each in maps]

    def lost(kept):
        return (contrast[0] >= 1) & (kept < 1) & (contrast[0] - kept >= ROUNDING_STEPS)

    around = box_mean(evidence.luminance)
    expected = np.where(around >= 203, int(Detail.HIGHLIGHT), 0)
    expected |= np.where(around <= 1, int(Detail.SHADOW), 0)
    expected |= np.where(contrast[0] >= 1, int(Detail.VISIBLE), 0)
    cause = np.where(lost(contrast[2]), Detail.LOST_DIMMING, Detail.LOST_ROOM)
    cause = np.where(lost(contrast[1]), Detail.LOST_CURVE, cause)
    expected |= np.where(lost(contrast[3]), cause, 0)
    sure = np.min([np.abs(each - 1) for each in contrast], axis=0) > 1e-6
    codes, total = evidence.detail
    assert (codes == expected)[sure].mean() == 1
    assert all((expected & code).any() for code in Detail)
    gone = (codes & 56) != 0
    assert total == pytest.approx((contrast[0] - contrast[3])[gone].sum(), rel=1e-6)


def test_cells_of_lift():
    evidence = evidence_of(shape=(400, 300))
    rendering = evidence.rendering
    asked = rendering.asked @ WEIGHTS
    own = rendering.light @ WEIGHTS - rendering.reflected
    lift = np.where(rendering.why & Cause.FLOOR != 0, np.maximum(own - asked, 0), 0)
    step = np.pi / 1800 * 3.2 * 400
    count = [round(extent / step) for extent in (400, 300)]
    rows, columns = (np.arange(e) * n // e for n, e in zip(count, (400, 300), strict=True))
    cell = rows[:, None] * count[1] + columns[None, :]
    pixels = np.bincount(cell.ravel())
    for mine, image in zip(lift_on_cells(evidence), (asked, lift), strict=True):
        expected = np.bincount(cell.ravel(), image.ravel()) / pixels
        assert np.allclose(mine, expected.reshape(count), rtol=1e-5, atol=1e-7)


def test_halo_steps_by_a_sum_over_every_pair_of_cells():
    """CIE 146:2002 on cells of 0.1°, summed cell by cell instead of by Fourier transform."""
    rng = np.random.default_rng(8)
    asked, lift = 10 ** rng.uniform(-3, 2, (2, 7, 9))
    viewer = Viewer(age=60, pigment=1.0)

    def share(down, across):
        angle = np.hypot(down, across) / 10
        ageing = 1 + (60 / 62.5) ** 4
        veil = 10 / angle**3 + (5 / angle**2 + 0.1 / angle) * ageing + 0.0025
        return np.where(angle <= 100, veil * np.radians(0.1) ** 2, 0)

    down, across = np.meshgrid(np.arange(0, 1001), np.arange(1, 1001), indexing="ij")
    kept = 1 - 4 * share(down, across).sum()

    def veiled(image):
        out = np.zeros_like(image)
        for i, j in np.ndindex(image.shape):
            for k, m in np.ndindex(image.shape):
                part = kept if (i, j) == (k, m) else share(i - k, j - m)
                out[i, j] += part * image[k, m]
        return out

    evidence = evidence_of(reflected=0.0)
    mine = halo_steps(asked, lift, Evidence(evidence.frame, evidence.rendering, viewer))
    assert np.allclose(mine, steps(veiled(asked + lift)) - steps(veiled(asked)), atol=1e-6)


def test_colour_maps(evidence):
    reference, light = (
        each.astype(float) for each in (evidence.frame.light, evidence.rendering.light)
    )
    to_lms = np.array([[1688, 2146, 262], [683, 2951, 462], [99, 309, 3688]]) / 4096  # BT.2100
    to_itp = np.array([[2048, 2048, 0], [3305, -6806.5, 3501.5], [17933, -17390, -543]]) / 4096

    def difference(first, second):
        fallen = (steps(first @ to_lms.T) - steps(second @ to_lms.T)) @ to_itp.T
        size = np.sqrt((fallen**2).sum(axis=2))
        return np.where(size < ROUNDING_STEPS, 0, size)

    wanted, shown = reference @ WEIGHTS, light @ WEIGHTS
    scaled = light * (wanted / shown)[..., None]
    whole, hue = colour_steps(evidence)
    assert np.abs(whole - difference(reference, light)).max() < 0.012
    assert np.abs(hue - difference(reference, scaled)).max() < 0.012


def test_things_are_counted_as_by_scipy(evidence):
    from emulate.findings.dimmed import small_things

    starved = evidence.clipped[0] & Loss.CLIPPED_ZONE != 0
    labels, count = label(starved, np.ones((3, 3)))
    most = 10 * np.pi / 1800 * 3.2 * evidence.frame.shape[0]
    small = [
        k
        for k in range(1, count + 1)
        if max(np.ptp(axis) + 1 for axis in np.nonzero(labels == k)) <= most
    ]
    mask, found = small_things(evidence)
    assert found == len(small) > 0
    assert ((mask != 0) == np.isin(labels, small)).all()


def test_nothing_depends_on_the_number_of_threads():
    threads = numba.get_num_threads()
    results = []
    for count in (1, threads):
        numba.set_num_threads(count)
        evidence = evidence_of()
        results.append(
            [
                evidence.clipped[0].tobytes(),
                evidence.clipped[1],
                evidence.crushed.tobytes(),
                evidence.detail[0].tobytes(),
                evidence.detail[1],
                np.stack(lift_on_cells(evidence)).tobytes(),
                colour_steps(evidence).tobytes(),
            ]
        )
    numba.set_num_threads(threads)
    assert results[0] == results[1]


def test_steps_from_light_is_the_standard_s():
    assert np.allclose(steps_from_light([0, 1, 100]), steps([0, 1, 100]), rtol=1e-12)
