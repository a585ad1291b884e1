"""Angles: gain and contrast off the axis, from one field read white and black (physics §6, §10)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from emulate.errors import Caveat
from emulate.panel.cell import Angles, Cell
from emulate.panel.fit.account import Account, Number, number, unknown
from emulate.panel.fit.noise import Noise
from emulate.readings.readings import Reading, Readings, gathered
from emulate.values import numbers

NO_AXIS = "the same field was not read square on"


def fit_angles(
    readings: Readings, noise: Noise, cell: Cell, unsure: float = 0.0
) -> tuple[Angles, Account]:
    """Gain against the axis and contrast at each angle; either side counts as one.

    unsure: standard error of log cell.contrast.
    """
    read = [r for r in readings if r.room_lux == 0 and r.luminance > 0 and _is_white(r) is not None]
    off = sorted({abs(r.angle) for r in read} - {0.0})
    if not off:
        return Angles(), unknown("angles", "nothing was read from the side")
    gains = [_against_axis(read, angle, True) for angle in off]
    if any(gain is None for gain in gains):
        return Angles(), unknown("angles", f"white: {NO_AXIS}")
    lifts = [_against_axis(read, angle, False) for angle in off]
    known = np.isfinite(cell.contrast) and all(lift is not None for lift in lifts)
    contrast = [
        max(cell.contrast * gain[0] / lift[0], 1.0001) if known and gain and lift else cell.contrast
        for gain, lift in zip(gains, lifts, strict=True)
    ]
    found = [n for i, pair in enumerate(zip(gains, lifts, contrast, strict=True), 1)
             for n in _numbers(i, *pair, noise, known, unsure)]  # fmt: skip
    account = Account(tuple(found), measured=("checker",))
    if np.isfinite(cell.contrast) and not known:
        account += unknown("angles.contrast", f"black: {NO_AXIS}; held at the native contrast")
    if not np.isfinite(cell.contrast):
        account += unknown("angles.contrast", "the native contrast is undetermined")
    values = [gain[0] for gain in gains if gain]
    return Angles(numbers(off), numbers(contrast), numbers(values)), account + _doubt(values)


def _is_white(reading: Reading) -> bool | None:
    """Whether white is read, or black beside white; None for all else."""
    signal = reading.stimulus.signal_at(reading.spot)
    if reading.stimulus.kind not in ("checker", "window"):
        return None
    return True if min(signal) > 0 else (False if max(signal) == 0 else None)


def _against_axis(read: Sequence[Reading], angle: float, white: bool) -> tuple[float, float] | None:
    """Light at an angle over the same on the axis, and how many looks that is worth."""
    mine = [r for r in read if _is_white(r) is white]
    axis = {(g.stimulus.name, g.readings[0].spot): g for g in gathered(mine)
            if g.readings[0].angle == 0}  # fmt: skip
    pairs = [
        (g, axis[key])
        for g in gathered(mine)
        if abs(g.readings[0].angle) == angle
        and (key := (g.stimulus.name, g.readings[0].spot)) in axis
    ]
    if not pairs:
        return None
    logs = [np.log(side.mean / front.mean) for side, front in pairs]
    worth = [1 / (1 / len(s.luminance) + 1 / len(f.luminance)) for s, f in pairs]
    return float(np.exp(np.average(logs, weights=worth))), float(np.sum(worth))


def _numbers(
    index: int,
    gain: tuple[float, float] | None,
    lift: tuple[float, float] | None,
    contrast: float,
    noise: Noise,
    known: bool,
    unsure: float,
) -> list[Number]:
    """Noise of the ratios; a ratio of contrasts is one of two ratios."""
    dof = noise.dof or np.inf
    found = []
    if gain:
        error = noise.relative / np.sqrt(gain[1])
        found.append(number(f"angles.gain#{index}", gain[0], error, "log", dof))
    if known and gain and lift:
        error = float(np.hypot(noise.relative * np.sqrt(1 / gain[1] + 1 / lift[1]), unsure))
        found.append(number(f"angles.contrast#{index}", contrast, error, "log", dof))
    return found


def _doubt(gains: Sequence[float]) -> Account:
    if max(gains) <= 1.05:
        return Account()
    text = f"{max(gains):.2f} times the light of the axis from the side: were angles mixed up?"
    return Account(doubts=(Caveat("angles.gain", text),))
