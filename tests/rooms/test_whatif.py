"""What if: how much of one change takes a loss out of sight, held against sums done by hand."""

from __future__ import annotations

import csv
from dataclasses import replace
from math import isnan, nan

import colour
import numpy as np
import pytest

from emulate import (
    Frame,
    Panel,
    load_findings,
    load_panel,
    measure,
    render,
    save_drawing,
    save_findings,
    what_if,
)
from emulate.demo_frames import panel_files, scene
from emulate.errors import RequestError
from emulate.findings.finding import Finding, Unit
from emulate.panel.cell import Cell
from emulate.panel.file import checked
from emulate.panel.spread import Spread
from emulate.panel.tone import Tone, ToneReading
from emulate.panel.zones import Zones
from emulate.pictures.ladder import draw_ladder
from emulate.values import numbers
from emulate.whatif.changes import changes_of, with_contrast, with_optics, with_peak, with_zones
from emulate.whatif.climb import HALVINGS, HIDDEN, RUNGS, climbs
from emulate.whatif.saving import save_trials
from emulate.whatif.wording import amount_text

ROWS = 270
PANELS = {file.stem: file for file in panel_files()}


@pytest.fixture(scope="module")
def lamps():
    """The demo's lamps on black water, small, on its panel of 96 zones."""
    frame, panel = scene("lamps_on_black_water", rows=ROWS), load_panel(PANELS["coarse_zones"])
    return what_if(frame, panel, changes=("contrast", "zones"))


def test_contrast_alone_removes_a_halo_that_needs_many_more_zones(lamps):
    """Direction of Tan et al., Optics Express 26(13), 2018: contrast stands for many zones. At full
    size it is 49 times the zones for 7.4 times the contrast; a small picture has smaller lamps."""
    now = load_panel(PANELS["coarse_zones"])
    needed = {climb.change.name: climb.needed for climb in lamps.of("halo")}
    assert "halo" in lamps.losses
    more = with_zones(now, needed["zones"]).zones
    times = more.rows * more.columns / (now.zones.rows * now.zones.columns)
    assert times > 5
    assert times > 2 * needed["contrast"]
    assert "out of sight with" in lamps.findings["halo.contrast"].sentence
    assert f"{more.rows * more.columns} zones" in lamps.findings["halo.zones"].sentence


def test_each_amount_says_what_it_is_one_of(lamps):
    def told(value: float, unit: Unit) -> str:
        return amount_text(Finding(value, unit, "", ""))

    assert told(7.4, "times") == "7.4 times"
    assert told(nan, "times") == "no amount does it"
    assert told(1.0, "times") == "nothing"
    assert told(0.13, "share") == "leaves 13 % of the picture"
    assert amount_text(lamps.findings["halo.policy"]).startswith("leaves ")


def test_a_panel_so_changed_shows_no_halo(lamps):
    frame, panel = scene("lamps_on_black_water", rows=ROWS), load_panel(PANELS["coarse_zones"])
    needed = next(each.needed for each in lamps.of("halo") if each.change.name == "contrast")
    for amount, shows in ((0.9 * needed, True), (needed, False)):
        rendering = render(frame, with_contrast(panel, amount))
        assert (measure(frame, rendering)["halo.area"].value > HIDDEN) == shows


