"""Comparison: one content on several panels or under several tone curves, and what differs."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from emulate.errors import Caveat
from emulate.films.film import ClipFindings
from emulate.films.noticeable import DEPTHS, LIGHT_KEPT, WORST, least_text, shows
from emulate.findings.finding import Difference, Findings, Unit, differences
from emulate.findings.formatting import opening, share_text, steps_text, value_text
from emulate.findings.headline import SPOKEN, TRIFLE, WEIGHTS, weight_of
from emulate.outputs import write_text
from emulate.panel.curves import Curve
from emulate.panel.panel import Panel
from emulate.panel.policy import Policy

FORMAT = "emulate-comparison/1"
REGIONS = {"highlights": "highlights", "middle": "middle tones", "shadows": "shadows"}
OVER = DEPTHS | {"dimmed.depth": "dimmed.area", "dimmed.kept": "dimmed.things"}
ALIKE = 1.5  # times the least area or count, up to which depths may be ranked; ours
NOT_SEEN = ("content.", "light.")  # what was asked and how the panel is driven: no loss in itself


@dataclass(frozen=True, eq=False)
class Case:
    """One panel under one tone curve: how it is called here, and what it loses.

    curve: the one that acted, of a clip at its first frame. film: of a clip, frame by frame.
    """

    label: str
    panel: Panel
    policy: str | Policy | Curve | None
    findings: Findings
    curve: Curve
    film: ClipFindings | None = None


@dataclass(frozen=True)
class Line:
    """One finding that differs: its value in each case, the least difference that counts in words,
    and which case does best; None where that is no matter of better or worse."""

    name: str
    unit: Unit
    values: tuple[float, ...]
    least: str
    best: int | None

    @property
    def texts(self) -> tuple[str, ...]:
        """The values as a person reads them."""
        return tuple(value_text(value, self.unit) for value in self.values)


@dataclass(frozen=True, eq=False)
class Comparison:
    """What differs between cases by more than an eye can miss and their intervals allow.

    lines: only such findings, in the order in which they were measured. sentence: what differs most
    to the eye, then who keeps more fine detail where. area: share of the picture that counts as an
    area, one square degree.
    """

    content: str
    cases: tuple[Case, ...]
    lines: tuple[Line, ...]
    sentence: str
    area: float

    @property
    def basis(self) -> str:
        """What holds for all of it: viewer, room, and what the file's light was taken to mean."""
        return self.cases[0].findings.basis

    @property
    def caveats(self) -> tuple[Caveat, ...]:
        """Every doubt of every case, once."""
        return tuple(dict.fromkeys(doubt for case in self.cases for doubt in case.findings.caveats))


def comparison_of(content: str, cases: tuple[Case, ...], area: float) -> Comparison:
    """Cases laid side by side; area: the share of the picture that one square degree is."""
    found = [case.findings for case in cases]
    names: dict[str, Difference] = {}
    for first, second in _pairs(found):
        for change in differences(first, second):
            if not change.name.startswith(NOT_SEEN) and shows(change, first, second, area):
                names[change.name] = change
    lines = tuple(
        Line(
            name,
            names[name].unit,
            tuple(each[name].value for each in found),
            least_text(name, names[name].unit, area),
            _best(name, [each[name].value for each in found], _spans(name, found)),
        )
        for name in found[0]
        if name in names and all(name in each for each in found)
    )
    return Comparison(content, cases, lines, _sentence(cases, lines), area)


def save_comparison(comparison: Comparison, path: str | os.PathLike[str]) -> Path:
    """A comparison as JSON, format emulate-comparison/1, whole or not at all.

    Keys: content, basis, sentence, caveats; cases, each with label, panel, policy, curve and its
    findings by name (value, unit, sentence, interval); differences, each with name, unit, values
    and texts in the order of the cases, counts_from, and best, the number of a case from 0 or null.
    A value of null is undetermined. Raises OutputError where it cannot be written.
    """
    document = {
        "format": FORMAT,
        "content": comparison.content,
        "basis": comparison.basis,
        "sentence": comparison.sentence,
        "caveats": [{"about": each.about, "text": each.text} for each in comparison.caveats],
        "cases": [_case_entry(case) for case in comparison.cases],
        "differences": [_line_entry(line) for line in comparison.lines],
    }
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)
    return write_text(path, f"{text}\n")


def policy_text(policy: str | Policy | Curve | None, panel: Panel) -> str:
    """A policy as a person would ask for it; None is the panel's own habit."""
    if policy is None:
        return f"its own habit, {panel.tone.policy}"
    if isinstance(policy, Curve):
        return policy.text
    if isinstance(policy, Policy):
        built = ":".join(filter(None, [policy.follows, policy.built]))
        return policy.curve.text if policy.curve else built
    return policy


