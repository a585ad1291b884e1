"""The command line as a user meets it: a process, its two streams and its status."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Done:
    status: int
    out: str
    told: str  # standard error

    @property
    def lines(self) -> list[str]:
        return self.told.strip().splitlines()


def emulate(*arguments: str | bytes | Path, cwd: Path | None = None, columns: int = 200) -> Done:
    """Runs `emulate` with the interpreter of the tests."""
    ran = subprocess.run(
        [sys.executable, "-c", "from emulate.cli import main; main()", *arguments],
        capture_output=True,
        cwd=cwd,
        env={**os.environ, "COLUMNS": str(columns), "NO_COLOR": "1"},
        timeout=240,
    )
    return Done(ran.returncode, ran.stdout.decode("utf-8"), ran.stderr.decode("utf-8"))
