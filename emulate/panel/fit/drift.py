"""Drift: warm-up of set and meter, told by one patch shown again and again, and taken out.

The trend of log light over time is a polynomial. A degree must be worth three times what Schwarz's
criterion (Annals of Statistics 6(2), 1978) asks of it, since a trend that is none would be put into
every reading; no degree, no correction. Everything is brought to the end of the
session, when the set is warmest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from emulate.errors import Caveat
from emulate.readings.readings import Reading, Readings
from emulate.values import Numbers

HIGHEST = 3  # degree of the trend, ours
FEWEST = 3  # drift readings, ours
CAUTION = 3.0  # times Schwarz's price of a coefficient, ours: wrong once in 150 sessions


@dataclass(frozen=True, eq=False)
class Drift:
    """Log light of the drift patch over the clock, as coefficients of a polynomial (degree + 1,),
    highest power first, of time scaled to −1..1 over `span`."""

    coefficients: Numbers
    span: tuple[float, float]

    def factor(self, clock: Numbers) -> Numbers:
        """By what readings taken at `clock` (n,) are divided; held outside the drift readings."""
        low, high = self.span
        x = np.clip(2 * (clock - low) / (high - low) - 1, -1, 1)
        level = np.polyval(self.coefficients, x) - np.polyval(self.coefficients, 1.0)
        return np.asarray(np.exp(level))


def steadied(readings: Readings) -> tuple[Readings, tuple[Caveat, ...]]:
    """The readings with drift taken out, and what was done."""
    clock, by_time = _clock(readings)
    trend = _trend(readings, clock)
    if trend is None:
        return readings, ()
    factors = trend.factor(clock)
    pairs = zip(readings.readings, factors.tolist(), strict=True)
    steady = replace(readings, readings=tuple(_scaled(r, 1 / factor) for r, factor in pairs))
    size = float(np.abs(factors - 1).max())
    when = "over time" if by_time else "in the order of the readings, no clock times being noted"
    text = f"drift of {size:.1%} told by the reference patch and taken out, {when}"
    return steady, (Caveat("readings", text),)


def _clock(readings: Readings) -> tuple[Numbers, bool]:
    """When each reading was taken (n,): seconds where all times are noted, else its place."""
    times = [reading.time_s for reading in readings.readings]
    noted = [time for time in times if time is not None]
    if len(noted) == len(times):
        return np.array(noted, dtype=np.float64), True
    return np.arange(len(times), dtype=np.float64), False


def _trend(readings: Readings, clock: Numbers) -> Drift | None:
    at = [n for n, r in enumerate(readings.readings) if _tells(r)]
    when = clock[at]
    if len(at) < FEWEST or np.ptp(when) == 0:
        return None
    span = (float(when.min()), float(when.max()))
    x = 2 * (when - span[0]) / (span[1] - span[0]) - 1
    y = np.log([readings.readings[n].luminance for n in at])
    degree = _degree(x, y)
    return Drift(np.polyfit(x, y, degree), span) if degree else None


def _tells(reading: Reading) -> bool:
    return reading.stimulus.kind == "drift" and reading.luminance > 0


def _degree(x: Numbers, y: Numbers) -> int:
    """The degree that is worth its price; two readings are kept for scatter."""
    count = len(x)
    criteria = []
    for degree in range(min(HIGHEST, count - 3) + 1):
        misfit = float(((y - np.polyval(np.polyfit(x, y, degree), x)) ** 2).mean())
        price = CAUTION * degree * np.log(count)
        criteria.append(count * np.log(max(misfit, 1e-12)) + price)
    return int(np.argmin(criteria)) if criteria else 0


def _scaled(reading: Reading, factor: float) -> Reading:
    xyz = reading.xyz
    scaled = None if xyz is None else (factor * xyz[0], factor * xyz[1], factor * xyz[2])
    return replace(reading, luminance=factor * reading.luminance, xyz=scaled)
