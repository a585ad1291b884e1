"""Account: what a fit knows of its numbers, and what it does not know (physics §10).

A fitted number carries a 95 % interval on the scale on which it was estimated: the logarithm for
what is positive, the logit for a share between 0 and 1, plain for the rest. Numbers that were
fitted together keep their covariance, so that claims made of them can be given intervals.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from emulate.errors import Caveat
from emulate.values import Numbers, Value, numbers

Scale = Literal["log", "logit", "linear"]
CONFIDENCE = 0.95  # physics §10
FARTHEST = 700.0  # exponent: e^700 is the last that float64 holds


class Scaling(NamedTuple):
    """A scale: there, and back."""

    there: Callable[[ArrayLike], Numbers]
    back: Callable[[ArrayLike], Numbers]


def _exp(y: ArrayLike) -> Numbers:
    return np.asarray(np.exp(np.clip(y, -FARTHEST, FARTHEST)))


SCALES: dict[Scale, Scaling] = {
    "log": Scaling(lambda x: np.log(x), _exp),
    "logit": Scaling(
        lambda x: np.log(np.asarray(x) / (1 - np.asarray(x))),
        lambda y: 1 / (1 + _exp(-np.asarray(y))),
    ),
    "linear": Scaling(np.asarray, np.asarray),
}


@dataclass(frozen=True)
class Number:
    """A fitted number by its key path in the file, and its 95 % interval."""

    key: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Together(Value):
    """Numbers fitted together: keys (n,), each on its scale, their centre (n,) and covariance
    (n, n) on those scales."""

    keys: tuple[str, ...] = ()
    scales: tuple[Scale, ...] = ()
    centre: Numbers = field(default_factory=lambda: numbers([]))
    covariance: Numbers = field(default_factory=lambda: numbers(np.zeros((0, 0))))


@dataclass(frozen=True, eq=False)
class Account:
    """What one effect's fit, or all of them, can say of itself.

    undetermined: key path of a number or effect left at its identity -> why. measured: the groups
    of readings that were used.
    """

    numbers: tuple[Number, ...] = ()
    undetermined: Mapping[str, str] = field(default_factory=dict)
    doubts: tuple[Caveat, ...] = ()
    measured: tuple[str, ...] = ()
    together: Together = field(default_factory=Together)

    def __add__(self, other: Account) -> Account:
        return Account(
            self.numbers + other.numbers,
            {**self.undetermined, **other.undetermined},
            self.doubts + other.doubts,
            tuple(dict.fromkeys(self.measured + other.measured)),
            self.together if self.together.keys else other.together,
        )


def unknown(key: str, why: str) -> Account:
    """The account of something the readings do not tell."""
    return Account(undetermined={key: why})


def number(key: str, value: float, sigma: float, scale: Scale, dof: float = np.inf) -> Number:
    """A number with standard error `sigma` on `scale`, Student's t for few degrees of freedom."""
    there, back = SCALES[scale]
    if sigma == 0:
        return Number(key, value, value, value)
    reach = sigma * quantile(dof)
    low, high = (float(back(there(value) + sign * reach)) for sign in (-1, 1))
    return Number(key, float(value), low, high)


def quantile(dof: float) -> float:
    """Half width of a 95 % interval in standard errors: Student's t."""
    from scipy.stats import t

    return float(t.ppf(0.5 + CONFIDENCE / 2, max(dof, 1.0)))
