"""Scan: a clip on a panel from its first frame to its last, in bounded memory."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from emulate.errors import Caveat, RequestError
from emulate.films.digest import heading_of
from emulate.films.entries import Entry, Row
from emulate.films.film import About, ClipFindings, Record, findings_of
from emulate.films.journal import Journal, open_journal
from emulate.films.ranking import APART_S, WORST
from emulate.films.terms import Terms
from emulate.films.walk import walk
from emulate.frames.clip import Clip
from emulate.panel.curves import Curve
from emulate.panel.panel import Panel
from emulate.panel.policy import Policy, policy_from
from emulate.sight import Viewer

if TYPE_CHECKING:
    from distributed import Client


@dataclass(frozen=True)
class Progress:
    """How far a scan is: frames done, of how many (None: nobody knows), at which time [s] of the
    clip. known: of those done, the ones a journal knew already."""

    done: int
    total: int | None
    time_s: float
    known: int = 0


def scan(
    clip: Clip,
    panel: Panel,
    *,
    policy: str | Policy | Curve | None = None,
    viewer: Viewer | None = None,
    angle: float = 0.0,
    room_lux: float = 0.0,
    on_progress: Callable[[Progress], None] | None = None,
    journal: str | os.PathLike[str] | None = None,
    anew: bool = False,
    client: Client | None = None,
    apart_s: float = APART_S,
    worst: int = WORST,
) -> ClipFindings:
    """What `panel` loses of `clip`: every frame rendered and measured in turn.

    Bars are looked for, unless the clip already knows its picture, and left out of averages.
    policy, angle [degree], room_lux as `render` has them; viewer as `measure`. journal: a file to
    keep what is learned in; begun once, it is gone on with where it stopped, unless `anew`.
    client: of dask.distributed, whose workers share the work and must reach the clip under the same
    path. The result does not depend on either. apart_s [s] and worst: how the worst moments are
    picked, and how many of each loss.

    Raises RequestError where it cannot be rendered so or the journal belongs to something else,
    MaterialError where no frame can be read, OutputError where the journal cannot be written.
    """
    if not apart_s >= 0 or worst < 0:
        raise RequestError(f"moments {apart_s:g} s apart, {worst} of each: accepted is 0 or more")
    terms = Terms(policy, angle, room_lux, viewer or Viewer())
    policy_from(policy, panel)
    whole = framed(clip)
    with _kept(journal, whole, panel, terms, anew) as book:
        record = Record(book.known if book else ())
        tell = _telling(on_progress, record, whole)
        for entry in _new(book, whole, panel, terms, client):
            if record.takes(entry):
                if book:
                    book.add(entry)
                tell(entry)
    about = About(
        clip.name,
        panel.name,
        clip.metadata,
        clip.rate,
        whole.active or (0, 0, 0, 0),
        apart_s,
        worst,
        _doubts_of(clip),
    )
    return findings_of(record, about, terms)


def framed(clip: Clip) -> Clip:
    """The clip told where its picture lies inside bars; the whole frame where there are none."""
    known = clip if clip.active is not None else clip.without_bars()
    rows, columns = clip.shape
    return replace(known, active=known.active or (0, rows, 0, columns))


@contextmanager
def _kept(
    path: str | os.PathLike[str] | None, clip: Clip, panel: Panel, terms: Terms, anew: bool
) -> Iterator[Journal | None]:
    if path is None:
        yield None
        return
    with open_journal(path, heading_of(clip, panel, terms), anew=anew) as book:
        yield book


def _new(
    book: Journal | None, clip: Clip, panel: Panel, terms: Terms, client: Any
) -> Iterator[Entry]:
    """Entries that are not known yet, from this process or from many."""
    if book and book.complete:
        return
    start = book.start if book else None
    if client is None:
        entries = walk(clip, panel, terms, start)
    else:
        from emulate.films.cluster import walk_together

        entries = walk_together(client, clip, panel, terms, start)
    with closing(entries):  # type: ignore[type-var]
        yield from entries


def _telling(
    on_progress: Callable[[Progress], None] | None, record: Record, clip: Clip
) -> Callable[[Entry], None]:
    if on_progress is None:
        return lambda _: None
    known, total = len(record.rows), clip.frames
    at = record.rows[-1].time_s if known else clip.start_s
    on_progress(Progress(known, total, at, known))

    def tell(entry: Entry) -> None:
        if isinstance(entry, Row):
            on_progress(Progress(len(record.rows), total, entry.time_s, known))

    return tell


def _doubts_of(clip: Clip) -> tuple[Caveat, ...]:
    if clip.every == 1:
        return ()
    text = (
        f"1 frame in {clip.every} was taken, {1000 / clip.rate:.0f} ms apart: fluctuation and "
        f"late light are told between those, and shorter ones are not seen"
    )
    return (Caveat(clip.name, text),)
