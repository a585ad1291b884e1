"""Pace: attack, decay and latency from light over time while a window is switched (physics §5.4).

When white goes the cell closes at once, whatever the zones do: the sharp falls tell when picture
and logger agree, the rises tell latency and attack, and what glows on in the dark tells decay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from emulate.panel.fit.account import Account, number, quantile, unknown
from emulate.panel.fit.looks import Lamp, Source, expected, laid_out, light_share
from emulate.panel.limiter import Limiter
from emulate.panel.pace import left_after
from emulate.panel.zones import Zones
from emulate.readings.readings import CENTRE, Reading, Readings, Repeats, Trace
from emulate.readings.readings import Source as Place
from emulate.values import Numbers, Value

WIDEST = 1.0  # half width in log τ from which a constant is undetermined, ours
CALM = 0.97  # gain above which the limiter is not heard, ours
CLEAR = 5.0  # times the logger's floor that an afterglow must be, ours
GUESSES_S = (0.01, 0.05, 0.2, 0.8)  # starts, ours
PASSES = 2  # noise goes by the light that is meant, not by what noise made of it
SLOWEST_S = 30.0  # a constant longer than any half of the pattern is none, ours
NO_TRACE = "no light was logged over a switched window"
CONSTANTS = ("zones.attack_s", "zones.decay_s", "limiter.attack_s", "limiter.decay_s")


@dataclass(frozen=True, eq=False)
class Stage(Value):
    """What is known before a trace is fitted.

    edges (n,) [s, logger's clock] and lit (n,): when white comes and goes. keep: samples clear of
    the falls. share and floor: the logger's noise, as for a meter. glow: light in the dark before
    anything was lit. gain: the limiter's, settled, while lit. closed: light through the closed cell
    over the open.
    """

    edges: Numbers
    lit: NDArray[np.bool_]
    keep: NDArray[np.bool_]
    share: float
    floor: float
    glow: float
    gain: float
    closed: float


def fit_pace(readings: Readings, lamp: Lamp) -> tuple[Source, Limiter, Account]:
    """The light source and limiter with their time constants."""
    traces = [trace for trace in readings.traces if trace.stimulus.kind == "step"]
    if not isinstance(lamp.source, Zones):
        return lamp.source, lamp.limiter, Account()
    stage = _stage(traces[0], lamp) if traces else None
    if stage is None:
        why = "the logged light does not show the window being switched" if traces else NO_TRACE
        return lamp.source, lamp.limiter, Account(undetermined=dict.fromkeys(CONSTANTS, why))
    names = ["size", "attack", "latency"]
    names += ["decay", "shut"] if _glows(traces[0], stage) else []
    names += ["limiter"] if stage.gain < CALM else []
    point, errors, dof = _fitted(traces[0], stage, names)
    return _named(lamp, traces[0], dict(zip(names, zip(point, errors, strict=True), strict=True)),
                  dof)  # fmt: skip


def _stage(trace: Trace, lamp: Lamp) -> Stage | None:
    """None where the falls cannot be made out."""
    moments = trace.stimulus.moments
    changes = [m for before, m in zip((None, *moments), moments, strict=False)
               if bool(m.patches) != bool(before and before.patches)]  # fmt: skip
    edges = np.array([m.time_s for m in changes])
    lit = np.array([bool(m.patches) for m in changes])
    falls = _falls(trace, int((~lit).sum()))
    if falls is None:
        return None
    edges = edges + float(np.mean(falls - edges[~lit]))
    spacing = float(np.median(np.diff(trace.time_s)))
    near = np.abs(trace.time_s[:, None] - edges[~lit]).min(axis=1) <= 1.5 * spacing
    early = trace.light[trace.time_s < edges[0] - spacing]
    glow = float(early.mean()) if len(early) else 0.0
    gain, closed = _settled(trace, lamp)
    return Stage(edges, lit, ~near, *_scatter(trace, early), glow, gain, closed)


def _falls(trace: Trace, count: int) -> Numbers | None:
    """Middle of the sample pairs between which light falls most: one for each time white goes."""
    drop = trace.light[:-1] - trace.light[1:]
    steepest = np.sort(np.argsort(-drop, kind="stable")[:count])
    if len(steepest) < count or drop[steepest].min(initial=np.inf) < 0.4 * trace.light.max():
        return None
    return np.asarray((trace.time_s[steepest] + trace.time_s[steepest + 1]) / 2)


def _scatter(trace: Trace, early: Numbers) -> tuple[float, float]:
    """Noise of a sample: a share of its light, and a floor seen before anything was lit."""
    bright = trace.light[trace.light > 0.5 * trace.light.max()]
    steps = float(np.median(np.abs(np.diff(bright)) / bright[1:]))
    share = steps / (0.6745 * np.sqrt(2))  # of a normal distribution: median step to σ
    floor = float(early.std()) if len(early) > 2 else 0.0
    return max(share, 1e-4), max(floor, 1e-7 * float(trace.light.max()))


def _settled(trace: Trace, lamp: Lamp) -> tuple[float, float]:
    """Gain while lit, and light through a closed cell over the open one's."""
    lit = next(m.patches for m in trace.stimulus.moments if m.patches)
    still = replace(trace.stimulus, patches=lit, moments=())
    reading = Reading(still, 1.0, Place("", 0), spot=CENTRE)
    looks = laid_out([Repeats((reading,), np.ones(1))], lamp.source, lamp.open_cdm2)
    _, load = light_share(looks, lamp.source, lamp.spread)
    dark = replace(looks, asked=np.zeros_like(looks.asked))
    ratio = expected(dark, lamp)[0, 0] / expected(looks, lamp)[0, 0]
    return float(lamp.limiter.targets(load)[0]), float(ratio)


def _glows(trace: Trace, stage: Stage) -> bool:
    """Whether the logger can see the backlight through the closed cell."""
    return bool(stage.closed * trace.light.max() > CLEAR * stage.floor)


def _fitted(
    trace: Trace, stage: Stage, names: Sequence[str]
) -> tuple[list[float], list[float], int]:
    """Best coordinates, and their standard errors; constants are logarithms."""
    from scipy.optimize import least_squares

    top, time_s = float(np.quantile(trace.light, 0.95)), trace.time_s[stage.keep]
    seen = trace.light[stage.keep]
    sigma = np.hypot(stage.share * seen, stage.floor)
    longest = float(np.diff(stage.edges).min())
    spacing = float(np.median(np.diff(time_s)))
    bounds = {"size": (-1.0, 1.0), "shut": (-1.0, 1.0), "latency": (-2 * spacing, longest / 2)}
    constants = (float(np.log(1e-4)), float(np.log(SLOWEST_S)))
    low, high = zip(*(bounds.get(name, constants) for name in names), strict=True)

    def light(point: Numbers) -> Numbers:
        return _light(time_s, stage, top, dict(zip(names, point.tolist(), strict=True)))

    def residuals(point: Numbers, sigma: Numbers) -> Numbers:
        return np.asarray((light(point) - seen) / sigma)

    found = []
    for guess in GUESSES_S:
        known = {"size": 0.0, "shut": 0.0, "latency": 0.01}
        first = [known.get(name, float(np.log(guess))) for name in names]
        fit = least_squares(residuals, first, bounds=(low, high), x_scale="jac", args=(sigma,))
        found.append(fit)
    best = min(found, key=lambda each: float(each.cost))
    for _ in range(PASSES):
        sigma = np.hypot(stage.share * light(best.x), stage.floor)
        best = least_squares(residuals, best.x, bounds=(low, high), x_scale="jac", args=(sigma,))
    dof = len(seen) - len(names)
    covariance = np.linalg.pinv(np.asarray(best.jac).T @ np.asarray(best.jac))
    errors = np.sqrt(2 * best.cost / dof * np.diag(covariance))
    return best.x.tolist(), errors.tolist(), dof


def _light(time_s: Numbers, stage: Stage, top: float, values: dict[str, float]) -> Numbers:
    """Light over time: share of the drive and gain on their way, through the cell open or shut."""
    attack, decay, gain_s = (
        float(np.exp(values[name])) if name in values else 0.0
        for name in ("attack", "decay", "limiter")
    )
    late = stage.edges + values["latency"]
    drive = _moved(time_s, late, stage.lit.astype(np.float64), 0.0, attack, decay)
    aims = np.where(stage.lit, stage.gain, 1.0)
    gain = _moved(time_s, late, aims, 1.0, gain_s, gain_s) / stage.gain
    index = np.searchsorted(stage.edges, time_s, side="right") - 1
    closed = stage.closed * np.exp(values.get("shut", 0.0))
    through = np.where((index >= 0) & stage.lit[np.maximum(index, 0)], 1.0, closed)
    return np.asarray(top * np.exp(values["size"]) * drive * gain * through + stage.glow)


def _moved(
    time_s: Numbers, edges: Numbers, aims: Numbers, start: float, attack_s: float, decay_s: float
) -> Numbers:
    """A value that goes to `aims` (n,) from `edges` (n,) on, at each time."""
    out, value = np.full_like(time_s, start), start
    for index, (edge, aim) in enumerate(zip(edges.tolist(), aims.tolist(), strict=True)):
        constant = attack_s if aim > value else decay_s
        after = time_s >= edge
        since = time_s[after] - edge
        left = np.exp(-since / constant) if constant > 0 else np.zeros_like(since)
        out[after] = aim + left * (value - aim)
        if index + 1 < len(edges):
            value = aim + left_after(float(edges[index + 1]) - edge, constant) * (value - aim)
    return out


def _named(
    lamp: Lamp, trace: Trace, found: dict[str, tuple[float, float]], dof: int
) -> tuple[Source, Limiter, Account]:
    spacing = float(np.median(np.diff(trace.time_s)))
    account, values = Account(measured=("step",)), {}
    for name, key in (("attack", CONSTANTS[0]), ("decay", CONSTANTS[1]), ("limiter", CONSTANTS[3])):
        why = _unclear(name, found, dof, spacing)
        if why:
            account += unknown(key, why)
            continue
        values[name] = float(np.exp(found[name][0]))
        clock = spacing / np.sqrt(12) / values[name]  # standard deviation of an even rounding
        error = float(np.hypot(found[name][1], clock))
        account += Account((number(key, values[name], error, "log", dof),))
    account += unknown(CONSTANTS[2], "in the dark after a window nothing shows the limiter recover")
    account += _latency(*found["latency"], dof, spacing)
    assert isinstance(lamp.source, Zones)
    source = replace(
        lamp.source, attack_s=values.get("attack", 0.0), decay_s=values.get("decay", 0.0)
    )
    return source, replace(lamp.limiter, decay_s=values.get("limiter", 0.0)), account


def _unclear(name: str, found: dict[str, tuple[float, float]], dof: int, spacing: float) -> str:
    """Why a constant is not determined; nothing where it is."""
    if name not in found:
        return {
            "decay": "the logger does not see the zones go out behind the closed cell",
            "limiter": "the switched window hardly loads the limiter",
        }[name]
    log_constant, error = found[name]
    if quantile(dof) * error > WIDEST or np.exp(log_constant) < spacing / 3:
        return f"shorter than the logger's {1000 * spacing:.3g} ms can tell"
    return ""


def _latency(value: float, error: float, dof: int, spacing: float) -> Account:
    """Whole frames of content: the pattern does not say how many a second the set was fed."""
    reach = float(np.hypot(quantile(dof) * error, spacing / 2))
    if value - reach <= 0:
        return Account()
    why = (
        f"light comes {1000 * value:.0f} ± {1000 * reach:.0f} ms after the cell opens; how many "
        "frames that is depends on the rate the set is fed at"
    )
    return unknown("zones.latency_frames", why)
