"""`emulate range`: codes near black, below it, near white and above it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from emulate.commands.options import Policy
from emulate.commands.terminal import columns, one_of, say

RANGES = {"narrow": "narrow", "full": "full"}


def signal_range(
    panel: Annotated[Path, typer.Argument(help="Panel file, emulate-panel/1.")],
    peak: Annotated[float, typer.Option(help="Mastering peak of the content, cd/m².")] = 1000.0,
    sent: Annotated[str, typer.Option(help="Range of the codes: narrow or full.")] = "narrow",
    taken: Annotated[str, typer.Option(help="Range that the set takes them for.")] = "narrow",
    policy: Policy = None,
) -> None:
    """Say which codes near black and near white can be told apart, and what a wrong range does."""
    from emulate import load_panel, measure_range
    from emulate.findings.formatting import table

    given, assumed = one_of("--sent", sent, RANGES), one_of("--taken", taken, RANGES)
    found = measure_range(load_panel(panel), peak=peak, sent=given, taken=assumed, policy=policy)
    columns(
        ("finding", "value", "in words"),
        [(row.name, row.value, row.sentence) for row in table(found.findings)],
    )
    say(found.findings.basis)
    for caveat in found.findings.caveats:
        say(f"Doubt: {caveat}")
