"""Findings worked out by hand: known areas, known steps, known distances.

Steps come from the PQ signals printed to four digits and more in physics §1 (SMPTE ST 2084 by
formula, ITU-R BT.2100-2): 720 times the difference of two of them (ITU-R BT.2124-0).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from emulate.colorimetry import colour_science
from emulate.errors import Caveat, RequestError
from emulate.findings.evidence import Detail, Loss
from emulate.findings.finding import Finding, Findings, differences
from emulate.findings.formatting import table
from emulate.findings.headline import NOTHING, WEIGHTS, headline
from emulate.findings.measure import measure
from emulate.frames.frame import Encoding, Frame, Metadata
from emulate.panel.limiter import Limiter
from emulate.panel.panel import Panel
from emulate.rendering import Cause, render
from emulate.values import numbers
from tests.rooms.handmade import NO_CAUSE, frame_of, grey, rendering_of, square

PQ = {0.1: 0.0623368657, 1: 0.1499457321, 10: 0.2996990924, 100: 0.5080784215}
PQ |= {203: 0.5806888810, 1000: 0.7518270962, 4000: 0.9025723933}
SHAPE = (60, 80)
SQUARE = (slice(10, 22), slice(30, 50))  # 240 of 4800 pixels
ONE_PIXEL_CELLS = 179  # rows at which a cell of 0.1° is one pixel, seen from 3.2 picture heights


def steps(first, second):
    return 720 * (PQ[first] - PQ[second])


def marked(cause, shape=SHAPE, where=SQUARE):
    return square(shape, *where, cause)


def values(findings, prefix):
    return {
        name.removeprefix(f"{prefix}."): found.value
        for name, found in findings.items()
        if name.startswith(f"{prefix}.")
    }


# clipped


def clipped_square(cause, low=1000.0, reflected=0.0):
    frame = frame_of(square(SHAPE, *SQUARE, 4000, 10))
    shown = grey(square(SHAPE, *SQUARE, low, 10))
    return measure(frame, rendering_of(frame, shown, why=marked(cause), reflected=reflected))


@pytest.mark.parametrize(
    ("cause", "name"),
    [(Cause.CURVE_HIGH, "curve"), (Cause.WIDE_OPEN, "zone"), (Cause.GAMUT, "gamut")],
)
def test_a_clipped_square_is_its_own_area(cause, name):
    found = values(clipped_square(cause), "clipped")
    expected = {"area": 0.05, "curve": 0.0, "zone": 0.0, "gamut": 0.0, name: 0.05}
    assert {key: found[key] for key in expected} == expected
    assert found["depth"] == pytest.approx(steps(4000, 1000), abs=1e-3)


def test_causes_may_overlap_and_the_area_counts_a_pixel_once():
    frame = frame_of(square(SHAPE, *SQUARE, 4000, 10))
    why = marked(Cause.WIDE_OPEN) + marked(Cause.GAMUT, where=(slice(10, 16), slice(30, 50)))
    shown = grey(square(SHAPE, *SQUARE, 1000, 10))
    found = measure(frame, rendering_of(frame, shown, why=why))
    assert values(found, "clipped")["area"] == 0.05
    assert values(found, "clipped")["zone"] == 0.05
    assert values(found, "clipped")["gamut"] == 0.025
    codes = found.maps["loss"][SQUARE]
    assert (codes[:6] & 7 == Loss.CLIPPED_ZONE | Loss.CLIPPED_GAMUT).all()
    assert (codes[6:] & 7 == Loss.CLIPPED_ZONE).all()


def test_less_than_a_step_is_not_clipped_and_neither_is_loss_away_from_a_ceiling():
    assert clipped_square(Cause.WIDE_OPEN, low=3990.0)["clipped.area"].value == 0
    assert clipped_square(Cause.FLOOR)["clipped.area"].value == 0


def test_the_room_does_not_fill_up_what_is_clipped():
    dark, lit = clipped_square(Cause.WIDE_OPEN), clipped_square(Cause.WIDE_OPEN, reflected=3000.0)
    assert lit["clipped.depth"].value == pytest.approx(dark["clipped.depth"].value, abs=1e-3)


def test_clipping_is_told_by_the_largest_channel():
    """Pure blue of 1000 cd/m² in its channel is 59.3 cd/m²; it is the channel that clips."""
    light = np.zeros((4, 4, 3), np.float32)
    light[..., 2] = 1000
    frame = Frame.from_light(light)
    why = np.full((4, 4), Cause.GAMUT)
    found = measure(frame, rendering_of(frame, light / 10, why=why))
    assert found["clipped.depth"].value == pytest.approx(steps(1000, 100), abs=1e-3)


# crushed


def crushed_square(cause, reference=0.1, shown=1.0, reflected=0.0):
    frame = frame_of(square(SHAPE, *SQUARE, reference, 10))
    own = grey(square(SHAPE, *SQUARE, shown, 10))
    return measure(frame, rendering_of(frame, own, why=marked(cause), reflected=reflected))


@pytest.mark.parametrize(("cause", "name"), [(Cause.CURVE_LOW, "curve"), (Cause.ALL_FLOOR, "leak")])
def test_a_crushed_square_is_its_own_area(cause, name):
    found = values(crushed_square(cause), "crushed")
    expected = {"area": 0.05, "curve": 0.0, "leak": 0.0, "room": 0.0, name: 0.05}
    assert {key: found[key] for key in expected} == expected
    assert found["depth"] == pytest.approx(steps(1, 0.1), abs=1e-3)


def test_shadows_that_turn_darker_are_crushed_too():
    assert crushed_square(Cause.CURVE_LOW, 1.0, 0.1)["crushed.curve"].value == 0.05


def test_black_in_the_reference_cannot_be_crushed():
    assert crushed_square(Cause.ALL_FLOOR, reference=0.0)["crushed.area"].value == 0


def test_one_channel_at_its_floor_is_not_crushed():
    assert crushed_square(Cause.FLOOR)["crushed.area"].value == 0


def test_the_room_crushes_what_the_panel_alone_would_show():
    found = values(crushed_square(Cause.ALL_FLOOR, 0.1, 0.1, reflected=0.9), "crushed")
    assert (found["area"], found["room"], found["leak"]) == (0.05, 0.05, 0.0)
    assert found["depth"] == pytest.approx(steps(1, 0.1), abs=1e-3)


def test_the_room_drowns_dim_light_of_a_panel_that_does_not_leak():
    """0.01 cd/m² under 10 cd/m² off the screen is 0.1 % more light: far under a step."""
    found = crushed_square(NO_CAUSE, 0.01, 0.01, reflected=10.0)
    assert found["crushed.room"].value == 0.05
    assert crushed_square(NO_CAUSE, 0.01, 0.01)["crushed.area"].value == 0


# detail


def checkerboard(low, high, shape=(24, 36)):
    rows, columns = np.indices(shape)
    return np.where((rows + columns) % 2, high, low).astype(float)


@pytest.mark.parametrize(
    ("low", "high", "region"),
    [(300, 400, "highlights"), (30, 40, "middle"), (0.3, 0.4, "shadows")],
)
def test_a_flattened_checkerboard_loses_all_its_detail_in_its_region(low, high, region):
    frame = frame_of(checkerboard(low, high))
    flat = grey(np.full(frame.shape, (low + high) / 2))
    found = values(measure(frame, rendering_of(frame, asked=flat)), "detail")
    assert (found["area"], found["lost"]) == (1.0, 1.0)
    for each in ("highlights", "middle", "shadows"):
        assert found[f"{each}.area"] == found[f"{each}.lost"] == float(each == region)
    assert (found["curve"], found["dimming"], found["room"]) == (1.0, 0.0, 0.0)


def test_detail_that_a_perfect_backlight_keeps_is_lost_to_dimming():
    frame = frame_of(checkerboard(300, 400))
    found = measure(frame, rendering_of(frame, grey(np.full(frame.shape, 200.0))))
    assert found["detail.dimming"].value == 1
    assert found["detail.curve"].value == 0


def test_detail_under_the_room_s_light_is_lost_to_the_room():
    frame = frame_of(checkerboard(0.01, 0.02))
    found = measure(frame, rendering_of(frame, reflected=20.0))
    assert found["detail.room"].value == found["detail.shadows.lost"].value == 1


def test_half_a_checkerboard_lost_is_half_the_detail():
    frame = frame_of(checkerboard(30, 40, (40, 80)))
    shown = checkerboard(30, 40, (40, 80))
    shown[:, 40:] = 35
    found = measure(frame, rendering_of(frame, grey(shown)))
    # the column at the border still differs from its box of 3 pixels, hence one column of play
    assert found["detail.area"].value == pytest.approx(0.5, abs=1 / 80)
    assert found["detail.lost"].value == pytest.approx(0.5, abs=1 / 80)


def test_depth_of_detail_is_the_contrast_that_went():
    """Box of 3 × 3 on a checkerboard: 5 pixels of the pixel's own kind, 4 of the other."""
    frame = frame_of(checkerboard(100, 203))
    found = measure(frame, rendering_of(frame, grey(np.full(frame.shape, 150.0))))
    codes = found.maps["detail"]
    assert (codes & Detail.LOST_DIMMING != 0).all()
    inner = steps(203, 100) * 4 / 9
    edge, corner = steps(203, 100) * 5 / 9, steps(203, 100) * 4 / 9  # edges replicated
    rows, columns = frame.shape
    corners, edges = 4, 2 * (rows + columns) - 8
    inside = rows * columns - corners - edges
    mean = (inner * inside + edge * edges + corner * corners) / (rows * columns)
    assert found["detail.depth"].value == pytest.approx(mean, abs=1e-3)


