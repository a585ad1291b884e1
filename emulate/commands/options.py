"""Options that several commands take, each with the one wording of its help."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Out = Annotated[Path, typer.Option("--out", "-o", help="Folder for what is made.", metavar="DIR")]
PanelFile = Annotated[
    Path, typer.Option("--panel", "-p", help="Panel file, emulate-panel/1.", metavar="FILE")
]
PanelFirst = Annotated[Path, typer.Argument(help="Panel file, emulate-panel/1.")]
FrameFile = Annotated[Path, typer.Argument(help="EXR, PNG, TIFF, Radiance, AVIF, or a clip.")]
Policy = Annotated[
    str | None,
    typer.Option(help="Tone curve: fixed, by_metadata or by_frame, or built as fixed:bt2390:4000."),
]
Angle = Annotated[float, typer.Option(help="Viewing angle off the axis, degrees.")]
RoomLux = Annotated[float, typer.Option(help="Light of the room on the screen, lux.")]
Distance = Annotated[float, typer.Option(help="Viewing distance in picture heights.")]
Age = Annotated[float, typer.Option(help="Age of the viewer, years: older eyes glare more.")]
SdrWhite = Annotated[float, typer.Option(help="cd/m² shown as white in light_sdr.png.")]
Scale = Annotated[
    float | None, typer.Option(help="cd/m² that 1.0 stands for in a linear file; 203 if unsaid.")
]
Absolute = Annotated[bool, typer.Option("--absolute", help="1.0 of a linear file is 1 cd/m².")]
Transfer = Annotated[str | None, typer.Option(help="pq, hlg, sdr or linear, over what it says.")]
Gamut = Annotated[str | None, typer.Option(help="bt2020, p3 or bt709, over what the file says.")]
Range = Annotated[str | None, typer.Option("--range", help="full or narrow, over what it says.")]
At = Annotated[float | None, typer.Option(help="Time of the frame in a clip, seconds.")]
Index = Annotated[int | None, typer.Option(help="Number of the frame in a clip, from 0.")]
Start = Annotated[float | None, typer.Option(help="Seconds into the clip to begin at.")]
End = Annotated[float | None, typer.Option(help="Seconds into the clip to stop before.")]
Intervals = Annotated[
    bool | None,
    typer.Option(
        "--intervals/--no-intervals",
        help="Say how sure each number is; unsaid: of a panel fitted to readings.",
    ),
]
Chroma = Annotated[str, typer.Option(help="444, 422 or 420: how finely colour is kept.")]
Softness = Annotated[float, typer.Option(help="Soft scaling: σ of a Gaussian, pixels.")]
Noise = Annotated[float, typer.Option(help="Noise reduction: visible steps taken for noise.")]
Subpixels = Annotated[int, typer.Option(help="Neighbours that share one red and one blue.")]
