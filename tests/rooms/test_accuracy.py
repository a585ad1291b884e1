"""Accuracy tables against colour-science, published coverages and sums done by hand."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from emulate import Findings, draw_accuracy, find_accuracy
from emulate.findings.accuracy.chart import spoken
from emulate.findings.accuracy.eotf import EotfTable
from emulate.pictures.accuracy import draw_eotf
from emulate.readings.patterns.plan import pattern_set
from emulate.readings.readings import Reading, Readings, Source
from emulate.readings.stimulus import Stimulus
from emulate.transfer import pq_from_light
from emulate.values import numbers

BT2020 = colour.RGB_COLOURSPACES["ITU-R BT.2020"]
P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))  # SMPTE RP 431-2
FAMILIES = ("ramp", "primary", "chart24", "window", "uniformity")


def _light(stimulus: Stimulus, spot=(0.5, 0.5)) -> np.ndarray:
    """XYZ of what is asked, by colour-science alone."""
    rgb = colour.models.eotf_ST2084(np.array(stimulus.signal_at(spot)))
    return colour.RGB_to_XYZ(rgb, BT2020, apply_cctf_decoding=False)


def _session(changed=lambda xyz, *_: xyz) -> Readings:
    patterns = pattern_set(shape=(90, 160), peaks=(1000,), families=FAMILIES)
    readings = []
    for line, look in enumerate(patterns.looks):
        xyz = changed(_light(look.stimulus, look.spot), look.stimulus, look.spot)
        values = tuple(float(v) for v in xyz)
        readings.append(Reading(look.stimulus, values[1], Source("s.csv", line), values, look.spot))
    return Readings(tuple(readings), panel="ideal")


@pytest.fixture(scope="module")
def ideal():
    return find_accuracy(_session())


def test_an_ideal_panel_has_no_error(ideal):
    found = ideal.findings
    for name in ("eotf.p1000.worst", "grey.delta_e.worst", "chart24.worst", "grey.shift"):
        assert found[name].value == pytest.approx(0, abs=2e-4), (
            name
        )  # xy rounded in RP 177 matrices
    assert found["gamut.l100.bt2020.xy"].value == pytest.approx(1, abs=1e-4)
    assert found["uniformity.l100.darkest"].value == pytest.approx(1, abs=1e-12)


def test_a_tenth_too_bright_is_told_in_steps_and_per_cent():
    """ITU-R BT.2124: a step is 1/720 of PQ signal; colour-science's ST 2084."""
    accuracy = find_accuracy(_session(lambda xyz, *_: 1.1 * xyz))
    table = accuracy.tables[0]
    lit = table.ideal > 0
    np.testing.assert_allclose(table.share_off[lit], 0.1, atol=1e-6)
    bright = colour.models.eotf_inverse_ST2084(1.1 * table.ideal)
    ideal = colour.models.eotf_inverse_ST2084(table.ideal)
    np.testing.assert_allclose(table.steps_off, 720 * (bright - ideal), atol=1e-6)
    assert np.isnan(table.share_off[~lit]).all()


def test_steps_beyond_the_brightest_read_are_left_out_and_said():
    """An ideal panel that stops at 300 cd/m²."""
    accuracy = find_accuracy(_session(lambda xyz, *_: xyz * min(1, 300 / max(xyz[1], 1e-9))))
    table = accuracy.tables[0]
    beyond = int((table.ideal > 300.001).sum())
    said = accuracy.findings["eotf.p1000.worst"].sentence
    assert said.endswith(
        f"left out the {beyond} steps that ask for more than the brightest read, 300 cd/m²."
    )


def test_balance_names_the_strong_channel():
    """5 % more red light: red over the luminance it then has, in BT.2020, by colour-science."""

    def redder(xyz, stimulus, *_):
        if stimulus.kind != "ramp":
            return xyz
        rgb = colour.XYZ_to_RGB(xyz, BT2020) * [1.05, 1, 1]
        return colour.RGB_to_XYZ(rgb, BT2020)

    accuracy = find_accuracy(_session(redder))
    table = next(t for t in accuracy.tables if t.title.startswith("Grey"))
    luminance = 0.2627 * 1.05 + 0.6780 + 0.0593  # ITU-R BT.2020-2 table 4
    greys = table.balance[[1, 5, -1]]  # among them the drift patch, which stayed neutral
    assert greys.max(axis=0)[0] == pytest.approx(1.05 / luminance, rel=2e-4)
    assert "too much red" in accuracy.findings["grey.balance"].sentence
    grey = table.xyz[-1]
    neutral = np.array([0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290]) * grey[1]
    labs = [colour.XYZ_to_Lab(v / grey[1], (0.3127, 0.3290)) for v in (grey, neutral)]
    expected = colour.delta_E(*labs, method="CIE 2000")
    assert table.delta_e[-1] == pytest.approx(expected, rel=1e-6)


