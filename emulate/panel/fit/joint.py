"""Joint: which readings the light source is fitted to, which unknowns they allow, and the account.

Two Gaussians are taken where they explain the readings better than one by Schwarz's criterion
(Annals of Statistics 6(2), 1978). Without readings of the light beside a lit box spread is not
looked for at all: small windows alone cannot tell it from the drive of the zones. A crawl runs over
the uneven screen, so only what in it is not smooth counts: how light changes from zone to zone.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from emulate.errors import Caveat
from emulate.panel.fit.account import (
    SCALES,
    Account,
    Number,
    Scale,
    Together,
    number,
    unknown,
)
from emulate.panel.fit.looks import (
    Lamp,
    Looks,
    Measured,
    Source,
    Tone,
    Trend,
    laid_out,
    light_share,
    measured,
)
from emulate.panel.fit.noise import Noise, averaged
from emulate.panel.fit.source import (
    LOADS,
    UNKNOWNS,
    Solution,
    Values,
    determined,
    lamp_from,
    solved,
)
from emulate.panel.spread import Spread
from emulate.panel.uniformity import Uniformity, uniformity_map
from emulate.panel.zones import Zones
from emulate.readings.readings import Reading, Readings, Repeats
from emulate.readings.stimulus import pixel_at
from emulate.transfer import light_from_pq
from emulate.values import Value, numbers

KINDS = ("window", "black", "checker", "spill", "grow", "crawl")
FEWEST = {"spill": 3, "grow": 3, "window": 3}  # different stimuli of a kind, ours
CLEAR = 10.0  # of Schwarz's criterion by which one grid must lead: very strong, Kass and Raftery,
# Journal of the American Statistical Association 90(430), 1995
MISFIT = 2.0  # per degree of freedom: more, and the model lacks something, ours
WELL_BELOW = 0.75  # of a point's load: what must be read below it, to part it from L_open; ours
USUAL = {"peak_weight": 0.8, "gamma": float(np.log(0.9))}  # drive, where it starts; ours
TREND = 2  # degree of the unevenness that is taken out of a crawl, ours
MAP = (108, 192)  # rows, columns at which unevenness is looked up; ours, far finer than a reading
UNSAID = "no pattern of the set asks for it"
NO_FALL = "too few pictures were read that load the limiter around this point and below it"
UNSURE = "pictures that load it were read, but its gain would be unsure by more than"
WIDE = "so wide that the cabinet is lit evenly: any width beyond explains the readings as well"
NEEDS = {  # coordinates -> effect, and why they are undetermined if they are given up
    "sigma_1": ("spread", "the readings allow any width"),
    "sigma_2": ("spread.sigma_h#2", "one width explains the readings as well as two"),
    "contrast": ("cell.contrast", "the readings allow any contrast"),
    "peak_weight": ("zones.peak_weight", "the readings do not part peak from mean"),
    "gamma": ("zones.gamma", "zones are lit in full wherever they are lit, whatever it is"),
    "reach": ("zones.reach", "the readings do not part it from spread"),
    **{
        f"fall_{n}": (
            f"limiter.gain#{n + 1}",
            f"{UNSURE} {np.expm1(UNKNOWNS[f'fall_{n}'].widest):.0%}",
        )
        for n in range(1, len(LOADS))
    },
}


@dataclass(frozen=True, eq=False)
class SourceFit(Value):
    """The light source as fitted; `solution` is where a fit of nearly the same readings starts."""

    lamp: Lamp
    account: Account
    solution: Solution | None = None

    @property
    def criterion(self) -> float:
        """Schwarz's criterion: the lower, the better the readings are explained."""
        return self.solution.criterion if self.solution else float("inf")


@dataclass(frozen=True, eq=False)
class Task(Value):
    """What a fit of the light source is given: groups of repeats, noise, zones, unevenness of the
    screen, a tone for greys, and where to start (None: several starts)."""

    groups: tuple[Repeats, ...]
    noise: Noise
    source: Source
    uniformity: Uniformity
    tone: Tone | None = None
    start: Solution | None = None


def groups_of(readings: Readings) -> tuple[Repeats, ...]:
    """Readings that tell of the light source: seen square on, in a dark room."""
    straight = [r for r in readings.of(*KINDS) if r.angle == 0 and r.room_lux == 0]
    return averaged(straight)


