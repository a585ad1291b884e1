"""Wording: what a change would take, as findings with a sentence and a definition each."""

from __future__ import annotations

from collections.abc import Sequence
from math import isnan

from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import opening, share_text, times_text
from emulate.whatif.climb import HIDDEN, Climb, Shares, less

WORDS = {  # loss -> what a viewer calls it
    "clipped": "clipping",
    "crushed": "crushed shadows",
    "detail": "lost detail",
    "halo": "the glow around bright things",
    "dimmed": "starved small lights",
}
SETTINGS = {  # policy -> in words
    "fixed": "the curve in the file",
    "fixed:hard_clip": "a plain clip at the panel's peak",
    "fixed:bt2390": "one BT.2390 curve for all content",
    "by_metadata": "a curve that follows the metadata",
    "by_frame": "a curve that follows each frame",
}

_RULE = (
    "A loss is out of sight where at most 0.01 % of the picture shows it at one visible step "
    "(ITU-R BT.2124) or more, by the definition of its own finding. One thing of the panel is "
    "changed and all else is kept: amounts are tried evenly on a logarithmic scale, and the step "
    "in which the loss first goes out of sight is halved five times"
)


def findings_of(
    climbs: Sequence[Climb],
    policies: dict[str, Shares],
    losses: Sequence[str],
    hidden: Sequence[str],
) -> Findings:
    """Findings by loss and change, the most telling first within a loss as they were asked."""
    found: dict[str, Finding] = {}
    for loss in losses:
        found |= {f"{loss}.{c.change.name}": _climbed(c) for c in climbs if c.loss == loss}
        if policies:
            found[f"{loss}.policy"] = _switched(loss, policies)
    found |= {f"{loss}.now": _unseen(loss) for loss in hidden}
    return Findings(found)


def setting_text(policy: str) -> str:
    """A policy in words; one of the caller's own as it was written."""
    return SETTINGS.get(policy, policy)


def climb_text(climb: Climb) -> str:
    """What it takes, short: for the end of a rung."""
    if not isnan(climb.needed):
        return f"{times_text(climb.needed)}: {climb.told}"
    if climb.helps:
        least, now = share_text(climb.least), share_text(climb.now)
        return f"{'hardly any help' if least == now else 'not alone'}: {least} left at best"
    return "no help"


def amount_text(found: Finding) -> str:
    """What a change takes, for a column of all: `7.4 times`; or what another curve leaves."""
    if found.unit == "share":
        return f"leaves {share_text(found.value)} of the picture"
    if isnan(found.value):
        return "no amount does it"
    return "nothing" if found.value == 1 else times_text(found.value)


def _climbed(climb: Climb) -> Finding:
    words, change = WORDS[climb.loss], climb.change.words
    now, least = share_text(climb.now), share_text(climb.least)
    if not isnan(climb.needed):
        sentence = (
            f"{opening(words)} would be out of sight with {climb.told} instead of {climb.had} "
            f"({change}, {times_text(climb.needed)}).{_further(climb)}"
        )
    elif climb.helps:
        sentence = (
            f"{opening(change)} alone cannot take {words} out of sight: at best, with "
            f"{climb.told}, it still shows on {least} of the picture ({now} now).{_further(climb)}"
        )
    else:
        sentence = f"{opening(change)} alone is no help against {words} ({now} of the picture)."
    return Finding(climb.needed, "times", sentence, _definition(climb))


def _further(climb: Climb) -> str:
    """Where more is not always better, the halving may have missed another amount."""
    if not isnan(climb.needed) and climb.returns:
        return " Further up it shows again."
    return "" if climb.steady else " More is not always better on the way."


def _definition(climb: Climb) -> str:
    most = f"followed up to {times_text(climb.change.most)}"
    return f"{_RULE}. Changed: {climb.change.words}, {most}. No amount where none of them does it."


def _switched(loss: str, policies: dict[str, Shares]) -> Finding:
    used, *others = policies
    best = min(others, key=lambda policy: policies[policy][loss])
    now, left = policies[used][loss], policies[best][loss]
    words, curve = WORDS[loss], setting_text(best)
    if left <= HIDDEN:
        sentence = f"{opening(words)} would be out of sight with {curve}."
    elif less(left, now):
        sentence = (
            f"No other tone curve takes {words} out of sight; with {curve} it still shows on "
            f"{share_text(left)} of the picture ({share_text(now)} now)."
        )
    else:
        sentence = (
            f"No other tone curve is any help against {words} ({share_text(now)} of the picture)."
        )
    definition = (
        f"Share of the picture that shows the loss under the best of "
        f"{', '.join(map(setting_text, others))}. {_RULE.split('. ', maxsplit=1)[0]}."
    )
    return Finding(left, "share", sentence, definition)


def _unseen(loss: str) -> Finding:
    sentence = f"{opening(WORDS[loss])}: out of sight as it is."
    return Finding(1.0, "times", sentence, f"{_RULE}. Nothing has to change.")
