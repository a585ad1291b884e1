"""A panel and a meter in plain numpy, written from the printed model alone (physics §1 to §7).

Nothing of `emulate.panel` or `emulate.rendering` is used: what a fit finds is held against numbers
that this file was given. Pictures are painted pixel by pixel and blurred by sums of images.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.special import erf

from emulate.readings.readings import Reading, Readings, Source
from emulate.readings.stimulus import Stimulus

WHITE_XY = (0.3127, 0.3290)
BT2020_XY = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))


@dataclass
class Truth:
    """Numbers of a panel, named as in the printed model."""

    L_open: float
    rows: int
    columns: int
    n: int = 4
    a: float = 1.0
    gamma: float = 1.0
    cut: float = 0.0
    u_min: float = 0.0
    w: float = 0.0
    omega: tuple[float, ...] = (1.0,)
    sigma: tuple[float, ...] = (0.1,)
    load: tuple[float, ...] = (0.0, 1.0)
    gain: tuple[float, ...] = (1.0, 1.0)
    CR: float = 3000.0
    kappa: float = 1.0
    tone: Callable[[np.ndarray, float], np.ndarray] | None = None
    red: tuple[float, float] = BT2020_XY[0]
    green: tuple[float, float] = BT2020_XY[1]
    blue: tuple[float, float] = BT2020_XY[2]
    white: tuple[float, float] = WHITE_XY
    q: Callable[[np.ndarray, int], np.ndarray] | None = None
    U: Callable[[float, float], float] | None = None
    rho: float = 0.0
    gain_at: Callable[[float], float] | None = None
    CR_at: Callable[[float], float] | None = None
    self_emissive: bool = False
    seen: dict = field(default_factory=dict, repr=False)


def pq_light(signal):
    """ST 2084 EOTF."""
    m1, m2 = 2610 / 16384, 2523 / 32
    c1, c2, c3 = 3424 / 4096, 2413 / 128, 2392 / 128
    p = np.asarray(signal, dtype=float) ** (1 / m2)
    return 10000 * (np.maximum(p - c1, 0) / (c2 - c3 * p)) ** (1 / m1)


def pq_signal(light):
    """Inverse of the above."""
    m1, m2 = 2610 / 16384, 2523 / 32
    c1, c2, c3 = 3424 / 4096, 2413 / 128, 2392 / 128
    y = (np.asarray(light, dtype=float) / 10000) ** m1
    return ((c1 + c2 * y) / (1 + c3 * y)) ** m2


def to_xyz(primaries, white):
    """SMPTE RP 177: RGB to XYZ, white at Y = 1."""
    columns = np.array([[x / y, 1.0, (1 - x - y) / y] for x, y in primaries]).T
    target = np.array([white[0] / white[1], 1.0, (1 - white[0] - white[1]) / white[1]])
    return columns * np.linalg.solve(columns, target)


def painted(stimulus: Stimulus, patches) -> tuple[np.ndarray, np.ndarray]:
    """Colours of reference light (k, 3), and which of them each pixel has (h, w)."""
    colours = {stimulus.background: 0}
    picture = np.zeros(stimulus.shape, dtype=int)
    for p in patches:
        index = colours.setdefault(p.signal, len(colours))
        picture[p.top : p.top + p.height, p.left : p.left + p.width] = index
    return pq_light(np.array(list(colours))), picture


def zone_drive(g: np.ndarray, t: Truth) -> np.ndarray:
    """Drive of each zone, reach included (rows, columns)."""
    h, w = g.shape
    u = np.zeros((t.rows, t.columns))
    for r in range(t.rows):
        for c in range(t.columns):
            box = g[r * h // t.rows : (r + 1) * h // t.rows]
            box = box[:, c * w // t.columns : (c + 1) * w // t.columns]
            peak = 0.0
            if box.max() > 0:
                down, across = np.arange(0, box.shape[0], t.n), np.arange(0, box.shape[1], t.n)
                sums = np.add.reduceat(np.add.reduceat(box, down, axis=0), across, axis=1)
                high = np.diff(np.append(down, box.shape[0]))
                wide = np.diff(np.append(across, box.shape[1]))
                peak = (sums / np.outer(high, wide)).max()
            s = t.a * peak + (1 - t.a) * box.mean()
            u[r, c] = 0.0 if s <= t.cut else max(t.u_min, s**t.gamma)
    v = u.copy()
    for r in range(t.rows):
        for c in range(t.columns):
            near = u[max(r - 1, 0) : r + 2, max(c - 1, 0) : c + 2]
            v[r, c] = max(u[r, c], t.w * near.max())
    return v


def profile(count: int, extent: int, height: int, sigma: float, at: float) -> np.ndarray:
    """Light of each of `count` boxes at pixel centre `at` [px], walls as mirrors, sum one."""
    x, size = (at + 0.5) / height, extent / height
    edges = np.array([k * extent // count for k in range(count + 1)]) / height
    reach = max(3, math.ceil(9 * sigma / size) + 1)
    total = np.zeros(count)
    for m in range(-reach, reach + 1):
        for seat in (x, -x):
            moved = (edges - seat + 2 * m * size) / (sigma * math.sqrt(2))
            total += 0.5 * np.diff(erf(moved))
    return total / total.sum()


def shown(t: Truth, stimulus: Stimulus, spot, angle=0.0, lux=0.0) -> np.ndarray:
    """XYZ (3,) [cd/m²] under the meter."""
    h, w = stimulus.shape
    row, column = min(int(spot[1] * h), h - 1), min(int(spot[0] * w), w - 1)
    out_matrix = to_xyz((t.red, t.green, t.blue), t.white)
    p, v, load = _asked(t, stimulus)
    p = p[row, column]
    gain = float(PchipInterpolator(t.load, t.gain)(min(load, 1.0)))
    if t.self_emissive:
        behind, leak = t.L_open * gain, 0.0
    else:
        lit = 0.0
        for weight, sigma in zip(t.omega, t.sigma, strict=True):
            down = profile(t.rows, h, h, sigma, row)
            across = profile(t.columns, w, h, sigma, column)
            lit += weight * float(down @ v @ across)
        behind = t.L_open * gain * lit
        leak = 1 / (t.CR_at(angle) if t.CR_at and angle else t.CR)
    known = (behind / gain) ** t.kappa * t.L_open ** (1 - t.kappa)
    share = np.clip(p / known, leak, 1.0) if known > 0 else np.zeros(3)
    e = share * behind
    if t.q is not None:
        e = np.array([e[c] * float(t.q(e[c], c)) for c in range(3)])
    if t.U is not None:
        e = e * t.U(*spot)
    if angle and t.gain_at:
        e = e * t.gain_at(angle)
    d65 = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
    return out_matrix @ e + t.rho * lux / math.pi * d65


def _asked(t: Truth, stimulus: Stimulus):
    """Asked light, drives and load of a picture; kept, since spots share it."""
    key = (stimulus.background, stimulus.patches, stimulus.shape, stimulus.mastering_peak)
    if key not in t.seen:
        t.seen.clear()
        t.seen[key] = _asking(t, stimulus, stimulus.patches)
    return t.seen[key]


def _asking(t: Truth, stimulus: Stimulus, patches):
    light, picture = painted(stimulus, patches)
    m = light.max(axis=-1)
    kept = np.minimum(m, 10000.0)
    curve = t.tone(kept, stimulus.mastering_peak) if t.tone else np.minimum(kept, t.L_open)
    toned = light * np.where(m > 0, curve / np.where(m > 0, m, 1), 0.0)[:, None]
    into = np.linalg.inv(to_xyz((t.red, t.green, t.blue), WHITE_XY)) @ to_xyz(BT2020_XY, WHITE_XY)
    p = np.clip(toned @ into.T, 0.0, t.L_open)
    p[p < 1e-9] = 0.0
    if t.self_emissive:
        return p[picture], None, float((p.mean(axis=-1) / t.L_open)[picture].mean())
    v = zone_drive((p.max(axis=-1) / t.L_open)[picture], t)
    return p[picture], v, float(v.mean())


def session(t: Truth, looks, rng, noise=0.02, floor=1e-4, lux=200.0, colour_noise=None) -> Readings:
    """Every look of a plan that is a single reading, with relative noise; below floor, 0.

    colour_noise: relative noise of X and Z against Y, None = a tenth of `noise`.
    """
    fine = noise / 10 if colour_noise is None else colour_noise
    readings = []
    for line, look in enumerate(looks, start=2):
        if look.quantity != "light":
            continue
        room = lux if look.lit_room else 0.0
        xyz = shown(t, look.stimulus, look.spot, look.angle, room)
        off = 1 + noise * rng.standard_normal()
        xyz = xyz * off * (1 + fine * rng.standard_normal(3) * np.array([1, 0, 1]))
        lost = xyz[1] < floor
        readings.append(
            Reading(
                look.stimulus,
                0.0 if lost else float(xyz[1]),
                Source("session.csv", line),
                None if lost else tuple(xyz.tolist()),
                look.spot,
                look.angle,
                room,
                10.0 * line,
                look.repeat,
            )
        )
    return Readings(tuple(readings), panel="simulated")


def traced(t: Truth, stimulus: Stimulus, attack: float, decay: float, times, rng, noise=0.01):
    """Light [cd/m²] at the middle over `times` [s] for a stepping stimulus, drives on their way."""
    h, w = stimulus.shape
    light, v, aim, before, known = [], None, None, 0.0, {}
    down = [profile(t.rows, h, h, sigma, h // 2) for sigma in t.sigma]
    across = [profile(t.columns, w, h, sigma, w // 2) for sigma in t.sigma]
    for time in times:
        lit = stimulus.patches_at(time)
        if lit not in known:
            known[lit] = _asking(t, stimulus, lit)
        p, target, _ = known[lit]
        v, aim = (target.copy(), target) if v is None else (v, aim)
        up, back = (1 - math.exp(-(time - before) / tau) for tau in (attack, decay))
        v = v + np.where(aim > v, up, back) * (aim - v)
        before, aim = time, target
        gain = float(PchipInterpolator(t.load, t.gain)(min(float(target.mean()), 1.0)))
        parts = zip(t.omega, down, across, strict=True)
        behind = t.L_open * gain * sum(o * float(d @ v @ a) for o, d, a in parts)
        share = np.clip(p[h // 2, w // 2].max() / (behind / gain), 1 / t.CR, 1) if behind else 0.0
        light.append(share * behind * (1 + noise * rng.standard_normal()))
    return np.array(light)
