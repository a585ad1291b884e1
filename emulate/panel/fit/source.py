"""Source: windows, spill, contrast and growing box fitted together (physics §10).

Small windows lose light to unlit neighbours, large ones to the limiter, and the light beside a box
tells the two apart: no part can be fitted alone. The unknowns are coordinates in which steps of
one size mean about the same: logarithms of light, widths, contrast and γ; a logit for ω; and for
the limiter what each point falls below the one before, so that it never rises. What the readings do
not determine is left at its identity, the worst first, and the rest is fitted again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from emulate.panel.cell import Cell
from emulate.panel.fit.looks import Lamp, Looks, Measured, Source, expected
from emulate.panel.limiter import Limiter
from emulate.panel.spread import Spread
from emulate.panel.zones import Zones
from emulate.values import Numbers, Value, numbers

LOADS = (0.0, 0.04, 0.1, 0.25, 0.5, 1.0)  # where the limiter is fitted, ours
ITERATIONS = 60  # evaluations of a start that is carried to its end, ours
TRIED = 8  # evaluations of each start before the best go on, ours
SINGULAR = 1e-9  # singular value over the largest, below which a direction is not determined

Values = Mapping[str, float]


@dataclass(frozen=True)
class Unknown:
    """A coordinate: bounds, the half width of a 95 % interval from which it counts as undetermined,
    and its value where it does nothing (NaN: it has none)."""

    low: float
    high: float
    widest: float
    neutral: float


UNKNOWNS: dict[str, Unknown] = {  # ranges: ours, wider than any panel we know of
    "open": Unknown(float(np.log(1.0)), float(np.log(10000.0)), 1.0, np.nan),
    "contrast": Unknown(float(np.log(20.0)), float(np.log(1e7)), 1.0, np.nan),
    "sigma_1": Unknown(float(np.log(0.003)), float(np.log(4.0)), 1.0, np.nan),
    "sigma_2": Unknown(float(np.log(0.003)), float(np.log(4.0)), 1.0, np.nan),
    "weight_2": Unknown(-7.0, 7.0, 2.0, np.nan),
    "peak_weight": Unknown(0.0, 1.0, 0.4, 1.0),
    "gamma": Unknown(float(np.log(0.1)), float(np.log(5.0)), 0.7, 0.0),
    "reach": Unknown(0.0, 1.0, 0.4, 0.0),
    **{f"fall_{n}": Unknown(0.0, 3.0, 0.12, 0.0) for n in range(1, len(LOADS))},
}


@dataclass(frozen=True, eq=False)
class Solution(Value):
    """values: every coordinate. free: which of them were fitted, in the order of covariance, which
    is for a misfit of 1 per degree of freedom. chi2: sum of squares over noise; `dof`."""

    values: Values
    free: tuple[str, ...]
    covariance: Numbers
    chi2: float
    dof: int

    @property
    def scatter(self) -> float:
        """Misfit per degree of freedom; 1 where none is left to tell it."""
        return self.chi2 / self.dof if self.dof > 0 else 1.0

    @property
    def criterion(self) -> float:
        """Schwarz's criterion, the scale of the noise found from the misfit; less is better."""
        count = self.dof + len(self.free)
        return count * float(np.log(self.chi2)) + len(self.free) * float(np.log(count))

    @property
    def half_widths(self) -> dict[str, float]:
        """Half width of each free coordinate's 95 % interval."""
        from emulate.panel.fit.account import quantile

        errors = np.sqrt(np.diag(self.covariance) * self.scatter)
        return dict(zip(self.free, (quantile(self.dof) * errors).tolist(), strict=True))


def lamp_from(values: Values, source: Source) -> Lamp:
    """The light source that coordinates stand for; a coordinate that is absent does nothing."""
    spread, contrast = Spread(), values.get("contrast")
    if "sigma_2" in values:
        second = float(1 / (1 + np.exp(-values["weight_2"])))
        widths = np.exp([values["sigma_1"], values["sigma_2"]])
        spread = Spread(numbers([1 - second, second]), numbers(widths))
    elif "sigma_1" in values:
        spread = Spread(numbers([1.0]), numbers([np.exp(values["sigma_1"])]))
    return Lamp(
        float(np.exp(values["open"])),
        _driving(values, source),
        spread,
        limiter_from(values),
        Cell() if contrast is None else Cell(float(np.exp(contrast))),
    )


def limiter_from(values: Values) -> Limiter:
    """K at LOADS; the identity where nothing of it was fitted."""
    return _limiter(tuple(values.get(f"fall_{n}", 0.0) for n in range(1, len(LOADS))))


@lru_cache(maxsize=16)
def _limiter(falls: tuple[float, ...]) -> Limiter:
    if not any(falls):
        return Limiter()
    return Limiter(numbers(LOADS), numbers(np.exp(-np.cumsum([0.0, *falls]))))


