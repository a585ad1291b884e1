"""Options that several commands take, each with the one wording of its help and what it accepts.

Bounds are those of the rooms that use the numbers, said again here so that they are held before
anything is read (`tests/journeys/test_commands_options.py` holds the two together).
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from emulate.commands.accepted import (
    above,
    between,
    file_to_write,
    folder_to_fill,
    from_to,
    panel_files,
    words,
)

at_angle = between(-90, 90, "degrees")
in_room = from_to(0, unit="lux")

Out = Annotated[
    Path,
    typer.Option(
        "--out", "-o", help="Folder for what is made.", metavar="DIR", callback=folder_to_fill
    ),
]
OutOrNot = Annotated[
    Path | None,
    typer.Option(
        "--out",
        "-o",
        help="Folder for tables and figures.",
        metavar="DIR",
        callback=folder_to_fill,
    ),
]
PanelOut = Annotated[
    Path,
    typer.Option("--out", "-o", help="Panel file.", metavar="FILE", callback=file_to_write),
]
PanelFile = Annotated[
    Path,
    typer.Option(
        "--panel",
        "-p",
        help="Panel file, emulate-panel/1.",
        metavar="FILE",
        autocompletion=panel_files,
    ),
]
PanelFirst = Annotated[
    Path, typer.Argument(help="Panel file, emulate-panel/1.", autocompletion=panel_files)
]
FrameFile = Annotated[Path, typer.Argument(help="EXR, PNG, TIFF, Radiance, AVIF, or a clip.")]
Policy = Annotated[
    str | None,
    typer.Option(
        help="Tone curve: fixed, by_metadata or by_frame, or built as fixed:bt2390:4000.",
        autocompletion=words("fixed", "by_metadata", "by_frame"),
    ),
]
Angle = Annotated[
    float, typer.Option(help="Viewing angle off the axis, degrees.", callback=at_angle)
]
RoomLux = Annotated[
    float, typer.Option(help="Light of the room on the screen, lux.", callback=in_room)
]
Distance = Annotated[
    float,
    typer.Option(help="Viewing distance in picture heights.", callback=from_to(0.3, 30)),
]
Age = Annotated[
    float,
    typer.Option(
        help="Age of the viewer, years: older eyes glare more.", callback=from_to(5, 110, "years")
    ),
]
SdrWhite = Annotated[
    float,
    typer.Option(help="cd/m² shown as white in light_sdr.png.", callback=above(0, 10000, "cd/m²")),
]
Scale = Annotated[
    float | None,
    typer.Option(
        help="cd/m² that 1.0 stands for in a linear file; 203 if unsaid.",
        callback=above(0, unit="cd/m²"),
    ),
]
Absolute = Annotated[bool, typer.Option("--absolute", help="1.0 of a linear file is 1 cd/m².")]
Mastered = Annotated[
    float | None,
    typer.Option(
        help="Peak of the screen it was graded on, cd/m², over what the file says.",
        callback=from_to(5, 10000, "cd/m²"),
    ),
]
Transfer = Annotated[
    str | None,
    typer.Option(
        help="pq, hlg, sdr or linear, over what it says.",
        autocompletion=words("pq", "hlg", "sdr", "linear"),
    ),
]
Gamut = Annotated[
    str | None,
    typer.Option(
        help="bt2020, p3 or bt709, over what the file says.",
        autocompletion=words("bt2020", "p3", "bt709"),
    ),
]
Range = Annotated[
    str | None,
    typer.Option(
        "--range",
        help="full or narrow, over what it says.",
        autocompletion=words("full", "narrow"),
    ),
]
At = Annotated[
    float | None,
    typer.Option(help="Time of the frame in a clip, seconds.", callback=from_to(0, unit="s")),
]
Index = Annotated[
    int | None,
    typer.Option(help="Number of the frame in a clip, from 0.", callback=from_to(0)),
]
Start = Annotated[
    float | None,
    typer.Option(help="Seconds into the clip to begin at.", callback=from_to(0, unit="s")),
]
End = Annotated[
    float | None,
    typer.Option(help="Seconds into the clip to stop before.", callback=above(0, unit="s")),
]
Every = Annotated[
    int, typer.Option(help="Take every n-th frame of a clip only.", callback=from_to(1))
]
Bars = Annotated[
    bool, typer.Option("--bars", help="Put black bars around a frame that is not 16:9.")
]
Intervals = Annotated[
    bool | None,
    typer.Option(
        "--intervals/--no-intervals",
        help="Say how sure each number is; unsaid: of a panel fitted to readings.",
    ),
]
Chroma = Annotated[
    str,
    typer.Option(
        help="444, 422 or 420: how finely colour is kept.",
        autocompletion=words("444", "422", "420"),
    ),
]
Softness = Annotated[
    float,
    typer.Option(help="Soft scaling: σ of a Gaussian, pixels.", callback=from_to(0, 50, "pixels")),
]
Noise = Annotated[
    float,
    typer.Option(
        help="Noise reduction: visible steps taken for noise.",
        callback=from_to(0, 100, "visible steps"),
    ),
]
Subpixels = Annotated[
    int,
    typer.Option(help="Neighbours that share one red and one blue.", callback=from_to(1, 8)),
]
