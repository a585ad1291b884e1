"""Patterns read back by decoders of this test's own: zlib for stills, av's planes for clips."""

import csv
import io
import struct
import zlib

import av
import numpy as np
import pytest

from emulate import load_frame, write_patterns
from emulate.errors import OutputError, RequestError
from emulate.readings.patterns.charts import CHARTS, chart
from emulate.readings.patterns.code import code_of, light_of
from emulate.readings.patterns.families import FAMILIES
from emulate.readings.patterns.place import window
from emulate.readings.patterns.plan import pattern_set
from emulate.readings.patterns.reel import frames_in, planes_of
from emulate.readings.patterns.slide import write_slide
from emulate.readings.patterns.write import still_name
from emulate.readings.stimulus import WHITE, frame_of

SHAPE = (270, 480)
SMALL = ("ramp", "near_black", "black", "window", "checker", "primary", "grow", "spill")


def decoded(path):
    """16-bit R′G′B′ (h, w, 3) and chunks of a PNG; filters None and Up, W3C PNG 9.2."""
    data = path.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    chunks, at = {}, 8
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        assert struct.unpack(">I", data[at + 8 + length : at + 12 + length])[0] == zlib.crc32(
            kind + body
        )
        chunks[kind.decode()] = body
        at += 12 + length
    width, height, bits, colour, *rest = struct.unpack(">2I5B", chunks["IHDR"])
    assert (bits, colour, rest) == (16, 2, [0, 0, 0])
    raw = np.frombuffer(zlib.decompress(chunks["IDAT"]), np.uint8).reshape(height, 1 + 6 * width)
    rows = np.zeros((height, 6 * width), np.uint8)
    for index, (kind, line) in enumerate(zip(raw[:, 0], raw[:, 1:], strict=True)):
        assert kind in (0, 2)
        rows[index] = line + (rows[index - 1] if kind == 2 else 0)
    return rows.view(">u2").reshape(height, width, 3).astype(np.int64), chunks


def narrow10(codes16):
    """The 10-bit narrow code a 16-bit full code stands for. ITU-R BT.2100-2 table 9."""
    return np.floor(876 * codes16 / 65535 + 64 + 0.5).astype(np.int64)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("patterns")
    told = []
    written = write_patterns(
        place,
        shape=SHAPE,
        peaks=(1000, 10000),
        families=(*SMALL, "step"),
        progress=lambda *said: told.append(said),
    )
    assert told[-1][1] == told[-1][2]
    return place, written


def sheet_rows(text):
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    return list(csv.DictReader(io.StringIO("\n".join(lines))))


def test_every_still_holds_the_code_of_its_sheet_row_over_its_exact_area(folder):
    place, written = folder
    rows = {int(row["stimulus"]): row for row in sheet_rows(written.sheet.read_text("utf-8"))}
    checked = 0
    for stimulus in written.patterns.stimuli:
        row = rows[stimulus.number]
        if stimulus.moments or stimulus.kind == "black":
            continue
        codes, _ = decoded(place / "stills" / still_name(stimulus))
        levels = [int(code) for code in row["level_code10"].split("/")]
        wanted = levels if len(levels) == 3 else levels * 3
        if stimulus.kind == "checker":
            wanted = [940] * 3
        lit = (narrow10(codes) == wanted).all(axis=-1)
        if wanted != [64] * 3:
            share = 100 * lit.mean()
            assert f"{share:.4f}" == row["area_percent"], stimulus.name
        exact = np.floor(65535 * (np.array(wanted) - 64) / 876 + 0.5)
        assert (codes[lit] == exact).all()
        checked += 1
    assert checked > 90


def test_what_is_not_the_pattern_is_black_but_for_the_number(folder):
    place, written = folder
    for stimulus in written.patterns.stimuli:
        if stimulus.kind in ("window", "spill", "grow", "near_black", "black"):
            codes, _ = decoded(place / "stills" / still_name(stimulus))
            numbered = stimulus.kind == "window" and stimulus.value < 1
            assert set(np.unique(narrow10(codes))) <= {64, 195, *np.unique(narrow10(codes))[-1:]}
            # 195: 1 cd/m², ITU-R BT.2100-2 in narrow 10 bit
            assert (narrow10(codes) == 195).any() == numbered, stimulus.name


