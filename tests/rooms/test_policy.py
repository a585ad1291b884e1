"""Policy: which curve acts, read from text, from metadata, from the frame itself."""

import numpy as np
import pytest

from emulate.errors import RequestError
from emulate.frames.frame import DynamicMetadata, Frame, Metadata
from emulate.panel.curves import bt2390, hard_clip, identity
from emulate.panel.panel import Panel
from emulate.panel.policy import (
    Choice,
    Policy,
    curve_for,
    family_curve,
    metadata_peak,
    policy_from,
    source_peak,
)
from emulate.panel.tone import Tone, ToneReading
from emulate.transfer import light_from_pq, pq_from_light
from emulate.values import numbers

LIGHT = np.geomspace(0.01, 9000, 60)


def reading(peak: float, top: float) -> ToneReading:
    signal = np.linspace(0, 1, 9)
    return ToneReading(peak, numbers(signal), numbers(np.minimum(light_from_pq(signal), top)))


def frame(value: float = 100.0, shape: tuple[int, int] = (20, 30), **metadata: object) -> Frame:
    light = np.full((*shape, 3), value, dtype=np.float32)
    return Frame.from_light(light, metadata=Metadata(**metadata))  # type: ignore[arg-type]


BARE = Panel("bare", 900.0)
FAMILY = (reading(4000, 800), reading(1000, 600))
MANY = Panel("family", 900.0, tone=Tone(curves=FAMILY))


def test_a_panel_without_readings_asks_for_what_was_mastered() -> None:
    choice = curve_for(BARE, frame())
    assert np.array_equal(choice.curve.light(LIGHT), identity().light(LIGHT))
    assert choice.caveats == ()


def test_fixed_is_the_reading_for_whatever_content() -> None:
    general = reading(0, 700)
    panel = Panel("p", 900.0, tone=Tone(curves=(*FAMILY, general)))
    chosen = curve_for(panel, frame(mastering_peak=4000), "fixed").curve
    np.testing.assert_array_equal(chosen.light(LIGHT), general.curve().light(LIGHT))


def test_fixed_with_several_curves_says_which_one_acts() -> None:
    choice = curve_for(MANY, frame())
    np.testing.assert_array_equal(choice.curve.light(LIGHT), FAMILY[0].curve().light(LIGHT))
    assert "4000" in str(choice.caveats[0])


def doubts(choice: Choice) -> list[str]:
    return [caveat.text for caveat in choice.caveats]


def test_the_only_curve_for_other_masters_is_doubted() -> None:
    one = Panel("one", 900.0, tone=Tone(curves=FAMILY[1:]))
    (doubt,) = doubts(curve_for(one, frame(mastering_peak=4000.0), "fixed"))
    assert doubt == (
        "the only curve on file was read for 1000 cd/m² masters; this one is graded for 4000 cd/m²"
    )
    for silent in (frame(), frame(mastering_peak=1000.0)):
        assert doubts(curve_for(one, silent, "fixed")) == []


@pytest.mark.parametrize(
    ("metadata", "doubt"),
    [
        ({"mastering_peak": 4000.0}, []),
        ({"mastering_peak": 1000.0, "max_cll": 3000.0}, []),
        (
            {"mastering_peak": 4000.0, "max_cll": 2000.0},
            ["between the curves for 1000 and 4000 cd/m², since the file claims at most 2000 cd/m² "
             "(MaxCLL)"],
        ),
        (
            {"mastering_peak": 4000.0, "max_cll": 1000.0},
            ["the curve for 1000 cd/m² acts, since the file claims at most 1000 cd/m² (MaxCLL)"],
        ),
        (
            {"mastering_peak": 2000.0},
            ["between the curves for 1000 and 4000 cd/m², since the content is mastered for 2000 "
             "cd/m²"],
        ),
        (
            {"mastering_peak": 10000.0},
            ["the curve for 4000 cd/m² acts, since the content is mastered for 10000 cd/m²"],
        ),
        (
            {},
            ["the content says neither mastering peak nor MaxCLL: 1000 cd/m² is assumed; mastered "
             "(--mastered) says another",
             "the curve for 1000 cd/m² acts, since 1000 cd/m² is assumed"],
        ),
    ],
)  # fmt: skip
def test_which_curves_of_a_family_act_and_why_is_told(metadata, doubt) -> None:
    assert doubts(curve_for(MANY, frame(**metadata), "by_metadata")) == doubt


