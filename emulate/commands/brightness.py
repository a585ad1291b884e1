"""`emulate brightness`: HDR and SDR frames under the same brightness settings of a panel."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from emulate.commands.accepted import above, from_to
from emulate.commands.compare import tell_comparison
from emulate.commands.material import frame_of
from emulate.commands.options import (
    Absolute,
    Age,
    Distance,
    Mastered,
    Out,
    PanelFile,
    Policy,
    RoomLux,
    Scale,
    Transfer,
)
from emulate.commands.telling import tell_standing
from emulate.commands.terminal import progress, say

SETTINGS = (1.0, 0.5, 0.25)


def brightness(
    frames: Annotated[list[Path], typer.Argument(help="Stills, HDR and SDR (--transfer sdr).")],
    panel: PanelFile,
    out: Out,
    setting: Annotated[
        list[float] | None,
        typer.Option(
            help="Share of full light, 0.01 to 1; again for more.", callback=from_to(0.01, 1)
        ),
    ] = None,
    sdr_full: Annotated[
        float | None,
        typer.Option(
            help="cd/m² of SDR white at full setting; unsaid: all the panel's light.",
            callback=above(0, 10000, "cd/m²"),
        ),
    ] = None,
    scale: Scale = None,
    absolute: Absolute = False,
    mastered: Mastered = None,
    transfer: Transfer = None,
    policy: Policy = None,
    room_lux: RoomLux = 0.0,
    distance: Distance = 3.2,
    age: Age = 35.0,
) -> None:
    """Turn the brightness down: what is left of HDR and SDR frames."""
    from emulate import compare_brightness, load_panel, save_drawing
    from emulate.films.comparison import save_comparison
    from emulate.outputs import whole_folder
    from emulate.pictures.compare import draw_differences
    from emulate.sight import Viewer

    viewer, on_file = Viewer(distance_h=distance, age=age), load_panel(panel)
    rest: dict[str, Any] = {"gamut": None, "range_": None, "at": None, "index": None}
    rest["mastered"] = mastered
    view = {"policy": policy, "room_lux": room_lux, "viewer": viewer, "sdr_white": sdr_full}
    found = []
    with progress(len(frames) * len(setting or SETTINGS), "brightness") as begin:
        for path in frames:
            frame = frame_of(path, scale=scale, absolute=absolute, transfer=transfer, **rest)
            asked = setting or SETTINGS
            found.append(compare_brightness(frame, on_file, asked, tell=begin, **view))  # type: ignore[arg-type]
    with whole_folder(out) as scratch:
        for number, each in enumerate(found, 1):
            save_comparison(each, scratch / f"brightness_{number}.json")
            save_drawing(draw_differences(each), scratch / f"brightness_{number}.png")
    tell_standing(on_file)
    for number, each in enumerate(found, 1):
        say(f"{each.content}:")
        tell_comparison(each, f"Open {out / f'brightness_{number}.png'}: what differs.")
