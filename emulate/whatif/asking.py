"""Asking: every change put to every loss of one frame, and told in findings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from emulate.errors import Caveat, RequestError
from emulate.findings.claims import grained, reduced
from emulate.findings.clipped import find_clipped
from emulate.findings.crushed import find_crushed
from emulate.findings.detail import find_detail
from emulate.findings.dimmed import find_dimmed
from emulate.findings.evidence import Answer, Evidence
from emulate.findings.finding import Findings
from emulate.findings.formatting import share_text
from emulate.findings.halo import find_halo
from emulate.frames.frame import Frame
from emulate.panel.panel import Panel
from emulate.panel.policy import curve_for
from emulate.rendering import render
from emulate.sight import Viewer
from emulate.whatif.changes import NAMES, POLICIES, changes_of
from emulate.whatif.climb import HIDDEN, Climb, Shares, climbs
from emulate.whatif.wording import findings_of

QUESTIONS: dict[str, Callable[[Evidence], Answer]] = {
    "clipped": find_clipped,
    "crushed": find_crushed,
    "detail": find_detail,
    "halo": find_halo,
    "dimmed": find_dimmed,
}
ROWS = 540  # of the searched picture, ours: half of 1080, where a zone's grain of 4 px is 2
LOWEST = 90

Tell = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class WhatIf:
    """Which single change takes which loss out of sight.

    climbs: one a loss and steady change. policies: loss -> share of the picture that shows it, by
    tone-curve policy, the one in force first. losses: those that show now; hidden: those that do
    not. findings: all of it by dotted name (`halo.contrast`), with what it stands under.
    """

    climbs: tuple[Climb, ...]
    policies: dict[str, Shares]
    losses: tuple[str, ...]
    hidden: tuple[str, ...]
    findings: Findings

    def of(self, loss: str) -> tuple[Climb, ...]:
        """The climbs of one loss, in the order of the changes."""
        return tuple(climb for climb in self.climbs if climb.loss == loss)


def what_if(
    frame: Frame,
    panel: Panel,
    *,
    policy: str | None = None,
    angle: float = 0.0,
    room_lux: float = 0.0,
    viewer: Viewer | None = None,
    rows: int = ROWS,
    changes: Sequence[str] = NAMES,
    tell: Tell = lambda _: None,
) -> WhatIf:
    """For each loss of `frame` on `panel` that shows, how much of which single change would take
    it out of sight: to at most a ten-thousandth of the picture at one visible step or more.

    rows: height of the reduced picture that is searched; what the reduction does to each loss is
    measured and becomes a caveat. changes: those to try, of NAMES. policy, angle, room_lux, viewer:
    as `render` and `measure` take them. `tell` hears what is being tried. Raises RequestError as
    they do, or for fewer than 90 rows or an unknown change.
    """
    _check(rows, changes)
    view = _View(policy, angle, room_lux, viewer or Viewer())
    tell("looking at the panel as it is")
    whole = view.shares(frame, panel)
    small = reduced(frame, rows)
    fitted = grained(panel, frame, small)
    now = whole if small is frame else view.shares(small, fitted)
    losses = tuple(loss for loss, share in now.items() if share > HIDDEN)
    found: list[Climb] = []
    possible = changes_of(panel, small.shape[0]) if losses else ()
    for change in (each for each in possible if each.name in changes):
        tell(f"changing {change.words}")
        found += climbs(fitted, change, losses, now, lambda each: view.shares(small, each))
    tell("changing the tone curve")
    policies = _by_policy(small, fitted, now, view) if losses else {}
    hidden = tuple(loss for loss in now if loss not in losses)
    chosen = curve_for(panel, small, policy).caveats
    doubts = (*chosen, *frame.caveats, *panel.caveats, *_bias(frame, small, whole, now))
    findings = replace(
        findings_of(found, policies, losses, hidden),
        caveats=tuple(dict.fromkeys(doubts)),
        frame=frame.name,
        panel=panel.name,
        basis=view.told,
    )
    return WhatIf(tuple(found), policies, losses, hidden, findings)


def _check(rows: int, changes: Sequence[str]) -> None:
    if rows < LOWEST:
        raise RequestError(f"rows = {rows}: accepted is {LOWEST} or more")
    for change in changes:
        if change not in NAMES:
            raise RequestError(f"change {change}: accepted is {', '.join(NAMES)}")


@dataclass(frozen=True)
class _View:
    """How it is looked at."""

    policy: str | None
    angle: float
    room_lux: float
    viewer: Viewer

    def shares(self, frame: Frame, panel: Panel) -> Shares:
        """Share of the picture that shows each loss."""
        view = {"policy": self.policy, "angle": self.angle, "room_lux": self.room_lux}
        evidence = Evidence(frame, render(frame, panel, **view), self.viewer)  # type: ignore[arg-type]
        asked = {loss: question(evidence) for loss, question in QUESTIONS.items()}
        return {loss: asked[loss].by_name[f"{loss}.area"].value for loss in QUESTIONS}

    @property
    def told(self) -> str:
        """One sentence for the foot of tables and pictures."""
        seat = f"{self.viewer.distance_h:g} picture heights"
        aside = f", {self.angle:g}° off the axis" if self.angle else ""
        room = f"{self.room_lux:g} lux" if self.room_lux else "a dark room"
        return f"Seen from {seat}{aside}, in {room}, by eyes {self.viewer.age:g} years old."


def _by_policy(frame: Frame, panel: Panel, now: Shares, view: _View) -> dict[str, Shares]:
    """What shows under each policy, the one in force first."""
    used = view.policy or panel.tone.policy
    others = [each for each in POLICIES if each != used]
    tried = {each: replace(view, policy=each).shares(frame, panel) for each in others}
    return {used: now, **tried}


def _bias(frame: Frame, small: Frame, whole: Shares, now: Shares) -> tuple[Caveat, ...]:
    """What the reduction alone does to each loss."""
    if small is frame:
        return ()
    said = [
        f"{loss} {share_text(now[loss])} there, {share_text(whole[loss])} at full size"
        for loss in now
    ]
    rows, columns = small.shape
    text = f"searched on {columns} × {rows} pixels; of the panel as it is, {'; '.join(said)}"
    return (Caveat("what if", text),)
