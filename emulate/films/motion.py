"""Motion as shown: what an eye that follows a moving thing sees of it. [ours, after the literature]

A screen that holds each picture while the eye moves on smears it over the retina by the path that
the eye takes meanwhile; flashes shorten that path, and two flashes of one picture show it twice.
The blurred edge width follows the pursuit measurement of VESA FPDM 2.0 and ICDM IDMS (10 to 90 % of
a followed edge; its time BET, and BET / 0.8 as extended, of which MPRT is a mean): from memory.

A panel file says nothing of flashes (emulate-panel/1 has no keys for them): how a picture is put on
show comes with the call, as `Shown`.

Places are given as times, how long the thing takes to get there; times the speed they are px.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike

from emulate.errors import RequestError
from emulate.values import Numbers, Pixels, locked

LOW, HIGH = 0.1, 0.9  # of an edge: VESA FPDM 2.0 and ICDM IDMS, from memory
APART_S = 1e-9  # images closer than this are one
INSTANT_S = 1e-12  # a response quicker than this is none: a millionth of what a meter resolves


@dataclass(frozen=True)
class Shown:
    """How moving pictures are put on show.

    refresh_hz: pictures a second on the screen. hold_share: part of a refresh with light, 1 = all
    of it. strobes: flashes in a refresh that share it; each lies at the end of its part, when the
    pixels have settled most. pixel_s: time constant of a pixel [s], as light comes on and as it
    goes. zone_s: time constant of the light behind an edge that comes into a dark zone [s].
    """

    refresh_hz: float = 60.0
    hold_share: float = 1.0
    strobes: int = 1
    pixel_s: float = 0.0
    zone_s: float = 0.0

    def __post_init__(self) -> None:
        accepted = {
            "refresh_hz": (1.0, 1000.0),
            "hold_share": (0.001, 1.0),
            "strobes": (1, 16),
            "pixel_s": (0.0, 1.0),
            "zone_s": (0.0, 10.0),
        }
        for name in (field.name for field in fields(self)):
            low, high = accepted[name]
            value = getattr(self, name)
            if not low <= value <= high or (name == "strobes" and value != int(value)):
                raise RequestError(f"shown {name} = {value}: accepted is {low:g} to {high:g}")


@dataclass(frozen=True)
class Cadence:
    """Which picture of the content each refresh shows: the newest that is due.

    per_picture: refreshes to a picture of the content, as a fraction; after its numerator of
    refreshes it starts over.
    """

    per_picture: Fraction
    refresh_hz: Fraction

    @property
    def refreshes(self) -> int:
        """Refreshes until it starts over."""
        return self.per_picture.numerator

    @property
    def pictures(self) -> int:
        """Pictures of the content until it starts over."""
        return self.per_picture.denominator

    def first_refresh(self, picture: ArrayLike) -> np.ndarray[tuple[int, ...], np.dtype[np.int64]]:
        """The refresh on which each picture of the content first shows, any shape."""
        counted = np.asarray(picture, np.int64) * self.per_picture.numerator
        return np.asarray(-(-counted // self.per_picture.denominator))

    @property
    def dwell_s(self) -> Numbers:
        """How long each picture of a round stays [s]; 0 for one that is never shown."""
        first = self.first_refresh(np.arange(self.pictures + 1))
        return np.asarray(np.diff(first) / float(self.refresh_hz))


def cadence(rate: float | Fraction, shown: Shown) -> Cadence:
    """How content of `rate` pictures a second falls on the refreshes.

    Raises RequestError for a rate outside 1..1000, or one that takes over 20 000 refreshes to come
    round.
    """
    if not 1 <= rate <= 1000:
        raise RequestError(f"rate = {rate}: accepted is 1 to 1000 pictures a second")
    refresh = _exact(shown.refresh_hz)
    ratio = refresh / _exact(rate)
    if ratio.numerator > 20_000:
        raise RequestError(
            f"{float(rate):g} pictures a second on {shown.refresh_hz:g} Hz come round only after "
            f"{ratio.numerator} refreshes; accepted are up to 20000"
        )
    return Cadence(ratio, refresh)


def lit(rate: float | Fraction, shown: Shown) -> Numbers:
    """Start and end [s] of each flash (n, 2) of one round of the cadence."""
    number = np.arange(cadence(rate, shown).refreshes)[:, None]
    part = np.arange(int(shown.strobes))[None, :] + 1
    end = (number + part / shown.strobes).ravel()
    start = end - shown.hold_share / shown.strobes
    return np.asarray(np.stack([start, end], axis=1) / shown.refresh_hz)


def edge_seen(places_s: ArrayLike, rate: float | Fraction, shown: Shown) -> Numbers:
    """Light of a followed edge, 1 well behind it and 0 well before, at places (n,) [s].

    The mean over a round of the cadence; place 0 is where the edge would be if it moved without
    steps. Never rises with the place.
    """
    at = np.atleast_1d(np.asarray(places_s, dtype=np.float64))
    tempo, flashes = cadence(rate, shown), lit(rate, shown)
    total = np.zeros(len(at))
    for start, end in flashes:
        total += _while_lit(at, start, end, float(_exact(rate)), tempo, shown)
    return np.asarray(total / np.diff(flashes, axis=1).sum())


def _while_lit(
    at: Numbers, start: float, end: float, rate: float, tempo: Cadence, shown: Shown
) -> Numbers:
    """Light at places (n,) summed over one flash, pixel after pixel as the eye passes them.

    A pixel at place X turns bright with the first picture whose edge has come to X; the eye is at
    X = place + time.
    """
    total = np.zeros(len(at))
    first = np.ceil((at + start) * rate - 1e-9).astype(np.int64)
    count = int(np.ceil((end - start) * rate)) + 1
    for picture in (first + k for k in range(count)):
        since = np.clip((picture - 1) / rate - at, start, end)
        until = np.clip(picture / rate - at, start, end)
        turned = tempo.first_refresh(picture) / float(tempo.refresh_hz)
        total += _risen(until - turned, shown) - _risen(since - turned, shown)
    return total


def _risen(age: Numbers, shown: Shown) -> Numbers:
    """Light of a pixel summed from when it turned until `age` (n,) [s] later: both responses
    exponential, their product."""
    age = np.maximum(age, 0.0)
    pixel, zone = shown.pixel_s, shown.zone_s
    both = pixel * zone / (pixel + zone) if pixel and zone else 0.0
    return age - _missing(age, pixel) - _missing(age, zone) + _missing(age, both)


def _missing(age: Numbers, constant_s: float) -> Numbers:
    if constant_s < INSTANT_S:
        return np.zeros_like(age)
    return constant_s * -np.expm1(-age / constant_s)


def edge_time(rate: float | Fraction, shown: Shown) -> float:
    """Time [s] that a followed edge takes from 10 to 90 % of its light: BET."""
    from scipy.optimize import brentq

    ends = _reach(rate, shown)
    at = [
        brentq(lambda place, level=level: float(edge_seen(place, rate, shown)[0]) - level, *ends)
        for level in (HIGH, LOW)
    ]
    return float(at[1] - at[0])


def images_at(rate: float | Fraction, shown: Shown) -> Numbers:
    """Middles of the images that the eye sees of one thing (n,) [s], first one first.

    Flashes of one picture show it again further back; flashes of other pictures that fall on the
    same stretch of the retina belong to the same image.
    """
    tempo = cadence(rate, shown)
    first = tempo.first_refresh(np.arange(tempo.pictures + 1))
    stretches = []
    for start, end in lit(rate, shown):
        refresh = int(np.floor(start * shown.refresh_hz + 1e-6))
        picture = int(np.searchsorted(first, refresh, side="right")) - 1
        due = picture / float(_exact(rate))
        stretches.append((due - end, due - start))
    return np.array([(low + high) / 2 for low, high in reversed(_joined(stretches))])


def _joined(stretches: list[tuple[float, float]]) -> list[tuple[float, float]]:
    joined: list[tuple[float, float]] = []
    for low, high in sorted(stretches):
        if joined and low <= joined[-1][1] + APART_S:
            joined[-1] = (joined[-1][0], max(joined[-1][1], high))
        else:
            joined.append((low, high))
    return joined


def spread_of(rate: float | Fraction, shown: Shown, px_per_s: float) -> Numbers:
    """What the eye makes of a pixel of a thing that moves right: shares (2n + 1,) of its light by
    px, the middle where the pixel would be without steps. They sum to one; of slow pixels and zones
    a tail of a millionth is left out."""
    ends = _reach(rate, shown, settled=14)  # e⁻¹⁴ is 8e-7
    size = int(np.ceil(max(abs(ends[0]), abs(ends[1])) * px_per_s)) + 1
    borders = (np.arange(-size, size + 2) - 0.5) / px_per_s
    shares = -np.diff(edge_seen(borders, rate, shown))
    return np.asarray(shares / shares.sum())


def as_followed(light: Pixels, rate: float | Fraction, shown: Shown, px_per_s: float) -> Pixels:
    """Light (h, w, 3) [cd/m²] of a picture that moves right by px_per_s, as an eye that follows it
    sees it: smeared, doubled, dimmed by the time without light. Beyond its sides it is held.

    Raises RequestError for a speed that is not above 0 or smears it wider than it is.
    """
    from scipy.ndimage import convolve1d

    if not 0 < px_per_s < np.inf:
        raise RequestError(f"speed = {px_per_s} px/s: accepted is above 0")
    smear = edge_time(rate, shown) * px_per_s
    if smear > light.shape[1]:
        raise RequestError(
            f"speed = {px_per_s:g} px/s smears an edge over {smear:.0f} px, wider than the picture "
            f"of {light.shape[1]}; accepted is a slower motion"
        )
    spread = spread_of(rate, shown, px_per_s)
    kept = (spread * shown.hold_share).astype(np.float64)
    out = convolve1d(light.astype(np.float64), kept, axis=1, mode="nearest")
    return locked(np.ascontiguousarray(out, dtype=np.float32))


def _reach(rate: float | Fraction, shown: Shown, settled: float = 24) -> tuple[float, float]:
    """Places [s] well behind and before a followed edge, after so many time constants: by default 1
    and 0 to ten digits, e⁻²⁴ being 4e-11."""
    longest = float(cadence(rate, shown).dwell_s.max()) + 1 / shown.refresh_hz
    tail = settled * (shown.pixel_s + shown.zone_s)
    return -(longest + 1 / float(rate) + tail), 1 / float(rate) + 1 / shown.refresh_hz


def _exact(rate: float | Fraction) -> Fraction:
    """A rate as people mean it: 23.976 is 24000/1001."""
    if isinstance(rate, Fraction):
        return rate
    near = Fraction(round(rate) * 1000, 1001)
    return near if abs(rate - near) < 1e-3 and rate != round(rate) else Fraction(str(rate))
