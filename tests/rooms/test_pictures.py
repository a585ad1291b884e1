"""Pictures: what is drawn is what was found, and the same bytes each time."""

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from itertools import combinations

import matplotlib
import numpy as np
import pytest
from matplotlib.text import Text
from PIL import Image

from emulate.demo_frames import panel_files
from emulate.errors import OutputError, RequestError
from emulate.findings.evidence import Loss
from emulate.panel.cell import Cell
from emulate.panel.curves import FLAT, hard_clip, identity, measured
from emulate.panel.file import load_panel
from emulate.panel.panel import Panel
from emulate.panel.tone import tone_reading
from emulate.panel.zones import SelfEmissive, Zones
from emulate.pictures import page as pages
from emulate.pictures import style
from emulate.pictures.album import DRAW, draw_all
from emulate.pictures.backlight import draw_backlight
from emulate.pictures.curve import _knee, _told, draw_curve, flat_parts
from emulate.pictures.exposure import slices
from emulate.pictures.ground import DARK, LIGHT
from emulate.pictures.halo import draw_halo
from emulate.pictures.loss import draw_loss
from emulate.pictures.page import Paper, save_drawing
from emulate.pictures.pair import LABEL, RIM, draw_pair
from emulate.pictures.scales import BESIDE
from emulate.pictures.sheet import draw_sheet
from emulate.pictures.style import SERIES
from emulate.sight import steps_from_light
from emulate.transfer import light_from_pq, pq_from_light
from tests.rooms.pictured import PANEL, case, codes, linear

WINDOWS = [(0.01, 500.0), (0.1, 790.0), (1.0, 480.0)]
NAMES = ["pair", "loss", "halo", "backlight", "curve"]
SVG = "{http://www.w3.org/2000/svg}"

# ITU-R BT.2087-0 inverse (from memory to 4 digits): BT.2020 to BT.709, linear light
BT709_FROM_BT2020 = np.array(
    [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]]
)


@pytest.fixture(scope="module")
def lamp():
    return case()


def words(path):
    """Every line of type in an SVG."""
    root = ElementTree.parse(path).getroot()
    return [node.text for node in root.iter(f"{SVG}text") if node.text]


def test_an_album_is_five_pictures_that_say_what_they_show(lamp, tmp_path):
    album = draw_all(*lamp, tmp_path / "new" / "folder")
    assert [picture.path.stem for picture in album] == NAMES
    for picture in album:
        with Image.open(picture.path) as image:
            assert image.width == 1000
            assert set(image.info) <= {"dpi"}  # no software, no date
        assert "lamp" in picture.alt or "Quarry" in picture.alt
        assert len(picture.alt.split()) > 8
    assert sorted(p.name for p in (tmp_path / "new" / "folder").iterdir()) == sorted(
        f"{name}.png" for name in NAMES
    )


@pytest.mark.parametrize(
    ("ending", "draws"), [(".png", DRAW[2:4]), (".svg", DRAW), (".pdf", DRAW[:1])]
)
def test_bytes_are_the_same_twice_whatever_the_user_set(lamp, tmp_path, ending, draws):
    def drawn():
        paths = [tmp_path / f"{draw.__name__}{ending}" for draw in draws]
        for draw, path in zip(draws, paths, strict=True):
            save_drawing(draw(*lamp, None), path)
        return [path.read_bytes() for path in paths]

    first = drawn()
    with matplotlib.rc_context({"font.size": 31, "axes.facecolor": "red", "svg.hashsalt": "x"}):
        assert drawn() == first
        assert matplotlib.rcParams["font.size"] == 31


def test_bytes_are_the_same_in_another_process_and_pyplot_stays_shut(tmp_path):
    panel = Panel("Bare", 700.0)
    with np.printoptions(precision=3, legacy="1.13"):  # as `import colour` leaves them
        here = save_drawing(draw_sheet(panel), tmp_path / "here.svg").path.read_bytes()
    program = f"""
import sys
from emulate.panel.panel import Panel
from emulate.pictures import album, sheet
from emulate.pictures.page import save_drawing
assert "matplotlib" not in sys.modules
save_drawing(sheet.draw_sheet(Panel("Bare", 700.0)), {str(tmp_path / "there.svg")!r})
assert "matplotlib" in sys.modules
assert "matplotlib.pyplot" not in sys.modules
"""
    environment = {**os.environ, "PYTHONHASHSEED": "7", "TZ": "Asia/Tokyo"}
    subprocess.run([sys.executable, "-c", program], check=True, env=environment)
    assert (tmp_path / "there.svg").read_bytes() == here