def test_a_built_curve_can_be_named_and_shaped() -> None:
    for text, expected in {
        "fixed:bt2390:4000": bt2390(4000, 0, 900, 0),
        "fixed:bt2390": bt2390(10000, 0, 900, 0),
        "fixed:hard_clip": hard_clip(900),
        "by_frame:hard_clip": hard_clip(900),
    }.items():
        curve = curve_for(BARE, frame(), text).curve
        np.testing.assert_array_equal(curve.light(LIGHT), expected.light(LIGHT))


def test_a_curve_itself_is_a_policy() -> None:
    curve = hard_clip(50)
    assert curve_for(MANY, frame(), curve).curve is curve


@pytest.mark.parametrize(
    "text",
    ["", "byframe", "fixed:bt2391", "by_frame:bt2390:4000", "fixed:bt2390:x", "fixed:bt2390:-1",
     "fixed:bt2390:nan", "fixed:bt2390:20000", "fixed:bt2390:4000:1", "FIXED"],
)  # fmt: skip
def test_other_policies_are_refused(text: str) -> None:
    with pytest.raises(RequestError, match=r"policy .*accepted is fixed, by_metadata, by_frame"):
        policy_from(text, BARE)


def test_the_panels_habit_is_the_default() -> None:
    assert policy_from(None, Panel("p", 900.0, tone=Tone(policy="by_frame"))).follows == "by_frame"


@pytest.mark.parametrize(
    ("metadata", "expected"),
    [
        ({"mastering_peak": 4000.0, "max_cll": 1500.0}, 1500),
        ({"mastering_peak": 1000.0, "max_cll": 3000.0}, 1000),
        ({"mastering_peak": 4000.0}, 4000),
        ({"max_cll": 700.0}, 700),
    ],
)
def test_metadata_key(metadata: dict[str, float], expected: float) -> None:
    assert metadata_peak(frame(**metadata)) == (expected, ())


def test_content_that_says_nothing_is_taken_for_1000_with_a_caveat() -> None:
    peak, caveats = metadata_peak(frame())
    assert peak == 1000
    assert "1000 cd/m² is assumed" in str(caveats[0])
    assert caveats[0] in curve_for(MANY, frame(), "by_metadata").caveats


def test_family_is_linear_in_pq_between_neighbours_and_held_outside() -> None:
    middle = float(light_from_pq(pq_from_light([1000.0, 4000.0]).mean()))
    signal = np.linspace(0, 1, 101)
    low, high = (one.curve().signal(signal) for one in (FAMILY[1], FAMILY[0]))
    for peak, expected in ((middle, (low + high) / 2), (300.0, low), (1000.0, low), (9000.0, high)):
        np.testing.assert_allclose(family_curve(FAMILY, peak).signal(signal), expected, atol=1e-12)


def test_by_metadata_without_a_family_is_built() -> None:
    single = Panel("one", 900.0, tone=Tone(curves=FAMILY[:1]))
    for panel in (BARE, single):
        curve = curve_for(panel, frame(mastering_peak=4000.0), "by_metadata").curve
        np.testing.assert_array_equal(curve.light(LIGHT), bt2390(4000, 0, 900, 0).light(LIGHT))


def test_source_peak_is_the_9999th_of_ten_thousand() -> None:
    """numpy's inverted distribution function, of max(R, G, B) over the active picture."""
    rng = np.random.default_rng(3)
    light = rng.uniform(0, 2000, (130, 170, 3)).astype(np.float32)
    light[:10] = 9000
    cut = Frame.from_light(light, active=(10, 130, 0, 170))
    m = light[10:].max(axis=-1)
    assert source_peak(cut) == np.percentile(m, 99.99, method="inverted_cdf")
    assert source_peak(Frame.from_light(light)) == 9000
    assert source_peak(Frame.from_light(np.full((2, 2, 3), 20000.0))) == 10000


