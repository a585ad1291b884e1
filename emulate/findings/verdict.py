"""Verdict: whether a panel on file is to be trusted at all, before anything else is said of it."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt
from pathlib import Path

import numpy as np

from emulate.findings.formatting import digits_text, light_text
from emulate.findings.trust import Row, Trust
from emulate.panel.fit.joint import MISFIT
from emulate.panel.panel import Panel

CAREFUL = sqrt(MISFIT)  # times the noise: from here on a fit widens its intervals
LARGE = 3.0  # times the noise, on average over all readings: one in 370 by chance alone; ours
FITTED, OVERALL = "in the fit of its light source", "over all of them"


def verdict(closed: Trust, panel: Panel) -> str:
    """One sentence of doubt about a panel, and where to look first; nothing where there is none.

    By how much the panel misses the readings of the closed loop, or by its own word those that its
    light source was fitted to, in standard deviations of the meter.
    """
    missed = max(_missed(closed), _said(panel))
    if missed <= CAREFUL or not closed.rows:
        return ""
    return f"{_call(missed)}: {_how(_missed(closed), _said(panel))}. {_look(closed)}"


def with_verdict(panel: Panel, closed: Trust) -> Panel:
    """The panel, its verdict kept in `fit` for those who have the file and not the readings."""
    return replace(panel, fit={**panel.fit, "verdict": verdict(closed, panel)})


def verdict_on_file(panel: Panel) -> str:
    """The verdict that a fit kept; of one that kept none, by its word for its light source."""
    kept, said = panel.fit.get("verdict"), _said(panel)
    if isinstance(kept, str):
        return kept
    if said <= CAREFUL:
        return ""
    return f"{_call(said)}: {_how(said, said)}. First see where, by `emulate check`."


def _call(missed: float) -> str:
    return "Do not trust this panel yet" if missed > LARGE else "Take care with this panel"


def _how(missed: float, said: float) -> str:
    """By how much; over all readings and in the fit of the light source where they differ."""
    large, small = (digits_text(each, 2) for each in (max(missed, said), min(missed, said)))
    first, second = (FITTED, OVERALL) if said > missed else (OVERALL, FITTED)
    both = f" {first} and {small} {second}" if said > 0 and large != small else ""
    widened = ", and intervals were widened to match" if said > CAREFUL else ""
    return f"its readings miss the model by {large} times their noise{both}{widened}"


def _look(closed: Trust) -> str:
    """The group that is farthest off, and the reading in it that is."""
    group = max(closed.summaries, key=lambda each: each.sigmas)
    return f"First look at {group.group}: {_told(group.worst)}."


def _told(row: Row) -> str:
    source = row.reading.source
    read, shown = light_text(row.measured), light_text(row.predicted)
    where = f"{Path(source.path).name}, line {source.line}"
    return f"{row.reading.stimulus.name} ({where}) reads {read} where the panel shows {shown}"


def _missed(closed: Trust) -> float:
    return float(np.sqrt(np.mean([row.sigmas**2 for row in closed.rows]))) if closed.rows else 0.0


def _said(panel: Panel) -> float:
    """What a fit wrote down; 0 where the panel was not fitted."""
    misfit = panel.fit.get("misfit", 0.0)
    return sqrt(misfit) if isinstance(misfit, int | float) and misfit > 0 else 0.0
