"""Opening: the three sentences that a viewer needs, out of all that was found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from emulate.findings.finding import Findings
from emulate.findings.headline import NOTHING, WEIGHTS, losses
from emulate.report.contents import Opening

SENTENCES = 3
KNOWN = 0.25  # of the weight of what has been heard of before; our choice


class Candidate(NamedTuple):
    """A sentence that could open the page, and what it weighs."""

    weight: float
    name: str
    sentence: str
    scene: str
    panel: str


def opening(
    stills: Sequence[tuple[str, Findings]], verdicts: Sequence[Opening] = ()
) -> tuple[Opening, ...]:
    """Three sentences: what the first comparison came to, then of stills (scene title, findings),
    then of further comparisons.

    A loss weighs its area times its depth, as in `headline`. The heaviest comes first; for the next
    a loss on a panel already named counts a quarter, and so does one of a kind already named: other
    things are worth hearing. Trifles are not told; where there is nothing else, that is said once.
    """
    left = sorted(_candidates(stills), key=lambda one: -one.weight)
    chosen: list[Candidate] = []
    while left and len(chosen) < SENTENCES:
        best = max(left, key=lambda one: _news(one, chosen))
        left.remove(best)
        chosen.append(best)
    told = [Opening(one.sentence, one.scene, one.panel) for one in chosen]
    if not chosen and any(_known(findings) for _, findings in stills):
        told = [Opening(NOTHING, "everywhere", "every panel")]
    return (*verdicts[:1], *told[: SENTENCES - len(verdicts[:1])], *verdicts[1:])[:SENTENCES]


def _candidates(stills: Sequence[tuple[str, Findings]]) -> list[Candidate]:
    return [
        Candidate(loss.weight, loss.name, loss.sentence, scene, findings.panel)
        for scene, findings in stills
        if _known(findings)
        for loss in losses(findings)
    ]


def _known(findings: Findings) -> bool:
    """Whether they hold all that is weighed."""
    return set(WEIGHTS) <= set(findings)


def _news(one: Candidate, chosen: Sequence[Candidate]) -> float:
    """What a candidate weighs after those that are said."""
    panel = any(one.panel == other.panel for other in chosen)
    kind = any(one.name == other.name for other in chosen)
    return one.weight * KNOWN ** (panel + kind)