def test_by_frame_settles_at_first_and_at_cuts_and_moves_between() -> None:
    bright, policy = frame(4000.0), Policy("by_frame", attack_s=0.5, decay_s=2.0)
    assert curve_for(BARE, bright, policy).peak == 4000
    assert curve_for(BARE, bright, policy, previous_peak=1000.0, dt_s=0.1, cut=True).peak == 4000
    rising = curve_for(BARE, bright, policy, previous_peak=1000.0, dt_s=0.1).peak
    assert rising == pytest.approx(4000 - 3000 * np.exp(-0.2))
    falling = curve_for(BARE, frame(1000.0), policy, previous_peak=4000.0, dt_s=0.1).peak
    assert falling == pytest.approx(1000 + 3000 * np.exp(-0.05))
    assert curve_for(BARE, bright, policy, previous_peak=1000.0, dt_s=0.0).peak == 1000


def test_by_frame_does_not_depend_on_the_frame_rate() -> None:
    once = curve_for(BARE, frame(4000.0), "by_frame", previous_peak=100.0, dt_s=0.04).peak
    half = curve_for(BARE, frame(4000.0), "by_frame", previous_peak=100.0, dt_s=0.02).peak
    twice = curve_for(BARE, frame(4000.0), "by_frame", previous_peak=half, dt_s=0.02).peak
    assert twice == pytest.approx(once, rel=1e-12)


@pytest.mark.parametrize("built", ["bt2390", "st2094_40", "st2094_10", "hard_clip"])
@pytest.mark.parametrize("value", [0.0, 1e-3, 899.0, 901.0, 4000.0, 10000.0])
def test_every_built_curve_keeps_to_the_panel_and_never_falls(built: str, value: float) -> None:
    curve = curve_for(BARE, frame(value), f"by_frame:{built}").curve
    shown = curve.light(np.geomspace(1e-4, max(value, 1e-3), 500))
    assert (np.diff(shown) >= -1e-9 * shown[1:]).all()
    assert shown.max() <= 900 * (1 + 1e-9)


def streamed(**dynamic: object) -> Frame:
    said = DynamicMetadata(max_scl=(2000.0, 1500.0, 900.0), **dynamic)  # type: ignore[arg-type]
    return frame(100.0, dynamic=said)


def test_the_streams_own_curve_is_used_where_asked_for() -> None:
    anchors = (0.3, 0.5, 0.65, 0.75, 0.83, 0.89, 0.93, 0.96, 0.98)
    said = streamed(knee=(0.1, 0.3), anchors=anchors, target_peak=900.0)
    choice = curve_for(BARE, said, "by_frame:st2094_40")
    assert float(choice.curve.light(500)) / 900 == pytest.approx(0.57771, abs=5e-6)  # physics §3
    assert choice.caveats == ()


def test_a_streams_curve_that_cannot_be_is_mended_with_a_caveat() -> None:
    fallen = curve_for(BARE, streamed(knee=(0.1, 0.3), anchors=(0.8, 0.5)), "by_frame:st2094_40")
    assert "anchors fall" in str(fallen.caveats)
    kneeless = curve_for(BARE, streamed(knee=(1.0, 0.5), anchors=(0.5,)), "by_metadata:st2094_40")
    assert "gives no curve" in str(kneeless.caveats)
    other = streamed(knee=(0.1, 0.3), anchors=(0.5,), target_peak=400.0)
    assert "meant for a 400 cd/m²" in str(curve_for(BARE, other, "by_frame:st2094_40").caveats)
    assert "of our own shape" in str(curve_for(BARE, frame(4000), "by_frame:st2094_40").caveats)


def test_a_curve_not_read_down_to_black_is_doubted() -> None:
    short = ToneReading(0.0, numbers([0.2, 1.0]), numbers([2.0, 900.0]))
    panel = Panel("p", 900.0, tone=Tone(curves=(short,)))
    assert "not read below signal 0.2" in str(curve_for(panel, frame()).caveats[0])