@pytest.mark.parametrize("shape", [(2160, 3840), (1080, 1920), (2160, 4096), (1440, 3440)])
@pytest.mark.parametrize("area", [0.01, 0.02, 0.05, 0.10, 0.18, 0.25, 0.50, 1.00])
def test_window_areas_are_exact_to_a_pixel_row(shape, area):
    patch = window(area, shape, WHITE)
    wanted = area * shape[0] * shape[1]
    assert abs(patch.height * patch.width - wanted) < patch.width
    assert 2 * patch.top + patch.height == shape[0]
    assert 2 * patch.left + patch.width == shape[1]
    assert patch.width / patch.height == pytest.approx(shape[1] / shape[0], rel=0.05)


def test_marks_of_a_still(folder):
    place, written = folder
    brightest = next(s for s in written.patterns.stimuli if s.name == "window_100")
    _, chunks = decoded(place / "stills" / still_name(brightest))
    assert chunks["cICP"] == bytes((9, 16, 0, 1))  # ITU-T H.273: BT.2020, PQ, RGB, full range
    numbers = struct.unpack(">8H2I", chunks["mDCV"])  # W3C PNG, third edition, 11.3.2.7
    wanted = [0.708, 0.292, 0.170, 0.797, 0.131, 0.046, 0.3127, 0.3290]  # BT.2020-2 table 3
    assert np.allclose(np.array(numbers[:8]) * 0.00002, wanted, atol=1e-5)
    assert numbers[8] == 10000 * 10000
    assert struct.unpack(">2I", chunks["cLLI"]) == (10000 * 10000, 10000 * 10000)


@pytest.mark.parametrize(
    ("light", "code"), [(0.1, 119), (1, 195), (10, 327), (100, 509), (1000, 723), (10000, 940)]
)
def test_codes_of_light(light, code):
    # ITU-R BT.2100-2 by hand: narrow 10-bit code of a PQ luminance
    assert code_of(light) == code
    assert light_of(code) == pytest.approx(light, rel=0.02)  # half a code


def planes(path):
    with av.open(str(path)) as file:
        stream = file.streams.video[0]
        for frame in file.decode(stream):
            assert frame.format.name == "yuv420p10le"
            yield [
                np.frombuffer(plane, np.uint16).reshape(plane.height, -1)[:, : plane.width]
                for plane in frame.planes
            ]


def test_the_clip_holds_the_codes_of_the_stills(folder):
    place, written = folder
    for peak in (1000, 10000):
        shown = [s for s in written.patterns.stimuli if s.mastering_peak == peak and not s.moments]
        frames = list(planes(place / "clips" / f"stills_p{peak:05d}.mp4"))
        assert len(frames) == len(shown)
        for stimulus, (luma, blue, red) in zip(shown, frames, strict=True):
            codes, _ = decoded(place / "stills" / still_name(stimulus))
            ten = narrow10(codes)
            if stimulus.kind == "primary" and "white" not in stimulus.name:
                _check_colour(codes, luma, blue, red)
                continue
            assert (luma == ten[..., 0]).all(), stimulus.name
            assert (blue == 512).all()
            assert (red == 512).all()


