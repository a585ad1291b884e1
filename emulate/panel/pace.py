"""Pace: how anything on a panel moves to where it is going (physics §5.4)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from emulate.values import Numbers


def moved(
    value: ArrayLike, target: ArrayLike, since_s: float, attack_s: float, decay_s: float
) -> Numbers:
    """value, since_s seconds on its way to target: attack_s when it rises, decay_s when it falls.

    An infinite since_s is settled. Two steps of half the time land where one step does.
    """
    start, end = np.asarray(value, dtype=np.float64), np.asarray(target, dtype=np.float64)
    left = np.where(end > start, left_after(since_s, attack_s), left_after(since_s, decay_s))
    return np.asarray(end + left * (start - end))


def left_after(since_s: float, constant_s: float) -> float:
    """Share of the way still to go after since_s seconds; nothing where the constant is 0."""
    return math.exp(-since_s / constant_s) if constant_s > 0 else 0.0
