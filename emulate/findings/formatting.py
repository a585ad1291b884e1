"""How a value is written for a person: the one place, for sentences, tables and pages."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from math import floor, isnan, log10

from emulate.findings.finding import Finding, Findings, Unit

SMALLEST_SHARE = 0.0001  # shares below 0.01 % are written as less than it
SMALLEST_LIGHT = 0.0001  # cd/m²; no panel and no eye tells less from black
SMALLEST_STEPS = 0.01
NOTHING = 1e-9  # smaller than anything measured or fitted, ours: what is left of a sum of float64
CLAIMED = "content.claimed_"  # begins the names of what a file says of itself


def value_text(value: float, unit: Unit) -> str:
    """A value with its unit, in as many digits as a person can use; `undetermined` for NaN, which
    of a factor says that none does it: `no amount`."""
    if isnan(value):
        return "no amount" if unit == "times" else "undetermined"
    return _WRITERS[unit](value)


def share_text(share: float) -> str:
    """0..1 in per cent: `0 %`, `less than 0.01 %`, `0.42 %`, `27 %`, `more than 99.9 %`."""
    if 0 < share < SMALLEST_SHARE:
        return "less than 0.01 %"
    if 0.999 < share < 1:
        return "more than 99.9 %"
    if 0.99 <= share < 1:
        return f"{share * 100:.1f} %"
    return f"{_rounded(share * 100)} %"


def light_text(light: float) -> str:
    """Luminance in two digits below 10, three to 1000, whole above: `0.42 cd/m²`, `1235 cd/m²`."""
    if 0 < light < SMALLEST_LIGHT:
        return "less than 0.0001 cd/m²"
    digits = 2 if light < 10 else 3
    return f"{_rounded(light, digits)} cd/m²"


def steps_text(steps: float) -> str:
    """Visible steps in two digits: `0.4 visible steps`, `12 visible steps`, `1 visible step`."""
    if 0 < steps < SMALLEST_STEPS:
        return "less than 0.01 visible steps"
    text = _rounded(steps)
    return f"{text} visible step{'' if text == '1' else 's'}"


def degree_text(degrees: float) -> str:
    """An angle in two digits: `0.3°`."""
    return f"{_rounded(degrees)}°"


def milliseconds_text(milliseconds: float) -> str:
    """A time in three digits: `13.3 ms`."""
    return f"{_rounded(milliseconds, 3)} ms"


def timecode(time_s: float) -> str:
    """Hours, minutes, seconds and milliseconds, rounded: `00:01:03.250`."""
    milliseconds = round(time_s * 1000)
    minutes, milliseconds = divmod(milliseconds, 60_000)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02d}:{minutes:02d}:{milliseconds // 1000:02d}.{milliseconds % 1000:03d}"


def pixels_text(pixels: float) -> str:
    """A width on the picture in two digits: `4.2 px`."""
    return f"{_rounded(pixels)} px"


def count_text(count: float) -> str:
    """A whole number: `1204`."""
    return f"{count:.0f}"


def difference_text(difference: float) -> str:
    """A colour difference in two digits: `2.4 ΔE 2000`."""
    return f"{_rounded(difference)} ΔE 2000"


def shift_text(shift: float) -> str:
    """A distance in the u′v′ diagram to four places, finer than meters agree: `0.0042 Δu′v′`."""
    return f"{shift:.4f} Δu′v′"


def times_text(times: float) -> str:
    """A factor in two digits: `5.6 times`, `once` for none."""
    return "once" if times == 1 else f"{_rounded(times)} times"


def sigmas_text(sigmas: float) -> str:
    """Standard deviations of the meter in two digits: `1.3 σ`."""
    return f"{_rounded(sigmas)} σ"


def digits_text(value: float, digits: int = 2) -> str:
    """A number without its unit in so many leading digits: `0.0042`, `-12`, `1235`; `–` for NaN."""
    return "–" if isnan(value) else _rounded(value, digits)


def _rounded(value: float, digits: int = 2) -> str:
    """`digits` leading digits, whole numbers whole, no trailing zeros, never an exponent."""
    if abs(value) < NOTHING:
        return "0"
    places = max(0, digits - 1 - floor(log10(abs(value))))
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


_SHORT: dict[Unit, str] = {"share": " %", "cd/m²": " cd/m²", "degree": "°"}
_UNIT = re.compile(r" ?(%|°|cd/m²|visible steps?|ΔE 2000|Δu′v′|σ)$")
_WRITERS = {
    "share": share_text,
    "cd/m²": light_text,
    "steps": steps_text,
    "degree": degree_text,
    "count": count_text,
    "ms": milliseconds_text,
    "px": pixels_text,
    "ΔE 2000": difference_text,
    "Δu′v′": shift_text,
    "sigmas": sigmas_text,
    "times": times_text,
}


def interval_text(interval: tuple[float, float], unit: Unit) -> str:
    """Both ends of an interval with a short unit: `2.6 to 3.7 %`, `0.2 to 0.5°`, `8.3 to 13`."""
    low, high = (_UNIT.sub("", value_text(end, unit)) for end in interval)
    return f"{low} to {high}{_SHORT.get(unit, '')}"


def with_interval(found: Finding, interval: tuple[float, float] | None, why: str = "") -> Finding:
    """The finding with its interval, told behind the number: `3.1 % (2.6 to 3.7 %)`.

    Where the sentence does not hold the number, the interval closes it; where both ends read like
    the value, nothing is added. why: what there is to say of how the value lies in it.
    """
    text = value_text(found.value, found.unit)
    ends = [value_text(end, found.unit) for end in interval or ()]
    alike = set(ends) <= {text}
    if interval is None or (alike and not why):
        return replace(found, interval=interval)
    number = re.compile(rf"(?<![\d.]){re.escape(text)}", re.IGNORECASE)
    held = number.search(found.sentence)
    place = held.end() if held else len(found.sentence.rstrip("."))
    told = interval_text(interval, found.unit) if held else " to ".join(_bare_but_last(ends))
    told = "; ".join(filter(None, ["" if alike else told, why]))
    sentence = f"{found.sentence[:place]} ({told}){found.sentence[place:]}"
    return replace(found, sentence=sentence, interval=interval)


def _bare_but_last(ends: list[str]) -> list[str]:
    return [_UNIT.sub("", ends[0]), *ends[1:]]


def opening(text: str) -> str:
    """Text fit to open a sentence: its first letter large."""
    return text[:1].upper() + text[1:]


def found_text(name: str, found: Finding) -> str:
    """The value of a finding with its unit; `–` for what a file could claim and does not."""
    if name.startswith(CLAIMED) and found.value == 0:  # 0 means unknown, CTA-861.3
        return "–"
    return value_text(found.value, found.unit)


@dataclass(frozen=True)
class Row:
    """One line of a printed table."""

    name: str
    value: str
    sentence: str


def table(findings: Findings) -> tuple[Row, ...]:
    """The findings as lines to print, in the order in which they were measured."""
    return tuple(
        Row(name, found_text(name, found), found.sentence) for name, found in findings.items()
    )
