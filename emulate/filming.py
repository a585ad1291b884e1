"""Filming: a clip on a panel, from its frames to a folder of findings, stills and an overview."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from emulate.films.film import ClipFindings
from emulate.films.revisit import revisit
from emulate.films.saving import save_film, still_of
from emulate.films.scan import Progress, scan
from emulate.frames.clip import Clip
from emulate.outputs import folder as made_folder
from emulate.outputs import whole_folder
from emulate.panel.panel import Panel
from emulate.pictures.film import draw_film
from emulate.pictures.page import save_drawing
from emulate.pictures.pair import draw_pair

JOURNAL = "journal.jsonl"
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
    worst moments, reference and panel side by side at exposures that each states. `terms` are those
    of `scan`; `tell` hears what is being done after it. Raises as `scan` does.
    """
    place = made_folder(folder)
    found = scan(clip, panel, journal=place / JOURNAL, anew=anew, on_progress=on_progress, **terms)
    with whole_folder(place) as scratch:
        tell("writing the table")
        save_film(found, scratch)
        save_drawing(draw_film(found), scratch / "film.png")
        _stills(clip, panel, found, scratch, tell)
    return found


def _stills(clip: Clip, panel: Panel, found: ClipFindings, folder: Path, tell: Tell) -> None:
    """One picture a frame that is among the worst, whatever it is worst in."""
    stills = made_folder(folder / "stills")
    indices = {moment.index for moment in found.moments}
    for frame, rendering, findings in revisit(clip, panel, found, indices):
        tell(f"still of {frame.name}")
        drawing = draw_pair(frame, rendering, findings)
        save_drawing(drawing, stills / still_of(frame.time_s))
