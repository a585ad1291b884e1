"""Opening: the three sentences that a viewer needs, out of all that was found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from emulate.findings.finding import Findings
from emulate.findings.measure import WEIGHTS, weighed
from emulate.report.contents import Opening

SENTENCES = 3


class Candidate(NamedTuple):
    """A sentence that could open the page, and what it weighs."""

    weight: float
    name: str
    sentence: str
    scene: str
    panel: str


def opening(stills: Sequence[tuple[str, Findings]]) -> tuple[Opening, ...]:
    """Three sentences of stills (scene title, findings).

    A loss weighs its area times its depth, as in `headline`. The heaviest comes first; the next is
    the heaviest on a panel not yet named, of a kind not yet named; and so on, with what is left
    when panels or kinds run out.
    """
    left = sorted(_candidates(stills), key=lambda one: -one.weight)
    chosen: list[Candidate] = []
    while left and len(chosen) < SENTENCES:
        best = min(left, key=lambda one: (_known(one, chosen), -one.weight))
        left.remove(best)
        chosen.append(best)
    return tuple(Opening(one.sentence, one.scene, one.panel) for one in chosen)


def _candidates(stills: Sequence[tuple[str, Findings]]) -> list[Candidate]:
    return [
        Candidate(weight, name, findings[name].sentence, scene, findings.panel)
        for scene, findings in stills
        if set(WEIGHTS) <= set(findings)
        for name, weight in weighed(findings)
    ]


def _known(one: Candidate, chosen: Sequence[Candidate]) -> int:
    """How much of a candidate has been said: 0 nothing, more for the same panel or kind."""
    panel = any(one.panel == other.panel for other in chosen)
    kind = any(one.name == other.name for other in chosen)
    nothing = one.weight == 0  # good news comes last
    return 4 * nothing + 2 * panel + kind
