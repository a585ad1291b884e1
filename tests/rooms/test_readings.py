"""Meter files in: every way a number is written down, and every way it can go wrong."""

import csv
import io
import random
import re

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from emulate import Readings, load_readings
from emulate.errors import ReadingError
from emulate.readings.patterns.plan import pattern_set
from emulate.readings.sheet import sheet_text, trace_text
from emulate.readings.stimulus import Patch, Stimulus

FAMILIES = ("ramp", "near_black", "black", "window", "primary", "spill", "crawl", "step", "room")
SET = pattern_set(shape=(270, 480), peaks=(1000,), families=FAMILIES, repeats=2)
WHITE_PEAK = 600.0  # cd/m² of the invented panel

# XYZ of BT.2020 light, ITU-R BT.2020-2 tables 3 and 4 through SMPTE RP 177; six digits
XYZ_2020 = np.array(
    [[0.636958, 0.144617, 0.168881], [0.262700, 0.677998, 0.059302], [0.0, 0.028073, 1.060985]]
)


def pq(signal):
    """SMPTE ST 2084:2014 equation 4.1, written out."""
    e = np.asarray(signal, float) ** (1 / 78.84375)
    return 1e4 * (np.maximum(e - 0.8359375, 0) / (18.8515625 - 18.6875 * e)) ** (
        1 / 0.1593017578125
    )


def measured(look, rng):
    """XYZ that an invented panel shows: clipped at its peak, a little black, 1 % of noise."""
    light = np.minimum(pq(look.stimulus.signal_at(look.spot)), WHITE_PEAK)
    if look.stimulus.kind == "window":
        light = light * (1 - 0.5 * look.stimulus.value)
    noisy = XYZ_2020 @ light * np.exp(0.01 * rng.standard_normal())
    return noisy + 0.01 * np.array([0.9505, 1.0, 1.0891]) + (0.5 if look.lit_room else 0)


def filled_rows():
    rng = np.random.default_rng(11)
    rows = list(csv.reader(io.StringIO(_table(sheet_text(SET)))))
    at = {name: index for index, name in enumerate(rows[0])}
    truth = []
    for look, row in zip(SET.looks, rows[1:], strict=True):
        if look.quantity == "switch_overs":
            row[at["switch_overs"]] = "15"
        if look.quantity != "light":
            continue
        if look.lit_room:
            row[at["room_lux"]] = "150"
        X, Y, Z = measured(look, rng)
        row[at["luminance_cdm2"]] = f"{Y:.5g}" if Y < 1000 else f"{Y:.1f}"
        row[at["x"]], row[at["y"]] = (f"{v / (X + Y + Z):.4f}" for v in (X, Y))
        truth.append(float(row[at["luminance_cdm2"]]))
    return rows, truth


def _table(text):
    return "\n".join(line for line in text.splitlines() if not line.startswith("#")) + "\n"


def head():
    return [line for line in sheet_text(SET).splitlines() if line.startswith("#")]


def as_text(rows, delimiter=",", decimal=".", lines=None, end="\n"):
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator=end)
    writer.writerows(
        [
            [_with_decimal(cell, decimal) if index else cell for cell in row]
            for index, row in enumerate(rows)
        ]
    )
    return end.join(lines if lines is not None else head()) + end + out.getvalue()


def _with_decimal(cell, decimal):
    return cell.replace(".", decimal) if cell.replace(".", "", 1).isdigit() else cell


ROWS, TRUTH = filled_rows()


def load(tmp_path, content, name="sheet.csv", **said):
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return load_readings(path, **said)


def outcome(tmp_path, text):
    """What was read, or the line that says why not."""
    try:
        return load(tmp_path, text), ""
    except ReadingError as refused:
        return None, str(refused)


def lights(readings):
    return [reading.luminance for reading in readings]


# --- the sheet ------------------------------------------------------------------------------------