def _check_colour(codes, luma, blue, red):
    """Y′CbCr of ITU-R BT.2020-2 table 4, rounded, away from edges exact."""
    signal = codes / 65535
    y = signal @ [0.2627, 0.6780, 0.0593]
    cb, cr = (signal[..., 2] - y) / 1.8814, (signal[..., 0] - y) / 1.4746
    middle = np.s_[SHAPE[0] // 2, SHAPE[1] // 2]
    half = np.s_[SHAPE[0] // 4, SHAPE[1] // 4]
    assert abs(int(luma[middle]) - (876 * y[middle] + 64)) <= 0.51
    assert abs(int(blue[half]) - (896 * cb[middle] + 512)) <= 0.51
    assert abs(int(red[half]) - (896 * cr[middle] + 512)) <= 0.51


def test_the_clip_states_its_peak_and_light_levels(folder):
    place, _ = folder
    with av.open(str(place / "clips" / "stills_p01000.mp4")) as file:
        frame = next(file.decode(video=0))
        context = file.streams.video[0].codec_context
        told = {str(data.type): bytes(data) for data in frame.side_data}
    assert (context.color_primaries, context.color_trc, context.colorspace) == (9, 16, 9)
    light = next(data for kind, data in told.items() if "CONTENT_LIGHT" in kind)
    assert struct.unpack("<2I", light[:8]) == (994, 100)
    # 994: code 722, the highest not above 1000 cd/m²; 100: a tenth of the area at that light
    display = next(data for kind, data in told.items() if "MASTERING" in kind)
    numbers = np.frombuffer(display[:80], "<i4").reshape(-1, 2)
    assert numbers[9, 0] / numbers[9, 1] == 1000


def test_the_step_is_switched_when_it_says(folder):
    place, written = folder
    stimulus = next(s for s in written.patterns.stimuli if s.kind == "step")
    lit = [(luma == 940).any() for luma, *_ in planes(place / "clips" / "moving_p10000.mp4")]
    assert len(lit) == frames_in(stimulus)
    switched = np.flatnonzero(np.diff(np.array(lit, int))) + 1
    assert np.diff(switched).tolist() == [24] * (len(switched) - 1)  # 3 s at 8 frames a second
    # far below the three flashes a second of WCAG 2.2, success criterion 2.3.1
    assert np.diff(switched).min() / 8 >= 1


def test_a_still_is_read_as_the_light_it_was_made_of(folder):
    place, written = folder
    stimulus = next(s for s in written.patterns.stimuli if s.name == "window_010")
    read = load_frame(place / "stills" / still_name(stimulus))
    assert np.allclose(read.light, frame_of(stimulus).light, rtol=2e-4, atol=1e-4)
    assert read.metadata.mastering_peak == 10000


def test_same_bytes_each_time(folder, tmp_path):
    place, _ = folder
    again = write_patterns(tmp_path, shape=SHAPE, peaks=(1000, 10000), families=(*SMALL, "step"))
    for file in again.files:
        assert file.read_bytes() == (place / file.relative_to(tmp_path)).read_bytes(), file.name


def test_light_is_kept_at_any_resolution():
    for stimulus in pattern_set(families=("window", "checker", "spill"), shape=SHAPE).stimuli:
        full = frame_of(stimulus).light.mean()
        assert frame_of(stimulus, (54, 96)).light.mean() == pytest.approx(full, rel=1e-5)
        assert frame_of(stimulus, (101, 180)).light.mean() == pytest.approx(full, rel=1e-5)


@pytest.mark.parametrize("kind", ["chart24", "chart140"])
def test_chart_light_against_colour_science(kind):
    """Own route through colour-science alone: XYZ, CAT02, BT.2020 matrix, ST 2084."""
    with np.printoptions():
        import colour

    data = colour.CCS_COLOURCHECKERS[CHARTS[kind]]
    space = colour.RGB_COLOURSPACES["ITU-R BT.2020"]
    for stimulus, xyy in zip(
        chart(kind, (2160, 3840), 10000, 100.0), data.data.values(), strict=True
    ):
        rgb = colour.XYZ_to_RGB(
            colour.xyY_to_XYZ(xyy),
            space,
            illuminant=data.illuminant,
            chromatic_adaptation_transform="CAT02",
        )
        signal = colour.models.eotf_inverse_ST2084(np.maximum(100 * rgb, 0))
        assert np.abs(np.array(stimulus.level) - signal).max() <= 0.51 / 876


def test_the_whole_set():
    patterns = pattern_set()
    numbers = [stimulus.number for stimulus in patterns.stimuli]
    assert numbers == list(range(1, len(numbers) + 1))
    kinds = [stimulus.kind for stimulus in patterns.stimuli]
    assert {kinds.count("chart24"), kinds.count("chart140")} == {24, 140}
    assert kinds[0] == kinds[-1] == "drift"
    drifts = np.flatnonzero(np.array(kinds) == "drift")
    assert np.diff(drifts).max() <= 30
    assert 60 < patterns.minutes < 240  # a few hours
    for stimulus in patterns.stimuli:
        for patch in stimulus.patches:
            assert patch.top >= 0
            assert patch.left >= 0
            assert patch.top + patch.height <= 2160
            assert patch.left + patch.width <= 3840


def test_the_number_lies_outside_what_is_measured():
    for look in pattern_set().looks:
        bars = look.stimulus.patches[1:] if look.stimulus.kind == "window" else ()
        for bar in bars:
            main = look.stimulus.patches[0]
            assert bar.top >= main.top + main.height or bar.left >= main.left + main.width
            assert bar.top > 0.9 * 2160


def test_no_rectangle_lies_on_another():
    for stimulus in pattern_set(shape=SHAPE).stimuli:
        covered = np.zeros(SHAPE, int)
        for patch in stimulus.patches:
            covered[patch.top : patch.top + patch.height, patch.left :][:, : patch.width] += 1
        assert covered.max(initial=0) <= 1, stimulus.name


def test_nothing_needs_a_whole_frame_in_memory(tmp_path):
    """An 8K still of 199 MB of codes is written from one row."""
    import tracemalloc

    stimulus = pattern_set(shape=(4320, 7680), families=("window",)).stimuli[3]
    tracemalloc.start()
    write_slide(stimulus, tmp_path / "big.png")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 120e6
    assert (tmp_path / "big.png").stat().st_size < 2e6


def test_luma_of_planes_is_even_and_sized():
    stimulus = pattern_set(shape=SHAPE, families=("primary",)).stimuli[2]
    picture = planes_of(stimulus)
    assert picture.first.shape == SHAPE
    assert picture.second.shape == picture.third.shape == (SHAPE[0] // 2, SHAPE[1] // 2)


def test_cautions_come_with_the_set(folder):
    _, written = folder
    head = written.sheet.read_text("utf-8")
    for word in ("seizures", "dark room", "self-emissive", "mains", "licensed"):
        assert word in written.cautions
        assert word in head


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"shape": (2161, 3840)}, "even numbers"),
        ({"shape": (20, 30)}, "even numbers"),
        ({"peaks": ()}, "mastering peaks"),
        ({"peaks": (50,)}, "mastering peaks"),
        ({"peaks": (float("nan"),)}, "mastering peaks"),
        ({"families": ("windmill",)}, "windmill"),
        ({"families": ()}, "none"),
        ({"repeats": 0}, "repeats"),
        ({"hold_s": 0}, "hold_s"),
        ({"decimal": "x"}, "decimal"),
    ],
)
def test_refusals(tmp_path, asked, said):
    with pytest.raises(RequestError, match=said):
        write_patterns(tmp_path / "out", **asked)
    assert not (tmp_path / "out").exists()


