"""The set: which stimuli, in which order, and every look the meter takes at them.

The order keeps the meter in the middle for as long as it can, goes from dim to bright within a
family, and comes back to the drift patch every twenty-five slides, so that warm-up and drift of
panel and meter can be told from the effects.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from emulate.errors import RequestError
from emulate.readings.patterns.boxes import grow, grow_spot, spill, step
from emulate.readings.patterns.charts import chart
from emulate.readings.patterns.colours import primaries, slide_spots, slides
from emulate.readings.patterns.crawling import crawl, crawl_spot, crawling
from emulate.readings.patterns.digits import corner_number
from emulate.readings.patterns.families import FAMILIES
from emulate.readings.patterns.tone import drift, near_black, ramp
from emulate.readings.patterns.windows import black, checker, checkers, windows
from emulate.readings.readings import CENTRE
from emulate.readings.stimulus import Stimulus
from emulate.transfer import light_from_pq

Shape = tuple[int, int]
Quantity = Literal["light", "trace", "switch_overs"]
SMALLEST, LARGEST = (90, 160), (8640, 15360)  # rows, columns; ours: the number stays legible, 16K
DRIFT_EVERY = 25  # slides, ours
ANGLES = (15.0, 30.0, 45.0, 60.0)  # degree, ours
NUMBERED = ("ramp", "window", "primary", "chart24", "chart140")
NUMBERED_FROM = 10.0  # cd/m², ours: below, the number's own light could wake a zone that matters
BRIGHT_S, DARK_S = 8.0, 20.0  # a look at 1 cd/m² and more, and below; common practice, no source
MOVE_S, TURN_S = 25.0, 90.0  # moving the meter, and setting an angle or the room; ours


@dataclass(frozen=True)
class Look:
    """One row of the sheet: a stimulus, and where and how it is read."""

    stimulus: Stimulus
    spot: tuple[float, float] = CENTRE
    angle: float = 0.0
    lit_room: bool = False
    repeat: int = 1
    quantity: Quantity = "light"


@dataclass(frozen=True, eq=False)
class PatternSet:
    """What `write_patterns` writes, and what a sheet's head says so that it can be built again."""

    shape: Shape
    peaks: tuple[float, ...]
    families: tuple[str, ...]
    repeats: int
    looks: tuple[Look, ...]

    @property
    def stimuli(self) -> tuple[Stimulus, ...]:
        """Each numbered stimulus once, in order."""
        return tuple({look.stimulus.number: look.stimulus for look in self.looks}.values())

    @property
    def minutes(self) -> float:
        """Estimated time for all looks, warm-up not counted."""
        pairs = zip((None, *self.looks[:-1]), self.looks, strict=True)
        return sum(_seconds(look, before) for before, look in pairs) / 60


def pattern_set(
    *,
    shape: Shape = (2160, 3840),
    peaks: Iterable[float] = (1000, 4000, 10000),
    families: Iterable[str] = FAMILIES,
    repeats: int = 2,
) -> PatternSet:
    """The set for a resolution (rows, columns), mastering peaks [cd/m²] and families of stimuli.

    The grey ramp comes once for each peak, all else at the highest. repeats: looks at each near
    black, window, spill and growing box. Raises RequestError for what cannot be shown.
    """
    rows, columns = (int(extent) for extent in shape)
    return _pattern_set(
        _accepted_shape((rows, columns)),
        _accepted_peaks(peaks),
        _accepted_families(families),
        _accepted_repeats(repeats),
    )


@lru_cache(maxsize=8)
def _pattern_set(
    shape: Shape, peaks: tuple[float, ...], families: tuple[str, ...], repeats: int
) -> PatternSet:
    looks = [
        look
        for family in families
        for look in _LOOKS[family](shape, peaks, repeats if family in _REPEATED else 1)
    ]
    drifting = _with_drift(looks, drift(shape, max(peaks)))
    return PatternSet(shape, peaks, families, repeats, tuple(_with_content(_numbered(drifting))))


