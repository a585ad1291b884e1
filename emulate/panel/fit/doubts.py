"""Doubts: what the table [fit] of a panel file says should be doubted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from emulate.errors import Caveat
from emulate.panel.words import words_of


def doubts_in(fit: Mapping[str, Any]) -> tuple[Caveat, ...]:
    """A caveat for each reason why numbers are undetermined, and for each doubt that was kept."""
    undetermined, doubts = fit.get("undetermined"), fit.get("doubt")
    found = []
    if isinstance(undetermined, Mapping):
        reasons: dict[str, list[str]] = {}
        for key, why in undetermined.items():
            reasons.setdefault(str(why), []).append(str(key))
        found += [
            Caveat(", ".join(map(words_of, keys)), f"undetermined: {why}")
            for why, keys in reasons.items()
        ]
    if isinstance(doubts, list):
        said = [d for d in doubts if isinstance(d, Mapping) and {"about", "text"} <= set(d)]
        found += [Caveat(words_of(str(doubt["about"])), str(doubt["text"])) for doubt in said]
    return tuple(found)
