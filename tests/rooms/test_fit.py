"""The fit: each effect against a simulator written apart, and what is said where it cannot tell."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from emulate import fit_panel, load_panel, render, save_panel
from emulate.errors import ReadingError, RequestError
from emulate.panel.cell import Cell
from emulate.panel.fit.drift import steadied
from emulate.panel.fit.greys import whole_screen
from emulate.panel.fit.joint import Task, fit_source, groups_of
from emulate.panel.fit.mosaic import mosaic_of, seen_by
from emulate.panel.fit.noise import Noise, noise_of
from emulate.panel.fit.pace import fit_pace
from emulate.panel.fit.record import digest_of
from emulate.panel.fit.source import Solution, _narrow_first
from emulate.panel.fit.uniformity import uniformity_from_photograph
from emulate.panel.panel import Panel
from emulate.panel.uniformity import Uniformity
from emulate.panel.zones import SelfEmissive, Zones, statistics
from emulate.readings.patterns.boxes import step
from emulate.readings.patterns.plan import pattern_set
from emulate.readings.readings import Reading, Readings, Source, Trace
from emulate.readings.stimulus import Patch, Stimulus, frame_of, pixel_at
from emulate.transfer import LUMINANCE_2020
from tests.twins.drawn import compared, drawn
from tests.twins.simulator import Truth, session, shown, traced, zone_drive

SHAPE = (180, 320)
LIGHT = ("window", "black", "checker", "spill", "grow", "crawl")


def plan(*families: str, shape=SHAPE, peaks=(10000,)):
    return pattern_set(shape=shape, peaks=peaks, families=families).looks


def truth(**numbers) -> Truth:
    plain = {"a": 0.7, "gamma": 0.8, "w": 0.2, "omega": (0.8, 0.2), "sigma": (0.09, 0.4),
             "load": (0.0, 0.3, 1.0), "gain": (1.0, 0.95, 0.5), "CR": 3000.0}  # fmt: skip
    return Truth(1200.0, 6, 16, **(plain | numbers))


def read(t: Truth, *families: str, noise=0.02, seed=1, **more) -> Readings:
    return session(t, plan(*families, **more), np.random.default_rng(seed), noise)


@pytest.fixture(scope="module")
def light_session() -> Readings:
    return read(truth(), *LIGHT)


@pytest.fixture(scope="module")
def light_panel(light_session) -> Panel:
    return fit_panel(light_session, name="of light", zones=(16, 6))


# --- what zones see of a stimulus ---


@pytest.mark.parametrize("seed", range(4))
def test_a_mosaic_is_seen_as_the_painted_picture_is(seed) -> None:
    """Random rectangles, one in each field, against the kernel that walks over pixels."""
    rng = np.random.default_rng(seed)
    patches = tuple(
        Patch(top + int(rng.integers(0, 10)), left + int(rng.integers(0, 10)),
              int(rng.integers(1, 20)), int(rng.integers(1, 30)), tuple(rng.random(3)))
        for top in (0, 30, 60)
        for left in (0, 40, 80, 120)
    )  # fmt: skip
    stimulus = Stimulus("patch", "random", (90, 160), patches, background=(0.1, 0.2, 0.0))
    zones = Zones(int(rng.integers(1, 9)), int(rng.integers(1, 17)), grain_px=int(seed + 1))
    mine = seen_by(mosaic_of(stimulus), zones, 700.0)
    painted = statistics(np.minimum(frame_of(stimulus).light, np.float32(700.0)), 700.0, zones)
    np.testing.assert_allclose(mine.peak, painted.peak, rtol=2e-5)
    np.testing.assert_allclose(mine.mean, painted.mean, rtol=2e-5)


# --- the simulator itself ---


@pytest.mark.parametrize("seed", range(3))
def test_the_simulator_and_the_recipe_agree(seed) -> None:
    """Written apart from the same printed model: light under the meter, for one of each kind."""
    t = drawn(np.random.default_rng(seed))
    panel = _panel_of(t)
    kinds = {look.stimulus.kind: look for look in plan(*LIGHT, "ramp", "primary")}
    for look in kinds.values():
        t.seen.clear()
        place = pixel_at(look.spot, look.stimulus.shape)
        whole = render(frame_of(look.stimulus), panel).light[place]
        expected = shown(t, look.stimulus, look.spot)[1]
        assert float(whole @ LUMINANCE_2020) == pytest.approx(expected, rel=3e-4, abs=1e-6)


def _panel_of(t: Truth) -> Panel:
    """The same panel for the recipe; colour and tone left out, they have tests of their own."""
    from emulate.panel.limiter import Limiter
    from emulate.panel.spread import Spread
    from emulate.values import numbers

    t.tone = t.q = t.U = None
    t.red, t.green, t.blue, t.white = (0.708, 0.292), (0.17, 0.797), (0.131, 0.046), (0.3127, 0.329)
    return Panel(
        "drawn",
        t.L_open,
        zones=Zones(t.rows, t.columns, t.n, t.a, t.gamma, reach=t.w),
        spread=Spread(numbers(t.omega), numbers(t.sigma)),
        limiter=Limiter(numbers(t.load), numbers(t.gain)),
        cell=Cell(t.CR),
    )


# --- the light source ---


def test_without_noise_the_truth_is_found() -> None:
    """Exact readings give exact numbers: the model of the fit is the printed one."""
    t = truth(load=(0.0, 0.04, 0.1, 0.25, 0.5, 1.0), gain=(1.0, 0.99, 0.98, 0.95, 0.8, 0.5))
    readings = session(t, plan(*LIGHT), np.random.default_rng(0), 0.0, floor=0.0)
    panel = fit_panel(readings, zones=(16, 6), noise=0.01)
    assert panel.open_cdm2 == pytest.approx(t.L_open, rel=1e-4)
    assert panel.cell.contrast == pytest.approx(t.CR, rel=1e-3)
    np.testing.assert_allclose(panel.limiter.gain, t.gain, rtol=1e-3)
    np.testing.assert_allclose(panel.spread.sigma_h, t.sigma, rtol=1e-3)
    np.testing.assert_allclose(panel.spread.weight, t.omega, rtol=2e-3)
    zones = panel.zones
    assert isinstance(zones, Zones)
    assert (zones.peak_weight, zones.gamma, zones.reach) == pytest.approx((0.7, 0.8, 0.2), rel=2e-3)


def test_removing_the_spill_leaves_spread_undetermined(light_session, light_panel) -> None:
    assert "spread" not in light_panel.fit["undetermined"]
    panel = fit_panel(light_session.without("spill"), zones=(16, 6))
    assert "no light was read beside a lit box" in panel.fit["undetermined"]["spread"]
    assert panel.spread.sigma_h.tolist() == [0.0], "the effect stays its identity"
    assert panel.cell.contrast == np.inf
    assert not [key for key in panel.fit["interval"] if key.startswith(("spread", "cell"))]
    assert any(c.about == "spread" and "undetermined" in c.text for c in panel.caveats)


def test_without_a_growing_box_drive_is_undetermined(light_session) -> None:
    panel = fit_panel(light_session.without("grow", "crawl"), zones=(16, 6))
    assert {"zones.peak_weight", "zones.gamma"} <= set(panel.fit["undetermined"])
    assert isinstance(panel.zones, Zones)
    assert (panel.zones.peak_weight, panel.zones.gamma) == (1.0, 1.0)


def test_small_windows_alone_leave_the_limiter_at_full_load_undetermined(light_session) -> None:
    small = [r for r in light_session if not (r.stimulus.kind in ("window", "checker")
             and r.stimulus.value > 0.25)]  # fmt: skip
    panel = fit_panel(replace(light_session, readings=tuple(small)), zones=(16, 6))
    assert "limiter.gain#6" not in panel.fit["interval"]


def test_a_grey_on_the_whole_screen_is_said_to_come_out_brighter() -> None:
    """By as much as the simulator shows it brighter than in the ramp's window; a slide that was
    read in the middle is set beside what the panel shows."""
    t = truth(gamma=1.0)
    ramp = read(t, "ramp", noise=0.0, peaks=(1000,))
    lit = [r for r in ramp.of("ramp") if r.luminance >= 1]
    whole = [replace(r.stimulus, background=r.stimulus.level, patches=()) for r in lit]
    ratio = max(shown(t, s, (0.5, 0.5))[1] / r.luminance for s, r in zip(whole, lit, strict=True))
    readings = read(t, "window", "checker", "spill", noise=1e-4).joined(ramp)
    panel = fit_panel(readings, zones=(16, 6))
    why = panel.fit["undetermined"]["cell.compensation"]
    assert ratio > 1.02
    assert float(re.search(r"up to (\d+)% brighter", why)[1]) == pytest.approx(
        100 * (ratio - 1), abs=1.5
    )
    assert "pattern uniformity_100" in why
    slides = read(t, "uniformity", noise=0.0).of("uniformity")
    why = whole_screen(panel, replace(readings, readings=readings.readings + slides))
    assert "uniformity_100 reads" in why
    assert "pattern" not in why


def test_the_limiter_never_rises(light_panel) -> None:
    assert (np.diff(light_panel.limiter.gain) <= 0).all()
    assert light_panel.limiter.gain[0] == 1.0


def test_pixels_that_are_their_own_light_have_only_a_limiter() -> None:
    t = Truth(900.0, 1, 1, self_emissive=True, load=(0.0, 0.04, 0.1, 0.25, 0.5, 1.0),
              gain=(1.0, 1.0, 0.95, 0.8, 0.5, 0.25))  # fmt: skip
    panel = fit_panel(read(t, *LIGHT))
    assert isinstance(panel.zones, SelfEmissive)
    low, high = panel.fit["interval"]["light.open_cdm2"]
    assert low < 900 < high
    np.testing.assert_allclose(panel.limiter.gain, t.gain, rtol=0.06)
    assert not [key for key in panel.fit["undetermined"] if key.startswith(("spread", "zones"))]


def test_one_lamp_behind_all_has_a_contrast_and_no_spread() -> None:
    """It follows the peak, so white asks s = 1 of it, and 1 to any power is 1: no word of γ.

    Boxes that hold no whole grain would ask for less; they are left out.
    """
    t = Truth(400.0, 1, 1, a=1.0, omega=(1.0,), sigma=(0.3,), CR=1200.0)
    readings = read(t, *LIGHT).without("crawl")
    whole = [r for r in readings if r.stimulus.kind != "grow" or r.stimulus.value >= 0.05]
    panel = fit_panel(replace(readings, readings=tuple(whole)), zones=(1, 1))
    low, high = panel.fit["interval"]["cell.contrast"]
    assert low < 1200 < high
    assert panel.spread.sigma_h.tolist() == [0.0]
    assert "zones.gamma" in panel.fit["undetermined"]
    assert isinstance(panel.zones, Zones)
    assert panel.zones.gamma == 1.0


def test_a_model_that_misses_says_so(light_session) -> None:
    panel = fit_panel(light_session.without("crawl"), zones=(5, 3))
    assert panel.fit["misfit"] > 4
    assert any("misses the readings" in caveat.text for caveat in panel.caveats)


def test_a_limiter_given_up_is_not_said_to_be_unread(light_session) -> None:
    """Windows fall, but readings four times too bright and too dark by turns leave no gain sure."""
    torn = tuple(
        replace(r, luminance=r.luminance * 4.0 ** (-1) ** n, xyz=None)
        for n, r in enumerate(light_session.of("window"))
    )
    panel = fit_panel(replace(light_session, readings=torn), zones=(16, 6), noise=0.02)
    why = panel.fit["undetermined"]["limiter.gain#6"]
    assert why.startswith("pictures that load it were read")
    assert "since the model misses the readings by" in why


def test_the_narrower_width_comes_first() -> None:
    """Whichever way round the search ended: the numbers and what they do together are the same."""
    free = ("sigma_1", "sigma_2", "weight_2")
    covariance = np.array([[4.0, 1.0, 0.5], [1.0, 9.0, -0.2], [0.5, -0.2, 1.0]])
    values = {"sigma_1": 0.5, "sigma_2": -2.0, "weight_2": 1.0}
    turned = _narrow_first(Solution(values, free, covariance, 1.0, 1))
    assert turned.values == {"sigma_1": -2.0, "sigma_2": 0.5, "weight_2": -1.0}
    order = [turned.free.index(name) for name in free]
    expected = [[9.0, 1.0, 0.2], [1.0, 4.0, -0.5], [0.2, -0.5, 1.0]]
    assert turned.covariance[np.ix_(order, order)].tolist() == expected


def test_the_same_readings_give_the_same_bytes(light_session, light_panel, tmp_path) -> None:
    again = fit_panel(light_session, name="of light", zones=(16, 6))
    texts = [save_panel(p, tmp_path / n).read_bytes() for n, p in (("a", again),
             ("b", light_panel))]  # fmt: skip
    assert texts[0] == texts[1]


# --- zones ---


def test_zones_are_counted_from_the_crawl() -> None:
    """At a size where the crawling box holds a whole grain wherever it stands."""
    readings = read(truth(), "crawl", "window", shape=(540, 960))
    panel = fit_panel(readings)
    assert isinstance(panel.zones, Zones)
    assert (panel.zones.columns, panel.zones.rows) == (16, 6)
    assert panel.fit["interval"]["zones.columns"][0] <= 16


def test_without_a_crawl_the_zones_are_undetermined(light_session) -> None:
    panel = fit_panel(light_session.without("crawl"))
    assert "--zones 20x12" in panel.fit["undetermined"]["zones"]
    assert "zones=(columns, rows)" in panel.fit["undetermined"]["zones"]
    assert isinstance(panel.zones, SelfEmissive)


def test_a_grid_that_cannot_be_is_refused(light_session) -> None:
    with pytest.raises(RequestError, match="zones = 0 × 6: accepted is 1 × 1 to 7680 × 4320"):
        fit_panel(light_session, zones=(0, 6))


# --- noise and drift ---


def test_noise_comes_from_repeats(light_session) -> None:
    noise = noise_of(light_session)
    assert noise.how == "repeats"
    assert 0.5 < noise.relative / 0.02 < 1.5, "chi over 23 degrees of freedom"


def test_without_repeats_noise_is_assumed_and_said(light_session) -> None:
    single = replace(
        light_session,
        readings=tuple(r for r in light_session if r.repeat == 1 and r.stimulus.kind != "drift"),
    )
    assert noise_of(single) == Noise(0.02, 0.0, 0, "assumed")
    panel = fit_panel(single, zones=(16, 6))
    assert any("2% of each reading is assumed" in caveat.text for caveat in panel.caveats)


def test_a_floor_is_found_where_the_dark_scatters_more() -> None:
    rng = np.random.default_rng(0)
    dark = [_reading(0.02 + 0.004 * rng.standard_normal(), n, 0.05) for n in range(40)]
    bright = [_reading(100 * (1 + 0.01 * rng.standard_normal()), n, 0.5) for n in range(40)]
    noise = noise_of(Readings(tuple(dark + bright)))
    assert noise.relative == pytest.approx(0.01, rel=0.35)
    assert noise.floor == pytest.approx(0.004, rel=0.35)


def _reading(light: float, repeat: int, level: float, kind="patch", time_s=None) -> Reading:
    signal = (level, level, level)
    stimulus = Stimulus(kind, f"{kind}_{level:g}", SHAPE, background=signal, level=signal)
    return Reading(stimulus, light, Source("r.csv", repeat + 2), time_s=time_s, repeat=repeat)


def test_drift_is_told_by_the_reference_and_taken_out() -> None:
    """A tenth less after an hour: readings come back to what the warm set shows."""
    fall = lambda minute: 1 - 0.1 * minute / 60  # noqa: E731
    drifts = [_reading(100 * fall(m), m, 0.5, "drift", 60.0 * m) for m in range(0, 61, 5)]
    others = [_reading(50 * fall(m), m, 0.4, time_s=60.0 * m) for m in (7, 33, 58)]
    steady, doubts = steadied(Readings((*drifts, *others)))
    after = [r.luminance for r in steady.of("patch")]
    np.testing.assert_allclose(after, 45.0, rtol=2e-3)
    assert "taken out, over time" in str(doubts[0])


def test_noise_alone_is_no_drift() -> None:
    told = 0
    for seed in range(100):
        rng = np.random.default_rng(seed)
        drifts = [_reading(100 * (1 + 0.02 * rng.standard_normal()), m, 0.5, "drift", 60.0 * m)
                  for m in range(12)]  # fmt: skip
        told += bool(steadied(Readings(tuple(drifts)))[1])
    assert told <= 5


# --- colour, tone, surface, angles, uniformity ---


@pytest.fixture(scope="module")
def colour() -> tuple[Truth, Panel]:
    t = drawn(np.random.default_rng(7))
    families = ("ramp", "primary", "uniformity", "angle", "room", *LIGHT)
    readings = session(t, plan(*families), np.random.default_rng(7), 1e-5, floor=0.0)
    return t, fit_panel(readings, zones=(t.columns, t.rows), noise=0.001)


@pytest.mark.parametrize(
    ("family", "within"),
    [
        ("tone.curve.light", 2e-2),
        ("primaries", 2e-3),
        ("tracking", 2e-3),
        ("uniformity.grid", 1e-3),
        ("angles.gain", 1e-3),
        ("angles.contrast", 2e-3),
        ("surface.reflectance", 1e-3),
    ],
)
def test_each_effect_is_found_from_clean_readings(colour, family, within) -> None:
    found = [number for number in compared(*colour) if number.family == family]
    assert found
    worst = max(found, key=lambda number: number.error)
    assert worst.error <= within, worst


def test_ramps_that_differ_by_mastering_peak_are_a_family() -> None:
    t = truth()
    t.tone = lambda light, peak: np.minimum(light * (0.5 if peak > 5000 else 1.0), 1200.0)
    panel = fit_panel(read(t, "ramp", *LIGHT, peaks=(1000, 10000)), zones=(16, 6))
    assert [curve.mastering_peak for curve in panel.tone.curves] == [1000.0, 10000.0]
    assert panel.tone.policy == "by_metadata"


def test_ramps_that_agree_are_one_curve() -> None:
    panel = fit_panel(read(truth(), "ramp", *LIGHT, peaks=(1000, 10000)), zones=(16, 6))
    assert [curve.mastering_peak for curve in panel.tone.curves] == [0.0]
    assert panel.tone.policy == "fixed"


def test_a_photograph_stands_for_a_grid() -> None:
    down, across = np.mgrid[0:300, 0:500] / 300
    light = 50 * (1 - 0.3 * (down - 0.5) ** 2 - 0.1 * (across - 0.8) ** 2)
    field = uniformity_from_photograph(light)
    assert field.grid.shape == (90, 160)
    assert field.grid[44:46, 79:81].mean() == pytest.approx(1.0, abs=1e-3)
    assert field.grid[0, 0] == pytest.approx(light[0, 0] / light[150, 250], rel=5e-3)


@pytest.mark.parametrize("light", [np.ones(5), np.ones((2, 9)), np.full((9, 9), np.nan)])
def test_what_is_no_photograph_is_refused(light) -> None:
    with pytest.raises(RequestError, match="accepted is finite linear light"):
        uniformity_from_photograph(light)


def test_spots_that_are_no_grid_leave_uniformity_undetermined(light_session) -> None:
    slide = [replace(_reading(99.0, n, 0.5, "uniformity"), spot=spot)
             for n, spot in enumerate([(0.1, 0.1), (0.5, 0.5), (0.7, 0.2)])]  # fmt: skip
    session_ = replace(light_session, readings=(*light_session.readings, *slide))
    panel = fit_panel(session_, zones=(16, 6))
    assert "no full grid" in panel.fit["undetermined"]["uniformity"]


# --- time ---


def _trace(t: Truth, attack: float, decay: float, rate: float, floor: float) -> Readings:
    rng = np.random.default_rng(3)
    moving = step(SHAPE, 10000.0)
    times = np.arange(0.0, moving.duration_s, 1 / rate)
    light = traced(t, moving, attack, decay, times, rng)
    light = light + floor * np.abs(rng.standard_normal(len(times)))
    return Readings((), (Trace(moving, times + 5.4321, light, Source("t.csv", 2), True),))


@pytest.fixture(scope="module")
def lamp(light_session):
    task = Task(groups_of(light_session), Noise(), Zones(6, 16), Uniformity())
    return fit_source(task).lamp


def test_attack_and_decay_are_read_off_a_trace(lamp) -> None:
    source, _, account = fit_pace(_trace(truth(), 0.05, 0.3, 200.0, 1e-6), lamp)
    assert isinstance(source, Zones)
    assert source.attack_s == pytest.approx(0.05, rel=0.05)
    assert source.decay_s == pytest.approx(0.3, rel=0.05)
    inside = {n.key: n.low <= v <= n.high for n, v in zip(account.numbers, (0.05, 0.3),
              strict=True)}  # fmt: skip
    assert inside == {"zones.attack_s": True, "zones.decay_s": True}


def test_a_logger_that_is_blind_in_the_dark_tells_no_decay(lamp) -> None:
    source, _, account = fit_pace(_trace(truth(), 0.05, 0.3, 200.0, 3.0), lamp)
    assert isinstance(source, Zones)
    assert source.decay_s == 0.0
    assert "does not see the zones go out" in account.undetermined["zones.decay_s"]


def test_a_slow_logger_tells_no_fast_attack(lamp) -> None:
    source, _, account = fit_pace(_trace(truth(), 0.002, 0.3, 50.0, 1e-6), lamp)
    assert isinstance(source, Zones)
    assert source.attack_s == 0.0
    assert "logger" in account.undetermined["zones.attack_s"]


# --- on file ---


def test_a_fitted_panel_keeps_what_it_knows_on_file(light_session, light_panel, tmp_path) -> None:
    path = save_panel(light_panel, tmp_path / "panel.toml")
    again = load_panel(path)
    assert again.fit == light_panel.fit
    assert again.caveats == light_panel.caveats
    assert save_panel(again, tmp_path / "again.toml").read_bytes() == path.read_bytes()
    assert again.fit["readings_digest"] == digest_of(light_session)
    size = len(again.fit["covariance"]["key"])
    assert np.array(again.fit["covariance"]["matrix"]).shape == (size, size)


def test_intervals_hold_their_numbers(light_panel) -> None:
    low, high = light_panel.fit["interval"]["light.open_cdm2"]
    assert low < light_panel.open_cdm2 < high


def test_the_digest_is_of_what_was_read(light_session) -> None:
    turned = replace(light_session, readings=light_session.readings[::-1], digest="else")
    assert digest_of(turned) == digest_of(light_session)
    less = replace(light_session, readings=light_session.readings[1:])
    assert digest_of(less) != digest_of(light_session)


def test_no_reading_is_no_panel() -> None:
    with pytest.raises(ReadingError, match="no reading of light to fit a panel to"):
        fit_panel(Readings(()))


def test_a_single_reading_is_a_panel_of_one_number() -> None:
    panel = fit_panel(Readings((_reading(321.0, 1, 1.0, "window"),)))
    assert panel.open_cdm2 == pytest.approx(321.0, rel=1e-3)
    assert {"zones", "primaries", "tone.curve", "uniformity"} <= set(panel.fit["undetermined"])


def test_the_zone_drive_of_the_simulator_is_the_printed_one() -> None:
    """Worked by hand: a corner pixel block of 4 × 4 of a zone of 8 × 8, a = ½, γ = 1, w = ¼."""
    g = np.zeros((8, 16))
    g[:4, :4] = 1.0
    drive = zone_drive(g, Truth(1.0, 1, 2, a=0.5, w=0.25))
    assert drive.tolist() == [[0.5 + 0.5 * 0.25, 0.25 * 0.625]]
