"""Revisit: frames of a film rendered again, to the last bit as they were when it was scanned."""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator
from contextlib import closing
from dataclasses import replace
from typing import NamedTuple

from emulate.errors import RequestError
from emulate.films.entries import Checkpoint
from emulate.films.film import ClipFindings
from emulate.films.terms import Terms
from emulate.films.walk import from_frame, shown
from emulate.findings.finding import Findings
from emulate.findings.measure import measure
from emulate.frames.clip import Clip
from emulate.frames.frame import Frame
from emulate.frames.source import Damage
from emulate.fused.workspace import Workspace
from emulate.panel.panel import Panel
from emulate.rendering import Rendering, advance

NEAR = 48  # frames: seeking reads half a second and half of what lies between key frames [ours]


class Visit(NamedTuple):
    """A frame seen again."""

    frame: Frame
    rendering: Rendering
    findings: Findings


def revisit(
    clip: Clip,
    panel: Panel,
    found: ClipFindings,
    indices: Iterable[int],
    work: Workspace | None = None,
    *,
    maps: bool = True,
) -> Generator[Visit, None, None]:
    """Frames by their number in the source, in order of time, each once.

    clip and panel are those that were scanned. work: as `render` has it, maps: as `measure`; maps
    made in a workspace last until its next frame. Raises RequestError for a frame that was not
    scanned.
    """
    viewer = found.terms.viewer
    for frame, rendering in shown_again(clip, panel, found, indices, work):
        yield Visit(frame, rendering, measure(frame, rendering, viewer=viewer, maps=maps))


def shown_again(
    clip: Clip,
    panel: Panel,
    found: ClipFindings,
    indices: Iterable[int],
    work: Workspace | None = None,
) -> Generator[tuple[Frame, Rendering], None, None]:
    """As `revisit`, without measuring. Raises as it does."""
    wanted = sorted(set(indices))
    unknown = set(wanted) - set(found.table.index.tolist())
    if unknown:
        raise RequestError(
            f"{clip.name}: frame {min(unknown)} was not scanned; accepted are frames of the table"
        )
    framed = replace(clip, active=found.picture)
    for stretch in _stretches(_by_checkpoint(wanted, found.checkpoints)):
        yield from _visits(framed, panel, found.terms, stretch, work)


class _Group(NamedTuple):
    """Frames wanted, and the last checkpoint before them."""

    start: Checkpoint
    wanted: list[int]


def _by_checkpoint(wanted: list[int], checkpoints: tuple[Checkpoint, ...]) -> list[_Group]:
    groups: dict[int, list[int]] = {}
    for index in wanted:
        last = max(k for k, each in enumerate(checkpoints) if each.index <= index)
        groups.setdefault(last, []).append(index)
    return [_Group(checkpoints[k], group) for k, group in groups.items()]


def _stretches(groups: list[_Group]) -> list[list[_Group]]:
    """Groups that are read in one go: what lies between is sooner decoded than sought past."""
    stretches: list[list[_Group]] = []
    for group in groups:
        if stretches and group.start.index - stretches[-1][-1].wanted[-1] <= NEAR:
            stretches[-1].append(group)
        else:
            stretches.append([group])
    return stretches


def _visits(
    clip: Clip, panel: Panel, terms: Terms, groups: list[_Group], work: Workspace | None
) -> Iterator[tuple[Frame, Rendering]]:
    left = iter(groups)
    (start, wanted), state = next(left), groups[0].start.state
    with closing(from_frame(clip, start.index).pieces()) as pieces:
        for frame in pieces:
            if isinstance(frame, Damage) or frame.index < start.index:
                continue
            if frame.index in wanted:
                rendering = shown(frame, panel, terms, state, work)
                yield frame, rendering
                state = rendering.state
                del rendering
            else:
                state = advance(frame, panel, policy=terms.policy, state=state, work=work)
            if frame.index == wanted[-1]:
                after = next(left, None)
                if after is None:
                    return
                (start, wanted), state = after, after.start.state
