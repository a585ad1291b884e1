"""Panels drawn at random from wide ranges, and what a fit found of one beside what it was."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from tests.twins.simulator import BT2020_XY, Truth, pq_light, pq_signal, to_xyz

P3_XY = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))  # SMPTE RP 431-2


def drawn(rng: np.random.Generator) -> Truth:
    """A panel with zones. Ranges: from budget to flagship, wider than any panel we know of."""
    rows = int(rng.integers(4, 11))
    columns = int(rng.integers(rows, 2 * rows + 5))
    L_open = float(np.exp(rng.uniform(np.log(400), np.log(3000))))
    sigma = rng.uniform(0.45, 1.2) / rows
    second = rng.uniform(0.06, 0.4)
    bend, end = rng.uniform(0.15, 0.5), rng.uniform(0.35, 0.6)
    g1 = rng.uniform(0.85, 1.0)
    mix = rng.uniform(0, 1)
    primaries = [tuple(mix * np.array(a) + (1 - mix) * np.array(b))
                 for a, b in zip(P3_XY, BT2020_XY, strict=True)]  # fmt: skip
    white = (0.3127 + rng.uniform(-0.008, 0.008), 0.3290 + rng.uniform(-0.008, 0.008))
    dim = rng.uniform(0, 0.4, 2)
    drop = rng.uniform(0.2, 0.6)
    CR = float(np.exp(rng.uniform(np.log(800), np.log(8000))))
    return Truth(
        L_open,
        rows,
        columns,
        a=rng.uniform(0.3, 1.0),
        gamma=rng.uniform(0.5, 1.2),
        w=rng.uniform(0.0, 0.4),
        omega=(1 - second, second),
        sigma=(sigma, sigma * rng.uniform(3.0, 6.0)),
        load=(0.0, bend, 1.0),
        gain=(1.0, g1, g1 * end / 0.6),
        CR=CR,
        tone=_tone(L_open, rng.uniform(0.5, 0.9), rng.uniform(1.0, 1.25)),
        red=primaries[0],
        green=primaries[1],
        blue=primaries[2],
        white=white,
        q=_balance(rng.uniform(-0.06, 0.06, 3), to_xyz(primaries, white)[1]),
        U=lambda x, y: 1 - dim[0] * (x - 0.5) ** 2 - dim[1] * (y - 0.5) ** 2,
        rho=rng.uniform(0.003, 0.03),
        gain_at=lambda angle: 1 - drop * angle / 60,
        CR_at=lambda angle: CR / (1 + angle / 15),
    )


def _balance(tilt: np.ndarray, weights: np.ndarray):
    """Channel over intended: 1 where white is read, and 1 everywhere in luminance. How bright grey
    is belongs to the tone curve; without this the two could not be told apart by any reading."""
    at = float(pq_signal(100.0))

    def q(light: float, channel: int) -> float:
        share = 1 + tilt * (float(pq_signal(light)) - at)
        return share[channel] / (weights @ share)

    return q


def _tone(L_open: float, knee: float, reach: float):
    """As mastered up to a knee, then bent to L_open at a signal `reach` times its own."""
    top = float(pq_signal(L_open))
    start, end = knee * top, min(reach * top, 1.0)
    points = [0.0, 0.5 * start, start, end, 1.1] if end < 1 else [0.0, 0.5 * start, start, 1.0]
    values = [0.0, 0.5 * start, start, top, top][: len(points)]
    curve = PchipInterpolator(points, values)

    def tone(light: np.ndarray, _peak: float) -> np.ndarray:
        shown = pq_light(curve(np.minimum(pq_signal(light), 1.0)))
        return np.where(light > 0, np.minimum(shown, L_open), 0.0)

    return tone


@dataclass
class Found:
    """One fitted number: its family, the truth, what was found, and its interval."""

    family: str
    key: str
    truth: float
    value: float
    low: float
    high: float

    @property
    def inside(self) -> bool:
        return self.low - 1e-9 <= self.truth <= self.high + 1e-9

    @property
    def error(self) -> float:
        return abs(self.value / self.truth - 1) if self.truth else abs(self.value)


def compared(t: Truth, panel, times=(0.0, 0.0)) -> list[Found]:
    """Every number with an interval in panel.fit beside the truth."""
    document = _document(panel)
    found = []
    for key, (low, high) in panel.fit["interval"].items():
        truth = _truth(t, panel, key, times)
        if truth is not None:
            family = re.sub(r"#\d+", "", key)
            if family.startswith(("primaries", "tracking")):
                family = family.split(".")[0]
            found.append(Found(family, key, truth, _at(document, key), low, high))
    return found


def _document(panel):
    from emulate.panel.file import document_from_panel

    return document_from_panel(panel)


def _at(document, key: str) -> float:
    place = document
    for part in re.findall(r"[^.#]+|#\d+", key):
        place = place[int(part[1:]) - 1] if part.startswith("#") else place[part]
    return float(place)


def _truth(t: Truth, panel, key: str, times) -> float | None:
    name = re.sub(r"#\d+", "", key)
    n = [int(i) - 1 for i in re.findall(r"#(\d+)", key)]
    order = np.argsort(t.sigma)
    two = len(panel.spread.sigma_h) == 2
    plain = {
        "light.open_cdm2": t.L_open,
        "cell.contrast": t.CR,
        "zones.rows": t.rows,
        "zones.columns": t.columns,
        "zones.peak_weight": t.a,
        "zones.gamma": t.gamma,
        "zones.reach": t.w,
        "zones.attack_s": times[0],
        "zones.decay_s": times[1],
        "surface.reflectance": t.rho,
    }
    if name in plain:
        return plain[name]
    if name == "spread.sigma_h":
        return t.sigma[order[n[0]]] if two else t.sigma[0]
    if name == "spread.weight":
        return t.omega[order[n[0]]]
    if name == "limiter.gain":
        return float(PchipInterpolator(t.load, t.gain)(panel.limiter.load[n[0]]))
    if name.startswith("primaries"):
        return float(getattr(t, name.split(".")[1])[n[0]])
    if name.startswith("tracking"):
        level = panel.tracking.level[n[0]]
        channel = ("red", "green", "blue").index(name.split(".")[1])
        return float(t.q(level, channel))
    if name.startswith("angles"):
        angle = float(panel.angles.degree[n[0]])
        return t.gain_at(angle) if name.endswith("gain") else t.CR_at(angle)
    if name.startswith("uniformity"):
        rows, columns = panel.uniformity.grid.shape
        return t.U((n[1] + 0.5) / columns, (n[0] + 0.5) / rows) / t.U(0.5, 0.5)
    if name.startswith("tone.curve"):
        light = pq_light(panel.tone.curves[n[0]].signal[n[1]])
        return float(t.tone(np.array([light]), 0.0)[0])
    return None
