"""Fluctuation: what changes from frame to frame although the picture there does not (physics §9).

A frame is reduced to a `Glance`, its light on cells of 0.1°; two glances one after another give the
findings. Nothing is remembered elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntFlag
from functools import cached_property
from math import nan

import numpy as np
from numpy.typing import NDArray

from emulate.findings.evidence import VISIBLE_STEPS, Answer, Evidence
from emulate.findings.finding import Finding
from emulate.findings.formatting import opening, share_text, steps_text
from emulate.findings.halo import cells_of_picture
from emulate.sight import steps_from_light
from emulate.values import Numbers, Value

STILL_STEPS = 0.5  # physics §9: a cell that changes by less is a still picture there
LIT = 0.1  # cd/m² from which a cell says whether a picture fades; below, rounding speaks [ours]
AGREEING = 0.8  # share of the lit cells that have to fade together for a fade [ours]
NEARLY_WORST = 99  # percentile that stands for the strongest part [ours]

Mask = NDArray[np.bool]
Codes = NDArray[np.uint8]


class Change(IntFlag):
    """Why a cell changes, or what it is late with: bits of the map `fluctuation`."""

    INDECISION = 1  # its zones are called for other light, for the sake of something else
    LAG = 2  # its zones are still on their way to light called for before
    LIMITER = 4  # the limiter's gain moved
    CURVE = 8  # the tone curve moved
    TRAILING = 16  # light is still there that has been called off
    LEADING = 32  # light is not there yet that has been called for


FLUCTUATING = Change.INDECISION | Change.LAG | Change.LIMITER


@dataclass(frozen=True, eq=False)
class Glance(Value):
    """What of one frame the next is compared with: luminance [cd/m²] on cells of 0.1°.

    reference; asked; own: the panel's own light; held: the part of it at floor or ceiling; settled:
    own light, had the zones arrived where this frame calls them; picture: cells inside a letterbox.
    All (cells down, cells across). reflected [cd/m²]: the room's. gain: the limiter's. follows: the
    power of the gain that light goes by which is not held. unknown: the gain asked light loses.
    """

    reference: Numbers
    asked: Numbers
    own: Numbers
    held: Numbers
    settled: Numbers
    picture: Mask
    reflected: float
    gain: float
    follows: float
    unknown: float

    def seen_as(self, own: Numbers) -> Numbers:
        """J of other own light with the same room's."""
        light: Numbers = own + self.reflected
        return steps_from_light(light)

    @cached_property
    def seen_steps(self) -> Numbers:
        """J of what is seen."""
        return self.seen_as(self.own)

    @cached_property
    def settled_steps(self) -> Numbers:
        """J of what would be seen, had the zones arrived."""
        return self.seen_as(self.settled)

    @cached_property
    def asked_steps(self) -> Numbers:
        """J of what is asked."""
        return steps_from_light(self.asked)

    @cached_property
    def reference_steps(self) -> Numbers:
        """J of the reference."""
        return steps_from_light(self.reference)

    def at_gain(self, gain: float) -> Numbers:
        """Own light, had the limiter's gain alone been another."""
        change = gain / self.gain
        return np.asarray(self.held * change + (self.own - self.held) * change**self.follows)


def glance_of(evidence: Evidence) -> Glance:
    """The light of one frame and its rendering on cells."""
    rendering = evidence.rendering
    reference, asked, own, held, settled = evidence.glances
    limiter, free = rendering.panel.limiter, 1.0 - rendering.panel.cell.compensation
    follows = {"dims": 1.0, "clips": free}[limiter.acts]
    picture = cells_of_picture(evidence, (own.shape[0], own.shape[1]))
    light = (reference, asked, own, held, settled)
    unknown = limiter.unknown(rendering.gain)
    return Glance(*light, picture, rendering.reflected, rendering.gain, follows, unknown)


def find_fluctuation(now: Glance, before: Glance | None) -> Answer:
    """What fluctuates since the frame before, by cause, and where zones are late.

    before: None at the start, after a cut and after a gap: what changes there is undetermined.
    """
    codes = late(now)
    area: dict[str, float] = dict.fromkeys(_AREAS, nan)
    worst = nan
    if before is not None:
        changes, steps = changes_between(before, now)
        codes = codes | changes
        area = {name: _share(codes & bits != 0, now) for name, (bits, *_) in _AREAS.items()}
        worst = _worst(steps[(codes & FLUCTUATING != 0) & now.picture])
    found = {f"fluctuation.{name}": _area(name, area[name]) for name in _AREAS}
    found["fluctuation.steps"] = _steps(worst)
    return Answer(found | _found_late(codes, now), {"fluctuation": codes})