def test_without_clips_nothing_that_moves_is_asked_for(tmp_path):
    written = write_patterns(
        tmp_path / "out", shape=SHAPE, families=("crawl", "step"), stills=False, clip=False
    )
    assert written.files == (written.sheet,)
    assert {path.name for path in (tmp_path / "out").iterdir()} == {"sheet.csv"}
    rows = sheet_rows(written.sheet.read_text("utf-8"))
    assert {row["measure"] for row in rows} == {"light"}
    whole = pattern_set(shape=SHAPE, families=("crawl", "step"))
    number = {stimulus.name: stimulus.number for stimulus in whole.stimuli}
    assert all(
        int(row["stimulus"]) == number[row["pattern"]] for row in rows if row["pattern"] != "drift"
    )
    with pytest.raises(RequestError, match="without clips"):
        write_patterns(tmp_path / "none", shape=SHAPE, families=("step",), clip=False)
    assert not (tmp_path / "none").exists()


def test_a_file_in_the_way_is_refused(tmp_path):
    (tmp_path / "out").write_text("here")
    with pytest.raises(OutputError):
        write_patterns(tmp_path / "out", shape=SHAPE, families=("black",), clip=False)


def test_families_are_all_known():
    for family in FAMILIES:
        assert pattern_set(families=(family,), shape=SHAPE).stimuli
