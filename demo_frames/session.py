"""A session with the meter: readings of an invented set, made in plain numpy from a recipe.

Nothing of the emulator's model is used, so that a fit has something to find and something to miss:
the set warms up by 1.6 % over the session, its zones differ from one another by 2 % (which the
model of a panel does not know), and the meter adds noise. `python -m emulate.demo_frames.session`
writes the files in `readings` anew, to the byte.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from emulate.outputs import folder, write_text
from emulate.readings.patterns.families import FAMILIES
from emulate.readings.patterns.plan import Look, PatternSet, pattern_set
from emulate.readings.sheet import COLUMNS, sheet_text, trace_text
from emulate.readings.stimulus import Patch, Stimulus
from emulate.values import Numbers

NAME = "Marl"
PLACE = Path(__file__).parent / "readings"
SEED = 311  # any number
SHAPE = (1080, 1920)
PEAKS = (1000, 4000)  # cd/m²: mastering peaks shown
LEFT_OUT = ("chart140",)  # a reviewer has one day

# The set. Numbers are invented; symbols are those of physics §3 to §7.
L_OPEN = 1180.0  # cd/m²
ROWS, COLUMNS_OF_ZONES = 9, 16
GRAIN, PEAK_WEIGHT, GAMMA, REACH = 4, 0.62, 0.8, 0.18
WEIGHTS, SIGMAS = (0.82, 0.18), (0.065, 0.32)  # picture heights
LIMITER = ((0.0, 0.2, 0.4, 0.6, 0.8, 1.0), (1.0, 1.0, 0.95, 0.86, 0.77, 0.7))  # load, gain
CONTRAST = 4600.0
KNEE = 520.0  # cd/m² from where tones are rolled off
RED, GREEN, BLUE = (0.676, 0.318), (0.268, 0.683), (0.152, 0.059)
WHITE = (0.3104, 0.3262)  # a little blue
ROLLED = {15.0: (0.96, 0.72), 30.0: (0.84, 0.38), 45.0: (0.69, 0.2), 60.0: (0.52, 0.12)}
REFLECTANCE = 0.012
ATTACK_S, DECAY_S = 0.09, 0.42
CORNER_FALL = 0.13  # share of light that a corner lacks

# What the model lacks, and the meter.
ZONE_SCATTER = 0.02
WARMING, WARM_S = 0.016, 2400.0  # share still missing at the start, time constant [s]
NOISE, FLOOR = 0.012, 0.0006  # relative, and cd/m²
COLOUR_NOISE = 0.0008  # of x and y
LAMP_LUX = 180.0  # the room's lamp, where the sheet asks for it
START = 9 * 3600 + 42 * 60  # the clock at the first reading [s]


@dataclass(frozen=True)
class Asked:
    """What a picture calls for: light a channel (k, 3) [cd/m²] of k colours, drives and load."""

    light: dict[tuple[float, float, float], Numbers]
    drive: Numbers
    load: float


def write_session(place: Path = PLACE) -> list[Path]:
    """The filled sheet and the trace of the switched window, as a reviewer would hand them in."""
    patterns = pattern_set(
        shape=SHAPE, peaks=PEAKS, families=[f for f in FAMILIES if f not in LEFT_OUT]
    )
    step = next(s for s in patterns.stimuli if s.kind == "step")
    sheet = write_text(folder(place) / "sheet.csv", filled_sheet(patterns))
    return [sheet, write_text(folder(place) / "step.csv", filled_trace(patterns, step))]


def filled_sheet(patterns: PatternSet, looks: int | None = None) -> str:
    """The sheet with what the meter said; `looks`: of the first few rows only."""
    rng = np.random.default_rng(SEED)
    head, body = sheet_text(patterns).replace("# panel: ", f"# panel: {NAME}").split("\nstimulus,")
    rows = list(csv.DictReader(f"stimulus,{body}".splitlines()))
    clock, done = float(START), []
    for row, look in list(zip(rows, patterns.looks, strict=True))[:looks]:
        clock += 9.0 + 25.0 * (look.spot != (0.5, 0.5)) + 60.0 * (look.angle > 0 or look.lit_room)
        done.append({**row, **_filled(look, clock, rng)})
    lines = [",".join(COLUMNS), *(",".join(_quoted(row[c]) for c in COLUMNS) for row in done)]
    return head + "\n" + "\n".join(lines) + "\n"


def filled_trace(patterns: PatternSet, stimulus: Stimulus) -> str:
    """What a logger of 50 samples a second said while a window was switched."""
    rng = np.random.default_rng([SEED, 1])
    times = np.arange(0.0, stimulus.duration_s, 0.02)
    light = traced(stimulus, times) * (1 + 0.006 * rng.standard_normal(times.size))
    lines = [f"{t:.2f},{max(y, 0.0):.4f}" for t, y in zip(times, light, strict=True)]
    return trace_text(patterns, stimulus) + "\n".join(lines) + "\n"


def _quoted(cell: str) -> str:
    return f'"{cell}"' if "," in cell else cell


def _filled(look: Look, clock: float, rng: np.random.Generator) -> dict[str, str]:
    """The cells that a reviewer fills in of one row."""
    noted = {
        "time_hms": f"{int(clock) // 3600:02d}:{int(clock) // 60 % 60:02d}:{int(clock) % 60:02d}"
    }
    if look.quantity == "trace":
        return {"notes": "logged" if look.stimulus.kind == "step" else "not logged"}
    if look.quantity == "switch_overs":
        across = look.stimulus.axis == "horizontal"
        return noted | {"switch_overs": str((COLUMNS_OF_ZONES if across else ROWS) - 1)}
    lux = LAMP_LUX if look.lit_room else 0.0
    xyz = light_at(look.stimulus, look.spot, look.angle, lux)
    xyz = xyz * (1 - WARMING * math.exp(-(clock - START) / WARM_S))
    read = xyz[1] * (1 + NOISE * rng.standard_normal()) + FLOOR * rng.standard_normal()
    xy = xyz[:2] / max(xyz.sum(), 1e-12) + COLOUR_NOISE * rng.standard_normal(2)
    cells = noted | {"luminance_cdm2": f"{max(read, 0.0):.5g}" if read >= FLOOR else "0"}
    if read > 0.02:  # below, a meter shows no colour
        cells |= {"x": f"{xy[0]:.4f}", "y": f"{xy[1]:.4f}"}
    return cells | ({"room_lux": f"{lux:.0f}"} if lux else {})


def light_at(
    stimulus: Stimulus, spot: tuple[float, float], angle: float = 0.0, lux: float = 0.0
) -> Numbers:
    """XYZ (3,) [cd/m²] under the meter, settled and warm."""
    height, width = stimulus.shape
    row, column = int(spot[1] * height), int(spot[0] * width)
    asked = _asked(stimulus.background, stimulus.patches, stimulus.shape)
    gain, ratio = ROLLED.get(angle, (1.0, 1.0))
    limited = float(np.interp(asked.load, *LIMITER))
    behind = L_OPEN * _lit(asked.drive * _scatter(), row, column, stimulus.shape)
    level = asked.light[stimulus.signal_at(spot)]
    leak = 1 / (CONTRAST * ratio)
    opened = np.clip(level / behind, leak, 1.0) if behind > 0 else np.zeros(3)
    shown = opened * behind * limited * _balance(opened * behind) * _evenness(*spot) * gain
    neutral = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
    return np.asarray(_to_xyz(WHITE) @ shown + REFLECTANCE * lux / math.pi * neutral)


def traced(stimulus: Stimulus, times: Numbers) -> Numbers:
    """Light [cd/m²] in the middle over `times` [s] while a stimulus runs."""
    height, width = stimulus.shape
    drive, light, before = np.zeros((ROWS, COLUMNS_OF_ZONES)), [], times[0]
    for time in times:
        asked = _asked(stimulus.background, stimulus.patches_at(time), stimulus.shape)
        tau = np.where(asked.drive > drive, ATTACK_S, DECAY_S)
        drive = drive + (1 - np.exp(-(time - before) / tau)) * (asked.drive - drive)
        before = time
        behind = L_OPEN * _lit(drive * _scatter(), height // 2, width // 2, stimulus.shape)
        level = float(asked.light[stimulus.signal_at((0.5, 0.5), time)].max())
        opened = min(max(level / behind, 1 / CONTRAST), 1.0) if behind > 0 else 0.0
        light.append(opened * behind * float(np.interp(asked.load, *LIMITER)))
    return np.array(light)


@lru_cache(maxsize=4)
def _asked(
    background: tuple[float, float, float], patches: tuple[Patch, ...], shape: tuple[int, int]
) -> Asked:
    """Tone, primaries and zones, on a picture painted pixel by pixel."""
    signals = list(dict.fromkeys([background, *(patch.signal for patch in patches)]))
    light = _channels(_eotf(np.array(signals)))
    picture = np.zeros(shape, dtype=np.intp)
    for patch in patches:
        index = signals.index(patch.signal)
        picture[patch.top : patch.top + patch.height, patch.left : patch.left + patch.width] = index
    drive = _drive((light.max(axis=1) / L_OPEN)[picture])
    return Asked(dict(zip(signals, light, strict=True)), drive, float(drive.mean()))


def _eotf(signal: Numbers) -> Numbers:
    """SMPTE ST 2084."""
    power = signal ** (32 / 2523)
    share = np.maximum(power - 3424 / 4096, 0) / (2413 / 128 - 2392 / 128 * power)
    return np.asarray(10000 * share ** (16384 / 2610))


def _channels(light: Numbers) -> Numbers:
    """BT.2020 light (k, 3) after tone curve and primaries, as the panel's channels."""
    top = np.maximum(light.max(axis=1, keepdims=True), 1e-12)
    over = np.maximum(top - KNEE, 0)
    rolled = np.where(top > KNEE, KNEE + over / (1 + over / (L_OPEN - KNEE)), top)
    master = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))  # ITU-R BT.2020
    into = np.linalg.inv(_to_xyz((0.3127, 0.3290))) @ _to_xyz((0.3127, 0.3290), master)
    return np.asarray(np.clip((light * rolled / top) @ into.T, 0, L_OPEN))