def test_the_filled_sheet_comes_back(tmp_path):
    readings = load(tmp_path, as_text(ROWS))
    assert isinstance(readings, Readings)
    assert lights(readings) == TRUTH
    assert readings.caveats == ()
    assert readings.skipped == 3  # three traces are written elsewhere
    assert [each.count for each in readings.switch_overs] == [15, 15]
    assert len(readings.digest) == 64
    names = [row[1] for row in ROWS[1:] if row[2] == "light"]
    assert [reading.stimulus.name for reading in readings] == names
    assert readings.readings[-2].room_lux == 150
    lines = as_text(ROWS).splitlines()
    for reading in readings:
        assert f",{reading.stimulus.name}," in lines[reading.source.line - 1]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", ","), (";", "."), ("\t", ",")]
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_ways_to_write_the_same_sheet(tmp_path, end, delimiter, decimal, encoding):
    text = as_text(ROWS, delimiter, decimal, end=end)
    readings = load(tmp_path, text.encode(encoding))
    assert lights(readings) == TRUTH
    assert all("UTF-8" in str(caveat) for caveat in readings.caveats)


def test_a_spreadsheet_that_pads_the_head_is_understood(tmp_path):
    padded = [f'"{line}"' + "," * 16 for line in head()]
    assert lights(load(tmp_path, as_text(ROWS, lines=padded))) == TRUTH


def test_repeats_are_gathered_over_numbers(tmp_path):
    readings = load(tmp_path, as_text(ROWS))
    drift = readings.repeats("drift")
    assert len(drift) == 1
    assert len(drift[0].readings) > 3
    windows = readings.repeats("window")
    assert [len(group.readings) for group in windows] == [2] * 8
    assert windows[0].mean == pytest.approx(np.mean([r.luminance for r in windows[0].readings]))


def test_clock_times_pass_midnight(tmp_path):
    rows = [list(row) for row in ROWS]
    at = rows[0].index("time_hms")
    for row, clock in zip(rows[1:], ("23:58", "23:59:30", "00:01:00"), strict=False):
        row[at] = clock
    readings = load(tmp_path, as_text(rows))
    assert [reading.time_s for reading in readings][:4] == [0.0, 90.0, 180.0, None]


def test_blank_rows_are_counted(tmp_path):
    rows = [list(row) for row in ROWS]
    for row in rows[10:20]:
        for name in ("luminance_cdm2", "x", "y"):
            row[rows[0].index(name)] = ""
    readings = load(tmp_path, as_text(rows) + ",,,\n\n  \n")
    assert len(readings) == len(TRUTH) - 10
    assert readings.skipped == 3 + 10 + 1


def test_several_files_are_one_session(tmp_path):
    step = next(s for s in SET.stimuli if s.kind == "step")
    trace = trace_text(SET, step) + "".join(f"{i / 10},{i % 7}\n" for i in range(20))
    (tmp_path / "sheet.csv").write_text(as_text(ROWS), "utf-8")
    (tmp_path / "trace.csv").write_text(trace, "utf-8")
    session = load_readings([tmp_path / "sheet.csv", tmp_path / "trace.csv"])
    assert lights(session) == TRUTH
    assert session.traces[0].stimulus.name == "step"
    assert session.traces[0].relative
    assert session.traces[0].time_s[3] == pytest.approx(0.3)
    assert len(session.without("step").traces) == 0


# --- a meter's own file ---------------------------------------------------------------------------

