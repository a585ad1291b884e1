"""`emulate pan`: how dirty a screen looks, and whether its zones show, as grey pans."""

from __future__ import annotations

from typing import Annotated

import typer

from emulate.commands.accepted import above
from emulate.commands.options import Angle, Distance, Out, PanelFirst, Policy
from emulate.commands.terminal import columns, progress, say

LEVELS = (5.0, 20.0, 100.0)  # cd/m² [ours]: dusk, a dim room, a grey sky


def pan(
    panel: PanelFirst,
    out: Out,
    level: Annotated[
        list[float] | None,
        typer.Option(help="Grey, cd/m²; may be given again.", callback=above(0, 6666, "cd/m²")),
    ] = None,
    policy: Policy = None,
    angle: Angle = 0.0,
    distance: Distance = 3.2,
) -> None:
    """Pan across grey: dirt on the screen and the grid of zones."""
    from emulate import draw_pan, load_panel, measure_pan, save_drawing
    from emulate.findings.formatting import value_text
    from emulate.findings.saving import save_findings
    from emulate.outputs import whole_folder
    from emulate.sight import Viewer

    on_file, viewer = load_panel(panel), Viewer(distance_h=distance)
    pans = []
    with progress(len(level or LEVELS), "pan") as begin:
        for each in level or LEVELS:
            begin(f"grey of {each:g} cd/m²")
            pans.append(measure_pan(on_file, each, policy=policy, angle=angle, viewer=viewer))
    with whole_folder(out) as scratch:
        save_drawing(draw_pan(pans), scratch / "pan.png")
        for each_pan in pans:
            save_findings(each_pan.findings, scratch / f"pan_{each_pan.level:g}.json")
    for each_pan in pans:
        rows = [
            (name, value_text(found.value, found.unit), found.sentence)
            for name, found in each_pan.findings.items()
        ]
        columns((f"{each_pan.level:g} cd/m²", "value", "in words"), rows)
    say(f"Open {out / 'pan.png'}: where the screen looks dirty at each level.")