def fit_sources(task: Task, candidates: Sequence[Source]) -> SourceFit | None:
    """The light source of the candidates that alone explains the readings; None if none does."""
    fits = [fit_source(replace(task, source=candidate)) for candidate in candidates]
    if len(fits) <= 1:
        return fits[0] if fits else None
    solved_ones = [fit for fit in fits if fit.solution]
    ranked = sorted(solved_ones, key=lambda fit: fit.criterion)
    alone = len(ranked) > 1 and ranked[1].criterion - ranked[0].criterion > CLEAR
    return ranked[0] if alone else None


def fit_source(task: Task) -> SourceFit:
    """L_open, spread, limiter, contrast and drive of a light source with known zones."""
    lit = tuple(group for group in task.groups if is_lit(group.readings[0]))
    if not lit:
        return _nothing(task)
    if _tells_spread(task):
        solution, lost = _best(task, task.groups)
        if not {"sigma_1", "contrast"}.intersection(lost):
            return _told(task, task.groups, solution, lost)
    solution, lost = _best(task, lit, dark=False)
    fit = _told(task, lit, solution, lost)
    return SourceFit(fit.lamp, fit.account + _without_spread(task), fit.solution)


def is_lit(reading: Reading) -> bool:
    """Whether anything but black is asked for under the meter."""
    return float(light_from_pq(max(reading.stimulus.signal_at(reading.spot)))) > 0


def _tells_spread(task: Task) -> bool:
    """Whether light was read beside a lit box; one zone behind all has nowhere to spread to."""
    beside = {g.stimulus for g in task.groups if g.stimulus.kind == "spill"}
    return isinstance(task.source, Zones) and (
        len(beside) >= FEWEST["spill"] or task.source.rows * task.source.columns == 1
    )


def _best(
    task: Task, groups: Sequence[Repeats], dark: bool = True
) -> tuple[Solution, tuple[str, ...]]:
    """The fit with as many Gaussians as the readings ask for, and what was given up."""
    top = max(group.mean for group in groups)
    opened = float(np.exp(task.start.values["open"])) if task.start else min(1.2 * top, 10000.0)
    looks = laid_out(groups, task.source, opened, task.tone)
    seen = measured(groups, task.noise, unevenness(groups, task.uniformity))
    seen = replace(seen, trends=tuple(_trends(groups, seen)))
    loads = _loads(groups, looks, task.source)
    fits = [
        solved(looks, seen, task.source, starts, _free(groups, starts[0], loads))
        for starts in _starts(task, groups, loads, dark)
    ]
    chosen = min(fits, key=lambda fit: fit.criterion)
    return determined(looks, seen, task.source, chosen)


def _starts(
    task: Task, groups: Sequence[Repeats], loads: Collection[float], dark: bool
) -> Iterator[list[dict[str, float]]]:
    """Starts for each number of Gaussians, the same for the same readings."""
    zones = task.source
    top = max(group.mean for group in groups)
    base = {"open": float(np.log(min(1.1 * top, 9999.0)))}
    base |= {f"fall_{n}": 0.05 * _tells_fall(loads, n) for n in range(1, len(LOADS))}
    if isinstance(zones, Zones):
        base |= {"peak_weight": 1.0, "gamma": 0.0, "reach": 0.0}
    if not dark or not isinstance(zones, Zones):
        yield [base]
        return
    base["contrast"] = float(np.log(_contrast(groups)))
    if zones.rows * zones.columns == 1:
        yield [base]
        return
    if task.start and "sigma_1" in task.start.values:
        yield [dict(task.start.values)]
        return
    drives = [{"peak_weight": a, "gamma": float(np.log(g))} for a, g in ((0.8, 0.9), (0.4, 0.6))]
    if not _tells_drive(groups):
        drives = [{"peak_weight": 1.0, "gamma": 0.0}]
    pitch = 1 / zones.rows
    widths = [{"sigma_1": float(np.log(share * pitch))} for share in (0.5, 1.2)]
    yield [{**base, **drive, **width} for drive in drives for width in widths]
    pairs = [
        {**width, "sigma_2": float(np.log(far * pitch)), "weight_2": -1.5}
        for width, far in zip(widths, (2.5, 4.0), strict=True)
    ]
    yield [{**base, **drive, **pair} for drive in drives for pair in pairs]


