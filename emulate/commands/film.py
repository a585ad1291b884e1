"""`emulate film`: a clip on one panel, frame after frame."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from emulate.commands.accepted import above, from_to
from emulate.commands.material import said
from emulate.commands.options import (
    Absolute,
    Age,
    Angle,
    Distance,
    End,
    Every,
    Gamut,
    Mastered,
    Out,
    PanelFile,
    Policy,
    Range,
    RoomLux,
    Scale,
    Start,
    Transfer,
)
from emulate.commands.telling import tell_film, tell_standing
from emulate.commands.terminal import frames_done, going_on


def film(
    clip: Annotated[Path, typer.Argument(help="Video, or a folder or pattern of numbered stills.")],
    panel: PanelFile,
    out: Out,
    start: Start = None,
    end: End = None,
    every: Every = 1,
    rate: Annotated[
        float | None, typer.Option(help="Frames a second of stills.", callback=above(0))
    ] = None,
    scale: Scale = None,
    absolute: Absolute = False,
    mastered: Mastered = None,
    transfer: Transfer = None,
    gamut: Gamut = None,
    range_: Range = None,
    policy: Policy = None,
    angle: Angle = 0.0,
    room_lux: RoomLux = 0.0,
    distance: Distance = 3.2,
    age: Age = 35.0,
    worst: Annotated[
        int, typer.Option(help="Moments listed and drawn of each loss.", callback=from_to(0))
    ] = 3,
    apart: Annotated[
        float, typer.Option(help="Seconds between moments of one loss.", callback=from_to(0))
    ] = 2.0,
    resume: Annotated[
        bool,
        typer.Option("--resume/--anew", help="Go on where a stopped run ended, or begin anew."),
    ] = True,
) -> None:
    """Show a clip on a panel on file: what is lost, and when."""
    from emulate import load_panel, open_clip
    from emulate.filming import film as filmed
    from emulate.sight import Viewer

    viewer = Viewer(distance_h=distance, age=age)
    signal = said(transfer, gamut, range_, mastered)
    on_file = load_panel(panel)
    part: dict[str, Any] = {"start_s": start, "end_s": end, "every": every, "rate": rate}
    opened = open_clip(clip, scale=scale, absolute=absolute, **part, **signal)
    with going_on(out), frames_done(opened.name) as (on_progress, tell):
        found = filmed(
            opened,
            on_file,
            out,
            policy=policy,
            viewer=viewer,
            angle=angle,
            room_lux=room_lux,
            worst=worst,
            apart_s=apart,
            anew=not resume,
            on_progress=on_progress,
            tell=tell,
        )
    tell_standing(on_file)
    tell_film(found, out)
