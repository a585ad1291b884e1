"""Revisit: frames of a film rendered again, to the last bit as they were when it was scanned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import replace
from typing import NamedTuple

from emulate.errors import RequestError
from emulate.films.entries import Checkpoint
from emulate.films.film import ClipFindings
from emulate.films.walk import from_frame, shown
from emulate.findings.finding import Findings
from emulate.findings.measure import measure
from emulate.frames.clip import Clip
from emulate.frames.frame import Frame
from emulate.frames.source import Damage
from emulate.panel.panel import Panel
from emulate.rendering import Rendering, advance


class Visit(NamedTuple):
    """A frame seen again."""

    frame: Frame
    rendering: Rendering
    findings: Findings


def revisit(
    clip: Clip, panel: Panel, found: ClipFindings, indices: Iterable[int]
) -> Iterator[Visit]:
    """Frames by their number in the source, in order of time, each once.

    clip and panel are those that were scanned. Raises RequestError for a frame that was not.
    """
    for frame, rendering in shown_again(clip, panel, found, indices):
        yield Visit(frame, rendering, measure(frame, rendering, viewer=found.terms.viewer))


def shown_again(
    clip: Clip, panel: Panel, found: ClipFindings, indices: Iterable[int]
) -> Iterator[tuple[Frame, Rendering]]:
    """As `revisit`, without measuring. Raises as it does."""
    wanted = sorted(set(indices))
    unknown = set(wanted) - set(found.table.index.tolist())
    if unknown:
        raise RequestError(
            f"{clip.name}: frame {min(unknown)} was not scanned; accepted are frames of the table"
        )
    framed = replace(clip, active=found.picture)
    for start, group in _by_checkpoint(wanted, found.checkpoints):
        yield from _visits(framed, panel, found, start, group)


def _by_checkpoint(
    wanted: list[int], checkpoints: tuple[Checkpoint, ...]
) -> list[tuple[Checkpoint, list[int]]]:
    """Each checkpoint that frames follow, with them."""
    groups: dict[int, list[int]] = {}
    for index in wanted:
        last = max(k for k, each in enumerate(checkpoints) if each.index <= index)
        groups.setdefault(last, []).append(index)
    return [(checkpoints[k], group) for k, group in groups.items()]


def _visits(
    clip: Clip, panel: Panel, found: ClipFindings, start: Checkpoint, wanted: list[int]
) -> Iterator[tuple[Frame, Rendering]]:
    state, terms = start.state, found.terms
    with closing(from_frame(clip, start.index).pieces()) as pieces:
        for frame in pieces:
            if isinstance(frame, Damage):
                continue
            if frame.index not in wanted:
                state = advance(frame, panel, policy=terms.policy, state=state)
                continue
            rendering = shown(frame, panel, terms, state)
            yield frame, rendering
            state = rendering.state
            if frame.index == wanted[-1]:
                return
