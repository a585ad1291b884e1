"""Doubts about numbers that are possible but unlikely: swapped columns, wrong units, slips.

Nothing is corrected: every doubt says what it saw, where, and what it may mean.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from emulate.colorimetry import D65, uv_from_xy, xy_from_xyz, xyz_from_rgb
from emulate.errors import Caveat
from emulate.readings.columns import FOOT_LAMBERT
from emulate.readings.readings import Reading, Repeats, gathered
from emulate.transfer import light_from_pq
from emulate.values import Numbers, numbers

LOCUS: Numbers = numbers(  # CIE 1931 2° observer, CIE 018:2019 table 6, as in colour-science
    [
        (0.1741, 0.0050),  # 380 nm
        (0.1714, 0.0051),  # 420 nm
        (0.1644, 0.0109),  # 440 nm
        (0.1566, 0.0177),  # 450 nm
        (0.1440, 0.0297),  # 460 nm
        (0.1355, 0.0399),  # 465 nm
        (0.1241, 0.0578),  # 470 nm
        (0.1096, 0.0868),  # 475 nm
        (0.0913, 0.1327),  # 480 nm
        (0.0687, 0.2007),  # 485 nm
        (0.0454, 0.2950),  # 490 nm
        (0.0235, 0.4127),  # 495 nm
        (0.0082, 0.5384),  # 500 nm
        (0.0039, 0.6548),  # 505 nm
        (0.0139, 0.7502),  # 510 nm
        (0.0273, 0.7921),  # 513 nm
        (0.0453, 0.8194),  # 516 nm
        (0.0667, 0.8323),  # 519 nm
        (0.0899, 0.8333),  # 522 nm
        (0.1142, 0.8262),  # 525 nm
        (0.1547, 0.8059),  # 530 nm
        (0.1929, 0.7816),  # 535 nm
        (0.2296, 0.7543),  # 540 nm
        (0.3016, 0.6923),  # 550 nm
        (0.3731, 0.6245),  # 560 nm
        (0.4441, 0.5547),  # 570 nm
        (0.5125, 0.4866),  # 580 nm
        (0.5752, 0.4242),  # 590 nm
        (0.6270, 0.3725),  # 600 nm
        (0.6658, 0.3340),  # 610 nm
        (0.6915, 0.3083),  # 620 nm
        (0.7190, 0.2809),  # 640 nm
        (0.7347, 0.2653),  # 700 nm
    ]
)
OUTSIDE = 0.003  # in xy beyond the locus, ours: meters are no better
FALL = 0.03  # share that a ramp may fall from one level to the next, ours
APART = 0.20  # share that repeats may lie apart, ours
STRAY = 5.0  # factor between neighbours that smells of a slipped decimal sign, ours
NEAR = 0.12  # share within which a ratio is taken for a wrong unit, ours
SWAP_GAIN = 0.5  # columns are called swapped where that halves the distance in xy, ours
SWAP_LEAST = 0.01  # and wins at least so much in xy, ours
SCALES = {  # measured over asked, and what it may mean
    1 / FOOT_LAMBERT: "foot-lamberts instead of cd/m²",
    FOOT_LAMBERT: "converted from foot-lamberts twice",
    0.01: "per cent or a decimal sign two places off",
    100.0: "a decimal sign two places off",
    0.1: "a decimal sign one place off",
    10.0: "a decimal sign one place off",
    0.001: "kcd/m², or a separator of thousands read as a decimal sign",
    1000.0: "mcd/m², or a decimal sign read as a separator of thousands",
}
DARK = 0.05  # cd/m² asked, ours: below, panels and meters differ too much to compare
BLACK_AT_MOST = 1.0  # cd/m² that a dark screen may have in a dark room, ours
ORDERS = {
    (1, 0, 2): "x and y (or X and Y) seem to be swapped",
    (2, 1, 0): "X and Z seem to be swapped",
    (0, 2, 1): "Y and Z seem to be swapped",
    (1, 2, 0): "X, Y, Z seem to stand in another order",
    (2, 0, 1): "X, Y, Z seem to stand in another order",
}


def doubts_of(readings: Sequence[Reading]) -> tuple[Caveat, ...]:
    """Every doubt about a session, as caveats that name file and line."""
    plain = [r for r in readings if r.angle == 0 and r.room_lux == 0]
    checks = (_apart, _falling, _scaled, _stray, _lit_black, _outside, _swapped, _other_diagram)
    return tuple(caveat for check in checks for caveat in check(plain))


def asked_xyz(reading: Reading) -> Numbers:
    """XYZ [cd/m²] that the signal under the spot asks for."""
    return xyz_from_rgb(light_from_pq(reading.stimulus.signal_at(reading.spot)))


def _asked(reading: Reading) -> float:
    return float(asked_xyz(reading)[1])


def _apart(readings: Sequence[Reading]) -> Iterator[Caveat]:
    for group in gathered(readings):
        low, high = float(group.luminance.min()), float(group.luminance.max())
        if high > (1 + APART) * low and high > DARK:
            lines = ", ".join(str(r.source.line) for r in group.readings)
            text = f"repeats lie apart, {low:g} to {high:g} cd/m² (lines {lines})"
            yield Caveat(str(group.readings[0].source), text)


def _falling(readings: Sequence[Reading]) -> Iterator[Caveat]:
    ramps: dict[tuple[float, float], list[Repeats]] = {}
    for group in gathered([r for r in readings if r.stimulus.kind in ("ramp", "near_black")]):
        key = (group.stimulus.mastering_peak, group.stimulus.value)
        ramps.setdefault(key, []).append(group)
    for ramp in ramps.values():
        highest = 0.0
        for group in sorted(ramp, key=lambda each: each.stimulus.level):
            if group.mean < (1 - FALL) * highest and highest > DARK:
                text = f"light falls from {highest:g} to {group.mean:g} cd/m² as the signal rises"
                yield Caveat(str(group.readings[0].source), text)
            highest = max(highest, group.mean)


def _scaled(readings: Sequence[Reading]) -> Iterator[Caveat]:
    """Middle greys far from what is asked, all by one factor."""
    greys = [r for r in readings if r.stimulus.kind in ("ramp", "drift", "uniformity")]
    ratios = [r.luminance / _asked(r) for r in greys if 1 <= _asked(r) <= 100]
    if not ratios:
        return
    ratio = float(np.median(ratios))
    near = [text for scale, text in SCALES.items() if abs(ratio / scale - 1) < NEAR]
    if near or not 0.4 < ratio < 2.5:
        meaning = near[0] if near else "unit, mode of the panel, signal range"
        text = f"middle greys measure {ratio:.3g} times what is asked; {meaning}?"
        yield Caveat(greys[0].source.path, text)


def _stray(readings: Sequence[Reading]) -> Iterator[Caveat]:
    """A reading far from its neighbours in the same kind, measured over asked."""
    kinds: dict[tuple[str, float], list[tuple[float, float, float, Reading]]] = {}
    for index, reading in enumerate(readings):
        asked = _asked(reading)
        if asked >= DARK:
            key = (reading.stimulus.kind, reading.stimulus.mastering_peak)
            entry = (asked, reading.stimulus.value, float(index), reading)
            kinds.setdefault(key, []).append(entry)
    for entries in kinds.values():
        ordered = sorted(entries, key=lambda entry: entry[:3])
        ratios = np.array([reading.luminance / asked for asked, _, _, reading in ordered])
        for index, (_, _, _, reading) in enumerate(ordered):
            around = np.r_[ratios[max(index - 2, 0) : index], ratios[index + 1 : index + 3]]
            if (
                len(around)
                and not 1 / STRAY < _over(ratios[index], float(np.median(around))) < STRAY
            ):
                text = f"{reading.luminance:g} cd/m² is far from its neighbours; a decimal sign?"
                yield Caveat(str(reading.source), text)


def _over(value: float, other: float) -> float:
    """Their ratio, with 1 for two zeros."""
    return (value + 1e-12) / (other + 1e-12)


def _lit_black(readings: Sequence[Reading]) -> Iterator[Caveat]:
    for reading in readings:
        if reading.stimulus.kind == "black" and reading.luminance > BLACK_AT_MOST:
            text = f"black at {reading.luminance:g} cd/m² in a dark room; is room light on?"
            yield Caveat(str(reading.source), text)


def _outside(readings: Sequence[Reading]) -> Iterator[Caveat]:
    for reading in readings:
        if reading.xy and reading.luminance >= DARK and _beyond_locus(reading.xy) > OUTSIDE:
            x, y = reading.xy
            text = f"x = {x:.4f}, y = {y:.4f} lies outside the spectrum locus: no light has it"
            yield Caveat(str(reading.source), text)


def _beyond_locus(xy: tuple[float, float]) -> float:
    """Distance in xy by which a chromaticity lies outside the locus and the purple line."""
    along = np.roll(LOCUS, -1, axis=0) - LOCUS
    off = np.array(xy) - LOCUS
    side = along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]
    return float((side / np.hypot(along[:, 0], along[:, 1])).max())


def _swapped(readings: Sequence[Reading]) -> Iterator[Caveat]:
    """Columns of colour that fit what was asked better in another order, all or in one row."""
    coloured = [r for r in readings if r.xyz and r.xy and _asked(r) >= DARK]
    if not coloured:
        return
    measured = np.array([r.xyz for r in coloured])
    asked = xy_from_xyz(np.array([asked_xyz(r) for r in coloured]))
    orders = [(0, 1, 2), *ORDERS]
    far = np.array([np.hypot(*(xy_from_xyz(measured[:, o]) - asked).T) for o in orders])
    best = int(np.median(far, axis=1).argmin())
    if best and _is_swapped(np.median(far, axis=1), best, SWAP_GAIN, SWAP_LEAST):
        yield Caveat(
            coloured[0].source.path, f"{ORDERS[orders[best]]}; all rows were read as named"
        )
        return
    for reading, row in zip(coloured, far.T, strict=True):
        best = int(row.argmin())
        if best and reading.luminance >= 1 and _is_swapped(row, best, 0.4, SWAP_LEAST):
            yield Caveat(str(reading.source), f"{ORDERS[orders[best]]}; read as named")


def _is_swapped(far: Numbers, best: int, gain: float, least: float) -> bool:
    return bool(far[best] < gain * far[0] and far[0] - far[best] > least)


def _other_diagram(readings: Sequence[Reading]) -> Iterator[Caveat]:
    """Greys so far from D65 that u′, v′ may have been written as x, y."""
    greys = [r for r in readings if r.xy and len(set(r.stimulus.signal_at(r.spot))) == 1]
    lit = np.array([r.xy for r in greys if r.luminance >= 1]).reshape(-1, 2)
    if not len(lit):
        return
    middle = np.median(lit, axis=0)
    if np.hypot(*(middle - D65)) > 0.06:
        text = f"greys lie at x = {middle[0]:.4f}, y = {middle[1]:.4f}, far from D65"
        meant = np.hypot(*(middle - uv_from_xy(D65))) < 0.03
        yield Caveat(greys[0].source.path, text + ("; are these u′, v′?" if meant else ""))
