"""Filming: a clip on a panel, from its frames to a folder of findings, stills and an overview."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator
from contextlib import closing
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from emulate._kernels.layer import takes_several_callers
from emulate.films.film import ClipFindings
from emulate.films.revisit import revisit, shown_again
from emulate.films.saving import save_film, still_of
from emulate.films.scan import Progress, scan
from emulate.findings.results import Film, Illustration, save_results
from emulate.findings.saving import save_findings
from emulate.frames.ahead import one_ahead
from emulate.frames.clip import Clip
from emulate.fused.workspace import Workspace
from emulate.outputs import folder as made_folder
from emulate.outputs import whole_folder
from emulate.panel.panel import Panel
from emulate.pictures.exposure import Slice, slices
from emulate.pictures.film import draw_film
from emulate.pictures.motion import Motion, side_by_side, write_pictures
from emulate.pictures.page import Picture, save_drawing
from emulate.pictures.pair import draw_pair
from emulate.pictures.parts import PARTS
from emulate.pictures.wipe import main_slice

JOURNAL = "journal.jsonl"
LOOP_S = 2.0  # s of film about its worst moment; our choice
LOOP_WIDTH = 480  # px of each of its two pictures
T = TypeVar("T")
Tell = Callable[[str], None]


def film(
    clip: Clip,
    panel: Panel,
    folder: str | os.PathLike[str],
    *,
    on_progress: Callable[[Progress], None] | None = None,
    tell: Tell = lambda _: None,
    anew: bool = False,
    **terms: Any,
) -> ClipFindings:
    """Scans a clip and writes what it comes to into `folder`, which is made.

    The journal is there from the start, and a run that was stopped goes on from it; everything else
    comes at the end, all of it or nothing: the files of `save_film`, film.png, and in `stills` the
    worst moments, reference and panel side by side at exposures that each states; results.json with
    what a page is made of, two seconds about the worst moment among it. `terms` are those of
    `scan`; `tell` hears what is being done after it. Raises as `scan` does.
    """
    place = made_folder(folder)
    found = scan(clip, panel, journal=place / JOURNAL, anew=anew, on_progress=on_progress, **terms)
    with whole_folder(place) as scratch:
        tell("writing the table")
        save_film(found, scratch)
        overview = save_drawing(draw_film(found), scratch / "film.png")
        stills = _stills(clip, panel, found, scratch, tell)
        save_results((_entry(clip, panel, found, scratch, [overview, *stills], tell),), scratch)
    return found


def _stills(
    clip: Clip, panel: Panel, found: ClipFindings, folder: Path, tell: Tell
) -> list[Picture]:
    """One picture a frame that is among the worst, whatever it is worst in."""
    stills, made = made_folder(folder / "stills"), []
    indices = {moment.index for moment in found.moments}
    with (
        Workspace() as work,
        closing(_ready(revisit(clip, panel, found, indices, work, maps=False))) as visits,
    ):
        for frame, rendering, findings in visits:
            tell(f"still of {frame.name}")
            drawing = draw_pair(frame, rendering, findings)
            made.append(save_drawing(drawing, stills / still_of(frame.time_s)))
    return made


def _ready(items: Generator[T, None, None]) -> Generator[T, None, None]:
    """The next one made while one is drawn, where loops over pixels take turns by themselves."""
    return one_ahead(items) if takes_several_callers() else items


def _entry(
    clip: Clip,
    panel: Panel,
    found: ClipFindings,
    folder: Path,
    pictures: list[Picture],
    tell: Tell,
) -> Film:
    """What a page needs of the film, written into `folder`/page."""
    parts = made_folder(folder / PARTS)
    save_findings(found.film, parts / "findings.json")
    tell("filming the worst moment")
    moving = _moving(clip, panel, found, parts / "worst.mp4")
    return Film(
        scene=found.clip,
        panel=found.panel,
        findings=f"{PARTS}/findings.json",
        video=f"{PARTS}/worst.mp4" if moving else "",
        alt=moving.alt if moving else "",
        caution=moving.caution if moving else "",
        illustrations=tuple(
            Illustration(each.path.relative_to(folder).as_posix(), each.title, each.alt)
            for each in pictures
        ),
    )


def _moving(clip: Clip, panel: Panel, found: ClipFindings, path: Path) -> Motion | None:
    """Reference and panel side by side about the worst moment; None where one frame is all."""
    if not found.moments or len(found.table.index) < 2:
        return None
    worst, table = found.moments[0].time_s, found.table
    times = table.time_s
    near = np.abs(times - np.clip(worst, times[0] + LOOP_S / 2, None)) <= LOOP_S / 2
    indices = table.index[near].tolist()
    with Workspace() as work:
        exposure = _exposure(clip, panel, found, found.moments[0].index, work)
        with closing(_ready(shown_again(clip, panel, found, indices, work))) as pairs:
            pictures = list(side_by_side(pairs, exposure, LOOP_WIDTH))
    rate = 1 / float(np.median(np.diff(times)))
    return write_pictures(lambda: pictures, path, rate, f"{_WORDS} {exposure.sentence}")


def _exposure(clip: Clip, panel: Panel, found: ClipFindings, index: int, work: Workspace) -> Slice:
    """What shows a frame best, for all that are near: a cut before it may lead out of the dark."""
    with closing(shown_again(clip, panel, found, [index], work)) as pairs:
        exposures = slices(*next(pairs))
    return exposures[main_slice(exposures)]


_WORDS = (
    "About the worst moment, at its exposure, in which what is far darker comes out black: "
    "reference on the left, panel on the right."
)
