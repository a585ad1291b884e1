"""Pictures of comparisons and of motion: what is drawn is what was found, the same bytes twice."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest

from emulate import Shown, compare, load_panel, measure_motion, render, save_drawing
from emulate.demo_frames import clip, panel_files, scene
from emulate.films.motion import as_followed
from emulate.pictures.compare import (
    _apart,
    draw_curves_together,
    draw_differences,
    draw_side_by_side,
    name_text,
    view_size,
)
from emulate.pictures.exposure import slices_of
from emulate.pictures.motion_as_shown import draw_motion
from emulate.pictures.page import Paper
from emulate.pictures.pair import GAP, column_width
from emulate.pictures.sampling import area_mean
from tests.rooms.pictured import codes

PANELS = [load_panel(file) for file in panel_files()]
FRAME = scene("window_and_table", rows=180, peak=1000.0)
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def compared():
    return compare(FRAME, PANELS, ["fixed:st2094_10:4000"])


@pytest.fixture(scope="module")
def views(compared):
    size = view_size(FRAME.shape)
    return {
        case.label: area_mean(render(FRAME, case.panel, policy=case.policy).light, size)
        for case in compared.cases
    }


def words(path):
    root = ElementTree.parse(path).getroot()
    return [node.text for node in root.iter(f"{SVG}text") if node.text]


def test_differences_are_written_as_they_were_found(compared, tmp_path):
    drawing = draw_differences(compared)
    path = save_drawing(drawing, tmp_path / "differences.svg").path
    said = " ".join(words(path))
    for line in compared.lines[:20]:
        assert name_text(line.name).split(",")[0][:30] in said
        for text in line.texts:
            assert text.removesuffix(" visible steps").removesuffix(" visible step") in said
    assert compared.sentence in drawing.alt
    assert path.read_bytes() == save_drawing(draw_differences(compared), tmp_path / "b.svg").path.read_bytes()  # fmt: skip  # noqa: E501


def test_marks_at_one_place_are_all_seen():
    assert _apart([0.2, 0.9]) == [0, 0]
    high, low, alone = _apart([0.5, 0.51, 0.9])
    assert (high, low, alone) == (-low, low, 0)
    assert high > 0
    assert len(set(_apart([1.0, 1.0, 1.0]))) == 3


def test_every_finding_has_a_name_that_a_person_says(compared):
    for name in compared.cases[0].findings:
        if not name.startswith("content."):
            assert " " in name_text(name), name
            assert "_" not in name_text(name)
    assert name_text("clipped.area.worst") == "Area clipped, worst frame"


def test_side_by_side_shows_every_case_at_the_same_exposure(compared, views, tmp_path):
    drawing = draw_side_by_side(FRAME, compared, views)
    drawn = codes(save_drawing(drawing, tmp_path / "side.png").path)
    assert drawn.shape[1] == 1000
    for label in views:
        assert label in drawing.alt
    reference = area_mean(FRAME.light, view_size(FRAME.shape))
    for exposure in slices_of(reference, np.maximum.reduce(list(views.values()))):
        tops = [_top(drawn, exposure.codes(light)) for light in (reference, *views.values())]
        assert tops[0] == tops[1] < tops[2] == tops[3]  # two by two, reference first


def _top(drawn, picture):
    """The row at which a picture is drawn, code for code, in either column."""
    rows, columns = picture.shape[:2]
    for left in (24 + (column_width() - columns) // 2, 24 + column_width() + GAP + (column_width() - columns) // 2):  # fmt: skip  # noqa: E501
        for top in range(drawn.shape[0] - rows):
            if (drawn[top : top + rows, left : left + columns] == picture).all():
                return top
    raise AssertionError("not drawn")


def test_curves_are_named_by_their_cases(compared, tmp_path):
    rendering = render(FRAME, PANELS[0], policy="fixed:st2094_10:4000")
    drawing = draw_curves_together(FRAME, rendering, compared)
    said = " ".join(words(save_drawing(drawing, tmp_path / "curves.svg").path))
    for case in compared.cases:
        assert f"{case.label}: {case.curve.text}" in said


@pytest.mark.parametrize(
    ("rate", "shown"), [(24, Shown(60)), (24, Shown(48, 0.5)), (60, Shown(24, 0.2, 2, 0.004, 0.01))]
)
def test_motion_is_drawn_with_its_numbers(rate, shown, tmp_path):
    frame = clip("posts_passing", rows=120).frame(0)
    found = measure_motion(rate, shown, px_per_s=60)
    followed = as_followed(frame.light, rate, shown, 60)
    drawing = draw_motion(frame, followed, rate, shown, found, Paper(1))
    path = save_drawing(drawing, tmp_path / "motion.svg").path
    assert found["motion.edge"].sentence in drawing.alt
    assert found.basis.split(",")[0] in " ".join(words(path))
    again = draw_motion(frame, followed, rate, shown, found, Paper(1))
    assert save_drawing(again, tmp_path / "again.svg").path.read_bytes() == path.read_bytes()
