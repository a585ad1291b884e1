"""Tracking from greys read with their colour (physics §4, §10).

Luminance is the tone curve's affair; what is left, how far each channel is from grey, is tracking.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from emulate.colorimetry import xyz_matrix
from emulate.panel.fit.account import Account, Number, number, unknown
from emulate.panel.fit.noise import Noise
from emulate.panel.primaries import Primaries
from emulate.panel.tracking import Tracking
from emulate.readings.readings import Reading, Readings
from emulate.transfer import pq_from_light
from emulate.values import Numbers, numbers

KINDS = ("ramp", "near_black")
FEWEST = 5  # levels, ours
APART = 0.008  # PQ signal: levels nearer than this are one, ours
DIM = 0.2  # share of the meter's floor in a level from which its colour says nothing, ours
CHANNELS = ("red", "green", "blue")


def fit_tracking(
    readings: Readings, noise: Noise, primaries: Primaries, unsure: Sequence[Primaries] = ()
) -> tuple[Tracking, Account]:
    """q_c at the levels that were read.

    unsure: the primaries moved by one standard error along each direction in which they are unsure.
    """
    read = sorted((r for r in readings.of(*KINDS) if _tells(r, noise)), key=lambda r: r.luminance)
    if not read:
        return Tracking(), unknown("tracking", "no grey of a ramp was read with its colour")
    xyz = np.array([r.xyz for r in read])
    level, share, count = _by_level(xyz, primaries)
    if len(level) < FEWEST:
        return Tracking(), unknown("tracking", f"greys at {len(level)} levels only")
    moved = [_by_level(xyz, other)[1] - share for other in unsure]
    errors = np.sqrt(_scatter(share, count)[:, None] ** 2 / count + np.square(moved).sum(axis=0))
    found = [
        _number(channel, index, float(share[c, index]), float(errors[c, index]), len(level) - 2)
        for c, channel in enumerate(CHANNELS)
        for index in range(len(level))
    ]
    kinds = tuple(dict.fromkeys(r.stimulus.kind for r in read))
    return Tracking(numbers(level), *(numbers(q) for q in share)), Account(
        tuple(found), measured=kinds
    )


def _tells(reading: Reading, noise: Noise) -> bool:
    level = reading.stimulus.signal_at(reading.spot)
    clear = reading.luminance > 0 and noise.floor <= DIM * reading.luminance
    square = reading.angle == 0 and reading.room_lux == 0
    return bool(reading.xyz) and clear and square and len(set(level)) == 1 and level[0] > 0


def _by_level(xyz: Numbers, primaries: Primaries) -> tuple[Numbers, Numbers, Numbers]:
    """Levels (k,) [cd/m²], channel over grey (3, k), and how many readings each averages (k,)."""
    back = np.linalg.inv(xyz_matrix(primaries.rgb, primaries.white))
    share = (xyz @ back.T).T / xyz[:, 1]
    signal = pq_from_light(xyz[:, 1])
    group = np.concatenate([[0], np.cumsum(np.diff(signal) > APART)])
    count = np.bincount(group).astype(np.float64)
    level = np.bincount(group, xyz[:, 1]) / count
    return level, np.array([np.bincount(group, row) / count for row in share]), count


def _scatter(share: Numbers, count: Numbers) -> Numbers:
    """Standard deviation of one reading's q (3,), from how each level strays from the line through
    its neighbours: a smooth course adds next to nothing."""
    bend = share[:, 1:-1] - (share[:, :-2] + share[:, 2:]) / 2
    weight = 1 / count[1:-1] + (1 / count[:-2] + 1 / count[2:]) / 4
    return np.asarray(np.sqrt((bend**2 / weight).mean(axis=1)))


def _number(channel: str, index: int, value: float, error: float, dof: int) -> Number:
    return number(f"tracking.{channel}#{index + 1}", value, error, "linear", dof)