def _free(groups: Sequence[Repeats], start: Values, loads: Collection[float]) -> list[str]:
    """Coordinates that the kinds of readings can tell of at all."""
    held = set() if _tells_drive(groups) else {"peak_weight", "gamma"}
    held |= set() if "sigma_1" in start else {"reach"}
    held |= {f"fall_{n}" for n in range(1, len(LOADS)) if not _tells_fall(loads, n)}
    return [name for name in start if name not in held]


def _tells_drive(groups: Sequence[Repeats]) -> bool:
    return len({g.stimulus for g in groups if g.stimulus.kind == "grow"}) >= FEWEST["grow"]


def _tells_fall(loads: Collection[float], point: int) -> bool:
    """Whether lit pictures load the limiter less than a point and more than the one before."""
    spans = min(loads) < WELL_BELOW * LOADS[point] and max(loads) > LOADS[point - 1]
    return len(loads) >= FEWEST["window"] and spans


def _loads(groups: Sequence[Repeats], looks: Looks, source: Source) -> frozenset[float]:
    """About the loads of lit pictures, with a drive like most."""
    usual = lamp_from({"open": 0.0, **USUAL}, source).source
    _, load = light_share(looks, usual, Spread())
    lit = [is_lit(group.readings[0]) for group in groups]
    return frozenset(np.round(load[np.array(lit)], 3).tolist())


def _contrast(groups: Sequence[Repeats]) -> float:
    """A first guess: brightest over darkest beside light, far below what it will be."""
    dark = [g.mean for g in groups if not is_lit(g.readings[0])]
    brightest = max(group.mean for group in groups)
    return float(np.clip(brightest / max(dark, default=brightest / 1000), 50.0, 1e6))


def unevenness(groups: Sequence[Repeats], uniformity: Uniformity) -> list[float]:
    """U where each group was read."""
    field = uniformity_map(uniformity, MAP)
    return [float(field[pixel_at(group.readings[0].spot, MAP)]) for group in groups]


def _trends(groups: Sequence[Repeats], seen: Measured) -> Iterator[Trend]:
    """For each axis that was crawled, what a screen of smooth unevenness does to its readings."""
    for axis in ("horizontal", "vertical"):
        index = np.array(
            [n for n, g in enumerate(groups) if g.stimulus.kind == "crawl"
             and g.stimulus.axis == axis], dtype=np.intp)  # fmt: skip
        if len(index) > TREND + 1:
            x = np.array([groups[n].stimulus.value for n in index])
            curves = np.vander(2 * x - 1, TREND + 1) / seen.sigma[index][:, None]
            yield Trend(index, np.linalg.qr(curves)[0])


def _told(
    task: Task, groups: Sequence[Repeats], solution: Solution, lost: Sequence[str]
) -> SourceFit:
    """The lamp, its numbers with intervals, and what was given up."""
    lamp = lamp_from(solution.values, task.source)
    together = _together(solution)
    found = [_number(together, n, solution.dof) for n in range(len(together.keys))]
    kinds = tuple(dict.fromkeys(group.stimulus.kind for group in groups))
    reasons = _reasons(task, solution, lost)
    found = [n for n in found if n.key.partition("#")[0] not in reasons]
    account = Account(tuple(found), reasons, (), kinds, together)
    if solution.scatter > MISFIT:
        text = (
            f"the model misses the readings by {np.sqrt(solution.scatter):.1f} times the meter's "
            "noise; intervals were widened to match"
        )
        account += Account(doubts=(Caveat("light source", text),))
    return SourceFit(lamp, account, solution)


def _together(solution: Solution) -> Together:
    """The numbers of the file in terms of the coordinates, with their covariance."""
    names, values = list(solution.free), solution.values
    rows: list[tuple[str, Scale, float, dict[str, float]]] = []
    for name in names:
        rows += _in_file(name, values)
    mix = np.array([[parts.get(name, 0.0) for name in names] for *_, parts in rows])
    mix = mix.reshape(len(rows), len(names))
    covariance = solution.scatter * mix @ solution.covariance @ mix.T
    return Together(
        tuple(key for key, *_ in rows),
        tuple(scale for _, scale, *_ in rows),
        numbers([centre for _, _, centre, _ in rows]),
        numbers(covariance),
    )


