"""Climb: one change made larger rung by rung, until a loss is out of sight."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from math import nan

import numpy as np

from emulate.panel.panel import Panel
from emulate.values import Numbers, Value, numbers
from emulate.whatif.changes import Change

HIDDEN = 1e-4  # share of the picture: as few pixels as physics §3 leaves above a source peak
RUNGS = 7  # amounts tried above the present one, evenly on a logarithmic scale [ours]
HALVINGS = 5  # of the step between two rungs: the amount found is then good to a thirtieth of it
GRAIN = 0.02  # of a loss: a change smaller than this is where zones happen to lie [ours]

Shares = Mapping[str, float]  # loss -> share of the picture that shows it
Look = Callable[[Panel], Shares]


@dataclass(frozen=True, eq=False)
class Climb(Value):
    """What a change does to one loss.

    amounts (n,) rising from 1, shares (n,) of the picture that shows the loss at each. needed: the
    smallest amount found at which at most HIDDEN shows it, NaN where none of those tried does.
    told, had, far: what the panel has at `needed` (or where the loss is least), now, and at most.
    """

    loss: str
    change: Change
    amounts: Numbers
    shares: Numbers
    needed: float
    told: str
    had: str
    far: str

    @property
    def now(self) -> float:
        """Share of the picture that shows the loss on the panel as it is."""
        return float(self.shares[0])

    @property
    def least(self) -> float:
        """The smallest share reached."""
        return float(self.shares.min())

    @property
    def steady(self) -> bool:
        """The loss never grows from one amount tried to the next, but for its grain."""
        return bool(np.all(np.diff(self.shares) <= max(HIDDEN, GRAIN * self.now)))

    @property
    def helps(self) -> bool:
        """The change makes the loss less by more than its grain."""
        return less(self.least, self.now)

    @property
    def returns(self) -> bool:
        """The loss shows again at an amount larger than the one found."""
        return bool(np.any(self.shares[self.amounts >= self.needed] > HIDDEN))


def less(left: float, now: float) -> bool:
    """One share of the picture is less than another by more than grain."""
    return left < (1 - GRAIN) * now


@dataclass(eq=False)
class _Seen:
    """Shares by amount, each looked at once."""

    panel: Panel
    change: Change
    look: Look
    by_amount: dict[float, Shares] = field(default_factory=dict)

    def at(self, amount: float) -> Shares:
        """What shows when the panel is changed by `amount`."""
        if amount not in self.by_amount:
            self.by_amount[amount] = self.look(self.change.made(self.panel, amount))
        return self.by_amount[amount]


def climbs(
    panel: Panel, change: Change, losses: tuple[str, ...], now: Shares, look: Look
) -> list[Climb]:
    """What the change does to each of `losses`: tried at RUNGS amounts, then by halving the step in
    which a loss first goes out of sight. now: what shows without the change."""
    seen = _Seen(panel, change, look, {1.0: now})
    for amount in np.geomspace(1.0, change.most, RUNGS + 1)[1:].tolist():
        seen.at(amount)
    needed = {loss: _needed(seen, loss) for loss in losses}
    return [_climb(seen, loss, needed[loss]) for loss in losses]


def _needed(seen: _Seen, loss: str) -> float:
    """The smallest amount at which the loss is out of sight, to the last halving; NaN for none."""
    tried = sorted(seen.by_amount)
    good = next((n for n, amount in enumerate(tried) if _hidden(seen, loss, amount)), None)
    if good is None:
        return nan
    low, high = tried[max(good - 1, 0)], tried[good]
    for _ in range(HALVINGS):
        middle = float(np.sqrt(low * high))
        low, high = (low, middle) if _hidden(seen, loss, middle) else (middle, high)
    return high


def _hidden(seen: _Seen, loss: str, amount: float) -> bool:
    return seen.at(amount)[loss] <= HIDDEN


def _climb(seen: _Seen, loss: str, needed: float) -> Climb:
    amounts = numbers(sorted(seen.by_amount))
    shares = numbers([seen.by_amount[amount][loss] for amount in amounts.tolist()])
    at = needed if needed == needed else float(amounts[shares.argmin()])
    told, had, far = (
        seen.change.told(seen.change.made(seen.panel, each)) for each in (at, 1.0, amounts[-1])
    )
    return Climb(loss, seen.change, amounts, shares, needed, told, had, far)