FREE = {
    "xyY": "signal,x,y,Y [cd/m²]\n0.5,0.3127,0.3290,92.3\n0.25,0.3127,0.3290,5.15\n",
    "xyY semicolons": "signal;x;y;Y (cd/m2)\n0,5;0,3127;0,3290;92,3\n0,25;0,3127;0,3290;5,15\n",
    "tabs": "signal\tx\ty\tluminance_cdm2\n0.5\t.3127\t.329\t92.3\n0.25\t.3127\t.329\t5.15\n",
    "quoted": '"signal","x","y","Y [nit]"\n"0,5","0,3127","0,3290","92,3"\n"0,25","0,3127",'
    '"0,3290","5,15"\n',
    "remark": "# unit: cd/m²\nsignal,x,y,Y\n0.5,0.3127,0.3290,9.23e1\n0.25,0.3127,0.3290,5.15\n",
    "nits": "signal,nits\n0.5,92.3\n0.25,5.15\n",
    "light only": "signal,luminance [cd/m²]\n0.5,92.3\n0.25,5.15\n",
    "code": "code10_narrow,luminance_cdm2\n502,92.3\n283,5.15\n",
    "extra": "signal,CCT,luminance_cdm2\n0.5,6504,92.3\n0.25,6504,5.15\n",
    "rgb": "red,green,blue,Y [cd/m²]\n255,255,255,92.3\n128,128,128,5.15\n",
}


@pytest.mark.parametrize("way", FREE)
def test_a_meters_own_csv(tmp_path, way):
    readings = load(tmp_path, FREE[way])
    assert lights(readings) == [92.3, 5.15]
    if "x" in FREE[way].partition("\n")[0].replace("luminance", ""):
        xys = [reading.xy for reading in readings if reading.xy]
        assert all(xy == pytest.approx((0.3127, 0.3290)) for xy in xys)
    signal = [min(reading.stimulus.level) for reading in readings]
    wanted = [1.0, 128 / 255] if way == "rgb" else [0.5, 0.25]
    assert signal == pytest.approx(wanted, abs=0.001)
    assert any("10 %" in str(caveat) for caveat in readings.caveats)


def test_xyz_is_kept_as_it_is(tmp_path):
    readings = load(tmp_path, "signal,X,Y [cd/m²],Z\n0.5,87.74,92.3,100.53\n")
    assert readings.readings[0].xyz == (87.74, 92.3, 100.53)


def test_areas_and_peaks_of_a_meters_own_file(tmp_path):
    text = (
        "signal,area_percent,mastering_peak,luminance_cdm2\n1,1,4000,800\n1,25,4000,700\n"
        "0.5,10,4000,92\n"
    )
    readings = load(tmp_path, text)
    assert [r.stimulus.kind for r in readings] == ["window", "window", "ramp"]
    assert [r.stimulus.value for r in readings] == [0.01, 0.25, 0.1]
    assert readings.readings[0].stimulus.mastering_peak == 4000
    assert readings.caveats == ()


def test_stimuli_may_be_passed_in_order(tmp_path):
    shown = [
        Stimulus("patch", name, (90, 160), (Patch(0, 0, 90, 160, (e, e, e)),), level=(e, e, e))
        for name, e in (("a", 0.5), ("b", 0.25))
    ]
    readings = load(tmp_path, "x,y,Y [cd/m²]\n.3127,.329,92.3\n.3127,.329,5.15\n", stimuli=shown)
    assert [reading.stimulus.name for reading in readings] == ["a", "b"]
    with pytest.raises(ReadingError, match="1 readings for 2 stimuli"):
        load(tmp_path, "Y [cd/m²]\n92.3\n", stimuli=shown)


def test_foot_lamberts_are_converted_and_said(tmp_path):
    # 1 fL = 1/π cd/ft² = 3.426259 cd/m², ASTM E1336 (from memory) and the foot of 0.3048 m
    readings = load(tmp_path, "signal,luminance [fL]\n0.5,10\n")
    assert lights(readings) == [pytest.approx(34.26259, rel=1e-6)]
    assert any("foot-lamberts" in str(caveat) for caveat in readings.caveats)


CGATS = """CGATS.17
ORIGINATOR "a meter"
# unit: cd/m²
NUMBER_OF_FIELDS 7
BEGIN_DATA_FORMAT
SAMPLE_ID RGB_R RGB_G RGB_B XYZ_X XYZ_Y XYZ_Z
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
1 100 100 100 570.3 600.0 653.4
2 50.0 50.0 50.0 87.74 92.3 100.53
END_DATA
"""


