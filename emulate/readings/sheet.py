"""The capture sheet: one row for each look of the meter, in the order that loses least time."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from typing import Literal

from emulate.readings.head import head_of
from emulate.readings.patterns.cautions import CAUTIONS
from emulate.readings.patterns.place import area_share
from emulate.readings.patterns.plan import Look, PatternSet
from emulate.readings.stimulus import Stimulus
from emulate.transfer import code_from_signal

COLUMNS = (
    "stimulus",
    "pattern",
    "measure",
    "repeat",
    "area_percent",
    "level_code10",
    "mastering_peak_cdm2",
    "spot_x",
    "spot_y",
    "angle_deg",
    "room_lux",
    "luminance_cdm2",
    "x",
    "y",
    "switch_overs",
    "time_hms",
    "notes",
)
HOW = (
    "Fill in what you measured. Leave blank what you did not: it is then left out of the fit.",
    "luminance_cdm2 - cd/m² (nit). x and y - CIE 1931 chromaticity between 0 and 1.",
    "Decimal point or decimal comma but one of them throughout; no separator of thousands.",
    "spot_x and spot_y - where the meter looks as share of width and height; 0.5 is the middle.",
    "angle_deg - off the normal of the screen. room_lux - light falling on the screen; 0 is dark.",
    "stimulus - the number in the file name; also drawn in the lower right corner where its dim",
    "light (1 cd/m²) disturbs nothing: ramps and colours from 10 cd/m² on; windows below 100 %.",
    "level_code10 - 10-bit narrow-range code (R/G/B if they differ). area_percent - exact share.",
    "switch_overs - how often the light around the crawling box jumps to the next zone.",
    "measure says trace: a light logger; write its samples into traces/NAME.csv.",
    "time_hms - clock time HH:MM:SS; optional; with it drift can be told apart.",
    "Rows may be left out or repeated and any row may get another spot: keep number and pattern.",
    "Warm up with moving pictures for 30 minutes. Switch off energy saving and light sensors.",
    "Room dark unless room_lux says else; meter and screen square to each other unless angle_deg.",
)
Decimal = Literal[".", ","]


def sheet_text(patterns: PatternSet, decimal: Decimal = ".") -> str:
    """The sheet as CSV text; with a decimal comma its cells are parted by semicolons."""
    lines = [f"# {line}" for line in (*head_of(patterns), "panel: ", *_remarks(patterns))]
    rows = [_row(look) for look in patterns.looks]
    return "\n".join(lines) + "\n" + _csv([COLUMNS, *rows], decimal)


def trace_text(patterns: PatternSet, stimulus: Stimulus, decimal: Decimal = ".") -> str:
    """An empty trace file for a moving stimulus: time and light below a head that names it."""
    how = (
        f"stimulus: {stimulus.name}",
        f"A trace of {stimulus.duration_s:g} s: time in seconds; the logger's light in any unit.",
        "Give cd/m² as light_cdm2 in place of light_relative where the logger is calibrated.",
    )
    lines = [f"# {line}" for line in (*head_of(patterns), *how)]
    return "\n".join(lines) + "\n" + _csv([("time_s", "light_relative")], decimal)


def _remarks(patterns: PatternSet) -> Iterable[str]:
    yield f"About {patterns.minutes:.0f} minutes of measuring; {len(patterns.looks)} rows."
    yield "Any family may be left out."
    yield ""
    yield "CAUTIONS"
    yield from (line.replace(",", ";") for line in CAUTIONS)
    yield ""
    yield "HOW"
    yield from HOW
    yield ""


def _csv(rows: Iterable[Iterable[str]], decimal: Decimal) -> str:
    out = io.StringIO()
    writer = csv.writer(out, delimiter="," if decimal == "." else ";", lineterminator="\n")
    for row in rows:
        writer.writerow(
            [cell.replace(".", ",") if _is_numeral(cell, decimal) else cell for cell in row]
        )
    return out.getvalue()


def _is_numeral(cell: str, decimal: Decimal) -> bool:
    return decimal == "," and cell.replace(".", "", 1).isdigit()


def _row(look: Look) -> tuple[str, ...]:
    stimulus = look.stimulus
    light = look.quantity == "light"
    return (
        str(stimulus.number),
        stimulus.name,
        look.quantity,
        str(look.repeat),
        _area(stimulus),
        _level(stimulus),
        f"{stimulus.mastering_peak:.0f}",
        f"{look.spot[0]:.4f}" if light else "",
        f"{look.spot[1]:.4f}" if light else "",
        f"{look.angle:.0f}",
        "" if look.lit_room else "0",
        *("",) * 5,
        "room light on: fill in room_lux" if look.lit_room else "",
    )


def _area(stimulus: Stimulus) -> str:
    """Of the first rectangle, which the pattern is about; the rest of a checkerboard is like it."""
    if stimulus.background != (0.0, 0.0, 0.0):
        return "100.0000"
    if stimulus.kind == "checker":
        total = sum(area_share(patch, stimulus.shape) for patch in stimulus.patches)
        return f"{100 * total:.4f}"
    boxes = stimulus.patches[:1]
    return f"{100 * area_share(boxes[0], stimulus.shape):.4f}" if boxes else ""


def _level(stimulus: Stimulus) -> str:
    signal = (1.0, 1.0, 1.0) if stimulus.kind == "spill" else stimulus.level
    codes = [f"{code:.0f}" for code in code_from_signal(signal, 10, full_range=False)]
    return codes[0] if len(set(codes)) == 1 else "/".join(codes)
