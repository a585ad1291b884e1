"""Summary: what the frames of a film or a scene come to (physics §1, §9).

A finding of a film is the mean over its frames; beside it `.worst` is the largest, with its time.
Content light is summed up as CTA-861.3 does: MaxCLL is the largest pixel of any frame, MaxFALL the
largest average of any frame. The average is over the picture, bars left out (the default wording,
`content.max_fall`), or over the whole frame, bars included (`content.max_fall_frame`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from emulate.films.entries import Column
from emulate.findings.finding import Finding
from emulate.findings.formatting import light_text, opening, timecode, value_text
from emulate.frames.frame import Metadata
from emulate.values import Numbers

LABELS = {  # what is told of each finding; others go by their names
    "content.level_50": "Light that half of the pixels ask for at most",
    "content.level_90": "Light that 90 % of the pixels ask for at most",
    "content.level_99": "Light that 99 % of the pixels ask for at most",
    "content.level_99_9": "Light that 99.9 % of the pixels ask for at most",
    "content.level_99_99": "Light that 99.99 % of the pixels ask for at most",
    "seat.light": "Light that white keeps at this seat",
    "seat.black": "Black before a full backlight at this seat",
    "clipped.area": "Area clipped",
    "clipped.depth": "Light that clipped parts are short by",
    "clipped.curve": "Area clipped by the tone curve",
    "clipped.zone": "Area clipped by a dim backlight",
    "clipped.gamut": "Area clipped by the panel's range of colours",
    "crushed.area": "Area crushed",
    "crushed.depth": "Steps that crushed parts are off by",
    "crushed.curve": "Area crushed by the tone curve",
    "crushed.leak": "Area crushed by light leaking through the panel",
    "crushed.room": "Area crushed by the room's light",
    "detail.area": "Area that loses fine detail",
    "detail.lost": "Visible fine detail lost",
    "detail.depth": "Contrast that lost detail had",
    "detail.highlights.lost": "Visible fine detail lost in the highlights",
    "detail.middle.lost": "Visible fine detail lost in the middle tones",
    "detail.shadows.lost": "Visible fine detail lost in the shadows",
    "detail.curve": "Area that loses fine detail to the tone curve or the panel's colours",
    "detail.dimming": "Area that loses fine detail to dimming or leakage",
    "detail.room": "Area that loses fine detail to the room's light",
    "halo.area": "Area that glows around bright things",
    "halo.brightest": "Light that the glow adds where it is brightest",
    "halo.mean": "Light that the glow adds",
    "halo.strength": "Steps that the glow stands out by",
    "halo.worst": "Steps that the glow stands out by where it is most visible",
    "halo.reach": "Reach of the glow",
    "halo.bars": "Part of the black bars that glows",
    "dimmed.area": "Area of small bright things, or specks, that come out too dim",
    "dimmed.things": "Small bright things, or specks of texture, that come out too dim",
    "dimmed.depth": "Steps that dimmed small things are short by",
    "dimmed.kept": "Light that dimmed small things keep",
    "dimmed.highlights": "Light that highlights keep",
    "colour.mean": "Steps that light and colour are off by",
    "colour.over_1": "Area visibly off in light or colour",
    "colour.hue.mean": "Steps that hue and saturation are off by",
    "colour.hue.over_1": "Area visibly off in hue or saturation",
    "detail.highlights.area": "Area that loses fine detail in the highlights",
    "detail.middle.area": "Area that loses fine detail in the middle tones",
    "detail.shadows.area": "Area that loses fine detail in the shadows",
    "colour.high": "Steps that light and colour are off by, 95 % below it",
    "colour.over_3": "Area plainly off in light or colour",
    "colour.hue.high": "Steps that hue and saturation are off by, 95 % below it",
    "colour.hue.over_3": "Area plainly off in hue or saturation",
    "dimmed.limiter": "Light that the limiter leaves the whole picture",
    "dimmed.limiter.area": "Area that is visibly darker through the limiter",
    "dimmed.limiter.depth": "Steps that the limiter takes",
    "fluctuation.area": "Area that fluctuates though the picture there is still",
    "fluctuation.indecision": "Area that fluctuates as zones are lit for something else",
    "fluctuation.lag": "Area that fluctuates as zones come late",
    "fluctuation.limiter": "Area that fluctuates as the limiter pumps",
    "fluctuation.curve": "Area that fluctuates as the tone curve moves",
    "fluctuation.steps": "Steps of the strongest fluctuation",
    "lag.area": "Area where light is late, either way",
    "lag.trailing": "Area where light is left over from before",
    "lag.leading": "Area where light comes too late",
    "lag.steps": "Steps that late light is off by at its worst",
    "light.drive": "Mean drive of the backlight",
    "light.drive_max": "Drive of the brightest zone",
    "light.gain": "Light that the limiter leaves the panel",
    "light.curve_peak": "Source peak that the tone curve is made for",
}
TOLD = (  # what is told first of a film
    "content.max_cll",
    "content.max_fall",
    "content.max_fall_frame",
    "clipped.area",
    "crushed.area",
    "detail.lost",
    "halo.area",
    "dimmed.area",
    "colour.hue.over_1",
    "fluctuation.area",
    "fluctuation.indecision",
    "fluctuation.lag",
    "fluctuation.limiter",
    "fluctuation.curve",
    "lag.trailing",
    "lag.leading",
)
KEPT = {"dimmed.kept", "dimmed.highlights", "dimmed.limiter", "light.gain"}  # less is worse

_LEVEL = "A pixel's level is the largest of its linear red, green and blue (BT.2020, cd/m²)"
_LEVELS = {  # column -> words, definition, which claim stands against it
    "content.max_cll": (
        "The brightest pixel of all asks for",
        f"{_LEVEL}. MaxCLL of CTA-861.3: the largest level of any frame.",
        "max_cll",
    ),
    "content.max_fall": (
        "The brightest frame asks on average for",
        f"{_LEVEL}. MaxFALL of CTA-861.3: the largest mean level of any frame, over the picture "
        f"alone, black bars left out (our default wording).",
        "max_fall",
    ),
    "content.max_fall_frame": (
        "With black bars counted in, the brightest frame asks on average for",
        f"{_LEVEL}. MaxFALL of CTA-861.3 in its other wording: the largest mean level of any "
        f"frame, over the whole frame, black bars included.",
        "max_fall",
    ),
}
_CLAIMS = {
    "content.claimed_max_cll": ("max_cll", "brightest pixel"),
    "content.claimed_max_fall": ("max_fall", "brightest frame average"),
    "content.claimed_peak": ("mastering_peak", "mastering screen's peak"),
}


def summed(
    columns: Sequence[Column], time_s: Numbers, values: Numbers, metadata: Metadata
) -> dict[str, Finding]:
    """Findings by dotted name over rows: time_s (n,), values (n, columns).

    Undetermined values take no part; a finding undetermined in every row stays so.
    """
    found: dict[str, Finding] = {}
    for column, series in zip(columns, values.T, strict=True):
        if column.name in _LEVELS:
            found[column.name] = _level(column.name, series, time_s, metadata)
        elif column.name in _CLAIMS:
            found[column.name] = _claim(column.name, metadata)
        else:
            found |= _mean_and_worst(column, series, time_s)
    return found


def _mean_and_worst(column: Column, series: Numbers, time_s: Numbers) -> dict[str, Finding]:
    name, unit = column.name, column.unit
    known = ~np.isnan(series)
    if not known.any():
        text = f"{_label(name)}: undetermined in every frame."
        nothing = Finding(np.nan, unit, text, column.definition)
        return {name: nothing, f"{name}.worst": nothing}
    row = int(np.nanargmin(series) if name in KEPT else np.nanargmax(series))
    mean, worst = float(series[known].mean()), float(series[row])
    extreme = "least" if name in KEPT else "most"
    sentence = (
        f"{_label(name)}: {value_text(mean, unit)} on average, {value_text(worst, unit)} at "
        f"{extreme}, at {timecode(float(time_s[row]))}."
        if series[known].any()
        else f"{_label(name)}: none in any frame."
    )
    definitions = (f"{column.definition} Mean over the frames.", f"{column.definition} The ")
    return {
        name: Finding(mean, unit, sentence, definitions[0]),
        f"{name}.worst": Finding(worst, unit, sentence, f"{definitions[1]}{extreme} of any frame."),
    }


def _label(name: str) -> str:
    return LABELS.get(name, opening(name.replace(".", ", ").replace("_", " ")))


def _level(name: str, series: Numbers, time_s: Numbers, metadata: Metadata) -> Finding:
    words, definition, claim = _LEVELS[name]
    row = int(np.argmax(series))
    value, claimed = float(series[row]), float(getattr(metadata, claim))
    said = f"the stream claims {light_text(claimed)}" if claimed else "the stream claims nothing"
    when = timecode(float(time_s[row]))
    return Finding(value, "cd/m²", f"{words} {light_text(value)}, at {when}; {said}.", definition)


def _claim(name: str, metadata: Metadata) -> Finding:
    field, what = _CLAIMS[name]
    value = float(getattr(metadata, field))
    sentence = (
        f"{light_text(value)} is claimed for its {what}."
        if value
        else f"The stream does not say what its {what} is."
    )
    definition = "As the stream's metadata say (SMPTE ST 2086, CTA-861.3), or you; 0 means unknown."
    return Finding(value, "cd/m²", sentence, definition)
