"""What was asked, on file: a row for each loss, change and amount; and what a page is made of."""

from __future__ import annotations

import csv
import os
from io import StringIO
from pathlib import Path

from emulate.findings.results import Asked, Illustration, PanelEntry, save_results
from emulate.findings.saving import save_findings
from emulate.outputs import folder as made_folder
from emulate.outputs import write_text
from emulate.panel.file import save_panel
from emulate.panel.panel import Panel
from emulate.whatif.asking import WhatIf

FINDINGS, TRIALS, PANEL = "whatif.json", "whatif.csv", "page/panel.toml"


def save_asked(
    asked: WhatIf, panel: Panel, ladder: Illustration, folder: str | os.PathLike[str]
) -> Path:
    """Findings, trials, the panel's file, and results.json with them and the ladder that lies in
    the folder. Raises OutputError where one cannot be written."""
    place = made_folder(folder)
    save_findings(asked.findings, place / FINDINGS)
    save_trials(asked, place / TRIALS)
    made_folder((place / PANEL).parent)
    save_panel(panel, place / PANEL)
    about = Asked(asked.findings.frame, panel.name, FINDINGS, (ladder,))
    return save_results((about, PanelEntry(panel.name, PANEL)), place)


def save_trials(asked: WhatIf, path: str | os.PathLike[str]) -> Path:
    """CSV: loss, change, times (empty for a tone curve), tone curve, share of the picture that
    shows the loss. Raises OutputError where it cannot be written."""
    text = StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(("loss", "change", "times", "tone curve", "share"))
    for climb in asked.climbs:
        for amount, share in zip(climb.amounts.tolist(), climb.shares.tolist(), strict=True):
            rows.writerow((climb.loss, climb.change.name, f"{amount:.6g}", "", f"{share:.6g}"))
    for loss in asked.losses:
        for policy, shares in asked.policies.items():
            rows.writerow((loss, "policy", "", policy, f"{shares[loss]:.6g}"))
    return write_text(path, text.getvalue())
