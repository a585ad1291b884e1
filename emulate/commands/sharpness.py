"""`emulate sharpness`: what a set's processing leaves of fine and of coloured detail."""

from __future__ import annotations

from typing import Annotated

import typer

from emulate.commands.options import Out
from emulate.commands.terminal import columns, say

Chroma = Annotated[str, typer.Option(help="444, 422 or 420: how finely colour is kept.")]
Softness = Annotated[float, typer.Option(help="Soft scaling: σ of a Gaussian, pixels.")]
Noise = Annotated[float, typer.Option(help="Noise reduction: visible steps taken for noise.")]
Subpixels = Annotated[int, typer.Option(help="Neighbours that share one red and one blue.")]


def sharpness(
    out: Out,
    chroma: Chroma = "444",
    softness: Softness = 0.0,
    noise: Noise = 0.0,
    subpixels: Subpixels = 1,
    swing: Annotated[float, typer.Option(help="Of the star, in PQ signal; faint: 0.01.")] = 0.1,
) -> None:
    """Put a star and coloured lines through a set's processing: the contrast that is left."""
    from emulate import Processing, draw_sharpness, measure_sharpness, save_drawing, save_findings
    from emulate.findings.formatting import table
    from emulate.outputs import whole_folder

    asked = Processing(chroma, softness, noise, subpixels)  # type: ignore[arg-type]
    measured = measure_sharpness(asked, swing)
    with whole_folder(out) as scratch:
        save_drawing(draw_sharpness(measured), scratch / "sharpness.png")
        save_findings(measured.findings, scratch / "sharpness.json")
    columns(
        ("finding", "value", "in words"),
        [(row.name, row.value, row.sentence) for row in table(measured.findings)],
    )
    say(measured.findings.basis)
    say(f"Open {out / 'sharpness.png'}: the star before and after.")