@pytest.mark.parametrize(
    ("level", "region"),
    [(203.0, Detail.HIGHLIGHT), (202.9, 0), (1.0, Detail.SHADOW), (1.01, 0), (0.0, Detail.SHADOW)],
)
def test_regions_hold_their_bounds(level, region):
    frame = frame_of(np.full((30, 40), level))
    codes = measure(frame, rendering_of(frame)).maps["detail"]
    assert (codes & (Detail.HIGHLIGHT | Detail.SHADOW) == region).all()


# halo


def lifted(pixels, lift=0.5, shape=(ONE_PIXEL_CELLS, 200), source=0.0, **rest):
    """1 cd/m² everywhere but a bright first column; floors lifted on single, far-off pixels."""
    luminance = np.ones(shape)
    luminance[:, 0] = max(source, 1.0)
    frame = frame_of(luminance, **rest)
    shown, why = luminance.copy(), np.zeros(shape, np.uint8)
    for row, column in pixels:
        shown[row, column] += lift
        why[row, column] = Cause.FLOOR
    return measure(frame, rendering_of(frame, grey(shown), why=why))


def test_a_lone_lifted_cell_is_a_halo_of_its_own_size_light_and_distance():
    found = values(lifted([(90, 60)], source=100.0), "halo")
    assert found["area"] == 1 / (ONE_PIXEL_CELLS * 200)
    assert found["brightest"] == pytest.approx(0.5, rel=1e-6)
    assert found["mean"] == pytest.approx(0.5, rel=1e-6)
    assert found["reach"] == pytest.approx(6.0)  # 60 cells of 0.1° to the bright column


