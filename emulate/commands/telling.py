"""Telling: findings of a frame, a film and a scene, printed for a person."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from emulate.commands.terminal import columns, say

if TYPE_CHECKING:
    from emulate.films.film import ClipFindings
    from emulate.findings.finding import Findings


def tell_findings(findings: Findings) -> None:
    """Every finding with its sentence, then what all of them stand on and what to doubt."""
    from emulate.findings.formatting import table
    from emulate.findings.measure import headline

    for sentence in headline(findings):
        say(sentence)
    columns(
        ("finding", "value", "in words"),
        [(row.name, row.value, row.sentence) for row in table(findings)],
    )
    say(findings.basis)
    for caveat in findings.caveats:
        say(f"Doubt: {caveat}")


def tell_film(found: ClipFindings, out: Path) -> None:
    """What is lost on average and at most, where it is worst, and what to open."""
    from emulate.films.summary import TOLD
    from emulate.films.terms import timecode
    from emulate.findings.formatting import value_text

    for name in TOLD:
        say(found.film[name].sentence)
    columns(
        ("loss", "rank", "at", "value", "of"),
        [
            (m.loss, str(m.rank), timecode(m.time_s), value_text(m.value, m.unit), m.name)
            for m in found.moments
        ],
    )
    if len(found.cuts):
        say(f"Scene cuts: {', '.join(timecode(cut) for cut in found.cuts)}.")
    for damage in found.damage:
        span = f"{timecode(damage.start_s)} to {timecode(damage.end_s)}"
        say(f"Not read: {span}, {damage.text}.")
    say(found.film.basis)
    for caveat in found.caveats:
        say(f"Doubt: {caveat}")
    say(
        f"Open {out / 'film.png'} first: every loss against time. The worst moments are drawn in "
        f"{out / 'stills'} and listed in moments.csv; frames.csv has a row a frame, cuts.csv a row "
        f"a scene, findings.json the sum of it."
    )


def tell_scene(name: str, seen: dict[str, Findings]) -> None:
    """One scene: its question, and the three sentences of each panel."""
    from emulate.demo_frames import question
    from emulate.findings.measure import headline

    say(question(name))
    rows = [
        (stem, findings.panel, "\n".join(headline(findings))) for stem, findings in seen.items()
    ]
    columns(("panel file", "name", "what is lost"), rows)
