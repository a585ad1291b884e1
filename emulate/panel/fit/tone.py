"""Tone from ramps: what was asked for, worked back from what was read (physics §3, §10).

A ramp is read in a window, so its light has been through zones, spread, limiter and cell. Each
reading is turned into the asked light that the fitted light source would have turned into it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from emulate.panel.fit.account import Account, Number, quantile, unknown
from emulate.panel.fit.looks import MOVED, Lamp, Looks, Stack, expected, laid_out
from emulate.panel.fit.noise import Noise
from emulate.panel.tone import Tone, ToneReading, tone_reading
from emulate.readings.readings import Reading, Readings, Repeats, gathered
from emulate.readings.stimulus import Stimulus
from emulate.transfer import PQ_PEAK, light_from_pq
from emulate.values import Numbers, Value, numbers

KINDS = ("ramp", "near_black")
FEWEST = 3  # signals a curve needs, ours
STEPS = np.geomspace(1e-7, 1.0, 400)  # asked light over L_open at which the model is tabled, ours
DIFFERENT = 0.999  # how surely ramps must differ before each peak gets its curve, ours
TELLABLE = 1e-9  # log light: smaller steps of the model are rounding
ALIKE = 3.0  # times the noise of a look that lights must differ by to stand apart, ours
JOINING = 0.02  # relative: what joining readings by a curve may be off, ours
COMPARED = 0.1  # signal from which ramps are compared, ours: darker, the meter rules


@dataclass(frozen=True, eq=False)
class Response(Value):
    """log asked light against log light read (k,), both rising, and how unsure the lamp makes the
    former (k,)."""

    read: Numbers
    asked: Numbers
    unsure: Numbers

    def of(self, light: Numbers) -> Numbers:
        """Asked light [cd/m²] for light read [cd/m²] (n,); held at L_open."""
        return np.asarray(np.exp(np.interp(np.log(light), self.read, self.asked)))


@dataclass(frozen=True, eq=False)
class Ramp(Value):
    """One ramp: signal rising (n,), asked light [cd/m²] (n,) and its interval (n, 2)."""

    mastering_peak: float
    signal: Numbers
    light: Numbers
    interval: Numbers


def fit_tone(
    readings: Readings, noise: Noise, lamp: Lamp, unsure: Sequence[Lamp] = ()
) -> tuple[Tone, Account]:
    """The curve, or one for each mastering peak where they differ.

    unsure: the lamp moved by MOVED standard errors along each direction in which it is unsure.
    """
    read = [r for r in readings.of(*KINDS) if _tells(r)]
    peaks = sorted({r.stimulus.mastering_peak for r in read})
    response = responses(lamp, unsure)
    ramps = [
        _ramp([r for r in read if r.stimulus.mastering_peak == peak], peak, noise, response)
        for peak in peaks
    ]
    ramps = [ramp for ramp in ramps if len(ramp.signal) >= FEWEST]
    if not ramps:
        return Tone(), unknown("tone.curve", "no ramp of greys was read")
    if len(ramps) > 1 and not _differ(ramps, noise):
        ramps = [_ramp(read, 0.0, noise, response)]
    policy = "by_metadata" if len(ramps) > 1 else "fixed"
    ramps = [replace(r, light=numbers(np.minimum(r.light, lamp.open_cdm2))) for r in ramps]
    curves = [_closed(ramp, lamp, readings) for ramp in ramps]
    found = [n for index, ramp in enumerate(ramps, 1) for n in _numbers(ramp, index)]
    kinds = tuple(dict.fromkeys(r.stimulus.kind for r in read))
    account = Account(tuple(found), measured=kinds) + unknown(
        "tone.acts_on", "no pattern of the set asks for it"
    )
    return Tone(policy=policy, curves=tuple(curves)), account  # type: ignore[arg-type]


def responses(lamp: Lamp, unsure: Sequence[Lamp]) -> Callable[[Repeats], Response]:
    """For a stimulus and a spot, how light read stands for asked light; one table a geometry."""
    tables: dict[object, Response] = {}

    def response(group: Repeats) -> Response:
        bare = _unit(group.stimulus, group.readings[0].spot)
        key = (bare.shape, bare.background, bare.patches, group.readings[0].spot)
        if key not in tables:
            tables[key] = _response(bare, group, lamp, unsure)
        return tables[key]

    return response


def _tells(reading: Reading) -> bool:
    level = reading.stimulus.signal_at(reading.spot)
    square = reading.angle == 0 and reading.room_lux == 0
    return square and len(set(level)) == 1 and level[0] > 0 and reading.luminance > 0


def _ramp(
    read: Sequence[Reading], peak: float, noise: Noise, response: Callable[[Repeats], Response]
) -> Ramp:
    if not read:
        return Ramp(peak, *(numbers([]) for _ in range(3)))
    joined = _joined(gathered(read), noise)
    looks = [sum(len(group.luminance) for group in groups) for groups in joined]
    asked = np.array([_asked(groups, response, noise) for groups in joined])
    levels = [_level(groups) for groups in joined]
    fitted, _ = tone_reading(np.repeat(levels, looks), np.repeat(asked[:, 1], looks), peak)
    return Ramp(peak, fitted.signal, fitted.light, numbers(asked[:, [0, 2]]))


def _joined(groups: Sequence[Repeats], noise: Noise) -> list[list[Repeats]]:
    """Groups by signal, rising; neighbours whose light the meter hardly tells apart are one.

    A curve through each of two such readings would bend after their noise.
    """
    joined: list[list[Repeats]] = []
    for group in sorted(groups, key=_signal):
        before = light_from_pq(_signal(joined[-1][0])) if joined else 0.0
        if joined and light_from_pq(_signal(group)) <= before * (1 + ALIKE * noise.relative):
            joined[-1].append(group)
        else:
            joined.append([group])
    return joined


def _signal(group: Repeats) -> float:
    return group.stimulus.signal_at(group.readings[0].spot)[0]


def _level(groups: Sequence[Repeats]) -> float:
    """Signal of joined groups, by how many looks each holds."""
    if len({_signal(group) for group in groups}) == 1:
        return _signal(groups[0])  # as it is, to the last bit
    return float(
        np.average([_signal(g) for g in groups], weights=[len(g.luminance) for g in groups])
    )


def _asked(
    groups: Sequence[Repeats], response: Callable[[Repeats], Response], noise: Noise
) -> Numbers:
    """Asked light [cd/m²] for readings about one signal: low, middle, high of its interval (3,)."""
    reach = quantile(noise.dof or np.inf)
    worth = np.array([len(group.luminance) for group in groups], dtype=np.float64)
    each = []
    for group in groups:
        table, total = response(group), float(worth.sum())
        off = reach * float(noise.of(group.mean)) / np.sqrt(total)
        low, middle, high = np.log(table.of(group.mean * np.exp([-off, 0.0, off])))
        lamp = reach * float(np.interp(np.log(group.mean), table.read, table.unsure))
        each.append((middle - np.hypot(middle - low, lamp), middle,
                     middle + np.hypot(high - middle, lamp)))  # fmt: skip
    return np.asarray(np.exp(np.average(each, axis=0, weights=worth)))


def _unit(stimulus: Stimulus, spot: tuple[float, float]) -> Stimulus:
    """What is lit like the spot at full white, all else black."""
    level = stimulus.signal_at(spot)
    white, black = (1.0, 1.0, 1.0), (0.0, 0.0, 0.0)
    return replace(
        stimulus,
        number=0,
        background=white if stimulus.background == level else black,
        patches=tuple(
            replace(p, signal=white if p.signal == level else black) for p in stimulus.patches
            if p.signal == level or stimulus.background == level
        ),
    )  # fmt: skip


def _response(bare: Stimulus, group: Repeats, lamp: Lamp, unsure: Sequence[Lamp]) -> Response:
    """The table for one geometry, and how far it moves with the lamp."""
    reading = replace(group.readings[0], stimulus=bare)
    look = laid_out([Repeats((reading,), group.luminance[:1])], lamp.source, PQ_PEAK)
    looks = _scaled(look, STEPS)
    read, asked = _table(looks, lamp)
    moved = [(np.interp(read, *_table(looks, other)) - asked) / MOVED for other in unsure]
    off = np.sqrt(np.square(moved).sum(axis=0)) if moved else np.zeros_like(read)
    return Response(numbers(read), numbers(asked), numbers(off))


def _table(looks: Looks, lamp: Lamp) -> tuple[Numbers, Numbers]:
    """log light read and log light asked for, both rising."""
    read = np.log(expected(looks, lamp)[:, 0])
    fresh = np.append(True, np.diff(np.maximum.accumulate(read)) > TELLABLE)
    return read[fresh], np.log(STEPS * lamp.open_cdm2)[fresh]


def _scaled(look: Looks, share: Numbers) -> Looks:
    """One look at so many levels: zones see the picture in proportion."""
    stack, count = look.stack, len(share)
    level = share[:, None, None]
    return Looks(
        Stack(stack.peak * level, stack.mean * level, stack.load * share),
        np.arange(count),
        np.repeat(look.row, count),
        np.repeat(look.column, count),
        look.shapes,
        np.zeros(count, dtype=np.intp),
        look.asked * share[:, None],
    )


def _differ(ramps: Sequence[Ramp], noise: Noise) -> bool:
    """Whether any two ramps are farther apart than noise and joining allow."""
    from scipy.stats import chi2

    widest = max(ramps, key=lambda ramp: ramp.signal[-1])
    curve = ToneReading(0.0, widest.signal, widest.light).curve()
    for ramp in ramps:
        shared = (ramp.signal >= COMPARED) & (ramp.signal >= widest.signal[0])
        if ramp is widest or not shared.any():
            continue
        there = light_from_pq(curve.signal(ramp.signal[shared]))
        off = np.log(ramp.light[shared] / there)
        scatter = 2 * noise.of(there) ** 2 + JOINING**2
        if (off**2 / scatter).sum() > chi2.ppf(DIFFERENT, int(shared.sum())):
            return True
    return False


def _closed(ramp: Ramp, lamp: Lamp, readings: Readings) -> ToneReading:
    """The ramp with black at its start, and at signal 1 the white that windows were read with."""
    signal, light = ramp.signal.tolist(), ramp.light.tolist()
    if signal[0] > 0:
        signal, light = [0.0, *signal], [0.0, *light]
    whites = [r.stimulus for r in readings.of("window") if min(r.stimulus.level) == 1]
    same = any(ramp.mastering_peak in (0.0, white.mastering_peak) for white in whites)
    if same and signal[-1] < 1:
        signal, light = [*signal, 1.0], [*light, lamp.open_cdm2]
    return ToneReading(ramp.mastering_peak, numbers(signal), numbers(light))


def _numbers(ramp: Ramp, index: int) -> list[Number]:
    shift = 1 if ramp.signal[0] > 0 else 0
    return [
        Number(
            f"tone.curve#{index}.light#{n + 1 + shift}", value, min(low, value), max(high, value)
        )
        for n, (value, (low, high)) in enumerate(
            zip(ramp.light.tolist(), ramp.interval.tolist(), strict=True)
        )
    ]
