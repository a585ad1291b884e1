"""The set as files: stills, clips, the sheet and empty traces in one folder."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from emulate.errors import RequestError
from emulate.outputs import folder as made_folder
from emulate.outputs import write_text
from emulate.readings.patterns.cautions import cautions
from emulate.readings.patterns.families import FAMILIES
from emulate.readings.patterns.plan import PatternSet, pattern_set
from emulate.readings.patterns.slide import write_slide
from emulate.readings.sheet import Decimal, sheet_text, trace_text
from emulate.readings.stimulus import Stimulus

HOLD_S = 5.0  # a still in the clip, ours: time to settle and to read
Progress = Callable[[str, int, int], None]  # what, how many done, of how many


@dataclass(frozen=True, eq=False)
class Written:
    """What `write_patterns` wrote: the set, every file, the sheet, and what to tell the user."""

    patterns: PatternSet
    files: tuple[Path, ...]
    sheet: Path
    cautions: str

    @property
    def minutes(self) -> float:
        """Estimated time for all looks, warm-up not counted."""
        return self.patterns.minutes


def write_patterns(
    folder: str | os.PathLike[str],
    *,
    shape: tuple[int, int] = (2160, 3840),
    peaks: Iterable[float] = (1000, 4000, 10000),
    families: Iterable[str] = FAMILIES,
    repeats: int = 2,
    stills: bool = True,
    clip: bool = True,
    hold_s: float = HOLD_S,
    decimal: Decimal = ".",
    progress: Progress | None = None,
) -> Written:
    """Patterns to put on screen, with the sheet to fill.

    stills/NNN_name.png: 48-bit PQ. clips/stills_pNNNNN.mp4: the same stills, one HDR10 clip for
    each mastering peak [cd/m²], each still a frame of `hold_s` [s]; clips/moving_pNNNNN.mp4: what
    moves. sheet.csv and traces/NAME.csv: to fill. shape: rows, columns. decimal: of the sheet.
    Same arguments, same bytes. Raises RequestError for what cannot be shown, OutputError for a
    folder that cannot be written. Without clips nothing that moves is on the sheet.
    """
    patterns = pattern_set(shape=shape, peaks=peaks, families=families, repeats=repeats)
    patterns = patterns if clip else _still(patterns)
    if not 0.5 <= hold_s <= 60:
        raise RequestError(f"hold_s = {hold_s:g}: accepted is 0.5 to 60 seconds")
    if decimal not in (".", ","):
        raise RequestError(f"decimal {decimal!r}: accepted is . or ,")
    told = progress or _untold
    target = made_folder(folder)
    sheet = write_text(target / "sheet.csv", sheet_text(patterns, decimal))
    files = [sheet, *_traces(patterns, target, decimal)]
    files += _stills(patterns, target, told) if stills else []
    files += _clips(patterns, target, hold_s, told) if clip else []
    return Written(patterns, tuple(files), sheet, cautions())


def still_name(stimulus: Stimulus) -> str:
    """How the still of a stimulus is called."""
    return f"{stimulus.number:03d}_{stimulus.name}.png"


def _still(patterns: PatternSet) -> PatternSet:
    """The set without what only a clip can show; numbers stay as they are.

    Raises RequestError where nothing is left.
    """
    looks = tuple(look for look in patterns.looks if not look.stimulus.moments)
    if all(look.stimulus.kind == "drift" for look in looks):
        moving = ", ".join(patterns.families)
        raise RequestError(f"{moving} without clips: nothing is left; accepted is a still family")
    return replace(patterns, looks=looks)


def _traces(patterns: PatternSet, target: Path, decimal: Decimal) -> list[Path]:
    moving = [stimulus for stimulus in patterns.stimuli if stimulus.moments]
    place = made_folder(target / "traces") if moving else target
    return [
        write_text(place / f"{stimulus.name}.csv", trace_text(patterns, stimulus, decimal))
        for stimulus in moving
    ]


def _stills(patterns: PatternSet, target: Path, told: Progress) -> list[Path]:
    """Two at a time: packing lets the interpreter go, and the bytes do not depend on it."""
    place = made_folder(target / "stills")
    still = [stimulus for stimulus in patterns.stimuli if not stimulus.moments]
    with ThreadPoolExecutor(2) as pool:
        written = pool.map(lambda each: write_slide(each, place / still_name(each)), still)
        return list(_counted(written, "stills", len(still), told))


def _clips(patterns: PatternSet, target: Path, hold_s: float, told: Progress) -> list[Path]:
    from emulate.readings.patterns.reel import write_moving, write_reel

    place = made_folder(target / "clips")
    jobs: list[Callable[[], Path]] = []
    for peak in patterns.peaks:
        shown = [stimulus for stimulus in patterns.stimuli if stimulus.mastering_peak == peak]
        still = [stimulus for stimulus in shown if not stimulus.moments]
        moving = [stimulus for stimulus in shown if stimulus.moments]
        if still:
            path = place / f"stills_p{peak:05.0f}.mp4"
            jobs.append(partial(write_reel, still, path, hold_s=hold_s))
        if moving:
            jobs.append(partial(write_moving, moving, place / f"moving_p{peak:05.0f}.mp4"))
    return list(_counted((job() for job in jobs), "clips", len(jobs), told))


def _counted(files: Iterator[Path], what: str, total: int, told: Progress) -> Iterator[Path]:
    for done, file in enumerate(files, 1):
        told(what, done, total)
        yield file


def _untold(what: str, done: int, total: int) -> None:
    """Nobody asked."""
