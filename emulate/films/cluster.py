"""Cluster: one film, or many trials of one frame, over the workers of a dask.distributed client.

What a panel shows of a frame depends on every frame before it, so a film is cut in two passes. A
light one goes through the clip here, in order: decoding, tone curve, zones and limiter, no picture.
It leaves the exact state of the panel at every checkpoint. From there the workers render and
measure a chunk each, as one process would have, and hand back the same entries. A worker that is
lost costs its chunk, which another one does again.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from emulate.films.entries import Checkpoint, Entry
from emulate.films.terms import Terms
from emulate.films.walk import CHECKPOINT_FRAMES, from_frame, walk
from emulate.findings.finding import Findings
from emulate.findings.measure import measure
from emulate.frames.clip import Clip
from emulate.frames.frame import Frame
from emulate.frames.source import Damage
from emulate.panel.curves import Curve
from emulate.panel.panel import Panel
from emulate.panel.policy import Policy
from emulate.rendering import advance, render
from emulate.sight import Viewer

if TYPE_CHECKING:
    from distributed import Client

RETRIES = 2  # of a chunk that fails by itself; a lost worker does not count [ours]
QUEUED = 2  # chunks a worker has waiting beside the one it is at [ours]

Chunk = tuple[Checkpoint | None, int | None]  # from right after a checkpoint, to a frame or the end
Habit = str | Policy | Curve | None


def walk_together(
    client: Client, clip: Clip, panel: Panel, terms: Terms, start: Checkpoint | None = None
) -> Iterator[Entry]:
    """The entries of `walk`, in the same order and to the same bit, from many workers.

    Raises what `walk` raises, on whichever machine.
    """
    waiting: deque[Any] = deque()
    workers = max(1, len(client.scheduler_info(n_workers=-1)["workers"]))
    try:
        for chunk in chunks(clip, panel, terms, start):
            waiting.append(
                client.submit(_walked, clip, panel, terms, *chunk, pure=False, retries=RETRIES)
            )
            while len(waiting) > workers * (1 + QUEUED) or (waiting and waiting[0].done()):
                yield from waiting.popleft().result()
        while waiting:
            yield from waiting.popleft().result()
    finally:
        client.cancel(list(waiting))  # type: ignore[no-untyped-call]


def chunks(
    clip: Clip, panel: Panel, terms: Terms, start: Checkpoint | None = None
) -> Iterator[Chunk]:
    """Where each chunk begins and ends, found by the light pass; together they are the clip."""
    begun = start
    ordinal = -1 if start is None else start.ordinal - 1
    state = None if start is None else start.state
    rest = clip if start is None else from_frame(clip, start.index)
    with closing(rest.pieces()) as pieces:
        for piece in pieces:
            if isinstance(piece, Damage):
                continue
            ordinal += 1
            ends = ordinal % CHECKPOINT_FRAMES == 0 and (begun is None or ordinal > begun.ordinal)
            if ends:
                yield begun, piece.index
                begun = Checkpoint(ordinal, piece.index, state)
            state = advance(piece, panel, policy=terms.policy, state=state)
    yield begun, None


def sweep(
    frame: Frame,
    panels: Sequence[Panel],
    policies: Sequence[Habit] = (None,),
    *,
    viewer: Viewer | None = None,
    client: Client | None = None,
) -> list[Findings]:
    """Findings of one frame on every panel under every policy, panels outermost.

    The same whether a client's workers share the work or not; maps are left out. Raises as `render`
    does.
    """
    trials = [(panel, policy) for panel in panels for policy in policies]
    watching = viewer or Viewer()
    if client is None:
        return [_tried(frame, *trial, watching) for trial in trials]
    there = client.scatter(frame, broadcast=True, hash=False)  # type: ignore[no-untyped-call]
    submitted = [
        client.submit(_tried, there, *trial, watching, pure=False, retries=RETRIES)
        for trial in trials
    ]
    return [future.result() for future in submitted]


def _walked(
    clip: Clip, panel: Panel, terms: Terms, start: Checkpoint | None, until: int | None
) -> list[Entry]:
    return list(walk(clip, panel, terms, start, until))


def _tried(frame: Frame, panel: Panel, policy: Habit, viewer: Viewer) -> Findings:
    return replace(measure(frame, render(frame, panel, policy=policy), viewer=viewer), maps={})