def test_cgats(tmp_path):
    readings = load(tmp_path, CGATS, "patches.txt")
    assert lights(readings) == [600.0, 92.3]
    assert readings.readings[1].stimulus.level == (0.5, 0.5, 0.5)
    assert readings.readings[1].source.line == 11
    assert load(tmp_path, CGATS.replace("# unit: cd/m²\n", ""), units="cd/m²").readings


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("END_DATA\n", "", "no END_DATA"),
        ("BEGIN_DATA\n", "BEGIN_DATA\nBEGIN_DATA\n", "BEGIN_DATA again"),
        ("NUMBER_OF_SETS 2", "NUMBER_OF_SETS 3", "line 8: NUMBER_OF_SETS says 3"),
        ("NUMBER_OF_FIELDS 7", "NUMBER_OF_FIELDS 6", "NUMBER_OF_FIELDS says 6"),
        ("1 100 100 100", "1 100 100", "line 10: 6 values"),
        ("# unit: cd/m²\n", "", "states no unit"),
        ("570.3", "57o.3", "line 10, column X: '57o.3' is no number"),
        ("1 100 100 100", "1 90 90 90", "R, G, B reach 90"),
        ('"a meter"', '"a meter', "quote"),
        ("RGB_R RGB_G", "RGB_G RGB_R RGB_G", "NUMBER_OF_FIELDS"),
    ],
)
def test_cgats_refusals(tmp_path, old, new, said):
    with pytest.raises(ReadingError, match=said):
        load(tmp_path, CGATS.replace(old, new), "patches.txt")


REFUSED = {
    "no unit": ("signal,Y\n0.5,92\n", "column 2: 'Y' states no unit"),
    "strange unit": ("signal,Y [lux]\n0.5,92\n", "'lux'"),
    "two units": ("signal,X [fL],Y [nit],Z\n0.5,1,1,1\n", "one unit"),
    "thousands": ("signal;Y [nit]\n0.5;1.234,5\n", "thousands"),
    "thousands by space": ("signal;Y [nit]\n0.5;1 234\n", "thousands"),
    "thousands by quote": ("signal;Y [nit]\n0.5;1'234\n", "thousands"),
    "mixed signs": ("signal;Y [nit]\n1;612,5\n0;0.012\n", "one decimal sign"),
    "maybe a thousand": ("signal;Y [nit]\n1;1,234\n0.5;92\n", "thousand"),
    "mixed colour": ("signal;x;y;Y [nit]\n1;0,3127;0,329;612.5\n", "one decimal sign"),
    "unit in the cell": ("signal,Y [nit]\n0.5,92 nit\n", "number alone"),
    "word": ("signal,Y [nit]\n0.5,high\n", "line 2, column Y .nit.: 'high' is no number"),
    "not a number": ("signal,Y [nit]\n0.5,nan\n", "no number"),
    "infinite": ("signal,Y [nit]\n0.5,inf\n", "no number"),
    "negative": ("signal,Y [nit]\n0.5,-3\n", "accepted is 0 to 10000"),
    "too bright": ("signal,Y [nit]\n0.5,92000\n", "accepted is 0 to 10000"),
    "signal in per cent": ("signal,Y [nit]\n50,92\n", "accepted is 0 to 1"),
    "x in per cent": ("signal,x,y,Y [nit]\n0.5,31.27,32.9,92\n", "per cent"),
    "Y below x": ("signal,x,y,Y [nit]\n0.5,92,0.3290,0.3127\n", "luminance"),
    "no chromaticity": ("signal,x,y,Y [nit]\n0.5,0.7,0.6,92\n", "no chromaticity"),
    "half a colour": ("signal,x,y,Y [nit]\n0.5,0.3127,,92\n", "other half"),
    "colour alone": ("signal,x,y\n0.5,0.3127,0.329\n", "without luminance"),
    "small xyz": ("signal,x,y,z\n0.5,0.3127,0.329,0.3583\n", "without luminance|'z'"),
    "a column twice": ("signal,Y [nit],Y [nit]\n0.5,92,92\n", "say the same"),
    "a name misspelt": ("signal,luminence [nit]\n0.5,92\n", "is luminance meant|'lumin"),
    "a cell too many": ("signal,Y [nit]\n0.5,92,5\n", "line 2: 3 cells"),
    "a cell too few": ("signal,x,y,Y [nit]\n0.5,92\n", "line 2: 2 cells"),
    "open quote": ('signal,Y [nit]\n"0.5,92\n', "line 2: quotes"),
    "nothing shown": ("Y [nit]\n92\n", "what was on screen"),
    "empty": ("", "no table"),
    "only comments": ("# hello\n", "no table"),
    "only a header": ("signal,Y [nit]\n", "no reading is filled in"),
    "stimulus without head": ("stimulus,luminance_cdm2\n1,92\n", "head has no line"),
    "binary": (b"\x00\x01\x02signal,Y\n", "control character"),
    "trace not rising": ("time_s,light\n" + "1,1\n" * 9, "which|accepted is rising"),
    "trace without unit": ("time,light\n" + "1,1\n" * 9, "time states no unit"),
    "trace too short": ("time_s,light\n1,1\n2,1\n", "only 2 samples"),
}