def test_halo_numbers_are_over_the_squares_that_show_it():
    found = values(lifted([(40, 30), (90, 60), (140, 90)], source=100.0), "halo")
    assert found["area"] == 3 / (ONE_PIXEL_CELLS * 200)
    assert found["reach"] == pytest.approx(np.percentile([3.0, 6.0, 9.0], 95))


def test_lift_off_the_floor_is_no_halo_and_too_little_lift_is_not_seen():
    frame = frame_of(np.ones((ONE_PIXEL_CELLS, 200)))
    brighter = rendering_of(frame, grey(np.full(frame.shape, 2.0)))
    assert measure(frame, brighter)["halo.area"].value == 0
    assert values(lifted([(90, 60)], lift=0.01), "halo")["area"] == 0


def test_reach_without_a_bright_cell_is_undetermined_not_a_number():
    found = lifted([(90, 60)])["halo.reach"]
    assert np.isnan(found.value)
    assert "undetermined" in found.sentence


def test_the_room_hides_a_halo():
    luminance = np.zeros((90, 160))
    luminance[40:50, 70:90] = 500
    frame = frame_of(luminance)
    why = np.where(luminance > 0, 0, Cause.FLOOR | Cause.ALL_FLOOR)
    shown = grey(np.where(luminance > 0, 500, 0.02))
    areas = [
        measure(frame, rendering_of(frame, shown, why=why, reflected=room))["halo.area"].value
        for room in (0.0, 0.05, 5.0)
    ]
    assert areas[0] > areas[1] >= areas[2]