def _to_xyz(
    white: tuple[float, float], corners: Iterable[tuple[float, float]] = (RED, GREEN, BLUE)
) -> Numbers:
    """SMPTE RP 177."""
    columns = np.array([[x / y, 1, (1 - x - y) / y] for x, y in corners]).T
    target = np.array([white[0] / white[1], 1, (1 - white[0] - white[1]) / white[1]])
    return np.asarray(columns * np.linalg.solve(columns, target))


def _drive(wanted: Numbers) -> Numbers:
    """Drive of each zone for wanted light (h, w) as a share of full."""
    height, width = wanted.shape
    drive: Numbers = np.zeros((ROWS, COLUMNS_OF_ZONES))
    for r, c in np.ndindex(drive.shape):
        tall = slice(r * height // ROWS, (r + 1) * height // ROWS)
        wide = slice(c * width // COLUMNS_OF_ZONES, (c + 1) * width // COLUMNS_OF_ZONES)
        zone = wanted[tall, wide]
        if zone.max() > 0:
            share = PEAK_WEIGHT * _brightest(zone) + (1 - PEAK_WEIGHT) * zone.mean()
            drive[r, c] = share**GAMMA
    lit = np.pad(drive, 1)
    around = [lit[r : r + ROWS, c : c + COLUMNS_OF_ZONES] for r in range(3) for c in range(3)]
    return np.asarray(np.maximum(drive, REACH * np.max(around, axis=0)))


def _brightest(zone: Numbers) -> float:
    """Brightest mean over squares of 4 px."""
    tall, wide = (np.arange(0, extent, GRAIN) for extent in zone.shape)
    sums = np.add.reduceat(np.add.reduceat(zone, tall, axis=0), wide, axis=1)
    high, broad = (
        np.diff(starts, append=extent)
        for starts, extent in zip((tall, wide), zone.shape, strict=True)
    )
    return float((sums / np.outer(high, broad)).max())


@lru_cache(maxsize=1)
def _scatter() -> Numbers:
    """Gain of each zone: what no two zones have alike, and no model of ours knows."""
    rng = np.random.default_rng([SEED, 2])
    return np.asarray(1 + ZONE_SCATTER * rng.standard_normal((ROWS, COLUMNS_OF_ZONES)))


def _lit(drive: Numbers, row: int, column: int, shape: tuple[int, int]) -> float:
    """Light behind a pixel over L_open: boxes of light blurred between mirror walls."""
    total = 0.0
    for weight, sigma in zip(WEIGHTS, SIGMAS, strict=True):
        down = _shares(ROWS, shape[0], shape[0], sigma, row)
        across = _shares(COLUMNS_OF_ZONES, shape[1], shape[0], sigma, column)
        total += weight * float(down @ drive @ across)
    return total


def _shares(count: int, extent: int, height: int, sigma: float, at: int) -> Numbers:
    edges = np.array([k * extent // count for k in range(count + 1)]) / height
    place, wall = (at + 0.5) / height, extent / height
    total = np.zeros(count)
    for mirror in range(-6, 7):
        for seat in (place, -place):
            upto = [math.erf((e - seat + 2 * mirror * wall) / (sigma * 2**0.5)) for e in edges]
            total += np.diff(upto) / 2
    return np.asarray(total / total.sum())


def _balance(level: Numbers) -> Numbers:
    """How far each channel strays with its level: warm in the shadows, blue in the lights."""
    depth = np.clip(np.log10(np.maximum(level, 1e-3)), -3, 3) / 3
    return np.asarray(1 + np.array([-0.025, 0.0, 0.03]) * depth)


def _evenness(x: float, y: float) -> float:
    return 1 - CORNER_FALL * ((2 * x - 1) ** 2 + (2 * y - 1) ** 2) / 2


if __name__ == "__main__":
    write_session()
