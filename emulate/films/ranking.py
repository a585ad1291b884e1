"""Ranking: the worst moments of a film, by each loss."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from emulate.findings.finding import Unit
from emulate.findings.formatting import SMALLEST_SHARE
from emulate.values import Numbers

APART_S = 2.0  # s between moments of one loss, so that they are not the same one twice [ours]
WORST = 3  # moments of each loss [ours]

LOSSES: dict[str, tuple[str, ...]] = {  # loss -> the columns whose product weighs a frame [ours]
    "clipped": ("clipped.area", "clipped.depth"),
    "crushed": ("crushed.area", "crushed.depth"),
    "detail": ("detail.area", "detail.depth"),
    "halo": ("halo.area", "halo.strength"),
    "dimmed": ("dimmed.area", "dimmed.depth"),
    "colour": ("colour.hue.over_1", "colour.hue.mean"),
    "fluctuation": ("fluctuation.area", "fluctuation.steps"),
    "curve": ("fluctuation.curve",),
    "late": ("lag.area", "lag.steps"),
}


class Rows(Protocol):
    """A table as far as ranking looks at it."""

    @property
    def index(self) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]: ...
    @property
    def time_s(self) -> Numbers: ...
    def unit_of(self, name: str) -> Unit: ...
    def __getitem__(self, name: str) -> Numbers: ...


@dataclass(frozen=True)
class Moment:
    """One of the worst moments of a loss: rank from 1, the frame and its time, and the value and
    unit of the column `name` there."""

    loss: str
    rank: int
    index: int
    time_s: float
    name: str
    value: float
    unit: Unit


def ranked(table: Rows, apart_s: float = APART_S, count: int = WORST) -> tuple[Moment, ...]:
    """Up to `count` moments of each loss, heaviest first, `apart_s` or more from each other.

    A frame weighs the product of the columns of LOSSES, area times depth; of equal ones the earlier
    comes first; frames where the loss covers less than a figure can say (0.01 %) are no moments.
    """
    moments = []
    for loss, names in LOSSES.items():
        weight = np.nan_to_num(np.prod([table[name] for name in names], axis=0))
        weight[table[names[0]] < SMALLEST_SHARE] = 0.0
        for rank, row in enumerate(_worst(weight, table.time_s, apart_s, count), start=1):
            name = names[0]
            index, time_s = int(table.index[row]), float(table.time_s[row])
            value = float(table[name][row])
            moments.append(Moment(loss, rank, index, time_s, name, value, table.unit_of(name)))
    return tuple(moments)


def _worst(weight: Numbers, time_s: Numbers, apart_s: float, count: int) -> list[int]:
    left = np.where(weight > 0, weight, -np.inf)
    rows: list[int] = []
    while len(rows) < count and np.isfinite(left.max(initial=-np.inf)):
        rows.append(int(np.argmax(left)))
        left = np.where(np.abs(time_s - time_s[rows[-1]]) < apart_s, -np.inf, left)
    return rows