def test_the_letterbox_is_left_out_of_the_area_and_told_apart():
    bars = {"active": (20, 159, 0, 200)}
    found = lifted([(10, 60)], **bars)
    assert found["halo.area"].value == 0
    assert found["halo.bars"].value == 1 / (40 * 200)
    assert lifted([(90, 60)], **bars)["halo.area"].value == 1 / (139 * 200)


def test_cells_finer_than_pixels_share_their_pixel():
    """A picture of 60 rows at 3.2 heights is 179 cells tall all the same."""
    found = lifted([(30, 40)], shape=(60, 80), source=1000.0)
    assert found.maps["halo_steps"].shape == (179, 239)


# dimmed


def test_small_bright_things_are_told_from_clipped_areas():
    """At 179 rows 1° is a hair under 10 pixels: 9 × 9 is small, 10 wide is not."""
    shape = (ONE_PIXEL_CELLS, 200)
    starved = np.zeros(shape, bool)
    starved[10:19, 10:19] = True
    starved[50:53, 50:53] = True
    starved[53:56, 53:56] = True  # touches the last by a corner: the same thing
    starved[100:102, 100:110] = True
    starved[120:160, 20:160] = True
    frame = frame_of(np.where(starved, 1000, 1))
    shown = grey(np.where(starved, 100, 1))
    why = np.where(starved, Cause.WIDE_OPEN, 0)
    found = measure(frame, rendering_of(frame, shown, why=why))
    assert found["dimmed.things"].value == 2
    assert found["dimmed.area"].value == 99 / starved.size
    assert found["dimmed.kept"].value == pytest.approx(0.1)
    assert found["dimmed.depth"].value == pytest.approx(steps(1000, 100), abs=1e-3)
    assert np.count_nonzero(found.maps["loss"] & Loss.DIMMED) == 99


def all_white_under_a_limiter(acts):
    """1000 cd/m² everywhere on a panel that has 1000, of which its limiter leaves a tenth."""
    frame = frame_of(np.full((20, 30), 1000.0))
    limiter = Limiter(numbers([0, 1]), numbers([1, 0.1]), acts)
    return measure(frame, render(frame, Panel("limited", 1000.0, limiter=limiter), room_lux=10))


def test_light_that_a_limiter_turns_down_is_dimmed_and_not_clipped():
    found = all_white_under_a_limiter("dims")
    assert found["clipped.area"].value == found["dimmed.things"].value == 0
    assert found["dimmed.limiter"].value == pytest.approx(0.1)
    assert found["dimmed.limiter.area"].value == 1
    assert found["dimmed.limiter.depth"].value == pytest.approx(steps(1000, 100), abs=1e-3)
    assert headline(found)[0] == "The limiter dims the whole picture to 10 % of its light."


def test_light_that_a_cell_cannot_make_up_for_is_clipped_and_not_dimmed():
    found = all_white_under_a_limiter("clips")
    assert found["clipped.zone"].value == 1
    assert found["clipped.depth"].value == pytest.approx(steps(1000, 100), abs=1e-3)
    assert (found["dimmed.limiter"].value, found["dimmed.limiter.area"].value) == (1, 0)


def test_a_zone_s_light_that_a_cell_only_lets_less_of_through_is_no_ceiling():
    """More asked than the backlight gives (ZONE), yet the cell is not at its widest."""
    assert clipped_square(Cause.ZONE)["clipped.area"].value == 0


