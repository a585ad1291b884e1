"""`emulate seats`: one frame on one panel, off the axis and in lit rooms, side by side."""

from __future__ import annotations

from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from emulate.commands.compare import tell_comparison
from emulate.commands.material import frame_of
from emulate.commands.options import (
    Absolute,
    Age,
    At,
    Bars,
    Distance,
    FrameFile,
    Gamut,
    Index,
    Mastered,
    Out,
    PanelFile,
    Policy,
    Range,
    Scale,
    Transfer,
    at_angle,
    in_room,
)
from emulate.commands.telling import tell_standing
from emulate.commands.terminal import progress

if TYPE_CHECKING:
    from emulate.films.comparison import Comparison
    from emulate.films.seats import Seat
    from emulate.frames.frame import Frame


def seats(
    frame: FrameFile,
    panel: PanelFile,
    out: Out,
    angle: Annotated[
        list[float] | None,
        typer.Option(help="Degrees off the axis; may be given again.", callback=at_angle),
    ] = None,
    room_lux: Annotated[
        list[float] | None,
        typer.Option(help="Lux on the screen; may be given again.", callback=in_room),
    ] = None,
    scale: Scale = None,
    absolute: Absolute = False,
    mastered: Mastered = None,
    transfer: Transfer = None,
    gamut: Gamut = None,
    range_: Range = None,
    at: At = None,
    index: Index = None,
    bars: Bars = False,
    policy: Policy = None,
    distance: Distance = 3.2,
    age: Age = 35.0,
) -> None:
    """Compare what is seen off the axis and in lit rooms."""
    from emulate import compare_seats, load_panel
    from emulate.compiling import compile_aside
    from emulate.films.seats import Seat
    from emulate.sight import Viewer

    viewer = Viewer(distance_h=distance, age=age)
    places = [Seat(*place) for place in product(angle or [0.0, 45.0], room_lux or [0.0])]
    on_file = load_panel(panel)
    said: dict[str, Any] = {"transfer": transfer, "gamut": gamut, "range_": range_}
    said["mastered"] = mastered
    place: dict[str, Any] = {"at": at, "index": index, "bars": bars}
    light = frame_of(frame, scale=scale, absolute=absolute, **place, **said)
    compile_aside(light, on_file)
    with progress(len(places) + 1, "seats") as begin:
        found = compare_seats(light, on_file, places, policy=policy, viewer=viewer, tell=begin)
        begin("drawing")
        _save(light, found, places, out)
    tell_standing(on_file)
    tell_comparison(found, f"Open {out / 'side_by_side.png'} first; differences.png has what "
                    "differs, comparison.json every finding of every seat.")  # fmt: skip


def _save(frame: Frame, found: Comparison, places: list[Seat], out: Path) -> None:
    from emulate import render, save_drawing
    from emulate.films.comparison import save_comparison
    from emulate.outputs import whole_folder
    from emulate.pictures.compare import draw_differences, draw_side_by_side, view_size
    from emulate.pictures.sampling import area_mean

    views = {}
    for case, seat in zip(found.cases, places, strict=True):
        place = {"angle": seat.angle, "room_lux": seat.room_lux}
        rendering = render(frame, case.panel, policy=case.policy, **place)  # type: ignore[arg-type]
        views[case.label] = area_mean(rendering.light, view_size(frame.shape))
    with whole_folder(out) as scratch:
        save_comparison(found, scratch / "comparison.json")
        save_drawing(draw_differences(found), scratch / "differences.png")
        save_drawing(draw_side_by_side(frame, found, views), scratch / "side_by_side.png")
