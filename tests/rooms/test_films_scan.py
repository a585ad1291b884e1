"""A film from its first frame to its last: the table, scenes, worst moments, and the files."""

from __future__ import annotations

import csv
import json
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from emulate import measure, open_clip, render, revisit, save_film, scan
from emulate.errors import MaterialError, RequestError
from emulate.films.ranking import ranked
from emulate.films.scan import Progress
from emulate.films.terms import Terms
from emulate.films.walk import look_at, shown
from emulate.findings.evidence import Evidence
from emulate.findings.fluctuation import find_fluctuation, glance_of
from emulate.findings.formatting import timecode
from emulate.findings.measure import findings_of
from emulate.findings.twin import evidence_of
from emulate.frames.frame import CodePicture, Encoding, Frame
from emulate.fused.workspace import Workspace
from emulate.panel.zones import Zones
from emulate.rendering import advance
from tests.rooms.filmed import CAVE, PANEL, RATE, SNOW, VIEWER, H, W, write_film

HDR10 = Encoding("pq", "bt2020", "bt2020", full_range=False, bits=10)
TERMS = Terms(None, 0.0, 0.0, VIEWER)


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    return open_clip(write_film(tmp_path_factory.mktemp("film") / "film.mp4"))


@pytest.fixture(scope="module")
def told():
    return []


@pytest.fixture(scope="module")
def found(clip, told):
    return scan(clip, PANEL, policy="by_frame", viewer=VIEWER, on_progress=told.append)


def by_hand(clip):
    """Frame after frame with `render` and `measure` alone."""
    state = before = None
    for frame in clip:
        rendering = render(frame, PANEL, policy="by_frame", state=state)
        state = rendering.state
        glance = glance_of(Evidence(frame, rendering, VIEWER))
        moving = find_fluctuation(glance, None if rendering.cut else before).by_name
        before = glance
        yield rendering, {**measure(frame, rendering, viewer=VIEWER), **moving}


def test_the_table_is_what_render_and_measure_say_of_each_frame(clip, found):
    for row, (rendering, findings) in enumerate(by_hand(clip)):
        for name, finding in findings.items():
            assert np.array_equal(found.table[name][row], finding.value, equal_nan=True), name
        assert found.table["light.drive"][row] == rendering.drive.mean()
        assert found.table["light.gain"][row] == rendering.gain
    assert row + 1 == len(found.table) == CAVE + SNOW


def test_advance_leaves_the_state_that_render_leaves(clip):
    state = None
    for frame, _ in zip(clip, range(6), strict=False):
        rendered = render(frame, PANEL, policy="by_frame", state=state).state
        state = advance(frame, PANEL, policy="by_frame", state=state)
        assert state.drive.tobytes() == rendered.drive.tobytes()
        assert (state.gain, state.peak, state.time_s) == (
            rendered.gain,
            rendered.peak,
            rendered.time_s,
        )
        assert all(map(np.array_equal, state.waiting, rendered.waiting))


def test_the_cut_is_found_and_parts_the_scenes(found):
    assert found.cuts == pytest.approx([CAVE / RATE])
    assert [(s.first, s.last) for s in found.scenes] == [(0, CAVE - 1), (CAVE, CAVE + SNOW - 1)]
    assert found.scenes[0].end_s == pytest.approx(CAVE / RATE)
    assert np.isnan(found.table["fluctuation.area"][[0, CAVE]]).all()
    assert not np.isnan(np.delete(found.table["fluctuation.area"], [0, CAVE])).any()


def test_a_finding_of_the_film_is_the_mean_and_the_worst_of_its_frames(found):
    halo = found.table["halo.area"]
    assert halo.max() > 0
    assert found.film["halo.area"].value == pytest.approx(halo.mean(), rel=1e-12)
    assert found.film["halo.area.worst"].value == halo.max()
    assert timecode(found.table.time_s[halo.argmax()]) in found.film["halo.area"].sentence
    kept = found.table["light.gain"]
    assert found.film["light.gain.worst"].value == kept.min()
    scenes = [scene.findings["halo.area"].value for scene in found.scenes]
    weights = np.array([CAVE, SNOW]) / (CAVE + SNOW)
    assert scenes @ weights == pytest.approx(halo.mean(), rel=1e-12)


def test_content_levels_of_the_film_are_the_largest_of_its_frames(clip, found):
    m = [frame.light.max(axis=2) for frame in clip]
    assert found.film["content.max_cll"].value == max(each.max() for each in m)
    average = max(each.mean(dtype=np.float64) for each in m)
    assert found.film["content.max_fall"].value == pytest.approx(average, rel=1e-6)


def test_moments_are_the_heaviest_and_lie_apart(clip):
    found = scan(clip, PANEL, viewer=VIEWER, apart_s=0.5, worst=2)
    for loss in {moment.loss for moment in found.moments}:
        mine = [moment for moment in found.moments if moment.loss == loss]
        assert [moment.rank for moment in mine] == [1, 2][: len(mine)]
        assert all(abs(a.time_s - b.time_s) >= 0.5 for a in mine for b in mine if a is not b)
    halo = next(moment for moment in found.moments if moment.loss == "halo")
    weight = found.table["halo.area"] * found.table["halo.strength"]
    assert halo.index == found.table.index[weight.argmax()]
    assert halo.value == found.table["halo.area"][weight.argmax()]
    assert ranked(found.table, 1e9, 9) == ranked(found.table, 1e9, 1)


def test_a_frame_is_rendered_again_to_the_last_bit(clip, found):
    wanted = [3, 24, 25, CAVE, 50]
    for visit in revisit(clip, PANEL, found, wanted):
        row = wanted.pop(0)
        assert visit.frame.index == row
        for name, finding in visit.findings.items():
            assert np.array_equal(found.table[name][row], finding.value, equal_nan=True), name
    assert not wanted
    with pytest.raises(RequestError, match="frame 999 was not scanned"):
        next(revisit(clip, PANEL, found, [999]))