def test_light_kept_in_highlights_is_a_ratio_of_sums():
    luminance = np.full((40, 80), 50.0)
    luminance[:, :20], luminance[:, 60:] = 400, 1000
    frame = frame_of(luminance)
    shown = np.where(luminance == 1000, 500, luminance)
    kept = measure(frame, rendering_of(frame, grey(shown)))["dimmed.highlights"].value
    # a box of 3 pixels next to 1000 cd/m² averages over 203, so one column of 50 belongs to them
    assert kept == pytest.approx((20 * 400 + 20 * 500 + 50) / (20 * 400 + 20 * 1000 + 50), rel=1e-6)


def test_without_highlights_what_they_keep_is_undetermined():
    frame = frame_of(np.full((8, 8), 10.0))
    found = measure(frame, rendering_of(frame))["dimmed.highlights"]
    assert np.isnan(found.value)
    assert found.sentence == "There are no highlights in this picture."


# colour


def test_colour_agrees_with_an_independent_library():
    """ΔE_ITP by colour-science, a general library, on a picture of random light."""
    rng = np.random.default_rng(5)
    reference = (10 ** rng.uniform(-2, 3, (9, 11, 3))).astype(np.float32)
    shown = (reference * 10 ** rng.uniform(-0.1, 0.1, (9, 11, 3))).astype(np.float32)
    colour = colour_science()
    pair = [colour.RGB_to_ICtCp(each, L_p=10000) for each in (reference, shown)]
    expected = colour.difference.delta_E_ITP(*pair)
    found = measure(Frame.from_light(reference), rendering_of(Frame.from_light(reference), shown))
    assert found["colour.mean"].value == pytest.approx(expected.mean(), abs=2e-3)
    nearest = np.percentile(expected, 95, method="inverted_cdf")
    assert found["colour.high"].value == pytest.approx(nearest, abs=2e-3)
    assert found["colour.over_1"].value == (expected > 1).mean()
    assert found["colour.over_3"].value == (expected > 3).mean()


def test_dimmer_light_of_the_same_colour_is_off_in_light_only():
    rng = np.random.default_rng(6)
    frame = Frame.from_light(rng.uniform(1, 500, (8, 8, 3)))
    found = measure(frame, rendering_of(frame, frame.light * np.float32(0.5)))
    assert found["colour.mean"].value > 10
    assert found["colour.hue.mean"].value == found["colour.hue.over_1"].value == 0


def test_another_hue_of_the_same_luminance_is_off_with_and_without_luminance():
    red = np.full((4, 4, 3), [100 / 0.2627, 0, 0], np.float32)  # both 100 cd/m² (BT.2020 weights)
    green = np.full((4, 4, 3), [0, 100 / 0.6780, 0], np.float32)
    found = measure(Frame.from_light(red), rendering_of(Frame.from_light(red), green))
    assert found["colour.hue.mean"].value == pytest.approx(found["colour.mean"].value, rel=1e-4)
    assert found["colour.hue.mean"].value > 100


# content


def test_content_levels_of_the_worked_example():
    """Second frame of the worked check of physics §1 (CTA-861.3, from memory)."""
    light = np.full((4, 4, 3), 100.0)
    light[1, 2] = (10, 20, 400)
    claims = Metadata(mastering_peak=1000, max_cll=390, max_fall=100)
    found = values(measure_alone(Frame.from_light(light, metadata=claims)), "content")
    assert (found["max_cll"], found["max_fall"]) == (400, 118.75)
    assert (found["claimed_max_cll"], found["claimed_max_fall"]) == (390, 100)
    assert found["claimed_peak"] == 1000
    assert found["level_50"] == 100


def test_content_leaves_the_letterbox_out():
    luminance = square((10, 10), slice(2, 8), slice(0, 10), 100)
    frame = frame_of(luminance, active=(2, 8, 0, 10))
    assert measure_alone(frame)["content.max_fall"].value == 100


def measure_alone(frame):
    return measure(frame, rendering_of(frame))


# all together


def test_caveats_and_the_scale_of_the_file_stand_in_the_findings():
    doubt = Caveat("file", "scale not stated")
    encoding = Encoding("linear", scale=203.0)
    found = measure_alone(frame_of(np.ones((9, 16)), caveats=(doubt, doubt), encoding=encoding))
    assert [str(each) for each in found.caveats] == [
        "panel: made by hand",
        "file: scale not stated",
    ]
    assert "1.0 in the file stands for 203 cd/m²" in found.basis