@pytest.mark.parametrize("what", REFUSED)
def test_refusals_name_place_and_what_is_accepted(tmp_path, what):
    content, said = REFUSED[what]
    with pytest.raises(ReadingError, match=said) as refused:
        load(tmp_path, content)
    assert "sheet.csv" in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("sheet", [True, False])
def test_a_column_of_ones_own_is_doubted_and_a_misspelt_one_refused(tmp_path, sheet):
    """Alike whether the file names patterns or signals."""
    window = next(s for s in SET.stimuli if s.name == "window_010")
    named = ("stimulus,pattern", f"{window.number},{window.name}")
    name, value = named if sheet else ("signal", "0.5")
    own = f"{name},Y [nit],my_remark,room_temp_C\n{value},92,cold,21\n"
    said = [
        str(doubt)
        for doubt in load(tmp_path, ("\n".join([*head(), ""]) if sheet else "") + own).caveats
    ]
    assert [one for one in said if "'my_remark' is not read" in one]
    assert [one for one in said if "'room_temp_C' is not read" in one]
    for wrong, meant in (
        ("room_luxx", "room_lux"),
        ("room", "room_lux"),
        ("angel_deg", "angle_deg"),
    ):
        with pytest.raises(ReadingError, match=f"'{wrong}' is no column.*is '{meant}' meant"):
            load(
                tmp_path,
                ("\n".join([*head(), ""]) if sheet else "") + own.replace("my_remark", wrong),
            )


def test_light_under_a_name_that_is_not_read_is_named(tmp_path):
    with pytest.raises(ReadingError, match=r"no reading is filled in.*'shine' is not read"):
        load(tmp_path, "signal,shine\n0.5,92\n")


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(ReadingError, match="cannot be read"):
            load_readings(path)


# --- must be doubted ------------------------------------------------------------------------------


def doubts(tmp_path, change, rows=None, header=None):
    rows = [list(row) for row in rows or ROWS]
    at = {name: index for index, name in enumerate(rows[0])}
    for row in rows[1:]:
        if row[at["luminance_cdm2"]]:
            change(row, at)
    if header:
        rows[0] = [header.get(name, name) for name in rows[0]]
    return [str(caveat) for caveat in load(tmp_path, as_text(rows)).caveats]


