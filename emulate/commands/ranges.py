"""`emulate range`: codes near black, below it, near white and above it."""

from __future__ import annotations

from typing import Annotated

import typer

from emulate.commands.accepted import above, words
from emulate.commands.options import PanelFirst, Policy
from emulate.commands.telling import tell_table
from emulate.commands.terminal import one_of

RANGES = {"narrow": "narrow", "full": "full"}


def signal_range(
    panel: PanelFirst,
    peak: Annotated[
        float,
        typer.Option(
            help="Mastering peak of the content, cd/m².", callback=above(1, 10000, "cd/m²")
        ),
    ] = 1000.0,
    sent: Annotated[
        str,
        typer.Option(help="Range of the codes: narrow or full.", autocompletion=words(*RANGES)),
    ] = "narrow",
    taken: Annotated[
        str,
        typer.Option(help="Range that the set takes them for.", autocompletion=words(*RANGES)),
    ] = "narrow",
    policy: Policy = None,
) -> None:
    """Say which codes near black and white can be told apart.

    And what a wrong range does to them."""
    from emulate import load_panel, measure_range

    given, assumed = one_of("--sent", sent, RANGES), one_of("--taken", taken, RANGES)
    found = measure_range(load_panel(panel), peak=peak, sent=given, taken=assumed, policy=policy)
    tell_table(found.findings)