_IN_FILE: dict[str, tuple[str, Scale]] = {
    "open": ("light.open_cdm2", "log"),
    "contrast": ("cell.contrast", "log"),
    "sigma_1": ("spread.sigma_h#1", "log"),
    "sigma_2": ("spread.sigma_h#2", "log"),
    "peak_weight": ("zones.peak_weight", "linear"),
    "gamma": ("zones.gamma", "log"),
    "reach": ("zones.reach", "linear"),
}


def _in_file(name: str, values: Values) -> list[tuple[str, Scale, float, dict[str, float]]]:
    """Key path, scale, value on it, and how it depends on the coordinates."""
    if name == "weight_2":
        second = values[name]
        return [
            ("spread.weight#1", "logit", -second, {name: -1.0}),
            ("spread.weight#2", "logit", second, {name: 1.0}),
        ]
    if name.startswith("fall_"):
        falls = [f"fall_{n}" for n in range(1, int(name[-1]) + 1)]
        total = -sum(values[fall] for fall in falls)
        return [(f"limiter.gain#{int(name[-1]) + 1}", "log", total, dict.fromkeys(falls, -1.0))]
    key, scale = _IN_FILE[name]
    return [(key, scale, values[name], {name: 1.0})]


def _number(together: Together, index: int, dof: int) -> Number:
    """One of them with its interval, within what a file accepts."""
    key, scale = together.keys[index], together.scales[index]
    value = float(SCALES[scale].back(together.centre[index]))
    found = number(key, value, float(np.sqrt(together.covariance[index, index])), scale, dof)
    if key in ("zones.peak_weight", "zones.reach") or key.startswith("limiter.gain"):
        return Number(key, value, float(np.clip(found.low, 0, 1)), float(np.clip(found.high, 0, 1)))
    return found


def _reasons(task: Task, solution: Solution, lost: Sequence[str]) -> dict[str, str]:
    reasons = dict(NEEDS[name] for name in lost if name in NEEDS)
    reasons |= _falls_missed(solution, lost)
    if "sigma_2" in lost and "sigma_2" in solution.values:
        reasons |= {"spread.sigma_h#2": WIDE, "spread.weight": "they hang on the width beside them"}
    for n in range(1, len(LOADS)):
        if f"fall_{n}" not in (*solution.free, *lost):
            reasons[f"limiter.gain#{n + 1}"] = NO_FALL
    if not isinstance(task.source, Zones):
        return reasons
    if not _tells_drive(task.groups):
        reasons |= dict.fromkeys(("zones.peak_weight", "zones.gamma"), "no growing box was read")
    single = task.source.rows * task.source.columns == 1
    if "sigma_2" not in solution.values and "sigma_2" not in lost and "sigma_1" in solution.values:
        reasons |= dict([NEEDS["sigma_2"]])
    return reasons if not single else {k: v for k, v in reasons.items() if k != "zones.reach"}


def _falls_missed(solution: Solution, lost: Sequence[str]) -> dict[str, str]:
    """Where the model misses the readings: that this is why a fall of the windows is no limiter."""
    if solution.scatter <= MISFIT:
        return {}
    told = dict(NEEDS[name] for name in lost if name.startswith("fall_"))
    times = f"{np.sqrt(solution.scatter):.2g} times their noise"
    return {
        key: f"{why}, since the model misses the readings by {times}" for key, why in told.items()
    }


def _without_spread(task: Task) -> Account:
    """What stays unsaid where no light beside a box was read."""
    if not isinstance(task.source, Zones):
        return Account()
    why = "no light was read beside a lit box, and windows alone do not part it from the drive"
    if any(group.stimulus.kind == "spill" for group in task.groups):
        why = "the light read beside a lit box allows any width"
    contrast = "light between lit boxes is spread over contrast, and spread is undetermined"
    reach = "it cannot be parted from spread, which is undetermined"
    return Account(undetermined={"spread": why, "cell.contrast": contrast, "zones.reach": reach})


def _nothing(task: Task) -> SourceFit:
    """No lit reading at all: everything stays as it would be with nothing known."""
    lamp = lamp_from({"open": float(np.log(10000.0))}, task.source)
    why = "no lit window, box or field was read"
    return SourceFit(lamp, unknown("light.open_cdm2", why))