def _driving(values: Values, source: Source) -> Source:
    if not isinstance(source, Zones):
        return source
    return replace(
        source,
        peak_weight=values.get("peak_weight", 1.0),
        gamma=float(np.exp(values.get("gamma", 0.0))),
        reach=values.get("reach", 0.0),
    )


def solved(
    looks: Looks, seen: Measured, source: Source, starts: Sequence[Values], free: Sequence[str]
) -> Solution:
    """The best of several starts: each is tried, the two best are carried to their end."""
    tried = [_descended(looks, seen, source, start, free, TRIED) for start in starts]
    best = sorted(tried, key=lambda solution: solution.chi2)[:2]
    done = [_descended(looks, seen, source, s.values, free, ITERATIONS) for s in best]
    return min(done, key=lambda solution: solution.chi2)


def determined(
    looks: Looks, seen: Measured, source: Source, solution: Solution
) -> tuple[Solution, tuple[str, ...]]:
    """The solution with all that is not determined given up, and what that was, the worst first."""
    given_up: list[str] = []
    while True:
        wide = {
            name: width / UNKNOWNS[name].widest
            for name, width in solution.half_widths.items()
            if not width <= UNKNOWNS[name].widest and name != "open"
        }
        if not wide:
            return _narrow_first(solution), tuple(given_up)
        worst = max(wide, key=wide.__getitem__)
        ways = [_without(solution.values, worst)]
        if worst == "sigma_2":  # too wide for its width to matter is light still: it may be kept
            ways.append((dict(solution.values), [worst]))
        fits = []
        for values, lost in ways:
            free = [name for name in solution.free if name in values and name not in lost]
            fits.append(_descended(looks, seen, source, values, free, ITERATIONS))
        solution = min(fits, key=lambda fit: fit.criterion)
        given_up += ways[fits.index(solution)][1]


def _narrow_first(solution: Solution) -> Solution:
    """The same with the narrower Gaussian first: which of two is which, is a matter of order."""
    values = dict(solution.values)
    if values.get("sigma_2", np.inf) >= values.get("sigma_1", -np.inf):
        return solution
    values["sigma_1"], values["sigma_2"] = values["sigma_2"], values["sigma_1"]
    values["weight_2"] = -values["weight_2"]
    other = {"sigma_1": "sigma_2", "sigma_2": "sigma_1"}
    free = tuple(other.get(name, name) for name in solution.free)
    sign = np.array([-1.0 if name == "weight_2" else 1.0 for name in free])
    covariance = solution.covariance * np.outer(sign, sign)
    return replace(solution, values=values, free=free, covariance=covariance)


def _without(values: Values, name: str) -> tuple[dict[str, float], list[str]]:
    """Coordinates with one at its identity, and all that goes with it."""
    left = dict(values)
    if name in ("sigma_2", "weight_2") or (name == "sigma_1" and "sigma_2" in values):
        wide = left.pop("sigma_2")
        if left.pop("weight_2") > 0:
            left["sigma_1"] = wide
        return left, ["sigma_2", "weight_2"]
    neutral = UNKNOWNS[name].neutral
    if np.isnan(neutral):
        del left[name]
    else:
        left[name] = neutral
    return left, [name]


def _descended(
    looks: Looks,
    seen: Measured,
    source: Source,
    start: Values,
    free: Sequence[str],
    evaluations: int,
) -> Solution:
    """Least squares from one start, over the free coordinates."""
    from scipy.optimize import least_squares

    def residuals(point: Numbers) -> Numbers:
        values = {**start, **dict(zip(free, point.tolist(), strict=True))}
        return seen.misfits(expected(looks, lamp_from(values, source))[:, 0])  # greys

    low, high = (np.array([getattr(UNKNOWNS[n], end) for n in free]) for end in ("low", "high"))
    margin = 1e-9 * (high - low)
    point = np.clip([start[name] for name in free], low + margin, high - margin)
    found = least_squares(
        residuals, point, bounds=(low, high), x_scale="jac", max_nfev=evaluations, xtol=1e-6
    )
    values = {**start, **dict(zip(free, found.x.tolist(), strict=True))}
    dof = seen.worth - len(free)
    return Solution(
        values, tuple(free), _covariance(np.asarray(found.jac)), 2 * found.cost + seen.pure, dof
    )


def _covariance(jacobian: Numbers) -> Numbers:
    """(JᵀJ)⁻¹; what a singular direction touches comes out beyond any bound."""
    _, size, axes = np.linalg.svd(jacobian, full_matrices=False)
    floor = max(SINGULAR * size.max(initial=0.0), 1e-30)
    return np.asarray((axes.T / np.maximum(size, floor) ** 2) @ axes)
