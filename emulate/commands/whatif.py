"""`emulate whatif`: which single change to a panel would take each loss out of sight."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from emulate.commands.accepted import change_names, from_to
from emulate.commands.material import frame_of
from emulate.commands.options import (
    Absolute,
    Age,
    Angle,
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
    RoomLux,
    Scale,
    Transfer,
)
from emulate.commands.telling import tell_basis, tell_standing
from emulate.commands.terminal import columns, progress, say

if TYPE_CHECKING:
    from emulate.panel.panel import Panel
    from emulate.whatif.asking import WhatIf

STEPS = 7  # told on the way: the panel as it is, five changes at most, the tone curves


def whatif(
    frame: FrameFile,
    panel: PanelFile,
    out: Out,
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
    angle: Angle = 0.0,
    room_lux: RoomLux = 0.0,
    distance: Distance = 3.2,
    age: Age = 35.0,
    rows: Annotated[
        int,
        typer.Option(
            help="Height of the reduced picture that is searched, pixels.",
            callback=from_to(90, unit="pixels"),
        ),
    ] = 540,
    change: Annotated[
        list[str] | None,
        typer.Option(
            help="Only this change: zones, optics, contrast, spread or peak; may be given again.",
            autocompletion=change_names,
        ),
    ] = None,
) -> None:
    """Ask which one change to a panel would end each loss.

    Each is taken out of sight, and the amount it takes is told."""
    from emulate import load_panel, what_if
    from emulate.sight import Viewer
    from emulate.whatif.changes import NAMES

    viewer = Viewer(distance_h=distance, age=age)
    on_file = load_panel(panel)
    light = frame_of(
        frame,
        scale=scale,
        absolute=absolute,
        transfer=transfer,
        gamut=gamut,
        range_=range_,
        at=at,
        index=index,
        bars=bars,
        mastered=mastered,
    )
    view = {"policy": policy, "angle": angle, "room_lux": room_lux}
    with progress(STEPS, "whatif") as begin:
        tried = change or NAMES
        asked = what_if(
            light,
            on_file,
            viewer=viewer,
            rows=rows,
            changes=tried,
            tell=begin,
            **view,  # type: ignore[arg-type]
        )
        _save(asked, on_file, out)
    tell_standing(on_file)
    _tell(asked, out)


def _save(asked: WhatIf, panel: Panel, out: Path) -> None:
    from emulate import draw_ladder, save_drawing
    from emulate.findings.results import Illustration
    from emulate.outputs import whole_folder
    from emulate.whatif.saving import save_asked

    with whole_folder(out) as scratch:
        drawn = save_drawing(draw_ladder(asked), scratch / "whatif.png")
        save_asked(asked, panel, Illustration(drawn.path.name, drawn.title, drawn.alt), scratch)


def _tell(asked: WhatIf, out: Path) -> None:
    from emulate.whatif.wording import amount_text

    rows = [(name, amount_text(each), each.sentence) for name, each in asked.findings.items()]
    columns(("change", "it takes, or leaves", "in words"), rows)
    tell_basis(asked.findings.basis, asked.findings.caveats)
    say(
        f"Open {out / 'whatif.png'} first: what is left of each loss as one thing grows. "
        f"whatif.csv has every amount that was tried."
    )
