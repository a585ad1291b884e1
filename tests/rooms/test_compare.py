"""Compare: what counts as a difference, who does best where, and what is written of it."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from emulate import EmulateError, Finding, Findings, Panel, compare, load_panel, save_comparison
from emulate.demo_frames import clip, panel_files, scene
from emulate.films.comparison import _best, comparison_of
from emulate.films.noticeable import least_area, shows
from emulate.findings.finding import Difference
from emulate.findings.headline import WEIGHTS
from emulate.panel.cell import Cell
from emulate.panel.curves import hard_clip
from emulate.panel.spread import Spread
from emulate.panel.zones import Zones
from emulate.sight import Viewer
from emulate.values import numbers

PANELS = {file.stem: load_panel(file) for file in panel_files()}
AREA = 0.002


def findings(**values):
    """Findings with values by name (dots as double underscores), unit from the name."""
    units = {"steps": "steps", "depth": "steps", "brightest": "cd/m²", "reach": "degree"}
    units |= {"things": "count"}
    found = {}
    for key, value in values.items():
        name = key.replace("__", ".")
        unit = units.get(name.split(".")[-1], "share")
        value, interval = value if isinstance(value, tuple) else (value, None)
        found[name] = Finding(value, unit, "It is so.", "As made.", interval)
    return Findings(found)


def counted(name, first, second, area=AREA):
    a, b = findings(**first), findings(**second)
    return shows(Difference(name, a[name].unit, a[name].value, b[name].value), a, b, area)


def test_a_square_degree_is_its_share_of_the_screen():
    """At 3.2 picture heights a 16:9 picture is 17.9° by 31.8° (small angle): 1 in 570."""
    degrees_high = np.degrees(1) / 3.2
    expected = 1 / (degrees_high * degrees_high * 16 / 9)
    assert least_area(Viewer(), (1080, 1920)) == pytest.approx(expected)
    assert least_area(Viewer(), (2160, 3840)) == pytest.approx(expected)
    assert least_area(Viewer(distance_h=1.6), (1080, 1920)) == pytest.approx(expected / 4)
    assert least_area(Viewer(distance_h=30.0), (1080, 400)) <= 1


@pytest.mark.parametrize(
    ("name", "first", "second", "counts"),
    [
        ("clipped.area", {"clipped__area": 0.1}, {"clipped__area": 0.1021}, True),
        ("clipped.area", {"clipped__area": 0.1}, {"clipped__area": 0.1019}, False),
        ("colour.steps", {"colour__steps": 3.0}, {"colour__steps": 4.0}, True),
        ("colour.steps", {"colour__steps": 3.0}, {"colour__steps": 3.9}, False),
        ("dimmed.things", {"dimmed__things": 3.0}, {"dimmed__things": 4.0}, True),
        # PQ codes one visible step apart near reference white (BT.2124): about 1 % of light
        ("dimmed.kept", {"dimmed__kept": 1.0}, {"dimmed__kept": 0.98}, True),
        ("dimmed.kept", {"dimmed__kept": 1.0}, {"dimmed__kept": 0.999}, False),
    ],
)
def test_each_unit_has_its_least_difference(name, first, second, counts):
    assert counted(name, first, second) is counts
    assert counted(name, second, first) is counts


def test_depth_counts_only_where_the_loss_covers_something():
    few, many = {"halo__area": 0.001}, {"halo__area": 0.3}
    bright, dim = {"halo__brightest": 0.5}, {"halo__brightest": 0.01}
    assert not counted("halo.brightest", few | bright, few | dim)
    assert counted("halo.brightest", many | bright, few | dim)
    assert not counted("halo.reach", few | {"halo__reach": 1.0}, few | {"halo__reach": 3.0})
    assert counted("halo.reach", many | {"halo__reach": 1.0}, many | {"halo__reach": 1.2})
    assert not counted("halo.reach", many | {"halo__reach": 1.0}, many | {"halo__reach": 1.05})


def test_detail_counts_by_its_share_and_by_its_area():
    def lost(share, area):
        return {"detail__shadows__lost": share, "detail__shadows__area": area}

    name = "detail.shadows.lost"
    assert counted(name, lost(0.5, 0.1), lost(0.1, 0.02))
    assert not counted(name, lost(0.5, 0.001), lost(0.1, 0.0002))
    assert not counted(name, lost(0.105, 0.1), lost(0.1, 0.05))


def test_a_difference_within_the_intervals_does_not_count():
    """Errors of independent values add as squares: 0.03 and 0.04 make 0.05."""

    def with_half_width(value, half):
        return {"clipped__area": (value, (value - half, value + half))}

    name = "clipped.area"
    assert counted(name, with_half_width(0.20, 0.03), with_half_width(0.251, 0.04))
    assert not counted(name, with_half_width(0.20, 0.03), with_half_width(0.249, 0.04))
    assert counted(name, {"clipped__area": 0.2}, with_half_width(0.241, 0.04))
    assert not counted(name, {"clipped__area": 0.2}, with_half_width(0.239, 0.04))
    lopsided = {"clipped__area": (0.3, (0.29, 0.9))}  # only the side that faces the other matters
    assert counted(name, {"clipped__area": 0.2}, lopsided)


def test_the_same_panel_twice_differs_in_nothing():
    frame = scene("candle_and_corners", rows=90)
    panel = PANELS["self_emissive"]
    found = compare(frame, [panel, panel])
    assert [case.label for case in found.cases] == ["Ember (1)", "Ember (2)"]
    assert found.lines == ()
    assert found.sentence.startswith("No difference in fine detail")


def zoned(contrast, name="zoned"):
    return Panel(name, 800.0, zones=Zones(4, 6), spread=Spread(numbers([1.0]), numbers([0.2])),
                 cell=Cell(contrast))  # fmt: skip


def test_the_panel_with_more_contrast_does_best_in_the_shadows():
    found = compare(
        scene("lamps_on_black_water", rows=180), [zoned(800.0, "weak"), zoned(20000.0, "strong")]
    )
    lines = {line.name: line for line in found.lines}
    for name in ("halo.area", "crushed.area", "detail.shadows.lost"):
        assert lines[name].best == 1
        assert lines[name].values[1] < lines[name].values[0]
    assert "strong loses least in the shadows" in found.sentence.replace("Of", "of")
    assert "for weak)" in found.sentence
    assert found.sentence.count(". ") == 1


def test_the_largest_difference_to_the_eye_is_told_first():
    """Areas by depths: 0.5 · 4 less 0.1 · 4 steps of glow against 0.3 · 2 less 0.2 · 2 crushed."""
    names = {part for parts in WEIGHTS.values() for part in parts} | set(WEIGHTS)
    none = {name.replace(".", "__"): 0.0 for name in names}
    cases = compare(scene("subtitle_on_black", rows=90), [zoned(900.0, "a"), zoned(9e3, "b")]).cases
    glow = [{"halo__area": area, "halo__strength": 4.0} for area in (0.5, 0.1)]
    dark = [{"crushed__area": area, "crushed__depth": 2.0} for area in (0.2, 0.3)]
    found = [findings(**none | g | d) for g, d in zip(glow, dark, strict=True)]
    both = tuple(replace(c, findings=f) for c, f in zip(cases, found, strict=True))
    assert comparison_of("x", both, AREA).sentence.startswith(
        "What differs most to the eye is glow: 4 visible steps on 10 % of the picture for b, "
        "4 visible steps on 50 % of the picture for a."
    )


def test_a_curve_that_clips_higher_keeps_the_highlights():
    """300 cd/m² of 1000 kept against 900: what lies between is lost only under the first."""
    panel = Panel("wide", 10000.0)
    frame = scene("drifts_in_sunlit_snow", peak=1000.0, rows=180)
    found = compare(frame, [panel], [hard_clip(300.0), hard_clip(950.0)])
    assert [case.label for case in found.cases] == ["clipped at 300 cd/m²", "clipped at 950 cd/m²"]
    lines = {line.name: line for line in found.lines}
    assert lines["clipped.curve"].best == lines["detail.highlights.lost"].best == 1
    assert "clipped at 950 cd/m² loses least in the highlights" in found.sentence


def test_labels_say_what_differs():
    frame = scene("subtitle_on_black", rows=90)
    many = compare(frame, [zoned(1e3, "a"), zoned(2e3, "b")], ["fixed", None])
    assert [case.label for case in many.cases] == [
        "a, fixed", "a, its own habit, fixed", "b, fixed", "b, its own habit, fixed",
    ]  # fmt: skip
    one = compare(frame, [zoned(1e3, "a")], ["fixed", "by_frame"])
    assert [case.label for case in one.cases] == ["fixed", "by_frame"]


def test_content_and_drives_are_no_differences():
    frame = scene("window_and_table", rows=90)
    found = compare(frame, list(PANELS.values()))
    assert not [line for line in found.lines if line.name.startswith(("content.", "light."))]
    assert set(found.caveats) == {d for case in found.cases for d in case.findings.caveats}


def test_undetermined_values_are_told_and_do_not_win():
    cases = compare(scene("subtitle_on_black", rows=90), [zoned(900.0, "a"), zoned(9e3, "b")]).cases
    found = [findings(halo__area=0.5), findings(halo__area=0.1)]
    made = comparison_of("x", tuple(replace(c, findings=f) for c, f in zip(cases, found, strict=True)), AREA)  # fmt: skip  # noqa: E501
    assert made.lines[0].best == 1
    nan = [findings(halo__area=0.5), findings(halo__area=float("nan"))]
    made = comparison_of("x", tuple(replace(c, findings=f) for c, f in zip(cases, nan, strict=True)), AREA)  # fmt: skip  # noqa: E501
    assert made.lines == ()


def test_a_comparison_on_file_holds_every_case(tmp_path):
    found = compare(scene("neon_without_white", rows=90), list(PANELS.values()))
    path = save_comparison(found, tmp_path / "comparison.json")
    document = json.loads(path.read_text("utf-8"))
    assert document["format"] == "emulate-comparison/1"
    assert [case["panel"] for case in document["cases"]] == ["Tallow", "Lattice", "Ember"]
    assert document["sentence"] == found.sentence
    for line, entry in zip(found.lines, document["differences"], strict=True):
        assert entry["name"] == line.name
        assert entry["counts_from"]
        assert len(entry["values"]) == 3
    values = document["cases"][0]["findings"]
    assert values["halo.area"]["value"] == found.cases[0].findings["halo.area"].value
    assert path.read_bytes() == save_comparison(found, tmp_path / "again.json").read_bytes()


def test_a_clip_is_compared_over_its_frames():
    """A lamp crosses zones: the panel with slow zones comes late, one of single pixels does not."""
    slow = replace(zoned(2000.0, "slow"), zones=Zones(4, 6, attack_s=0.3, decay_s=0.3))
    reel = replace(clip("lamp_across_black", rows=90), end_s=0.5)
    found = compare(reel, [slow, Panel("pixels", 4000.0)])
    lines = {line.name: line for line in found.lines}
    assert lines["halo.area"].best == 1
    assert all(case.film is not None and len(case.film.table) == 12 for case in found.cases)
    assert found.cases[0].film.film is found.cases[0].findings
    assert any(name.startswith("lag.") for name in lines)


@pytest.mark.parametrize(
    ("panels", "policies"),
    [([zoned(1e3)], [None]), ([], [None]), ([zoned(1e3)] * 27, [None]), ([zoned(1e3)] * 2, ["x"])],
)
def test_refusals(panels, policies):
    with pytest.raises(EmulateError, match="accepted"):
        compare(scene("subtitle_on_black", rows=90), panels, policies)


def test_no_case_does_best_by_a_depth_over_more_of_the_loss():
    """89 % of the light of 22 things against 50 % of 3 things: fewer is not told from milder."""
    assert _best("dimmed.kept", [0.89, 0.50], [22, 3]) is None
    assert _best("dimmed.kept", [0.89, 0.50], [3, 22]) == 0
    assert _best("dimmed.kept.worst", [0.5, 0.89], [3, 4]) == 1
    assert _best("clipped.depth", [2.0, 3.0], [0.5, 0.1]) is None
    assert _best("clipped.area", [2.0, 3.0], [1.0, 1.0]) == 0
