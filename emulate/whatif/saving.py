"""What was tried on file: a row for each loss, change and amount."""

from __future__ import annotations

import csv
import os
from io import StringIO
from pathlib import Path

from emulate.outputs import write_text
from emulate.whatif.asking import WhatIf


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
