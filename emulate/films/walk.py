"""Walk: through a clip frame by frame, each rendered and measured, entries out in order.

Decoding runs ahead in a thread of its own, and while one frame is measured the next is rendered.
No more than these two are in memory. What comes out does not depend on who runs ahead of whom, nor
on where a walk starts: a checkpoint holds everything that is carried from frame to frame.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing
from dataclasses import replace
from math import nan
from typing import NamedTuple

from emulate._kernels.layer import takes_several_callers
from emulate.errors import Caveat, MaterialError
from emulate.films.entries import Checkpoint, Column, Columns, End, Entry, Row
from emulate.films.terms import Terms
from emulate.findings.evidence import Evidence
from emulate.findings.finding import Finding, Findings
from emulate.findings.fluctuation import Glance, find_fluctuation, glance_of
from emulate.findings.measure import findings_of
from emulate.findings.twin import evidence_of
from emulate.frames.clip import Clip
from emulate.frames.frame import Frame
from emulate.frames.source import Damage
from emulate.fused.workspace import Workspace
from emulate.panel.panel import Panel
from emulate.rendering import Rendering, State, render
from emulate.values import numbers

CHECKPOINT_FRAMES = 24  # about a second: what a stop costs, at some 20 kB of journal [ours]


class Look(NamedTuple):
    """What is learned from one frame, and the glance that the next one needs."""

    findings: Findings
    glance: Glance
    row: Row


def walk(
    clip: Clip,
    panel: Panel,
    terms: Terms,
    start: Checkpoint | None = None,
    until: int | None = None,
) -> Iterator[Entry]:
    """Entries from the beginning of a clip, or from right after the frame of `start`.

    Columns and doubts come before the first row they stand for; a checkpoint follows every 24th
    row; `End` comes last, or the walk ends after frame `until`. Raises as `render` does, and
    MaterialError where no frame can be read.
    """
    ordinal = -1 if start is None else start.ordinal - 1
    told: set[Caveat] = set()
    clip = clip if start is None else from_frame(clip, start.index)
    for piece in _looks(clip, panel, terms, None if start is None else start.state):
        if isinstance(piece, Damage):
            yield piece
            continue
        ordinal += 1
        look, before = piece
        new = [doubt for doubt in look.findings.caveats if doubt not in told]
        told.update(new)
        if start is not None and ordinal == start.ordinal:
            _check_same(clip, start, look)  # seen again for its glance; its row is known
            continue
        yield from _told(look, ordinal, new, before)
        if look.row.index == until:
            return
    if ordinal < 0 or (start is not None and ordinal < start.ordinal):
        raise MaterialError(f"{clip.name}: no frame of it can be read")
    yield End()


def _told(look: Look, ordinal: int, doubts: list[Caveat], before: State | None) -> Iterator[Entry]:
    if ordinal == 0:
        yield _columns_of(look.findings)
    yield from doubts
    yield look.row
    if ordinal % CHECKPOINT_FRAMES == 0:
        yield Checkpoint(ordinal, look.row.index, before)


def _check_same(clip: Clip, start: Checkpoint, look: Look) -> None:
    if look.row.index != start.index:
        raise MaterialError(
            f"{clip.name}: frame {start.index}, read before, cannot be read again; "
            f"accepted is the clip as it was"
        )


def look_at(frame: Frame, rendering: Rendering, terms: Terms, before: Glance | None) -> Look:
    """One frame measured: a pure function of it and of the glance at the frame before."""
    evidence = evidence_of(frame, rendering, terms.viewer, mapping=False)
    still, glance = findings_of(evidence), glance_of(evidence)
    moving = find_fluctuation(glance, None if rendering.cut else before).by_name
    found = {**still, **moving, **_light(evidence)}
    findings = replace(still, by_name=found, maps={})
    values = numbers([each.value for each in found.values()])
    return Look(findings, glance, Row(frame.index, frame.time_s, rendering.cut, values))


def shown(
    frame: Frame,
    panel: Panel,
    terms: Terms,
    state: State | None,
    work: Workspace | None = None,
) -> Rendering:
    """One frame rendered on these terms."""
    return render(
        frame,
        panel,
        policy=terms.policy,
        angle=terms.angle,
        room_lux=terms.room_lux,
        state=state,
        work=work,
    )


def from_frame(clip: Clip, index: int) -> Clip:
    """The same clip from frame `index` of the source on, one that it holds."""
    return replace(clip, start_s=clip.source.time_of(index))


def _looks(
    clip: Clip, panel: Panel, terms: Terms, state: State | None
) -> Iterator[Damage | tuple[Look, State | None]]:
    """Each frame's look and the state before it, and damage, in order of time."""
    pending: deque[Damage | tuple[Future[Look], State | None]] = deque()
    previous: Future[Look] | None = None
    with (
        closing(clip.pieces()) as pieces,
        Workspace() as work,
        ThreadPoolExecutor(1, "measuring") as pool,
    ):
        for piece in pieces:
            if isinstance(piece, Damage):
                pending.append(piece)
                previous = None
            else:
                rendering = shown(piece, panel, terms, state, work)
                previous = pool.submit(_after, piece, rendering, terms, previous)
                pending.append((previous, state))
                state = rendering.state
                del rendering
                if not takes_several_callers():
                    previous.result()
            del piece
            while len(pending) > 1:
                yield _settled(pending.popleft())
        while pending:
            yield _settled(pending.popleft())


def _after(frame: Frame, rendering: Rendering, terms: Terms, previous: Future[Look] | None) -> Look:
    return look_at(frame, rendering, terms, None if previous is None else previous.result().glance)


def _settled(
    item: Damage | tuple[Future[Look], State | None],
) -> Damage | tuple[Look, State | None]:
    return item if isinstance(item, Damage) else (item[0].result(), item[1])


def _columns_of(findings: Findings) -> Columns:
    listed = [Column(name, each.unit, each.definition) for name, each in findings.items()]
    return Columns(tuple(listed), findings.basis)


def _light(evidence: Evidence) -> dict[str, Finding]:
    """How the panel drives its light at this frame, and its average over the whole picture."""
    rendering = evidence.rendering
    drive, gain, peak = rendering.drive, rendering.gain, rendering.state.peak
    return {
        "content.max_fall_frame": Finding(
            evidence.mean_level,
            "cd/m²",
            "",
            "Mean over the whole frame, black bars included, of the largest of red, green, blue.",
        ),
        "light.drive": Finding(
            float(drive.mean()), "share", "", "Mean of the zones' drives, limiter included."
        ),
        "light.drive_max": Finding(
            float(drive.max()), "share", "", "The brightest zone's drive, limiter included."
        ),
        "light.gain": Finding(gain, "share", "", "What the limiter leaves of the light."),
        "light.curve_peak": Finding(
            peak or nan,
            "cd/m²",
            "",
            "Source peak that the tone curve is made for; undetermined where it follows none.",
        ),
    }