def test_from_frame_to_frame_no_memory_the_size_of_a_frame_is_asked_for():
    """Planes are the decoder's, maps the workspace's; what comes and goes is cells."""
    luma, chroma = np.full((2160, 3840), 200, np.uint16), np.full((1080, 1920), 512, np.uint16)
    luma[1000:1020, 1900:1920] = 900
    frame = Frame(CodePicture(luma, chroma, chroma, HDR10), encoding=HDR10)
    panel = replace(PANEL, zones=Zones(8, 8, peak_weight=0.1))
    with Workspace() as work:
        look_at(frame, shown(frame, panel, TERMS, None, work), TERMS, None)
        tracemalloc.start()
        rendering, (_, drawing) = shown(frame, panel, TERMS, None, work), _asked()
        evidence = evidence_of(frame, rendering, VIEWER, mapping=False)
        levels, (_, looking) = evidence.levels, _asked()
        found, (_, telling) = findings_of(evidence), _asked()
        tracemalloc.stop()
    codes = luma.nbytes + 2 * chroma.nbytes
    assert drawing < codes / 2
    assert looking < codes / 2, levels  # histograms, of one size whatever that of the frame
    assert found["dimmed.things"].value == 1  # a map of them is among what is not made anew
    assert telling < luma.size, found  # bytes: the smallest of the maps


def _asked():
    """Bytes that there are, and that there were at most since last asked."""
    found = tracemalloc.get_traced_memory()
    tracemalloc.reset_peak()
    return found


def test_progress_is_told_frame_by_frame(told, found):
    assert told[0] == Progress(0, CAVE + SNOW, 0.0, 0)
    assert [each.done for each in told[1:]] == list(range(1, CAVE + SNOW + 1))
    assert told[-1].time_s == found.table.time_s[-1]


def test_a_stretch_is_scanned_as_its_frames_say(clip, found):
    part = scan(replace(clip, start_s=1.0, end_s=1.5, every=2), PANEL, viewer=VIEWER)
    assert part.table.index.tolist() == list(range(24, 36, 2))
    doubts = [str(doubt) for doubt in part.caveats]
    assert any("1 frame in 2 was taken" in doubt for doubt in doubts)
    assert not any("was taken" in str(doubt) for doubt in found.caveats)


def test_bars_are_left_out_of_averages(tmp_path):
    from emulate import write_clip
    from tests.rooms.filmed import lights

    barred = [np.pad(light, ((8, 8), (0, 0), (0, 0))) for light in lights()[-12:]]
    clip = open_clip(write_clip(barred, tmp_path / "bars.mp4", rate=RATE))
    found = scan(clip, PANEL, viewer=VIEWER)
    assert found.picture == (8, 8 + H, 0, W)
    whole, picture = (found.film[f"content.max_fall{n}"].value for n in ("_frame", ""))
    assert picture == pytest.approx(whole * (H + 16) / H, rel=1e-3)


def test_files_hold_what_was_found(found, tmp_path):
    save_film(found, tmp_path)
    rows = list(csv.DictReader((tmp_path / "frames.csv").read_text("utf-8").splitlines()))
    assert len(rows) == len(found.table)
    assert [int(row["scene"]) for row in rows] == found.table.scene.tolist()
    assert rows[0]["fluctuation.area"] == ""
    halo = [float(row["halo.area"]) for row in rows]
    assert halo == pytest.approx(found.table["halo.area"], rel=1e-5)
    full = json.loads((tmp_path / "frames.json").read_text("utf-8"))
    names = [column["name"] for column in full["columns"]]
    column = [row[names.index("halo.area")] for row in full["rows"]]
    assert column == found.table["halo.area"].tolist()  # to the last bit
    film = json.loads((tmp_path / "findings.json").read_text("utf-8"))
    assert film["film"]["halo.area"]["value"] == found.film["halo.area"].value
    assert [cut["timecode"] for cut in film["cuts"]] == [timecode(CAVE / RATE)]
    cuts = list(csv.DictReader((tmp_path / "cuts.csv").read_text("utf-8").splitlines()))
    assert [cut["first_frame"] for cut in cuts] == ["0", str(CAVE)]
    moments = list(csv.DictReader((tmp_path / "moments.csv").read_text("utf-8").splitlines()))
    assert len(moments) == len(found.moments)


def test_the_same_film_twice_is_the_same_bytes(clip, found, tmp_path):
    from tests.rooms.filmed import bytes_of

    again = scan(clip, PANEL, policy="by_frame", viewer=VIEWER)
    save_film(found, tmp_path / "first")
    save_film(again, tmp_path / "second")
    assert bytes_of(tmp_path / "first") == bytes_of(tmp_path / "second")


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.0, "00:00:00.000"),
        (3.25, "00:00:03.250"),
        (59.9996, "00:01:00.000"),
        (3661.5, "01:01:01.500"),
    ],
)
def test_times_are_written_so(seconds, text):
    assert timecode(seconds) == text


def test_what_cannot_be_is_refused_before_a_frame_is_read(clip):
    with pytest.raises(RequestError, match="accepted is fixed"):
        scan(clip, PANEL, policy="by_mood")
    with pytest.raises(RequestError, match="accepted is 0 or more"):
        scan(clip, PANEL, worst=-1)


def test_a_film_without_a_frame_that_reads_is_refused(clip):
    with pytest.raises(MaterialError, match="no frame of it can be read"):
        scan(replace(clip, start_s=99.0), PANEL)