def changes_between(before: Glance, now: Glance) -> tuple[Codes, Numbers]:
    """Bits of `Change` on cells, and by how many steps each cell changes beyond what it should.

    A cell fluctuates where what is asked of it changes by less than half a visible step and what is
    seen by one or more. It should stay, or where the whole picture fades go with it: a change that
    lies between the two is none.
    """
    asked = now.asked_steps - before.asked_steps
    reference = now.reference_steps - before.reference_steps
    steps = _beyond(before, now, fading(before.asked, now.asked))
    fluctuates = (np.abs(asked) < STILL_STEPS) & (np.abs(steps) >= VISIBLE_STEPS)
    curve = (np.abs(reference) < STILL_STEPS) & (np.abs(asked) >= STILL_STEPS)
    if curve.any():  # seldom, and a fade takes as long to find as all else here
        by_curve = _beyond(before, now, fading(before.reference, now.reference))
        curve &= np.abs(by_curve) >= VISIBLE_STEPS
    codes = np.zeros(steps.shape, np.uint8)
    if fluctuates.any():
        codes = np.where(fluctuates, _cause(before, now, np.sign(steps)), 0)
    return np.asarray(codes | np.where(curve, Change.CURVE, 0), np.uint8), np.abs(steps)


def fading(before: Numbers, now: Numbers) -> float:
    """The factor by which a picture fades as a whole; 1 where it does not.

    Half of the lit cells change by no more than it, half by no less; it is a fade where four in
    five of them are then within a visible step.
    """
    lit = np.maximum(before, now) >= LIT
    if not lit.any():
        return 1.0
    was, is_now = before[lit], now[lit]
    factor = float(np.median(is_now / np.maximum(was, LIT / 10)))
    off = np.abs(steps_from_light(factor * was) - steps_from_light(is_now))
    return factor if float((off < VISIBLE_STEPS).mean()) >= AGREEING else 1.0


def _beyond(before: Glance, now: Glance, factor: float) -> Numbers:
    """Steps by which what is seen leaves the stretch from staying to fading with the picture."""
    stays, seen = before.seen_steps, now.seen_steps
    fades = stays if factor == 1.0 else before.seen_as(factor * before.own)
    above = np.maximum(seen - np.maximum(stays, fades), 0.0)
    return np.asarray(above + np.minimum(seen - np.minimum(stays, fades), 0.0))


def _cause(before: Glance, now: Glance, sign: Numbers) -> NDArray[np.int_]:
    """The largest part of each cell's change: the limiter's, or the zones'.

    The zones are undecided where at least half of their part lies in what they are called for.
    """
    by_gain = before.seen_as(before.at_gain(now.gain)) - before.seen_steps
    by_zones = now.seen_steps - before.seen_steps - by_gain
    called = now.settled_steps - before.settled_steps - by_gain
    undecided = np.where(2 * sign * called >= sign * by_zones, Change.INDECISION, Change.LAG)
    return np.where(sign * by_gain >= sign * by_zones, Change.LIMITER, undecided)


def late(now: Glance) -> Codes:
    """Bits TRAILING and LEADING on cells, by what the panel would show with its zones arrived."""
    ahead = now.seen_steps - now.settled_steps
    wanted = now.unknown * now.asked
    trailing = (ahead >= VISIBLE_STEPS) & (now.own > wanted)
    leading = (ahead <= -VISIBLE_STEPS) & (now.own < wanted)
    codes = np.where(trailing, Change.TRAILING, 0) | np.where(leading, Change.LEADING, 0)
    return np.asarray(codes, np.uint8)


def _share(mask: Mask, now: Glance) -> float:
    count = np.count_nonzero(now.picture)
    return float(np.count_nonzero(mask & now.picture) / count) if count else 0.0


def _worst(steps: Numbers) -> float:
    return float(np.percentile(steps, NEARLY_WORST)) if steps.size else 0.0


