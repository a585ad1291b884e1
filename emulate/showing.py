"""Showing: one frame on one panel, from light to a folder of findings, pictures and light."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from emulate.errors import RequestError
from emulate.findings.claims import measure_with_intervals
from emulate.findings.finding import Findings
from emulate.findings.measure import measure
from emulate.findings.results import save_results
from emulate.findings.saving import save_findings
from emulate.frames.frame import Frame
from emulate.frames.writing import write_exr, write_pq_png, write_sdr_png
from emulate.outputs import whole_folder
from emulate.panel.panel import Panel
from emulate.pictures.album import draw_all
from emulate.pictures.parts import FINDINGS, write_parts
from emulate.pictures.wipe import WIDTH
from emulate.processing import Processing, processed
from emulate.rendering import Rendering, render
from emulate.sight import Viewer
from emulate.transfer import SDR_WHITE

Tell = Callable[[str], None]


@dataclass(frozen=True)
class Conditions:
    """How it is looked at.

    policy: which tone curve acts, None = the panel's own habit. angle [degree]; room_lux [lux];
    viewer; sdr_white [cd/m²]: what the SDR picture shows as white. intervals: say how sure each
    finding is, of a fitted panel. processing: what is done to the picture before the panel.
    """

    policy: str | None = None
    angle: float = 0.0
    room_lux: float = 0.0
    viewer: Viewer = field(default_factory=Viewer)
    sdr_white: float = SDR_WHITE
    intervals: bool = False
    processing: Processing = field(default_factory=Processing)


def show(
    frame: Frame,
    panel: Panel,
    folder: str | os.PathLike[str],
    conditions: Conditions | None = None,
    *,
    light: bool = True,
    tell: Tell = lambda _: None,
    question: str = "",
    page_width: int = WIDTH,
) -> Findings:
    """Renders, measures and draws; `folder` gets it all, or nothing if something goes wrong.

    findings.json; pair, loss, halo, backlight and curve as .png; results.json with the parts that a
    page is made of, its pictures `page_width` px wide, and the question that the frame asks; with
    `light` also the rendered light as light.exr, light_pq.png and light_sdr.png. `tell` hears what
    is being done. Raises RequestError for what cannot be rendered, OutputError where the folder
    cannot be written.
    """
    seen = conditions or Conditions()
    if seen.intervals and seen.processing != Processing():
        text = "intervals of a processed picture: accepted is one of the two"
        raise RequestError(f"{frame.name}: {text}, without processing or without intervals")
    tell("rendering")
    shown = processed(frame, seen.processing)
    rendering = render(shown, panel, policy=seen.policy, angle=seen.angle, room_lux=seen.room_lux)
    with whole_folder(folder) as scratch:
        if light:
            tell("writing the light")
            write_light(rendering, scratch, seen.sdr_white)
        tell("measuring")
        findings = measure(frame, rendering, viewer=seen.viewer)
        if seen.intervals:
            tell("working out how sure each number is")
            findings = _with_intervals(frame, panel, seen, findings)
        tell("drawing")
        save_findings(findings, scratch / FINDINGS)
        draw_all(frame, rendering, findings, scratch)
        save_results(
            (
                write_parts(
                    frame, rendering, findings, scratch, question=question, width=page_width
                ),
            ),
            scratch,
        )
    return findings


def _with_intervals(frame: Frame, panel: Panel, seen: Conditions, findings: Findings) -> Findings:
    """Always from the same seed: the same frame and panel give the same file."""
    return measure_with_intervals(
        frame,
        panel,
        rng=np.random.default_rng(0),
        policy=seen.policy,
        angle=seen.angle,
        room_lux=seen.room_lux,
        viewer=seen.viewer,
        findings=findings,
    )


def write_light(rendering: Rendering, folder: Path, sdr_white: float) -> None:
    """The rendered light: everything in EXR, as PQ for an HDR screen, and clipped for any other."""
    write_exr(rendering.light, folder / "light.exr")
    write_pq_png(rendering.light, folder / "light_pq.png")
    write_sdr_png(rendering.light, folder / "light_sdr.png", white=sdr_white)
