"""Telling: findings of a frame, a film and a scene, printed for a person."""

from __future__ import annotations

from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING

from emulate.commands.terminal import columns, say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from emulate.errors import Caveat
    from emulate.films.film import ClipFindings
    from emulate.findings.accuracy.accuracy import Accuracy
    from emulate.findings.finding import Findings
    from emulate.findings.trust import Row, Summary, Trust
    from emulate.panel.panel import Panel
    from emulate.readings.readings import Readings

MANY = ("tone.curve", "tracking", "uniformity")  # numbers too many to list
FARTHEST = 12  # readings listed
RANKED = (
    "Rank goes by area times depth: a smaller part of the picture that is lost more visibly comes "
    "before a larger one, so the largest area told above need not be rank 1."
)
HEAD = ("finding", "value", "in words")


def tell_findings(findings: Findings) -> None:
    """Every finding with its sentence, then what all of them stand on and what to doubt."""
    from emulate.findings.headline import headline

    for sentence in headline(findings):
        say(sentence)
    tell_table(findings)


def tell_table(findings: Findings, head: tuple[str, str, str] = HEAD) -> None:
    """Every finding, its value and its sentence, then what they stand on and what to doubt."""
    from emulate.findings.formatting import table

    columns(head, [(row.name, row.value, row.sentence) for row in table(findings)])
    tell_basis(findings.basis, findings.caveats)


def tell_basis(basis: str, caveats: Sequence[Caveat]) -> None:
    """What findings stand on, and each doubt about them."""
    say(basis)
    for caveat in caveats:
        say(f"Doubt: {caveat}")


def tell_film(found: ClipFindings, out: Path) -> None:
    """What is lost on average and at most, where it is worst, and what to open."""
    from emulate.films.summary import TOLD
    from emulate.findings.formatting import timecode, value_text

    for name in TOLD:
        say(found.film[name].sentence)
    columns(
        ("loss", "rank", "at", "value", "of"),
        [
            (m.loss, str(m.rank), timecode(m.time_s), value_text(m.value, m.unit), m.name)
            for m in found.moments
        ],
    )
    say(RANKED)
    if len(found.cuts):
        say(f"Scene cuts: {', '.join(timecode(cut) for cut in found.cuts)}.")
    for damage in found.damage:
        span = f"{timecode(damage.start_s)} to {timecode(damage.end_s)}"
        say(f"Not read: {span}, {damage.text}.")
    tell_basis(found.film.basis, found.caveats)
    say(
        f"Open {out / 'film.png'} first: every loss against time. The worst moments are drawn in "
        f"{out / 'stills'} and listed in moments.csv; frames.csv has a row a frame, cuts.csv a row "
        f"a scene, findings.json the sum of it."
    )


def tell_scene(name: str, seen: dict[str, Findings]) -> None:
    """One scene: its question, and the three sentences of each panel."""
    from emulate.demo_frames import question
    from emulate.findings.headline import headline

    say(question(name))
    rows = [
        (stem, findings.panel, "\n".join(headline(findings))) for stem, findings in seen.items()
    ]
    columns(("panel file", "name", "what is lost"), rows)


def tell_accuracy(found: Accuracy) -> None:
    """Every table, then what they come to."""
    for each in found.tables:
        say(f"{each.title}:")
        columns(each.head, each.rows())
        for finding in each.findings().values():
            say(finding.sentence)
    tell_basis(found.findings.basis, found.findings.caveats)


def tell_verdict(closed: Trust, panel: Panel) -> None:
    """First of all, and alone on its line: whether the panel is to be trusted."""
    from emulate.findings.verdict import verdict

    doubt = verdict(closed, panel)
    if doubt:
        say(doubt)


def tell_standing(*panels: Panel) -> None:
    """First of all: which panels on file are not to be trusted, by name where there are several."""
    from emulate.findings.verdict import verdict_on_file

    for panel in panels:
        doubt = verdict_on_file(panel)
        if doubt:
            say(doubt if len(panels) == 1 else f"{panel.name}: {doubt}")


def tell_fit(panel: Panel, readings: Readings) -> None:
    """What the panel is, how sure its numbers are, and what nobody knows."""
    from emulate.findings.formatting import digits_text
    from emulate.panel.facts import facts
    from emulate.panel.fit.draws import sure_numbers
    from emulate.panel.words import words_with_unit

    known = [fact for fact in facts(panel) if fact[0] not in ("doubt", "fitted")]
    columns(("what", "value"), known)
    sure = [each for each in sure_numbers(panel) if not each.key.startswith(MANY)]
    rows = [
        (
            words_with_unit(each.key, panel),
            *(digits_text(value, 4) for value in (each.value, each.low, each.high)),
        )
        for each in sure
    ]
    columns(("number", "fitted", "low", "high (95 %)"), rows)
    say(f"{len(readings)} readings, {readings.skipped} rows left blank.")
    for caveat in panel.caveats:
        say(f"Doubt: {caveat}")


def tell_trust(trusts: Sequence[Trust], every: bool) -> None:
    """How far off predictions are by group; the readings farthest off, or every one."""
    from emulate.findings.trusted import find_trust

    for trust in trusts:
        say(f"{trust.how.capitalize()}:")
        head = ("group", "means", "off, visible steps", "off, meter's σ", "inside 95 %", "worst")
        columns(head, [_summary(each) for each in trust.summaries])
        for group, why in trust.unpredictable.items():
            say(f"{group}: {why}.")
    rows = trusts[0].rows
    farthest = rows if every else sorted(rows, key=lambda row: -abs(row.sigmas))[:FARTHEST]
    say("Readings and predictions:" if every else f"The {len(farthest)} readings farthest off:")
    columns(("pattern", "where", "read", "predicted", "steps", "σ"), [_row(r) for r in farthest])
    findings = find_trust(*trusts[:2])
    for finding in findings.values():
        say(finding.sentence)
    tell_basis(findings.basis, findings.caveats)


def tell_claims(trusts: Sequence[Trust], findings: Findings) -> None:
    """How far a fitted panel is to be trusted, and what it then says of a scene."""
    from emulate.findings.headline import headline
    from emulate.findings.trusted import find_trust

    trust = find_trust(*trusts[:2])
    told = [trust[name].sentence for name in ("trust.steps", "held_out.inside") if name in trust]
    rows = [(findings.panel, findings.frame, "\n".join([*told, *headline(findings)]))]
    columns(("fitted panel", "scene", "what can be said"), rows)


def _summary(each: Summary) -> tuple[str, ...]:
    inside = "" if isnan(each.inside) else f"{round(each.inside * each.count)} of {each.count}"
    worst = f"{each.worst.reading.stimulus.name} {each.worst.sigmas:+.1f} σ"
    numbers = (str(each.count), f"{each.steps:.2f}", f"{each.sigmas:.1f}")
    return (each.group, *numbers, inside, worst)


def _row(row: Row) -> tuple[str, ...]:
    from emulate.findings.formatting import light_text

    reading = row.reading
    where = f"{Path(reading.source.path).name}, line {reading.source.line}"
    lights = (light_text(row.measured), light_text(row.predicted))
    return (reading.stimulus.name, where, *lights, f"{row.steps:+.2f}", f"{row.sigmas:+.1f}")