@pytest.mark.parametrize("shape", [(1, 1), (1, 7), (5, 1), (2, 3), (33, 17)])
@pytest.mark.parametrize("level", [0.0, 1e-6, 203.0, 10000.0])
def test_tiny_black_and_white_pictures_are_measured(shape, level):
    frame = frame_of(np.full(shape, level))
    shown = grey(np.full(shape, level / 2 + 0.01))
    why = np.full(shape, sum(Cause) & 255)
    found = measure(frame, rendering_of(frame, shown, why=why))
    for each in found.values():
        assert each.unit != "share" or not each.value > 1
        assert not each.value < 0


def test_a_rendering_of_another_size_is_refused():
    frame, other = frame_of(np.ones((4, 6))), frame_of(np.ones((6, 4)))
    with pytest.raises(RequestError, match="6 × 4 pixels and the rendering 4 × 6"):
        measure(frame, rendering_of(other))


def test_headline_tells_losses_and_what_there_is_nothing_to_see_of_in_one_line():
    found = clipped_square(Cause.WIDE_OPEN)
    first, *_, last = headline(found)
    assert first.startswith("5 % of the picture is clipped")
    assert last.startswith("Nothing to see of crushed shadows, glow, ")
    assert "clip" not in last


def test_small_lights_that_are_all_that_is_clipped_are_told_once():
    found = weighing(clipped_area=0.01, clipped_depth=9.0, dimmed_area=0.01, dimmed_depth=9.0)
    assert headline(found)[0] == "dimmed.things."
    assert not any("clip" in sentence for sentence in headline(found))


def test_headline_of_a_perfect_picture():
    found = measure_alone(frame_of(np.ones((4, 4))))
    assert headline(found)[0] == NOTHING
    assert len(headline(found)) == 2
    assert set(WEIGHTS) <= set(found)


def weighing(**values):
    """Findings of no loss but for `values`, by name with _ for . ."""
    names = {part for parts in WEIGHTS.values() for part in parts} | set(WEIGHTS)
    made = {name: Finding(0.0, "share", f"{name}.", "d") for name in names}
    for name, value in values.items():
        key = name.replace("_", ".")
        made[key] = replace(made[key], value=value)
    return Findings(made)


def test_headline_is_silent_on_trifles_but_for_their_line():
    """A visible step on a square degree is 0.0018: 0.0559² H² of 16/9 H², from 3.2 heights."""
    found = weighing(halo_area=0.001, halo_strength=1.5, crushed_area=0.001, crushed_depth=2.0)
    assert headline(found)[0] == "crushed.area. crushed.depth."
    assert headline(found)[1].endswith("; too little to notice of glow.")


def test_headline_denies_nothing_that_an_interval_allows():
    found = weighing()
    unsure = {
        name: replace(found[name], interval=(0.0, 0.5)) for name in ("halo.area", "halo.strength")
    }
    assert "glow" not in headline(Findings(found.by_name | unsure))[1]


def test_a_mean_that_nobody_sees_is_told_where_somebody_does():
    found = weighing(colour_hue_mean=0.8)
    over = {"colour.hue.over_1": Finding(0.2, "share", "In 20 %.", "d")}
    assert headline(Findings(found.by_name | over))[0] == "In 20 %."


def test_a_small_area_is_told_with_its_depth():
    found = weighing(clipped_area=0.001, clipped_depth=100.0)
    assert headline(found)[0] == "clipped.area. clipped.depth."


def test_differences_are_the_findings_that_changed():
    first, second = clipped_square(Cause.WIDE_OPEN), clipped_square(Cause.CURVE_HIGH)
    changed = {each.name: each.change for each in differences(first, second)}
    assert changed["clipped.zone"] == -0.05
    assert changed["clipped.curve"] == 0.05
    assert "clipped.area" not in changed
    assert differences(first, first) == ()


def test_a_table_has_a_line_for_each_finding():
    found = clipped_square(Cause.WIDE_OPEN)
    rows = {row.name: row for row in table(found)}
    assert list(rows) == list(found)
    assert rows["clipped.zone"].value == "5 %"
    assert rows["clipped.depth"].value == "109 visible steps"