def test_drawn_pixels_put_back_through_the_exposure_are_the_light(tmp_path):
    """The frame is twice as fine as the picture, so a drawn pixel is the mean of four."""
    frame, rendering, findings = case(510, 908)
    drawn = codes(save_drawing(draw_pair(frame, rendering, findings), tmp_path / "p.png").path)
    tops = _tops(drawn)
    found = slices(frame, rendering)
    assert len(tops) == len(found) >= 2
    for exposure, top in zip(found, tops, strict=True):
        for light, left in ((frame.light, 32), (rendering.light, 514)):
            blocks = light.reshape(255, 2, 454, 2, 3).mean(axis=(1, 3), dtype=np.float64)
            wanted = np.clip(blocks @ BT709_FROM_BT2020.T / exposure.white, 0, 1)
            coded = np.where(
                wanted <= 0.0031308, 12.92 * wanted, 1.055 * wanted ** (1 / 2.4) - 0.055
            )
            area = drawn[top + LABEL : top + LABEL + 255, left : left + 454].astype(int)
            assert np.abs(area - 255 * coded).max() <= 1


def _tops(drawn):
    """First rows of the mats: where the column just inside the left mat turns mat grey."""
    mat = (drawn[:, style.MARGIN + RIM // 2] == style.rgb(style.MAT)).all(axis=1)
    return np.flatnonzero(mat[1:] & ~mat[:-1]) + 1


def test_reference_and_panel_share_one_exposure(tmp_path):
    frame, rendering, findings = case()
    same = replace(rendering, light=frame.light)
    drawn = codes(save_drawing(draw_pair(frame, same, findings), tmp_path / "p.png").path)
    for top in _tops(drawn):
        rows = slice(top + LABEL, top + LABEL + 200)
        np.testing.assert_array_equal(drawn[rows, 32:486], drawn[rows, 514:968])


def test_scale_draws_finer_and_the_page_stays_the_same(lamp, tmp_path):
    fine = codes(save_drawing(draw_pair(*lamp, Paper(scale=2)), tmp_path / "2.png").path)
    plain = codes(save_drawing(draw_pair(*lamp), tmp_path / "1.png").path)
    assert fine.shape[:2] == tuple(2 * side for side in plain.shape[:2])
    halved = linear(fine).reshape(*plain.shape[:2][:1], 2, plain.shape[1], 2, 3).mean(axis=(1, 3))
    top = _tops(plain)[0] + LABEL
    area = np.s_[top + 4 : top + 200, 40:480]
    assert np.abs(halved[area] - linear(plain)[area]).mean() < 0.01


@pytest.mark.parametrize("mm", [85.0, 254.0])
def test_print_has_the_width_asked_for(lamp, tmp_path, mm):
    drawing = draw_curve(*lamp, Paper(mm=mm))
    svg = save_drawing(drawing, tmp_path / "c.svg").path.read_text()
    points = float(re.search(r'<svg[^>]* width="([\d.]+)pt"', svg).group(1))
    assert points / 72 * 25.4 == pytest.approx(mm, abs=0.01)
    pdf = save_drawing(drawing, tmp_path / "c.pdf").path.read_bytes()
    box = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ", pdf)
    assert float(box.group(1)) / 72 * 25.4 == pytest.approx(mm, abs=0.01)


def test_labels_are_type_in_the_svg(lamp, tmp_path):
    frame, rendering, findings = lamp
    said = {p.path.stem: " ".join(words(p.path)) for p in draw_all(*lamp, tmp_path, ending=".svg")}
    for exposure in slices(frame, rendering):
        assert exposure.sentence in said["pair"]
    assert findings["halo.area"].sentence in said["halo"]
    assert "visible steps" in said["halo"]
    assert "reference, cd/m²" in said["curve"]
    assert "panel, cd/m²" in said["curve"]
    assert "backlight, cd/m²" in said["backlight"]
    for name in NAMES:
        assert "Frame: lamp. Panel: Quarry." in said[name], name
        assert "3.2 picture heights" in said[name], name
        assert "doubt" in said[name], name


def test_shares_in_the_loss_map_are_findings(lamp, tmp_path):
    _, _, findings = lamp
    one = replace(findings["crushed.leak"], value=0.1234)
    changed = replace(findings, by_name={**findings, "crushed.leak": one})
    path = save_drawing(draw_loss(lamp[0], lamp[1], changed), tmp_path / "l.svg").path
    assert "by light leaking: 12 % of the picture" in words(path)


def test_losses_lie_where_the_map_says_and_nowhere_else(lamp, tmp_path):
    frame, rendering, findings = lamp
    loss = np.zeros(frame.shape, dtype=np.uint8)
    loss[:, 48:] = Loss.CLIPPED_CURVE
    detail = np.zeros(frame.shape, dtype=np.uint8)
    shown = replace(findings, maps={**findings.maps, "loss": loss, "detail": detail})
    drawn = codes(save_drawing(draw_loss(frame, rendering, shown), tmp_path / "l.png").path)
    top = _tops(drawn)[0] + LABEL + 4
    clipped, crushed = drawn[top : top + 250, 32:486], drawn[top : top + 250, 514:968]
    assert (clipped[:, 228:] == style.rgb(style.CAUSES["curve"])).all()
    for ground in (clipped[:, :226], crushed):
        assert (ground.max(axis=2) == ground.min(axis=2)).all()  # grey
        assert DARK <= ground.min() <= ground.max() <= LIGHT


def test_half_a_drawn_pixel_of_loss_is_half_its_light(tmp_path):
    frame, rendering, findings = case(510, 908)
    loss = np.zeros(frame.shape, dtype=np.uint8)
    loss[::2] = Loss.CLIPPED_CURVE
    black = replace(frame, picture=replace(frame.picture, values=np.zeros_like(frame.light)))
    shown = replace(findings, maps={**findings.maps, "loss": loss})
    drawn = codes(save_drawing(draw_loss(black, rendering, shown), tmp_path / "l.png").path)
    pixel = drawn[_tops(drawn)[0] + LABEL + 4 + 100, 100]
    dark = linear(np.full(3, DARK))
    wanted = (linear(style.rgb(style.CAUSES["curve"])) + dark) / 2
    np.testing.assert_allclose(linear(pixel), wanted, atol=0.005)


def test_halo_below_a_step_is_left_empty(lamp, tmp_path):
    frame, rendering, findings = lamp
    steps = np.full_like(findings.maps["halo_steps"], 0.99)
    steps[:, : steps.shape[1] // 2] = 5.0
    shown = replace(findings, maps={**findings.maps, "halo_steps": steps})
    unlit = replace(rendering, asked=np.zeros_like(rendering.asked))
    drawn = codes(save_drawing(draw_halo(frame, unlit, shown), tmp_path / "h.png").path)
    row = drawn[_tops(drawn)[0] + 100, 36 : 36 + 780]
    assert (row[:380] == style.rgb(style.STEP_COLOURS[2])).all()
    assert row[400:770].max() <= LIGHT


def test_lights_are_outlined(lamp, tmp_path):
    frame, rendering, findings = lamp
    none = replace(findings, maps={**findings.maps, "halo_steps": findings.maps["halo_steps"] * 0})
    drawn = codes(save_drawing(draw_halo(frame, rendering, none), tmp_path / "h.png").path)
    area = drawn[_tops(drawn)[0] + 12 :, 36:820][:430]
    lit = (area == style.rgb(style.PAGE)).all(axis=2)
    rows, columns = np.flatnonzero(lit.any(axis=1)), np.flatnonzero(lit.any(axis=0))
    # the lamp of the frame: from .3 to .6 down, from .6 to .75 across
    assert rows[[0, -1]] / 440 == pytest.approx([0.3, 0.6], abs=0.04)
    assert columns[[0, -1]] / 782 == pytest.approx([0.6, 0.75], abs=0.04)


def test_drives_are_written_where_zones_are_large_and_not_where_they_are_small(tmp_path):
    few, many = case(), case(panel=replace(PANEL, zones=Zones(27, 48, grain_px=1)))
    said = words(save_drawing(draw_backlight(*few), tmp_path / "few.svg").path)
    drives = [f"{100 * drive:.0f}" for drive in few[1].drive.ravel()]
    assert [word for word in said if word in set(drives)][: len(drives)] == drives
    finer = words(save_drawing(draw_backlight(*many), tmp_path / "many.svg").path)
    assert sum(word.isdigit() for word in finer) < 10


def test_a_panel_without_zones_is_drawn_without_zones(tmp_path):
    lantern = replace(PANEL, zones=SelfEmissive(), cell=Cell())
    drawing = draw_backlight(*case(panel=lantern))
    assert "no zones" in drawing.alt
    save_drawing(drawing, tmp_path / "b.png")


def test_flat_parts_are_shaded_and_knees_marked_only_where_there_are_any(lamp, tmp_path):
    frame, rendering, findings = lamp
    clip = draw_curve(frame, replace(rendering, curve=hard_clip(500.0)), findings)
    said = words(save_drawing(clip, tmp_path / "clip.svg").path)
    assert "flat: no detail kept" in said
    assert "leaves the ideal by a visible step" in said
    ideal = draw_curve(frame, replace(rendering, curve=identity()), findings)
    said = words(save_drawing(ideal, tmp_path / "ideal.svg").path)
    assert "flat: no detail kept" not in said
    assert "leaves the ideal by a visible step" not in said


def test_flat_parts_that_nearly_touch_are_drawn_as_one(lamp):
    """Tallow's curve is flat to its last reading and beyond, but for the kink at it."""
    frame, rendering, findings = lamp
    (tallow,) = [load_panel(file) for file in panel_files() if file.stem == "coarse_zones"]
    curve = tallow.tone.curves[-1].curve()
    e = np.linspace(0.0, 1.0, 2001)
    flat = curve.slope(e) < FLAT
    assert np.count_nonzero(np.diff(flat)) == 4  # at black alone too, where light has no less
    assert len(flat_parts(curve, e)) == 1
    figure = draw_curve(frame, replace(rendering, curve=curve), findings).figure
    assert len(figure.axes[0].patches) == 1


def test_of_several_curves_each_has_its_own_flat_bar(lamp):
    """Hard clips are flat from PQ(500) and PQ(300): .6766 and .6219 (ST 2084)."""
    frame, rendering, findings = lamp
    first = replace(rendering, curve=hard_clip(500.0))
    axes = draw_curve(frame, first, findings, others={"b": hard_clip(300.0)}).figure.axes[0]
    bars = {
        line.get_color(): line.get_xdata()[0]
        for line in axes.lines
        if len(line.get_xdata()) == 2 and len(set(line.get_ydata())) == 1
    }
    assert bars == pytest.approx({SERIES[0]: 0.6766, SERIES[1]: 0.6219}, abs=1e-3)


def test_a_fitted_curve_is_not_called_measured(lamp):
    frame, rendering, findings = lamp
    reading, _ = tone_reading([0.0, 1.0], [0.0, 700.0])
    fitted = replace(rendering, curve=reading.curve(), panel=replace(rendering.panel, fit={"a": 1}))
    said = draw_curve(frame, fitted, findings).alt
    assert "(the curve on file, fitted to readings)" in said


def test_knee_is_where_the_curve_leaves_the_ideal(lamp):
    """A hard clip at 500 is one visible step off 1/720 above PQ(500) = .67649 (ST 2084)."""
    frame, rendering, findings = lamp
    figure = draw_curve(frame, replace(rendering, curve=hard_clip(500.0)), findings).figure
    (knee,) = [line for line in figure.axes[0].lines if line.get_marker() == "o"]
    assert knee.get_xdata()[0] == pytest.approx(0.67649 + 1 / 720, abs=1e-3)


def test_more_curves_are_drawn_with_their_names(lamp, tmp_path):
    drawing = draw_curve(*lamp, others={"clip": hard_clip(300.0), "as is": identity()})
    said = words(save_drawing(drawing, tmp_path / "c.svg").path)
    assert {"clip", "as is"} <= set(said)


@pytest.mark.parametrize("panel", [PANEL, Panel("Bare", 700.0)])
def test_a_sheet_shows_a_panel_with_and_without_windows(panel, tmp_path):
    plain = words(save_drawing(draw_sheet(panel), tmp_path / "a.svg").path)
    assert any(word.startswith("Limiter") for word in plain)
    given = words(save_drawing(draw_sheet(panel, WINDOWS), tmp_path / "b.svg").path)
    assert {"500", "790", "480", "window, % of the screen"} <= set(given)


SHAPES = [(1, 1), (4, 4), (96, 54), (12, 240), (240, 12)]


@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_of_frame_is_drawn_with_its_type_inside_the_page(shape, monkeypatch):
    some = case(*shape)
    for draw in DRAW:
        _check_type(draw(*some, None).figure, monkeypatch)


@pytest.mark.parametrize("windows", [(), WINDOWS])
def test_a_sheet_keeps_its_type_inside_the_page(windows, monkeypatch):
    _check_type(draw_sheet(PANEL, windows).figure, monkeypatch)


def _check_type(figure, monkeypatch):
    """Every line of type is 11 px or more, inside the page, and on no other line."""
    lines = _drawn_type(figure, monkeypatch)
    assert len(lines) > 3
    for text, box in lines:
        assert text.get_fontsize() * figure.dpi / 72 >= 11
        assert figure.bbox.x0 <= box.x0 <= box.x1 <= figure.bbox.x1, text
        assert figure.bbox.y0 <= box.y0 <= box.y1 <= figure.bbox.y1, text
    for (first, one), (second, other) in combinations(lines, 2):
        assert not one.padded(-1).overlaps(other.padded(-1)), (first, second)


def _drawn_type(figure, monkeypatch):
    """Lines of type that are drawn when the figure is, with their boxes in px."""
    lines = []
    plain = Text.draw

    def noted(self, renderer, *rest, **more):
        if self.get_visible() and self.get_text().strip():
            lines.append((self, self.get_window_extent(renderer)))
        plain(self, renderer, *rest, **more)

    with monkeypatch.context() as patch:
        patch.setattr(Text, "draw", noted)
        figure.canvas.draw()
    return lines


HOSTILE = "<script>alert('$x^2$')</script>&\x00\udcff\n" + "very_long_" * 30


def test_hostile_names_are_only_type(tmp_path):
    some = case(name=HOSTILE, panel=replace(PANEL, name=HOSTILE))
    pictures = draw_all(*some, tmp_path, ending=".svg")
    drawings = (draw_sheet(replace(PANEL, name=HOSTILE)), draw_curve(*some))
    pictures += [save_drawing(drawing, tmp_path / "more.svg") for drawing in drawings[:1]]
    for picture in pictures:
        root = ElementTree.parse(picture.path).getroot()
        assert not list(root.iter(f"{SVG}script"))
        assert "<script>alert('$x^2$')" in " ".join(words(picture.path))
    for ending in (".png", ".pdf"):
        save_drawing(drawings[1], tmp_path / f"x{ending}")


def test_a_script_the_font_lacks_is_drawn_without_a_warning(tmp_path):
    save_drawing(draw_pair(*case(name="雪原")), tmp_path / "p.png")
    path = save_drawing(draw_pair(*case(name="雪原")), tmp_path / "p.svg").path
    assert "雪原" in " ".join(words(path))


def test_an_ending_that_is_no_picture_is_refused(lamp, tmp_path):
    with pytest.raises(RequestError, match=r"accepted is \.png, \.svg, \.pdf"):
        draw_all(*lamp, tmp_path, ending=".gif")
    assert not list(tmp_path.iterdir())


def test_a_folder_that_is_a_file_is_refused(lamp, tmp_path):
    (tmp_path / "taken").write_text("")
    with pytest.raises(OutputError, match="taken"):
        draw_all(*lamp, tmp_path / "taken")


@pytest.mark.parametrize("wrong", [{"scale": 0}, {"scale": 9}, {"mm": 5.0}, {"mm": float("nan")}])
def test_papers_that_cannot_be_are_refused(wrong):
    with pytest.raises(RequestError, match="accepted is"):
        Paper(**wrong)


def test_lines_break_where_they_must():
    words = " ".join(["White of this picture = 4 cd/m²"] * 9)
    lines = pages.wrapped(words, 13, 200)
    assert all(pages.text_width(line, 13) <= 200 for line in lines)
    assert not any(line.startswith("cd/m²") for line in lines)
    assert " ".join(lines) == words
    cut = pages.wrapped("w" * 200, 13, 200)
    assert "".join(cut) == "w" * 200
    assert len(cut) > 1


def test_the_mat_leaves_room_for_the_scale():
    assert pages.text_width("128 (0.0028)", style.SMALL) + 42 < BESIDE


def test_the_circle_lies_where_a_curve_leaves_the_ideal_and_not_where_it_crosses_it():
    """By hand: a clip at 1000 cd/m² leaves there; a curve 40 % too bright only crosses there."""
    e = np.linspace(0, 1, 2001)
    knee = _knee(hard_clip(1000.0), e)
    assert light_from_pq(knee) == pytest.approx(1000, rel=0.03)
    lights = np.array([0.01, 0.1, 1, 10, 100, 300, 600, 1000, 4000])
    bright = measured(pq_from_light(lights), np.minimum(1.4 * lights, 1000.0))
    assert _knee(bright, e) is None
    assert _knee(identity(), e) is None
    assert _told("P", identity(), e) == "P"
    steps = steps_from_light([100.0, 140.0])
    said = f"P; above the ideal from the start, by {steps[1] - steps[0]:.0f} visible steps"
    assert _told("P", bright, e).startswith(said)
