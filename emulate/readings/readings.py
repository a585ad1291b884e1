"""Readings: each a stimulus, what was measured of it, and where that was written down."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from hashlib import sha256

import numpy as np

from emulate.colorimetry import xy_from_xyz
from emulate.errors import Caveat, place
from emulate.readings.stimulus import Stimulus
from emulate.values import Numbers, Value

CENTRE = (0.5, 0.5)


@dataclass(frozen=True)
class Source:
    """Where a number was written: file and line, counted from 1."""

    path: str
    line: int

    def __str__(self) -> str:
        return place(self.path, self.line)


@dataclass(frozen=True)
class Reading:
    """One look of the meter at one stimulus.

    luminance [cd/m²]. xyz [cd/m²]: where colour was measured, its Y the luminance. spot: where the
    meter looked, x and y as shares of width and height. angle [degree] off the screen's normal.
    room_lux [lux] on the screen. time_s: since the session's first reading, None = not noted.
    """

    stimulus: Stimulus
    luminance: float
    source: Source
    xyz: tuple[float, float, float] | None = None
    spot: tuple[float, float] = CENTRE
    angle: float = 0.0
    room_lux: float = 0.0
    time_s: float | None = None
    repeat: int = 1

    @property
    def xy(self) -> tuple[float, float] | None:
        """Chromaticity, where colour was measured; None of black too."""
        if self.xyz is None or sum(self.xyz) <= 0:
            return None
        x, y = xy_from_xyz(self.xyz)
        return float(x), float(y)

    @property
    def circumstance(self) -> tuple[object, ...]:
        """What two repeats have in common: everything but time, number and result."""
        same = replace(self.stimulus, number=0)
        return (same, self.spot, self.angle, self.room_lux)


@dataclass(frozen=True, eq=False)
class Trace(Value):
    """Light over time while a moving stimulus ran: time_s rising (n,), light [cd/m²] (n,).

    relative: the light is in the logger's own unit, only its shape means anything.
    """

    stimulus: Stimulus
    time_s: Numbers
    light: Numbers
    source: Source
    relative: bool = False


@dataclass(frozen=True)
class SwitchOvers:
    """How often the light around a crawling box was seen to jump to the next zone."""

    stimulus: Stimulus
    count: int
    source: Source


@dataclass(frozen=True, eq=False)
class Repeats(Value):
    """Readings of one stimulus under one circumstance; luminance (n,) cd/m², in order of time."""

    readings: tuple[Reading, ...]
    luminance: Numbers

    @property
    def stimulus(self) -> Stimulus:
        return self.readings[0].stimulus

    @property
    def mean(self) -> float:
        return float(self.luminance.mean())

    @property
    def spread(self) -> float:
        """Sample standard deviation [cd/m²]; NaN of a single reading."""
        return float(self.luminance.std(ddof=1)) if len(self.luminance) > 1 else float("nan")


@dataclass(frozen=True, eq=False)
class Readings(Value):
    """A session with the meter: iterates over its readings.

    traces: light over time. switch_overs: counted by eye. skipped: rows left blank. digest: SHA-256
    of the files it came from. panel: how the reviewer called the set, "" where not said.
    """

    readings: tuple[Reading, ...]
    traces: tuple[Trace, ...] = ()
    switch_overs: tuple[SwitchOvers, ...] = ()
    caveats: tuple[Caveat, ...] = ()
    skipped: int = 0
    digest: str = ""
    panel: str = ""

    def __iter__(self) -> Iterator[Reading]:
        return iter(self.readings)

    def __len__(self) -> int:
        return len(self.readings)

    def of(self, *kinds: str) -> tuple[Reading, ...]:
        """The readings of some kinds of stimulus, in file order."""
        return tuple(reading for reading in self.readings if reading.stimulus.kind in kinds)

    def without(self, *kinds: str) -> Readings:
        """The same session as if some kinds had never been measured."""
        return replace(
            self,
            readings=tuple(r for r in self.readings if r.stimulus.kind not in kinds),
            traces=tuple(t for t in self.traces if t.stimulus.kind not in kinds),
            switch_overs=tuple(s for s in self.switch_overs if s.stimulus.kind not in kinds),
        )

    def repeats(self, *kinds: str) -> tuple[Repeats, ...]:
        """Readings gathered by stimulus and circumstance; all kinds where none is named."""
        chosen = self.of(*kinds) if kinds else self.readings
        return gathered(chosen)

    def joined(self, other: Readings) -> Readings:
        """Both sessions as one."""
        return Readings(
            self.readings + other.readings,
            self.traces + other.traces,
            self.switch_overs + other.switch_overs,
            self.caveats + other.caveats,
            self.skipped + other.skipped,
            sha256((self.digest + other.digest).encode()).hexdigest(),
            self.panel or other.panel,
        )


def gathered(readings: Iterable[Reading]) -> tuple[Repeats, ...]:
    """Readings by stimulus and circumstance, in order of first appearance."""
    groups: dict[tuple[object, ...], list[Reading]] = {}
    for reading in readings:
        groups.setdefault(reading.circumstance, []).append(reading)
    return tuple(
        Repeats(tuple(group), np.array([reading.luminance for reading in group]))
        for group in groups.values()
    )