_Looks = Callable[[Shape, tuple[float, ...], int], list[Look]]
_REPEATED = ("near_black", "window", "spill", "grow")


def _centred(stimuli: Sequence[Stimulus], repeats: int) -> list[Look]:
    return [Look(each, repeat=n + 1) for each in stimuli for n in range(repeats)]


def _at_the_highest(family: Callable[[Shape, float], list[Stimulus]]) -> _Looks:
    return lambda shape, peaks, repeats: _centred(family(shape, max(peaks)), repeats)


def _ramps(shape: Shape, peaks: tuple[float, ...], repeats: int) -> list[Look]:
    highest_first = sorted(peaks, reverse=True)
    return [look for peak in highest_first for look in _centred(ramp(shape, peak), repeats)]


def _grown(shape: Shape, peaks: tuple[float, ...], repeats: int) -> list[Look]:
    looks = _centred(grow(shape, max(peaks)), repeats)
    return [replace(look, spot=grow_spot(shape)) for look in looks]


def _crawls(shape: Shape, peaks: tuple[float, ...], _: int) -> list[Look]:
    looks: list[Look] = []
    for axis in ("horizontal", "vertical"):
        moving = crawling(axis, shape, max(peaks))
        looks += [Look(moving, quantity="switch_overs"), Look(moving, quantity="trace")]
    for axis in ("horizontal", "vertical"):
        stills = crawl(axis, shape, max(peaks))  # type: ignore[arg-type]
        looks += [Look(still, spot=crawl_spot(still)) for still in stills]
    return looks


def _uniformities(shape: Shape, peaks: tuple[float, ...], _: int) -> list[Look]:
    return [Look(s, spot=spot) for s in slides(shape, max(peaks)) for spot in slide_spots()]


def _angles(shape: Shape, peaks: tuple[float, ...], _: int) -> list[Look]:
    pair = [checker(5, lit, shape, max(peaks)) for lit in (True, False)]
    return [Look(each, angle=angle) for angle in ANGLES for each in pair]


_LOOKS: dict[str, _Looks] = {
    "ramp": _ramps,
    "near_black": _at_the_highest(near_black),
    "black": _at_the_highest(lambda shape, peak: [black(shape, peak)]),
    "window": _at_the_highest(windows),
    "checker": _at_the_highest(checkers),
    "primary": _at_the_highest(primaries),
    "chart24": _at_the_highest(lambda shape, peak: chart("chart24", shape, peak)),
    "chart140": _at_the_highest(lambda shape, peak: chart("chart140", shape, peak)),
    "grow": _grown,
    "spill": _at_the_highest(spill),
    "crawl": _crawls,
    "step": lambda shape, peaks, _: [Look(step(shape, max(peaks)), quantity="trace")],
    "uniformity": _uniformities,
    "angle": _angles,
    "room": lambda shape, peaks, _: [Look(black(shape, max(peaks)), lit_room=True)],
}


def _with_drift(looks: Sequence[Look], reference: Stimulus) -> list[Look]:
    """The reference patch first, last, and every so many slides."""
    mixed: list[Look] = []
    since = DRIFT_EVERY
    for before, look in zip((None, *looks[:-1]), looks, strict=True):
        fresh = before is None or before.stimulus != look.stimulus
        if fresh and since >= DRIFT_EVERY:
            mixed.append(Look(reference))
            since = 0
        mixed.append(look)
        since += fresh
    return [*mixed, Look(reference)]


def _numbered(looks: Sequence[Look]) -> list[Look]:
    """Numbers from 1 in order; looks in a row at one stimulus share its number."""
    numbered: list[Look] = []
    number, before = 0, None
    for look in looks:
        number += look.stimulus != before
        before = look.stimulus
        numbered.append(replace(look, stimulus=_with_number(look.stimulus, number)))
    return numbered