def test_coverage_of_p3_is_the_published_one():
    """P3 over BT.2020: .71729 in xy, .72849 in u′v′ (areas of the printed triangles)."""

    def as_p3(xyz, stimulus, *_):
        lit = np.array(stimulus.level) > 0
        if stimulus.kind != "primary" or lit.sum() != 1:
            return xyz
        x, y = P3[int(np.argmax(lit))]
        return colour.xyY_to_XYZ([x, y, xyz[1]])

    found = find_accuracy(_session(as_p3)).findings
    assert found["gamut.l100.bt2020.xy"].value == pytest.approx(0.71729, abs=1e-5)
    assert found["gamut.l100.bt2020.uv"].value == pytest.approx(0.72849, abs=1e-5)
    assert found["gamut.l1000.p3.xy"].value == pytest.approx(1, abs=1e-9)


def test_chart_is_what_colour_science_says():
    def duller(xyz, stimulus, *_):
        return xyz * [1.04, 0.96, 0.9] if stimulus.kind == "chart24" else xyz

    accuracy = find_accuracy(_session(duller))
    table = next(t for t in accuracy.tables if t.title.startswith("Colour chart"))
    labs = [colour.XYZ_to_Lab(v / 100, (0.3127, 0.3290)) for v in (table.read, table.asked)]
    expected = colour.delta_E(*labs, method="CIE 2000")
    np.testing.assert_allclose(table.delta_e, expected, rtol=1e-3)
    found = accuracy.findings
    assert found["chart24.mean"].value == pytest.approx(expected.mean(), rel=1e-3)
    assert found["chart24.over_3"].value == pytest.approx(np.mean(expected > 3), abs=1e-9)
    assert len(table.rows()) == 24


@pytest.mark.parametrize(
    ("name", "said"),
    [  # "white 9.5 (.05 D)", "neutral 3.5 (1.05 D)" and so on in colour-science
        ("white_9_5_05_D", "white 9.5"),
        ("neutral_5_70_D", "neutral 5"),
        ("neutral_3_5_1_05_D", "neutral 3.5"),
        ("black_2_1_5_D", "black 2"),
        ("bluish_green", "bluish green"),
        ("A1", "A1"),
    ],
)
def test_patches_are_called_as_a_person_calls_them(name, said):
    assert spoken(name) == said


def test_greys_beyond_the_scale_are_counted_and_marked():
    """1000 cd/m² is all there is: PQ(4000) − PQ(1000) = .90257 − .75183, 108.5 steps (ST 2084)."""
    light = numbers([0.0, 1.0, 10.0, 100.0, 1000.0, 4000.0])
    table = EotfTable(4000.0, numbers(pq_from_light(light)), numbers(np.minimum(light, 1000.0)))
    figure = draw_eotf([table], Findings(table.findings())).figure
    said = [text.get_text() for text in figure.texts]
    assert any(
        text.endswith("▾ beyond this scale: 1 grey, off by up to \N{MINUS SIGN}109 steps")
        for text in said
    )
    (marks,) = [line for line in figure.axes[1].lines if line.get_marker() == "v"]
    assert marks.get_xdata() == pytest.approx([0.90257], abs=1e-4)


def test_windows_and_uniformity_by_hand():
    left = {1: 0.8, 5: 1.0, 100: 0.5}

    def falling(xyz, stimulus, spot):
        if stimulus.kind == "window":
            return xyz * left.get(round(100 * stimulus.value), 0.9)
        if stimulus.kind == "uniformity":
            return xyz * (0.7 if spot[0] < 0.2 else 1.0)
        return xyz

    found = find_accuracy(_session(falling)).findings
    assert found["windows.peak"].value == pytest.approx(10000, rel=1e-4)
    assert "on 5 % of the screen" in found["windows.peak"].sentence
    assert found["windows.kept"].value == pytest.approx(0.5, rel=1e-6)
    assert found["uniformity.l100.darkest"].value == pytest.approx(0.7, rel=1e-6)
    assert found["uniformity.l100.mean"].value == pytest.approx(3 * 0.3 / 14, rel=1e-6)  # 3 of 14


def test_tables_print_and_only_what_was_read(ideal):
    for table in ideal.tables:
        assert all(len(row) == len(table.head) for row in table.rows())
        assert set(table.findings()) <= set(ideal.findings)
    few = _session()
    alone = find_accuracy(few.without("ramp", "primary", "chart24", "uniformity", "drift"))
    assert [table.title for table in alone.tables] == ["White windows on black"]


def test_readings_from_the_side_or_in_light_are_left_out():
    session = _session().without("ramp", "primary", "chart24", "uniformity", "drift")
    lit = Readings(
        tuple(Reading(r.stimulus, 2 * r.luminance, r.source, room_lux=100.0) for r in session)
    )
    both = session.joined(lit)
    assert find_accuracy(both).findings["windows.peak"].value == pytest.approx(10000, rel=1e-4)


def test_every_kind_of_table_is_drawn_the_same_twice(ideal, tmp_path):
    first, again = (draw_accuracy(ideal, tmp_path / name) for name in "ab")
    names = {picture.path.stem for picture in first}
    assert names == {"eotf", "grey", "gamut", "chart", "windows", "uniformity"}
    for one, other in zip(first, again, strict=True):
        assert one.path.read_bytes() == other.path.read_bytes()
        named = [f for name, f in ideal.findings.items() if name.startswith(one.path.stem)]
        assert named
        assert all(finding.sentence in one.alt for finding in named)