def _pairs(found: list[Findings]) -> list[tuple[Findings, Findings]]:
    return [(first, second) for i, first in enumerate(found) for second in found[i + 1 :]]


def _spans(name: str, found: list[Findings]) -> list[float]:
    """How far the loss reaches in each case whose depth this finding tells; all alike elsewhere."""
    base = name.removesuffix(WORST)
    span = OVER.get(base)
    return [each[span + name.removeprefix(base)].value if span else 1.0 for each in found]


def _best(name: str, values: list[float], spans: list[float]) -> int | None:
    """The case with the least loss, or with the most light kept; the first of equals. None where
    a depth is least over a loss that reaches much further than in another case."""
    known = [value for value in values if isfinite(value)]
    most = name.removesuffix(WORST) in LIGHT_KEPT
    best = values.index(max(known) if most else min(known))
    return best if spans[best] <= ALIKE * min(spans) else None


def _sentence(cases: tuple[Case, ...], lines: tuple[Line, ...]) -> str:
    return " ".join(filter(None, [_largest(cases, lines), _detail(cases, lines)]))


def _largest(cases: tuple[Case, ...], lines: tuple[Line, ...]) -> str:
    """The loss whose area times depth differs most, in the case that has least and most of it."""
    told = {line.name for line in lines}
    weights = {
        name: [weight_of(case.findings, name) for case in cases]
        for name, parts in WEIGHTS.items()
        if told & {name, *parts} and all(_known(case.findings, parts) for case in cases)
    }
    gaps = {name: max(each) - min(each) for name, each in weights.items()}
    name = max(gaps, key=lambda each: gaps[each], default="")
    if gaps.get(name, 0.0) < TRIFLE:
        return ""
    least, most = (cases[weights[name].index(end(weights[name]))] for end in (min, max))
    return (
        f"What differs most to the eye is {SPOKEN[name]}: {_amount(name, least.findings)} for "
        f"{least.label}, {_amount(name, most.findings)} for {most.label}."
    )


def _known(found: Findings, names: tuple[str, ...]) -> bool:
    return all(name in found and isfinite(found[name].value) for name in names)


def _amount(name: str, found: Findings) -> str:
    """How deep a loss is, and on how much of the picture."""
    area, depth = (found[part] for part in WEIGHTS[name])
    if not weight_of(found, name):
        return "none"
    everywhere = WEIGHTS[name][1] == name  # a mean over all of it, not over the part that shows it
    where = "on average" if everywhere else f"on {share_text(area.value)} of the picture"
    return f"{steps_text(depth.value)} {where}"


def _detail(cases: tuple[Case, ...], lines: tuple[Line, ...]) -> str:
    """Which case loses least of the visible detail where, against the one that loses most."""
    by_name = {line.name: line for line in lines}
    better: dict[str, list[str]] = {}
    alike = []
    for region, spoken in REGIONS.items():
        line = by_name.get(f"detail.{region}.lost")
        if line is None or line.best is None:
            alike.append(spoken)
            continue
        worst = line.values.index(max(line.values))
        figures = f"{share_text(min(line.values))} against {share_text(max(line.values))}"
        words = f"the {spoken} ({figures} for {cases[worst].label})"
        better.setdefault(cases[line.best].label, []).append(words)
    parts = [f"{label} loses least in {_listed(places)}" for label, places in better.items()]
    if not parts:
        return "No difference in fine detail is to be seen in highlights, middle tones or shadows."
    if alike:
        parts.append(f"no difference is to be seen in the {_listed(alike)}")
    return opening(f"of the fine detail you could see, {'; '.join(parts)}.")


def _listed(words: list[str]) -> str:
    return " and ".join(filter(None, [", ".join(words[:-1]), words[-1]]))


def _case_entry(case: Case) -> dict[str, Any]:
    found = {
        name: {
            "value": each.value if isfinite(each.value) else None,
            "unit": each.unit,
            "sentence": each.sentence,
            "interval": each.interval,
        }
        for name, each in case.findings.items()
    }
    return {
        "label": case.label,
        "panel": case.panel.name,
        "policy": policy_text(case.policy, case.panel),
        "curve": case.curve.text,
        "findings": found,
    }


def _line_entry(line: Line) -> dict[str, Any]:
    return {
        "name": line.name,
        "unit": line.unit,
        "values": [value if isfinite(value) else None for value in line.values],
        "texts": line.texts,
        "counts_from": line.least,
        "best": line.best,
    }