_RULE = (
    "On squares of 0.1°, from one frame of a scene to the next: what is asked of the panel changes "
    "by less than half a visible step (ITU-R BT.2124), and what is seen by one step or more; where "
    "the picture as a whole fades, beyond staying or fading with it"
)
_PART = "the largest part of the change is"
_AREAS: dict[str, tuple[int, str, str, str]] = {
    "area": (
        int(FLUCTUATING),
        "of the picture fluctuates though the picture there is still",
        "Nothing fluctuates",
        f"{_RULE}.",
    ),
    "indecision": (
        int(Change.INDECISION),
        "of the picture fluctuates because its zones are lit for something else",
        "No zone changes its mind",
        f"{_RULE}; {_PART} the backlight's, at least half of it newly called for in this frame.",
    ),
    "lag": (
        int(Change.LAG),
        "of the picture fluctuates because its zones come late",
        "No late zone shows as a fluctuation",
        f"{_RULE}; {_PART} the backlight's, more than half of it called for before.",
    ),
    "limiter": (
        int(Change.LIMITER),
        "of the picture fluctuates because the limiter pumps",
        "The limiter does not pump",
        f"{_RULE}; {_PART} the limiter's gain, all else as in the frame before.",
    ),
    "curve": (
        int(Change.CURVE),
        "of the picture fluctuates because the tone curve moves",
        "The tone curve does not pump",
        "On squares of 0.1°, from one frame of a scene to the next: the reference changes by less "
        "than half a visible step (ITU-R BT.2124), what is asked of the panel by half a step or "
        "more, and what is seen by one or more.",
    ),
}
_LATE_RULE = (
    "On squares of 0.1°, against the same panel with its zones already where this frame calls "
    "them: at least one visible step (ITU-R BT.2124) {}, and {} than is asked"
)
_SHARE = "Share of the squares, letterbox left out; undetermined after a start, a cut or a gap."
_UNDETERMINED = "undetermined: no frame of its scene comes right before it."


def _area(name: str, share: float) -> Finding:
    _, words, nothing, rule = _AREAS[name]
    if np.isnan(share):
        sentence = f"What fluctuates here is {_UNDETERMINED}"
    else:
        sentence = f"{opening(share_text(share))} {words}." if share else f"{nothing}."
    return Finding(share, "share", sentence, f"{rule} {_SHARE}")


def _steps(steps: float) -> Finding:
    definition = f"{_RULE}. 99th percentile of the steps over the squares that fluctuate."
    if np.isnan(steps):
        sentence = f"How strongly it fluctuates is {_UNDETERMINED}"
    else:
        sentence = (
            f"At its worst it fluctuates by {steps_text(steps)}."
            if steps
            else "Nowhere does it fluctuate."
        )
    return Finding(steps, "steps", sentence, definition)


def _found_late(codes: Codes, now: Glance) -> dict[str, Finding]:
    ahead = np.abs(now.seen_steps - now.settled_steps)
    anywhere = (codes & (Change.TRAILING | Change.LEADING) != 0) & now.picture
    return {
        "lag.area": _late_area(_share(codes & (Change.TRAILING | Change.LEADING) != 0, now)),
        "lag.trailing": _trailing(_share(codes & Change.TRAILING != 0, now)),
        "lag.leading": _leading(_share(codes & Change.LEADING != 0, now)),
        "lag.steps": _late_steps(_worst(ahead[anywhere])),
    }


def _late_area(share: float) -> Finding:
    sentence = (
        f"In {share_text(share)} of the picture light is late, left over or still missing."
        if share
        else "No light is late."
    )
    rule = _LATE_RULE.format("off", "off to the same side")
    return Finding(share, "share", sentence, f"{rule}. Share of the squares, letterbox left out.")


def _trailing(share: float) -> Finding:
    sentence = (
        f"In {share_text(share)} of the picture light is left over from before."
        if share
        else "No light is left over from before."
    )
    rule = _LATE_RULE.format("lighter", "lighter")
    return Finding(share, "share", sentence, f"{rule}. Share of the squares, letterbox left out.")


def _leading(share: float) -> Finding:
    sentence = (
        f"In {share_text(share)} of the picture light comes too late."
        if share
        else "No light comes too late."
    )
    rule = _LATE_RULE.format("darker", "darker")
    return Finding(share, "share", sentence, f"{rule}. Share of the squares, letterbox left out.")


def _late_steps(steps: float) -> Finding:
    sentence = (
        f"Late light is off by {steps_text(steps)} at its worst."
        if steps
        else "No late light shows."
    )
    rule = _LATE_RULE.format("off", "off to the same side")
    return Finding(steps, "steps", sentence, f"{rule}. 99th percentile over such squares.")