def test_every_loss_and_change_is_told_and_written(lamps, tmp_path):
    for loss in lamps.losses:
        for climb in lamps.of(loss):
            found = lamps.findings[f"{loss}.{climb.change.name}"]
            assert found.unit == "times"
            assert found.value == climb.needed or (isnan(found.value) and isnan(climb.needed))
    again = load_findings(save_findings(lamps.findings, tmp_path / "whatif.json"))
    assert [found.sentence for found in again.values()] == [
        found.sentence for found in lamps.findings.values()
    ]
    with save_trials(lamps, tmp_path / "whatif.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert {row["loss"] for row in rows} == set(lamps.losses)
    assert all(0 <= float(row["share"]) <= 1 for row in rows)
    assert len(rows) == sum(each.amounts.size for each in lamps.climbs) + 5 * len(lamps.losses)


def test_the_ladder_draws_a_block_for_each_loss(lamps, tmp_path):
    drawing = draw_ladder(lamps)
    assert lamps.findings["halo.contrast"].sentence in drawing.alt
    drawn = {text.get_text() for text in drawing.figure.texts}
    for loss in ("Crushed shadows", "The glow around bright things"):
        assert any(each.startswith(f"{loss}: ") for each in drawn)
    first = save_drawing(drawing, tmp_path / "one.png").path.read_bytes()
    assert first == save_drawing(draw_ladder(lamps), tmp_path / "two.png").path.read_bytes()


def _dark_room_scene(dark: float, bright: float) -> Frame:
    light = np.full((90, 160, 3), dark, np.float32)
    light[30:60, 60:100] = bright
    return Frame.from_light(light, "box")


def test_the_contrast_that_shadows_need_is_the_one_worked_out_by_hand():
    """One lamp behind all, full on: black is L_open/CR. Shadows of 0.05 cd/m² are crushed until
    that is within one visible step of them, 720·ΔPQ⁻¹ = 1 (ITU-R BT.2124); PQ by colour-science."""
    panel = Panel("one lamp", 500.0, zones=Zones(1, 1), cell=Cell(contrast=2000.0))
    asked = what_if(_dark_room_scene(0.05, 500.0), panel, rows=90, changes=("contrast",))
    signal = colour.models.eotf_inverse_ST2084(0.05) + 1 / 720
    enough = 500.0 / float(colour.models.eotf_ST2084(signal))
    climb = next(each for each in asked.of("crushed") if each.change.name == "contrast")
    found = 2000.0 * climb.needed
    assert enough * 0.999 < found < enough * (1e6 / 2000) ** (1 / RUNGS / 2**HALVINGS) * 1.001
    assert climb.steady
    assert not climb.returns


def _climb(look, panel):
    change = next(each for each in changes_of(panel, 540) if each.name == "contrast")
    return climbs(panel, change, ("halo",), {"halo": look(panel)}, lambda p: {"halo": look(p)})[0]


@pytest.fixture
def leaky() -> Panel:
    return Panel("leaky", 600.0, zones=Zones(6, 16), cell=Cell(contrast=1000.0))


def test_halving_lands_just_above_where_the_loss_ends(leaky):
    climb = _climb(lambda panel: max(0.0, 1 - panel.cell.contrast / 23456), leaky)
    end = 23456 * (1 - 1e-4) / 1000
    assert end <= climb.needed <= end * 1000 ** (1 / RUNGS / 2**HALVINGS)
    assert climb.told == f"{float(f'{1000 * climb.needed:.3g}'):.0f}:1"


def test_a_loss_that_never_ends_is_undetermined(leaky):
    climb = _climb(lambda panel: 0.1 + 100 / panel.cell.contrast, leaky)
    assert isnan(climb.needed)
    assert climb.least == pytest.approx(0.1, abs=2e-4)
    assert climb.steady
    assert climb.helps


def test_a_loss_that_comes_back_is_said_to(leaky):
    climb = _climb(lambda panel: 0.5 * abs(np.log10(panel.cell.contrast / 1000) - 1.5) // 0.4,
                   leaky)  # fmt: skip
    assert climb.returns
    assert not climb.steady


def test_zones_grow_in_both_directions_and_their_optics_with_them(leaky):
    panel = replace(leaky, spread=Spread(numbers([1.0]), numbers([0.12])))
    finer = with_optics(panel, 2.5)
    assert (finer.zones.rows, finer.zones.columns) == (15, 40)
    assert finer.spread.sigma_h == pytest.approx([0.048])
    assert with_zones(panel, 2.5).spread.sigma_h == pytest.approx([0.12])


def test_a_raised_peak_keeps_the_shape_of_the_curve():
    """T becomes f·T(L/f): what is shown as mastered still is, and the shoulder moves up."""
    signal = colour.models.eotf_inverse_ST2084([0.0, 100.0, 300.0, 1000.0, 4000.0])
    read = ToneReading(0.0, numbers(signal), numbers([0.0, 100.0, 300.0, 600.0, 700.0]))
    raised = checked(with_peak(Panel("p", 700.0, tone=Tone(curves=(read,))), 2.0))
    assert raised.open_cdm2 == 1400.0
    curve = raised.tone.curves[0].curve()
    assert curve.light([200.0, 600.0, 2000.0, 8000.0]) == pytest.approx([200, 600, 1200, 1400])


@pytest.mark.parametrize("stem", PANELS)
def test_every_change_makes_a_panel_that_can_exist(stem):
    panel = load_panel(PANELS[stem])
    for change in changes_of(panel, 540):
        assert checked(change.made(panel, 1.0)).open_cdm2 == panel.open_cdm2
        for amount in (change.most**0.5, change.most):
            checked(change.made(panel, amount))
            assert change.told(change.made(panel, amount)) != change.told(panel)


def test_a_panel_of_its_own_light_has_only_its_peak_to_change():
    names = [each.name for each in changes_of(load_panel(PANELS["self_emissive"]), 540)]
    assert names == ["peak"]


def test_nothing_to_change_where_nothing_is_lost():
    asked = what_if(Frame.from_light(np.full((90, 160, 3), 80.0)), Panel("plain", 500.0))
    assert asked.losses == ()
    assert asked.climbs == ()
    assert all("out of sight as it is" in found.sentence for found in asked.findings.values())
    assert draw_ladder(asked).alt == "No single change tried takes any loss out of sight."


def test_what_cannot_be_asked_is_refused():
    with pytest.raises(RequestError, match="rows = 50: accepted is 90 or more"):
        what_if(Frame.from_light(np.ones((90, 160, 3))), Panel("plain", 500.0), rows=50)
    with pytest.raises(RequestError, match="change colour: accepted is zones, optics, contrast"):
        what_if(Frame.from_light(np.ones((9, 16, 3))), Panel("plain", 1.0), changes=["colour"])
