"""The fused twin gives what the plain recipe gives, and what plain numpy gives.

Bounds (the twin's own promise): light within 1e-4 of itself; a pixel is counted alike where what
decides is not within 1e-5 of its threshold, share of light, which is 1e-3 visible steps.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numba
import numpy as np
import pytest
from scipy.ndimage import uniform_filter

from emulate.colorimetry import P3
from emulate.findings.evidence import LOST, Evidence
from emulate.findings.fluctuation import glance_of
from emulate.findings.measure import findings_of, measure
from emulate.findings.twin import Twin, evidence_of
from emulate.frames.frame import CodePicture, Encoding, Frame
from emulate.frames.ycbcr import pq_picture
from emulate.fused.lamps import lamps_of, step_for
from emulate.fused.sketch import levels_of
from emulate.fused.workspace import Workspace
from emulate.panel.cell import Angles, Cell
from emulate.panel.curves import hard_clip
from emulate.panel.limiter import Limiter
from emulate.panel.panel import Panel
from emulate.panel.policy import source_peak
from emulate.panel.primaries import Primaries
from emulate.panel.spread import Spread, backlight
from emulate.panel.surface import Surface
from emulate.panel.tone import Tone, ToneReading
from emulate.panel.tracking import Tracking
from emulate.panel.uniformity import Uniformity
from emulate.panel.zones import SelfEmissive, Zones
from emulate.rendering import Rendering, advance, render, render_plainly
from emulate.sight import Viewer
from emulate.values import numbers

LIGHT = 1e-4  # share of light
STEPS = 1e-3  # visible steps
SHAPE = (158, 262)  # no multiple of anything
FAR = Viewer(distance_h=9.0)  # so that a cell of 0.1° is some pixels wide
CURVE = ToneReading(
    0.0,
    numbers([0, 0.1, 0.25, 0.5, 0.75, 0.85, 1.0]),
    numbers([0.02, 0.3, 5.15, 92.2, 500.0, 640.0, 640.0]),
)
TWO = Spread(numbers([0.85, 0.15]), numbers([0.06, 0.35]))


def scene(seed: int = 1, shape: tuple[int, int] = SHAPE) -> np.ndarray:
    """Smooth light over eight decades with grain, colour, black and small lamps."""
    rng = np.random.default_rng(seed)
    base = uniform_filter(rng.uniform(-14, 14, shape), 15)
    base = (base - base.min()) / np.ptp(base) * 6.3 - 2.6
    light = 10 ** (base[..., None] + rng.normal(0, 0.02, (*shape, 3)))
    light *= 1 + 0.6 * np.sin(np.arange(shape[1]) / 17)[None, :, None] * [1, -0.5, 0.2]
    light[: shape[0] // 5] = 0
    for _ in range(12):
        y, x = rng.integers(0, shape[0] - 4), rng.integers(0, shape[1] - 4)
        light[y : y + 3, x : x + 3] = 4000 * rng.random(3)
    return np.clip(light, 0, 9000).astype(np.float32)


def coded(chroma: str = "420", bits: int = 10, seed: int = 1, **rest: object) -> Frame:
    picture = pq_picture(scene(seed), bits=bits, chroma=chroma)
    return Frame(picture, "coded", picture.encoding, **rest)  # type: ignore[arg-type]


def panel_of(**effects: object) -> Panel:
    """Every effect at once, but what the caller says otherwise."""
    whole: dict[str, object] = {
        "tone": Tone(curves=(CURVE,)),
        "primaries": Primaries(*P3, white=(0.310, 0.325)),
        "tracking": Tracking(*(numbers(v) for v in ([0.1, 100.0], [1, 1.02], [1, 1], [0.9, 1]))),
        "zones": Zones(4, 6, peak_weight=0.7, gamma=0.8, reach=0.3),
        "spread": TWO,
        "limiter": Limiter(numbers([0, 0.2, 1]), numbers([1, 0.9, 0.5])),
        "cell": Cell(3000.0, 0.8),
        "angles": Angles(numbers([0.0, 60.0]), numbers([3000, 800]), numbers([1, 0.5])),
        "uniformity": Uniformity(numbers([[0.9, 1, 0.9], [0.95, 1, 0.95], [0.9, 1, 0.9]])),
        "surface": Surface(0.01),
    }
    return Panel("one", 900.0, **(whole | effects))  # type: ignore[arg-type]


PANELS = {
    "everything": panel_of(),
    "clipping limiter": panel_of(
        limiter=Limiter(numbers([0, 1]), numbers([1, 0.3]), acts="clips"), cell=Cell(1000.0)
    ),
    "by channel": panel_of(tone=Tone("per_channel", curves=(CURVE,))),
    "by luminance": panel_of(tone=Tone("luminance", curves=(CURVE,))),
    "by frame": panel_of(tone=Tone(policy="by_frame")),
    "self-emissive": panel_of(zones=SelfEmissive(), spread=Spread()),
    "bare": Panel("bare", 500.0),
    "sharp zones": panel_of(zones=Zones(9, 13, grain_px=3), spread=Spread()),
}


def assert_same_light(twin: Rendering, plain: Rendering) -> None:
    for name in ("light", "asked", "backlight"):
        ours, theirs = getattr(twin, name), getattr(plain, name)
        np.testing.assert_allclose(ours, theirs, rtol=LIGHT, atol=1e-7 * 900, err_msg=name)
    np.testing.assert_allclose(twin.drive, plain.drive, rtol=LIGHT, atol=1e-9)
    assert twin.gain == pytest.approx(plain.gain, rel=LIGHT)
    assert (twin.why != plain.why).mean() < 1e-4  # within rounding of a threshold


@pytest.mark.parametrize("name", PANELS)
def test_light_is_the_plain_recipe_s(name: str) -> None:
    frame = coded()
    twin = render(frame, PANELS[name], angle=20.0, room_lux=30.0)
    plain = render_plainly(frame, PANELS[name], angle=20.0, room_lux=30.0)
    assert twin.sketch is not None
    assert plain.sketch is None
    assert_same_light(twin, plain)


@pytest.mark.parametrize("name", PANELS)
def test_light_in_arrays_goes_the_same_way(name: str) -> None:
    light = scene()
    light[40:44, 50:54] = 16000.0  # brighter than any signal
    frame, panel = Frame.from_light(light, "light"), PANELS[name]
    twin, plain = render(frame, panel), render_plainly(frame, panel)
    assert twin.sketch is not None
    ours, theirs = (measure(frame, each, viewer=FAR) for each in (twin, plain))
    for key, finding in theirs.items():
        assert ours[key].value == pytest.approx(finding.value, rel=3e-3, abs=1e-3, nan_ok=True), key
    assert_same_light(twin, plain)


def test_a_sun_beyond_the_tables_goes_the_plain_way() -> None:
    """A file of light may hold more than any signal does."""
    light = scene()
    light[40:44, 50:54] = 60000.0
    assert render(Frame.from_light(light), PANELS["bare"]).sketch is None


@pytest.mark.parametrize("chroma", ["420", "422", "444", "rgb"])
@pytest.mark.parametrize("bits", [10, 12])
def test_codes_of_every_layout(chroma: str, bits: int) -> None:
    frame = coded(chroma, bits)
    assert_same_light(render(frame, PANELS["bare"]), render_plainly(frame, PANELS["bare"]))


@pytest.mark.parametrize("siting", ["left", "centre", "topleft"])
@pytest.mark.parametrize("transfer", ["pq", "sdr", "hlg", "linear"])
def test_codes_of_every_meaning(siting: str, transfer: str) -> None:
    """Eight-bit full-range BT.709 codes drawn at random; hlg and linear light take the long way."""
    rng = np.random.default_rng(3)
    planes = [rng.integers(0, 256, shape, np.uint16) for shape in ((40, 60), (20, 30), (20, 30))]
    encoding = Encoding(transfer, "bt709", "bt709", True, 8, siting, 1000.0)  # type: ignore[arg-type]
    frame = Frame(CodePicture(*planes, encoding), "noise", encoding)
    assert_same_light(
        render(frame, PANELS["everything"]), render_plainly(frame, PANELS["everything"])
    )


def test_planes_with_padded_lines_are_read_in_place() -> None:
    whole = pq_picture(scene())
    wide = [np.full((p.shape[0], p.shape[1] + 37), 999, np.uint16) for p in _planes(whole)]
    views = []
    for plane, room in zip(_planes(whole), wide, strict=True):
        room[:, : plane.shape[1]] = plane
        views.append(room[:, : plane.shape[1]])
    padded = Frame(CodePicture(*views, whole.encoding), "padded", whole.encoding)
    straight = Frame(whole, "straight", whole.encoding)
    first, second = (render(frame, PANELS["bare"]) for frame in (padded, straight))
    assert first.light.tobytes() == second.light.tobytes()


def _planes(picture: CodePicture) -> tuple[np.ndarray, ...]:
    return picture.first, picture.second, picture.third


def sure(evidence: Evidence) -> dict[str, np.ndarray]:
    """Where what decides is not within STEPS of a threshold, by map: worked out in numpy."""
    reference, own, seen, asked = (
        np.asarray(image, np.float64)
        for image in (evidence.reference, evidence.own, evidence.seen, evidence.asked)
    )
    margin = np.min(
        [np.abs(np.abs(reference - each) - 1) for each in (own, seen)]
        + [np.abs(own - 7.31e-7 * 720 - 1), np.abs(seen - seen.min() - 1)],
        axis=0,
    )
    box = 2 * evidence.detail_reach + 1
    maps = (reference, asked, own, seen)
    fine = [np.abs(each - uniform_filter(each, box, mode="nearest")) for each in maps]
    near = np.min([np.abs(each - 1) for each in fine], axis=0)
    falls = np.min([np.abs(fine[0] - each - 0.01) for each in fine[1:]], axis=0)
    region = uniform_filter(np.asarray(evidence.luminance, np.float64), box, mode="nearest")
    regions = np.min([np.abs(region / bound - 1) for bound in (1.0, 203.0)], axis=0)
    return {
        "loss": margin > 5 * STEPS,
        "detail": (np.minimum(near, falls) > 5 * STEPS) & (regions > 1e-5),
    }


@pytest.mark.parametrize("lux", [0.0, 40.0])
@pytest.mark.parametrize("name", ["everything", "clipping limiter", "self-emissive", "bare"])
def test_findings_are_the_plain_ones(name: str, lux: float) -> None:
    frame = coded(active=(11, SHAPE[0] - 9, 0, SHAPE[1]))
    viewer = FAR
    twin = evidence_of(frame, render(frame, PANELS[name], room_lux=lux), viewer)
    plain = Evidence(frame, render_plainly(frame, PANELS[name], room_lux=lux), viewer)
    assert isinstance(twin, Twin)
    certain = sure(plain)
    loss = plain.clipped[0] | plain.crushed
    top = np.abs(_fallen(plain) - 1) > 5 * STEPS
    assert np.array_equal(twin.clipped[0][certain["loss"] & top], loss[certain["loss"] & top])
    assert np.array_equal(twin.detail[0][certain["detail"]], plain.detail[0][certain["detail"]])
    assert (certain["detail"].mean(), certain["loss"].mean()) > (0.9, 0.9)
    assert (loss != 0).any()
    assert (plain.detail[0] & LOST).any() or name == "bare"
    ours, theirs = findings_of(twin), findings_of(plain)
    assert list(ours) == list(theirs)
    doubtful = 1.0 - min(mask.mean() for mask in certain.values())
    for key, finding in theirs.items():
        close = {"rel": 3e-3, "abs": 3 * doubtful + 1e-4, "nan_ok": True}
        assert ours[key].value == pytest.approx(finding.value, **close), key


def _fallen(evidence: Evidence) -> np.ndarray:
    """J lost by the largest channel, in numpy."""
    from emulate.sight import steps_from_light

    light = evidence.rendering.light.astype(np.float64) - evidence.rendering.reflected
    return steps_from_light(evidence.frame.light.max(axis=2)) - steps_from_light(light.max(axis=2))


def test_cells_levels_and_colours_are_the_plain_ones() -> None:
    frame, panel = coded(), PANELS["everything"]
    twin = evidence_of(frame, render(frame, panel), FAR)
    plain = Evidence(frame, render_plainly(frame, panel), FAR)
    assert isinstance(twin, Twin)
    for ours, theirs in zip(twin.lift, plain.lift, strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=LIGHT, atol=1e-6)
    np.testing.assert_allclose(twin.glances, plain.glances, rtol=LIGHT, atol=1e-6)
    assert twin.levels.brightest == pytest.approx(plain.levels.brightest, rel=1e-5)
    assert twin.levels.mean == pytest.approx(plain.levels.mean, rel=1e-5)
    percents = (1.0, 25.0, 50.0, 90.0, 99.0, 99.99, 100.0)
    expected = np.percentile(frame.light.max(axis=2), percents)
    np.testing.assert_allclose(twin.levels.percentiles(percents), expected, rtol=1e-4, atol=2e-5)
    assert twin.mean_level == pytest.approx(plain.mean_level, rel=1e-5)
    np.testing.assert_allclose(twin.off[0], plain.off[0], atol=0.05, rtol=2.0**-11)
    for ours, theirs in zip(twin.off[1], plain.off[1], strict=True):
        np.testing.assert_allclose(ours, theirs, rtol=2e-3, atol=2e-3)


def test_a_clip_moves_alike() -> None:
    """Drives, gain, peak and what fluctuates, over frames that change."""
    panel = panel_of(
        tone=Tone(policy="by_frame"),
        zones=Zones(4, 6, attack_s=0.05, decay_s=0.2, latency_frames=1),
        limiter=Limiter(numbers([0, 1]), numbers([1, 0.4]), attack_s=0.3, decay_s=0.5),
    )
    twin = plain = None
    with Workspace(2) as work:
        for i in range(3):
            frame = coded(seed=1 + i // 2, time_s=i / 24)
            first = render(frame, panel, state=twin, work=work)
            second = render_plainly(frame, panel, state=plain)
            assert_same_light(first, second)
            ours = evidence_of(frame, first, FAR, mapping=False, colour=False).glances
            theirs = Evidence(frame, second, FAR).glances
            np.testing.assert_allclose(ours, theirs, rtol=5e-4, atol=1e-5)
            carried = advance(frame, panel, state=twin, work=work)
            assert carried.drive.tobytes() == first.state.drive.tobytes()
            twin, plain = first.state, second.state
            assert twin.peak == pytest.approx(plain.peak, rel=LIGHT)
    glance_of(evidence_of(frame, first, FAR))


@pytest.fixture
def threads() -> Iterator[None]:
    before = numba.get_num_threads()
    yield
    numba.set_num_threads(before)


@pytest.mark.usefixtures("threads")
def test_one_thread_and_two_give_the_same_bytes() -> None:
    frame, found = coded(), []
    for count in (1, 2):
        with Workspace(count) as work:
            rendering = render(frame, PANELS["by frame"], work=work)
            twin = evidence_of(frame, rendering, FAR)
            assert isinstance(twin, Twin)
            parts = [
                rendering.light,
                rendering.why,
                rendering.drive,
                twin.clipped[0],
                twin.detail[0],
            ]
            parts += [twin.glances, twin.found.ask.tallies, twin.found.counted.levels, twin.off[0]]
            found.append([np.asarray(part).tobytes() for part in parts])
    assert found[0] == found[1]


@pytest.mark.parametrize("sigma", [0.0, 0.004, 0.02, 0.06, 0.35])
@pytest.mark.parametrize("grid", [(1, 1), (6, 10), (30, 50)])
def test_the_backlight_is_within_its_bounds(sigma: float, grid: tuple[int, int]) -> None:
    """Physics §5.3: |B − B_exact| ≤ 1e-3·B_exact + 1e-7·L_open; here a tenth of the first."""
    rng = np.random.default_rng(5)
    drive = np.where(rng.random(grid) < 0.2, rng.random(grid), 0.0)
    drive[0, 0] = 1.0
    shape = (541, 963)
    spread = Spread(numbers([0.8, 0.2]), numbers([sigma, 0.2]))
    with Workspace(2) as work:
        lamps = lamps_of(drive, spread, shape, 1000.0, work)
    exact = backlight(drive, spread, shape, 1000.0).astype(np.float64)
    ours = _interpolated(lamps, shape)
    assert (np.abs(ours - exact) <= 1e-4 * exact + 1e-7 * 1000).all()
    assert step_for(0.06, (2160, 3840)) == 16


def _interpolated(lamps, shape: tuple[int, int]) -> np.ndarray:
    """Six points each way, by numpy."""
    if lamps.step == 1:
        return lamps.grid.astype(np.float64)

    def mix(extent: int, points: int) -> np.ndarray:
        out = np.zeros((extent, points))
        for i in range(extent):
            first = i // lamps.step + 4 - 2
            out[i, first : first + 6] = lamps.weights[i % lamps.step]
        return out

    grid = lamps.grid.astype(np.float64)
    return mix(shape[0], grid.shape[0]) @ grid @ mix(shape[1], grid.shape[1]).T


def test_levels_find_the_source_peak() -> None:
    frame = coded(active=(5, 140, 8, 250))
    with Workspace(1) as work:
        assert levels_of(frame, work).at_share(0.9999) == pytest.approx(
            source_peak(frame), rel=LIGHT
        )


def test_a_kink_of_the_curve_is_met_exactly() -> None:
    """Grey around the knee of a hard clip: no table rounds its corner."""
    grey = np.repeat(np.linspace(480, 520, 64 * 64).reshape(64, 64, 1), 3, axis=2)
    picture = pq_picture(grey, bits=12, chroma="rgb")
    frame = Frame(picture, "knee", picture.encoding)
    panel = Panel("clip", 1000.0)
    rendering = render(frame, panel, policy=hard_clip(500.0))
    expected = np.minimum(frame.light, 500.0)
    np.testing.assert_allclose(rendering.asked, expected, rtol=1e-5)


def test_pictures_come_when_they_are_asked_for_and_replace_keeps_them() -> None:
    frame = coded()
    rendering = render(frame, PANELS["bare"])
    assert "light" not in rendering.__dict__
    assert rendering.shape == SHAPE
    changed = replace(rendering, light=frame.light)
    assert changed.sketch is None
    assert changed.light is not rendering.light
    with pytest.raises(AttributeError, match="no_such"):
        rendering.no_such  # noqa: B018
    assert measure(frame, changed)["clipped.area"].value == 0.0


def test_light_kept_from_the_first_pass_is_the_same() -> None:
    frame, panel = coded(), PANELS["everything"]
    apart = render(frame, panel)
    with Workspace(2, keeps=True) as work:
        for _ in range(2):
            kept = render(frame, panel, work=work)
            assert kept.light.tobytes() == apart.light.tobytes()
            assert kept.backlight.tobytes() == apart.backlight.tobytes()
        first = kept.light
        assert render(frame, panel, work=work).light.base is first.base
    assert kept.asked.tobytes() == apart.asked.tobytes()


def test_a_workspace_is_refused_without_threads() -> None:
    from emulate.errors import RequestError

    with pytest.raises(RequestError, match="threads = 0"):
        Workspace(0)
