"""Measure: every question put to one rendering."""

from __future__ import annotations

from collections.abc import Callable

from emulate.findings.clipped import find_clipped
from emulate.findings.colour import find_colour
from emulate.findings.content import basis_of, find_content
from emulate.findings.crushed import find_crushed
from emulate.findings.detail import find_detail
from emulate.findings.dimmed import find_dimmed
from emulate.findings.evidence import Answer, Evidence
from emulate.findings.finding import Finding, Findings, Map
from emulate.findings.formatting import light_text
from emulate.findings.halo import find_halo
from emulate.findings.twin import evidence_of
from emulate.frames.bars import stretched
from emulate.frames.frame import Frame
from emulate.rendering import Rendering
from emulate.sight import Viewer
from emulate.values import locked

QUESTIONS: tuple[Callable[[Evidence], Answer], ...] = (
    find_content,
    find_clipped,
    find_crushed,
    find_detail,
    find_halo,
    find_dimmed,
    find_colour,
)


def measure(
    frame: Frame,
    rendering: Rendering,
    *,
    viewer: Viewer | None = None,
    maps: bool = True,
    colour: bool = True,
) -> Findings:
    """What `rendering` loses of `frame` to the eyes of `viewer` (default: Viewer()).

    maps: with maps for the pictures. colour: with the findings of colour, half of the work.
    Raises RequestError where frame and rendering differ in size.
    """
    evidence = evidence_of(frame, rendering, viewer or Viewer(), mapping=maps, colour=colour)
    return findings_of(evidence)


def findings_of(evidence: Evidence) -> Findings:
    """What evidence says to every question."""
    frame, rendering = evidence.frame, evidence.rendering
    doubts = frame.caveats + rendering.panel.caveats
    found: dict[str, Finding] = {}
    maps: dict[str, Map] = {}
    if evidence.mapping:
        maps["loss"] = evidence.loss
    for question in QUESTIONS if evidence.colour else QUESTIONS[:-1]:
        answer = question(evidence)
        found |= answer.by_name
        if evidence.mapping:
            maps |= {name: _joined(maps.get(name), image) for name, image in answer.maps.items()}
    return Findings(
        found,
        tuple(dict.fromkeys((*rendering.caveats, *doubts, *stretched(frame)))),
        {name: locked(image) for name, image in maps.items()},
        frame.name,
        rendering.panel.name,
        _basis(evidence),
    )


def _joined(codes: Map | None, more: Map) -> Map:
    return more if codes is None else codes | more


def _basis(evidence: Evidence) -> str:
    viewer, reflected = evidence.viewer, evidence.rendering.reflected
    room = (
        f"the room adding {light_text(reflected)} off the screen" if reflected else "in a dark room"
    )
    return (
        f"Seen from {viewer.distance_h:g} picture heights, {room}, by eyes {viewer.age:g} years "
        f"old; {basis_of(evidence.frame)}."
    )