def scale(factor, only=None):
    def change(row, at):
        if only is None or row[1] == only:
            cell = at["luminance_cdm2"]
            row[cell] = f"{factor * float(row[cell]):.6g}"

    return change


def swap(first, second):
    def change(row, at):
        row[at[first]], row[at[second]] = row[at[second]], row[at[first]]

    return change


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (scale(1 / 3.426259), "foot-lamberts"),
        (scale(3.426259), "twice"),
        (scale(0.1), "decimal sign"),
        (scale(10), "decimal sign"),
        (scale(0.01), "per cent"),
        (scale(0.001), "thousands"),
        (scale(0.3), "foot-lamberts|times what is asked"),
        (scale(10, only="ramp_p01000_c492"), "neighbours|falls"),
        (scale(0.1, only="ramp_p01000_c492"), "neighbours|falls"),
        (scale(1000, only="black"), "black"),
        (swap("x", "y"), "x and y"),
    ],
)
def test_unlikely_numbers_are_doubted(tmp_path, change, said):
    found = doubts(tmp_path, change)
    assert any(re.search(said, text) for text in found), found


def test_what_is_doubted_exists():
    assert {"ramp_p01000_c492", "black"} <= {stimulus.name for stimulus in SET.stimuli}


def test_swapped_xyz_are_doubted(tmp_path):
    text = "signal,X,Y [cd/m²],Z\n0.5,100.53,92.3,87.74\n0.6,262.6,241,229.1\n"
    assert any("X and Z" in str(caveat) for caveat in load(tmp_path, text).caveats)


def test_colour_of_no_light_is_doubted(tmp_path):
    text = "signal,x,y,Y [cd/m²]\n0.5,0.1,0.15,92.3\n0.5,0.05,0.1,92.3\n"
    outside = [c for c in load(tmp_path, text).caveats if "locus" in str(c)]
    assert [c.about.rpartition("line ")[2] for c in outside] == ["3"]


def test_u_prime_v_prime_as_xy_is_doubted(tmp_path):
    # D65 in u′v′: .1978, .4683 (CIE 15:2018)
    text = "signal,x,y,Y [cd/m²]\n0.5,0.1978,0.4683,92.3\n"
    assert any("u′" in str(caveat) for caveat in load(tmp_path, text).caveats)


def test_one_row_with_swapped_colour_is_doubted(tmp_path):
    text = "signal,x,y,Y [cd/m²]\n" + "0.5,0.3127,0.3290,92.3\n" * 3 + "0.5,0.3290,0.3127,92.3\n"
    assert any(", line 5" in str(c) and "swapped" in str(c) for c in load(tmp_path, text).caveats)


# --- a hundred mutations --------------------------------------------------------------------------


def _cells(rows, name):
    at = rows[0].index(name)
    return [(row, at) for row in rows[1:] if row[at]]


def _each(name, change):
    def mutation(rows, _):
        for row, at in _cells(rows, name):
            row[at] = change(row[at])
        return as_text(rows)

    return mutation


def _one(name, change):
    def mutation(rows, rng):
        bright = [(row, at) for row, at in _cells(rows, name) if float(row[at]) >= 0.1]
        row, at = rng.choice(bright)
        row[at] = change(row[at])
        return as_text(rows)

    return mutation


def _columns(change):
    def mutation(rows, rng):
        order = list(range(len(rows[0])))
        change(order, rows[0], rng)
        return as_text([[row[index] for index in order] for row in rows])

    return mutation


def _lines(change):
    def mutation(rows, rng):
        lines = as_text(rows).splitlines()
        change(lines, rng)
        return "\n".join(lines) + "\n"

    return mutation


def _swap_names(first, second):
    def mutation(rows, _):
        names = {first: second, second: first}
        rows[0] = [names.get(name, name) for name in rows[0]]
        return as_text(rows)

    return mutation


def _rename(old, new):
    def mutation(rows, _):
        rows[0] = [new if name == old else name for name in rows[0]]
        return as_text(rows)

    return mutation


