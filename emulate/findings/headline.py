"""Headline: what a viewer would notice first, and in one line what there is nothing to see of."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from typing import NamedTuple

from emulate.findings.finding import Findings
from emulate.findings.formatting import opening
from emulate.findings.halo import UNTOLD

SENTENCES = 3
TRIFLE = 0.0018  # steps by share: one visible step on a square degree, 16:9 from 3.2 H [ours]
WORST = ".worst"  # ends the name of a film's worst frame

WEIGHTS = {  # finding told, and the area and depth [steps] that weigh it
    "clipped.area": ("clipped.area", "clipped.depth"),
    "crushed.area": ("crushed.area", "crushed.depth"),
    "halo.area": ("halo.area", "halo.strength"),
    "detail.lost": ("detail.area", "detail.depth"),
    "dimmed.things": ("dimmed.area", "dimmed.depth"),
    "colour.hue.mean": ("colour.hue.over_1", "colour.hue.mean"),
    "dimmed.limiter": ("dimmed.limiter.area", "dimmed.limiter.depth"),
}
SPOKEN = {  # what a viewer calls each
    "clipped.area": "clipping",
    "crushed.area": "crushed shadows",
    "halo.area": "glow",
    "detail.lost": "lost detail",
    "dimmed.things": "dimmed small lights",
    "colour.hue.mean": "wrong colours",
    "dimmed.limiter": "a limiter's dimming",
}
NOTHING = "Nothing is lost that a viewer would notice."


class Loss(NamedTuple):
    """A loss that a viewer would notice: its finding, what it weighs, and the sentence told."""

    name: str
    weight: float
    sentence: str


def headline(findings: Findings) -> list[str]:
    """What matters most to a viewer: up to three losses, heaviest first, whatever cannot be told,
    and one line of what there is nothing or too little to see of."""
    told = [loss.sentence for loss in losses(findings)[:SENTENCES]] or [NOTHING]
    glow = findings["halo.area"].sentence
    untold = [glow] if glow.startswith(UNTOLD) else []
    return [*told, *untold, *_rest(findings)]


def losses(findings: Findings) -> list[Loss]:
    """The losses that a viewer would notice, heaviest first.

    A loss weighs its visible area (share of the picture) times its mean depth there (visible
    steps); one step on less than a square degree is a trifle. Of a film the mean over its frames
    ranks a loss, and its worst frame says whether it is one. What is clipped weighs without the
    small lights among it, which are told apart.
    """
    weights = {name: weight_of(findings, name) for name in WEIGHTS}
    weights["clipped.area"] -= weights["dimmed.things"]
    found = [
        Loss(name, weight, _sentence(findings, name))
        for name, weight in weights.items()
        if max(weight, _worst(findings, name)) >= TRIFLE
    ]
    return sorted(found, key=lambda loss: -loss.weight)


def weight_of(findings: Findings, name: str, frame: str = "") -> float:
    """Area by depth of a loss of WEIGHTS [share by visible steps]; 0 where undetermined.

    frame: `.worst` for a film's worst frame.
    """
    area, depth = (findings[f"{part}{frame}"].value for part in WEIGHTS[name])
    return area * depth if isfinite(area * depth) else 0.0


def _worst(findings: Findings, name: str) -> float:
    """Of a film's worst frame; 0 of a still."""
    return weight_of(findings, name, WORST) if f"{WEIGHTS[name][0]}{WORST}" in findings else 0.0


def _sentence(findings: Findings, name: str) -> str:
    """A mean under one step says that nobody sees it: told is where somebody does. An area under a
    square degree says as little: told is how deep it goes as well."""
    told, (area, depth) = findings[name], WEIGHTS[name]
    if name == "colour.hue.mean" and told.value < 1:
        return findings[area].sentence
    if name == area and told.value < TRIFLE and f"{name}{WORST}" not in findings:
        return f"{told.sentence} {findings[depth].sentence}"
    return told.sentence


def _rest(findings: Findings) -> list[str]:
    """One line of what is not lost, and of what is too little lost to notice."""
    most = {name: _at_most(findings, name) for name in WEIGHTS}
    if findings["halo.area"].sentence.startswith(UNTOLD):
        del most["halo.area"]
    none = [SPOKEN[name] for name, weight in most.items() if weight == 0]
    if none == [SPOKEN["dimmed.limiter"]]:
        none = []  # most panels have one that is at rest; alone it is no news
    little = [SPOKEN[name] for name, weight in most.items() if 0 < weight < TRIFLE]
    parts = [
        *([f"nothing to see of {_listed(none)}"] if none else []),
        *([f"too little to notice of {_listed(little)}"] if little else []),
    ]
    return [f"{opening('; '.join(parts))}."] if parts else []


def _at_most(findings: Findings, name: str) -> float:
    """What a loss may weigh: at the upper ends of its intervals, and in a film's worst frame."""
    parts = [findings[part] for part in WEIGHTS[name]]
    if not all(isfinite(each.value) for each in parts):
        return float("inf")
    area, depth = (each.interval[1] if each.interval else each.value for each in parts)
    return max(area * depth, _worst(findings, name))


def _listed(words: Iterable[str]) -> str:
    *first, last = words
    return f"{', '.join(first)} or {last}" if first else last
