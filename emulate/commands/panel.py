"""`emulate panel`: what a panel file holds."""

from __future__ import annotations

from emulate.commands.options import PanelFirst
from emulate.commands.terminal import columns


def panel(file: PanelFirst) -> None:
    """Check a panel file and say what it holds."""
    from emulate import load_panel
    from emulate.panel.facts import facts

    columns(("what", "value"), facts(load_panel(file)))