def _drop(name):
    return _columns(lambda order, names, _: order.remove(names.index(name)))


def _shuffle_rows(rows, rng):
    body = rows[1:]
    rng.shuffle(body)
    return as_text([rows[0], *body])


def _cut(share):
    return lambda rows, _: as_text(rows)[: int(share * len(as_text(rows)))]


def _scaled(factor):
    return lambda cell: f"{float(cell) * factor:.6g}"


LUMINANCE = "luminance_cdm2"
MUTATIONS = {
    **{f"all × {f}": _each(LUMINANCE, _scaled(f)) for f in (0.291864, 3.426259, 0.1, 10, 100)},
    **{f"one × {f}": _one(LUMINANCE, _scaled(f)) for f in (0.1, 10, 100, 1000, 0.01, 0.001)},
    **{
        f"one becomes {text!r}": _one(LUMINANCE, lambda _, text=text: text)
        for text in ("nan", "inf", "-5", "1e9", "n/a", "12.5 nit", "1.234,5", "1,234.5", "1 234",
                     "1'234", "1_000", "0x10", "--", "12.5.3", "٣", "1e", "5E5000", "=A1", "#REF!",
                     "TRUE", "12:30", '"', "'", "\\", "1/2", "<0.01")
    },
    **{f"one with {s!r}": _one(LUMINANCE, lambda c, s=s: c.replace(".", s) if "." in c else c + s)
       for s in (",", "..", " .", ";", "\t", "|", "\u00b7", "\u066b")},
    **{f"x becomes {text!r}": _one("x", lambda _, text=text: text) for text in
       ("31.27", "0.9", "1.5", "-0.3", "", "x", "0,3127")},
    **{f"swap {a} and {b}": _swap_names(a, b) for a, b in
       (("x", "y"), ("x", LUMINANCE), ("y", LUMINANCE), ("spot_x", LUMINANCE),
        ("repeat", LUMINANCE),
        ("stimulus", "repeat"), ("angle_deg", LUMINANCE), ("room_lux", LUMINANCE),
        ("area_percent", LUMINANCE), ("x", "spot_x"), ("angle_deg", "room_lux"),
        ("mastering_peak_cdm2", LUMINANCE), ("switch_overs", LUMINANCE), ("notes", LUMINANCE))},
    **{f"rename {a} to {b}": _rename(a, b) for a, b in
       ((LUMINANCE, "luminance"), (LUMINANCE, "luminance_fl"), (LUMINANCE, "Luminance_CDM2"),
        (LUMINANCE, "luminance [%]"), (LUMINANCE, "Y"), (LUMINANCE, ""), (LUMINANCE, "x"),
        ("x", "X"), ("y", "Y"), ("spot_x", "spotx"), ("stimulus", "number"), ("pattern", "name"),
        ("angle_deg", "angel_deg"), ("room_lux", "room"), (LUMINANCE, "luminance_lux"))},
    **{f"without {name}": _drop(name) for name in ("stimulus", "pattern", "repeat", LUMINANCE, "x",
                                                   "y", "notes", "time_hms", "level_code10")},
    "columns in another order": _columns(lambda order, _, rng: rng.shuffle(order)),
    "rows in another order": _shuffle_rows,
    "a delimiter lost": _lines(lambda ls, _: ls.__setitem__(60, ls[60].replace(",", "", 1))),
    "a delimiter more": _lines(lambda ls, _: ls.__setitem__(60, ls[60].replace(",", ",,", 1))),
    "a line twice": _lines(lambda ls, _: ls.insert(60, ls[60])),
    "a line lost": _lines(lambda ls, _: ls.pop(60)),
    "two lines in one": _lines(lambda ls, _: ls.__setitem__(60, ls[60] + ls.pop(61))),
    "the header lost": _lines(lambda ls, _: ls.pop(len(head()))),
    "the header twice": _lines(lambda ls, _: ls.insert(60, ls[len(head())])),
    "the head lost": lambda rows, _: as_text(rows, lines=[]),
    **{f"head line {i} lost": _lines(lambda ls, _, i=i: ls.pop(i)) for i in range(5)},
    **{f"head says {text}": _lines(lambda ls, _, i=i, text=text: ls.__setitem__(i, f"# {text}"))
       for i, text in ((0, "set: other/9"), (1, "shape: 0 rows 0 columns"), (1, "shape: big"),
                       (1, "shape: 99999999999 rows 3 columns"), (2, "peaks_cdm2: 4000"),
                       (2, "peaks_cdm2: many"), (3, "families: none"), (3, "families: ramp window"),
                       (4, "repeats: 0"), (4, "repeats: 1"), (4, "repeats: 1000000"))},
    "semicolons and points": lambda rows, _: as_text(rows, ";", "."),
    "commas without quotes": lambda rows, _: as_text(rows, ",", ".").replace(".", ","),
    "blanks around all": lambda rows, _: as_text(rows).replace(",", " , "),
    "an open quote": _lines(lambda ls, _: ls.__setitem__(60, '"' + ls[60])),
    **{f"cut at {share}": _cut(share) for share in (0.05, 0.3, 0.6, 0.9, 0.999)},
    "one number twice": _one("stimulus", lambda cell: str(int(cell) + 1)),
    "number beyond": _one("stimulus", lambda _: "9999"),
    "number zero": _one("stimulus", lambda _: "0"),
    "number in part": _one("stimulus", lambda cell: cell + ".5"),
}  # fmt: skip


