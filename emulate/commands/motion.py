"""`emulate motion`: what an eye that follows a moving picture sees of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from emulate.commands.accepted import above, from_to, panel_files
from emulate.commands.material import frame_of
from emulate.commands.options import (
    Absolute,
    At,
    Gamut,
    Index,
    Mastered,
    Out,
    Range,
    Scale,
    Transfer,
)
from emulate.commands.telling import tell_table
from emulate.commands.terminal import progress, say

if TYPE_CHECKING:
    from emulate.films.motion import Shown
    from emulate.findings.finding import Findings
    from emulate.frames.frame import Frame
    from emulate.panel.panel import Panel

Panel_ = Annotated[
    Path | None,
    typer.Option(
        "--panel",
        "-p",
        help="Panel whose light moves; the frame's own if unsaid.",
        autocompletion=panel_files,
    ),
]
Refresh = Annotated[
    float,
    typer.Option(help="Pictures a second on the screen, Hz.", callback=from_to(1, 1000, "Hz")),
]
Rate = Annotated[
    float,
    typer.Option(help="Pictures a second of the content.", callback=from_to(1, 1000)),
]
Speed = Annotated[
    float,
    typer.Option(help="Picture heights a second that it moves right.", callback=above(0)),
]
Hold = Annotated[
    float,
    typer.Option(help="Part of a refresh with light, 1 = all of it.", callback=from_to(0.001, 1)),
]
Strobes = Annotated[
    int,
    typer.Option(help="Flashes in a refresh that share it.", callback=from_to(1, 16)),
]
PixelMs = Annotated[
    float,
    typer.Option(help="Time constant of a pixel, ms.", callback=from_to(0, 1000, "ms")),
]
ZoneMs = Annotated[
    float,
    typer.Option(
        help="Time constant of the light, where an edge comes into a dark zone, ms.",
        callback=from_to(0, 10000, "ms"),
    ),
]


def motion(
    out: Out,
    frame: Annotated[
        Path | None, typer.Argument(help="A still or a clip; posts of our own if unsaid.")
    ] = None,
    refresh: Refresh = 60.0,
    rate: Rate = 24.0,
    speed: Speed = 0.25,
    hold: Hold = 1.0,
    strobes: Strobes = 1,
    pixel_ms: PixelMs = 0.0,
    zone_ms: ZoneMs = 0.0,
    panel: Panel_ = None,
    scale: Scale = None,
    absolute: Absolute = False,
    mastered: Mastered = None,
    transfer: Transfer = None,
    gamut: Gamut = None,
    range_: Range = None,
    at: At = None,
    index: Index = None,
) -> None:
    """Show a picture in motion to an eye that follows it.

    Smear, pace, double images and light. A panel file does not say how pictures are put on show:
    refresh, flashes and a pixel's time constant come from here.
    """
    from emulate import load_panel
    from emulate.films.motion import Shown

    with progress(4, "motion") as begin:
        begin("reading")
        signal = {"transfer": transfer, "gamut": gamut, "range_": range_}
        said = {"scale": scale, "absolute": absolute, "at": at, "index": index, **signal}
        said["mastered"] = mastered
        light = _posts() if frame is None else frame_of(frame, **said)  # type: ignore[arg-type]
        on_file = None if panel is None else load_panel(panel)
        shown = Shown(refresh, hold, strobes, pixel_ms / 1000, zone_ms / 1000)
        begin("following")
        findings = _show(light, on_file, rate, shown, speed, out)
    _tell(findings, out)


def _posts() -> Frame:
    from emulate.demo_frames import clip

    posts: Frame = clip("posts_passing").frame(0)
    return posts


def _show(
    frame: Frame, panel: Panel | None, rate: float, shown: Shown, speed: float, out: Path
) -> Findings:
    """Findings, the picture of them and the light, whole or not at all."""
    from emulate import Frame as Reference
    from emulate import (
        measure_motion,
        render,
        save_drawing,
        save_findings,
        write_exr,
        write_pq_png,
    )
    from emulate.films.motion import as_followed
    from emulate.outputs import whole_folder
    from emulate.pictures.motion_as_shown import draw_motion

    px_per_s = speed * frame.shape[0]
    findings = measure_motion(rate, shown, px_per_s=px_per_s)
    findings = replace(findings, frame=frame.name, panel=panel.name if panel else "")
    light = render(frame, panel).light if panel else frame.light
    still = Reference.from_light(light, _name(frame, panel))
    followed = as_followed(light, rate, shown, px_per_s)
    with whole_folder(out) as scratch:
        save_findings(findings, scratch / "motion.json")
        save_drawing(draw_motion(still, followed, rate, shown, findings), scratch / "motion.png")
        write_exr(followed, scratch / "followed.exr")
        write_pq_png(followed, scratch / "followed_pq.png")
    return findings


def _name(frame: Frame, panel: Panel | None) -> str:
    return f"{frame.name} on {panel.name}" if panel else frame.name


def _tell(findings: Findings, out: Path) -> None:
    tell_table(findings)
    say(
        f"Open {out / 'motion.png'} first: a piece of the picture still and in motion. "
        f"followed.exr and followed_pq.png hold the light as the eye that follows it has it."
    )