def _with_number(stimulus: Stimulus, number: int) -> Stimulus:
    """The number goes into the corner only where its light disturbs nothing (see the sheet)."""
    lit = float(light_from_pq(max(stimulus.level))) >= NUMBERED_FROM
    covered = stimulus.kind == "window" and stimulus.value >= 1
    drawn = stimulus.kind in NUMBERED and lit and not covered
    bars = corner_number(number, stimulus.shape) if drawn else ()
    return replace(stimulus, number=number, patches=stimulus.patches + bars)


def _with_content(looks: Sequence[Look]) -> list[Look]:
    """MaxCLL and MaxFALL of all that is shown at the same mastering peak, as a clip states them."""
    levels: dict[float, tuple[float, float]] = {}
    for look in looks:
        peak = look.stimulus.mastering_peak
        before = levels.get(peak, (0.0, 0.0))
        levels[peak] = tuple(np.maximum(before, _content_levels(look.stimulus)))
    return [replace(look, stimulus=_stating(look.stimulus, levels)) for look in looks]


def _stating(stimulus: Stimulus, levels: dict[float, tuple[float, float]]) -> Stimulus:
    """Whole cd/m², as the light-level message of a stream holds them."""
    cll, fall = levels[stimulus.mastering_peak]
    return replace(stimulus, max_cll=float(np.ceil(cll)), max_fall=float(np.ceil(fall)))


def _content_levels(stimulus: Stimulus) -> tuple[float, float]:
    """Largest and mean of max(R, G, B) [cd/m²]; rectangles of a set never lie on one another."""
    background = float(light_from_pq(max(stimulus.background)))
    largest, mean = background, background
    scenes = [moment.patches for moment in stimulus.moments] or [stimulus.patches]
    for patches in scenes:
        lights = [float(light_from_pq(max(patch.signal))) for patch in patches]
        shares = [p.height * p.width / (stimulus.shape[0] * stimulus.shape[1]) for p in patches]
        gained = sum(s * (light - background) for s, light in zip(shares, lights, strict=True))
        largest, mean = max([largest, *lights]), max(mean, background + gained)
    return largest, mean


def _seconds(look: Look, before: Look | None) -> float:
    if look.quantity != "light":
        return look.stimulus.duration_s + BRIGHT_S
    lit = max(look.stimulus.signal_at(look.spot))
    taken = BRIGHT_S if light_from_pq(lit) >= 1 else DARK_S
    taken += MOVE_S * (before is None or look.spot != before.spot)
    changed = before is None or (look.angle, look.lit_room) != (before.angle, before.lit_room)
    return taken + TURN_S * changed


def _accepted_shape(shape: Shape) -> Shape:
    bounds = zip(SMALLEST, shape, LARGEST, strict=True)
    if any(not low <= extent <= high or extent % 2 for low, extent, high in bounds):
        raise RequestError(
            f"patterns of {shape[0]} rows × {shape[1]} columns: accepted are even numbers from "
            f"{SMALLEST[0]} × {SMALLEST[1]} to {LARGEST[0]} × {LARGEST[1]}"
        )
    return shape


def _accepted_peaks(peaks: Iterable[float]) -> tuple[float, ...]:
    chosen = tuple(dict.fromkeys(float(peak) for peak in peaks))
    if not chosen or not all(200 <= peak <= 10000 and peak == int(peak) for peak in chosen):
        raise RequestError(
            f"mastering peaks {', '.join(f'{peak:g}' for peak in chosen) or '(none)'}: accepted "
            "are one or more whole numbers from 200 to 10000 cd/m²"
        )
    return chosen


def _accepted_families(families: Iterable[str]) -> tuple[str, ...]:
    chosen = set(families)
    unknown = sorted(chosen.difference(FAMILIES))
    if unknown or not chosen:
        raise RequestError(
            f"patterns {', '.join(unknown) or '(none)'}: accepted are {', '.join(FAMILIES)}"
        )
    return tuple(family for family in FAMILIES if family in chosen)


def _accepted_repeats(repeats: int) -> int:
    if not 1 <= repeats <= 20:
        raise RequestError(f"repeats = {repeats}: accepted is 1 to 20")
    return int(repeats)