KNOWN = {}
for _row in ROWS[1:]:
    if _row[2] == "light":
        KNOWN.setdefault((_row[1], _row[7], _row[8]), set()).add(float(_row[11]))


def test_there_are_a_hundred():
    assert len(MUTATIONS) >= 100


@pytest.mark.parametrize("name", MUTATIONS)
def test_a_mutation_gives_a_clear_line_or_a_correct_read_or_a_doubt(tmp_path, name):
    rows = [list(row) for row in ROWS]
    text = MUTATIONS[name](rows, random.Random(name))
    readings, said = outcome(tmp_path, text)
    assert (readings is None) == bool(said)
    assert "\n" not in said
    if readings is None or readings.caveats:
        return
    for reading in readings:
        spot = tuple(f"{value:.4f}" for value in reading.spot)
        known = KNOWN[(reading.stimulus.name, *spot)]
        assert any(reading.luminance == pytest.approx(value, rel=1e-6) for value in known), reading


PIECES = [",", ";", "\t", '"', "'", "#", "\n", "\r", ".", "-", "e", "9", "0", " ", "\x00", "é",
          "\ufeff", "x", "Y", "%", "BEGIN_DATA_FORMAT\n", "1e400", ":", "# "]  # fmt: skip


@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.sampled_from([as_text([ROWS[0], *ROWS[1:40]]), FREE["xyY"], FREE["rgb"], CGATS,
                     "# stimulus: step\ntime_s,light\n" + "".join(f"{i},{i}\n" for i in range(9))]),
    st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 4), st.sampled_from(PIECES)),
             min_size=1, max_size=6),
)  # fmt: skip
def test_no_mutation_of_any_file_is_a_crash(tmp_path, text, edits):
    for at, cut, piece in edits:
        place = at % (len(text) + 1)
        text = text[:place] + piece + text[place + cut :]
    readings, said = outcome(tmp_path, text)
    assert (readings is None) == bool(said)
    for reading in readings or ():
        assert 0 <= reading.luminance <= 10000
        assert all(0 <= value <= 1 for value in reading.spot)


@settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.binary(max_size=400))
def test_no_bytes_are_a_crash(tmp_path, data):
    with pytest.raises(ReadingError):
        load(tmp_path, data)
