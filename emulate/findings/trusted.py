"""Trusted: what the closed and the held-out loop come to, as findings."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

import numpy as np

from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import digits_text, share_text, steps_text
from emulate.findings.results import Table
from emulate.findings.trust import Row, Summary, Trust
from emulate.sight import steps_from_light

COLUMNS = (
    "loop",
    "pattern",
    "spot_x",
    "spot_y",
    "angle_deg",
    "room_lux",
    "looks",
    "measured_cdm2",
    "predicted_cdm2",
    "off_steps",
    "off_sigmas",
    "low_cdm2",
    "high_cdm2",
    "file",
    "line",
)


KINDS = {  # of stimulus, as a person calls them
    "ramp": "grey ramp",
    "near_black": "near black",
    "window": "windows",
    "checker": "checkerboards",
    "primary": "primaries",
    "chart24": "chart of 24",
    "chart140": "chart of 140",
    "grow": "growing box",
    "spill": "light beside a box",
    "crawl": "crawling box",
    "uniformity": "grey over the screen",
    "black": "black",
    "patch": "own colours",
}


WIDER = 1.05  # times, from which the widening of intervals is told; ours


def find_trust(closed: Trust, held: Trust | None = None) -> Findings:
    """How far the panel's predictions are from the readings, and from readings it never saw."""
    found = _closed(closed)
    if held is not None and held.rows:
        found |= _held(held)
    looks = sum(row.looks for row in closed.rows)
    left = ", and ".join(f"{count} {why}" for why, count in closed.left_out.items())
    rest = f"; left out are {left}" if left else ""
    basis = (
        f"{len(closed.rows)} means of {looks} readings{rest}; one look of the meter scatters by "
        f"{share_text(closed.noise.relative)}."
    )
    return Findings(found, closed.caveats, panel=closed.panel, basis=basis)


def rows_text(trusts: Iterable[Trust]) -> str:
    """Every reading beside its prediction, as CSV text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for trust in trusts:
        writer.writerows(_cells(trust, row) for row in trust.rows)
    return out.getvalue()


def _closed(trust: Trust) -> dict[str, Finding]:
    steps, sigmas = (
        _rms([getattr(row, name) for row in trust.rows]) for name in ("steps", "sigmas")
    )
    near = float(np.mean([abs(row.steps) <= 1 for row in trust.rows]))
    how = "each mean of repeats against what the panel shows of the same stimulus"
    return {
        "trust.steps": Finding(
            steps,
            "steps",
            f"The panel on file shows what was read to within {steps_text(steps)}.",
            f"Root mean square of {how}, in visible steps (ITU-R BT.2124).",
        ),
        "trust.sigmas": Finding(
            sigmas,
            "sigmas",
            f"Predictions are off by {digits_text(sigmas)} times the meter's own scatter; about 1 "
            "means that nothing is left to explain.",
            f"Root mean square of {how}, in standard deviations of the meter.",
        ),
        "trust.unseen": Finding(
            near,
            "share",
            f"{share_text(near)} of the readings are met so well that nobody would see a "
            "difference.",
            "Share of the means that are within one visible step of their prediction.",
        ),
    }


def _held(trust: Trust) -> dict[str, Finding]:
    inside = float(np.mean([row.inside for row in trust.rows]))
    off = [steps_from_light(row.predicted) - steps_from_light(row.measured) for row in trust.rows]
    steps = _rms([float(each) for each in off])
    how = (
        "fits that never saw them (windows, spill and growing box by halves, checkerboards, crawl)"
    )
    return {
        "held_out.steps": Finding(
            steps,
            "steps",
            f"Readings that the fit never saw are met to within {steps_text(steps)}.",
            f"Root mean square over {len(trust.rows)} means, each predicted by {how}.",
        ),
        "held_out.inside": Finding(
            inside,
            "share",
            f"{share_text(inside)} of the readings that the fit never saw lie where it said "
            f"95 % would{_widened(trust, inside)}.",
            f"Share of {len(trust.rows)} means inside the 95 % interval stated by {how}.",
        ),
    }


def _widened(trust: Trust, inside: float) -> str:
    """What the share inside owes to intervals that were widened by what the model misses."""
    if trust.widened <= WIDER:
        return ""
    narrow = float(np.mean([_inside(row, trust.widened) for row in trust.rows]))
    times = digits_text(trust.widened)
    if narrow >= inside:
        return f", though intervals were widened {times} times"
    return f", since intervals were widened {times} times: without that about {share_text(narrow)}"


def _inside(row: Row, widened: float) -> bool:
    """Whether the reading lies in its interval as it was before it was widened."""
    low, high = row.interval or (0.0, np.inf)
    reach = np.log(high / low) / 2 if low > 0 else np.inf
    return bool(abs(np.log(row.measured / np.sqrt(low * high))) <= reach / widened)


def _rms(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def _cells(trust: Trust, row: Row) -> list[object]:
    reading = row.reading
    low, high = row.interval or ("", "")
    values = (row.measured, row.predicted, row.steps, row.sigmas)
    return [
        trust.how,
        reading.stimulus.name,
        *(f"{share:.4f}" for share in reading.spot),
        f"{reading.angle:g}",
        f"{reading.room_lux:g}",
        row.looks,
        *(f"{value:.5g}" for value in values),
        *(f"{end:.5g}" if end != "" else "" for end in (low, high)),
        reading.source.path,
        reading.source.line,
    ]


def trust_tables(trusts: Iterable[Trust]) -> tuple[Table, ...]:
    """Each loop group by group, as a page shows it; intervals only where they were stated."""
    return tuple(_table(trust) for trust in trusts if trust.rows)


_LOOPS = {
    "closed loop": "What was read, shown again",
    "held out": "What was left out, predicted",
}


def _table(trust: Trust) -> Table:
    head = ("readings", "means", "off by", "of the meter's scatter", "inside its interval")
    stated = any(row.interval for row in trust.rows)
    columns = len(head) if stated else len(head) - 1
    lines = tuple(_line(each)[:columns] for each in trust.summaries)
    return Table(_LOOPS[trust.how], _told(trust), head[:columns], lines)


def _told(trust: Trust) -> str:
    found = _closed(trust) if trust.how == "closed loop" else _held(trust)
    sentence = next(iter(found.values())).sentence
    if trust.widened <= WIDER:
        return sentence
    times = digits_text(trust.widened)
    return f"{sentence} Its intervals are widened {times} times, by what the model misses."


def _line(each: Summary) -> tuple[str, ...]:
    inside = "" if np.isnan(each.inside) else f"{round(each.inside * each.count)} of {each.count}"
    scatter = "under 0.01" if each.sigmas < 0.01 else digits_text(each.sigmas)
    name = KINDS.get(each.group, each.group)
    return name, str(each.count), steps_text(each.steps), f"{scatter} ×", inside
