"""`emulate sharpness`: what a set's processing leaves of fine and of coloured detail."""

from __future__ import annotations

from typing import Annotated

import typer

from emulate.commands.accepted import above
from emulate.commands.options import Chroma, Noise, Out, Softness, Subpixels
from emulate.commands.telling import tell_table
from emulate.commands.terminal import say


def sharpness(
    out: Out,
    chroma: Chroma = "444",
    softness: Softness = 0.0,
    noise: Noise = 0.0,
    subpixels: Subpixels = 1,
    swing: Annotated[
        float,
        typer.Option(
            help="Of the star, in PQ signal; faint: 0.01.", callback=above(0, 0.45, "of the signal")
        ),
    ] = 0.1,
) -> None:
    """Say what a set's processing leaves of fine and coloured lines."""
    from emulate import Processing, draw_sharpness, measure_sharpness, save_drawing, save_findings
    from emulate.outputs import whole_folder

    asked = Processing(chroma, softness, noise, subpixels)  # type: ignore[arg-type]
    measured = measure_sharpness(asked, swing)
    with whole_folder(out) as scratch:
        save_drawing(draw_sharpness(measured), scratch / "sharpness.png")
        save_findings(measured.findings, scratch / "sharpness.json")
    tell_table(measured.findings)
    say(f"Open {out / 'sharpness.png'}: the star before and after.")
