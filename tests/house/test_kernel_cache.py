"""numba's cache learns of an edit to what kernels share: the kernels get other names."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from tests.house.plan import PACKAGE

ASKED = """
import sys
sys.path.insert(0, {folder!r})
import numpy as np
from _kernels.compiling import kernel, physics
from _kernels import cell
opening = physics.opening

@kernel
def twice(x, out):
    out[0] = opening(x, 4.0, 0.0)

out = np.zeros(1)
twice(2.0, out)
print(out[0], cell.open_cells.__qualname__)
"""


def _run(folder: Path) -> tuple[float, str, set[str]]:
    script = folder / "asked.py"
    script.write_text(ASKED.format(folder=str(folder)), "utf-8")
    beside = {key: value for key, value in os.environ.items() if key != "NUMBA_CACHE_DIR"}
    command = [sys.executable, str(script)]
    done = subprocess.run(
        command, capture_output=True, text=True, check=True, cwd=folder, env=beside
    )
    value, name = done.stdout.split()
    return float(value), name, {file.name for file in folder.rglob("*.nbi")}


def test_an_edit_to_shared_physics_reaches_a_kernel_in_the_cache(tmp_path) -> None:
    """The kernel's own file stays as it is; only `scalars.py` changes."""
    kept = shutil.ignore_patterns("__pycache__")
    shutil.copytree(PACKAGE / "_kernels", tmp_path / "_kernels", ignore=kept)
    value, name, files = _run(tmp_path)
    again, same, kept_files = _run(tmp_path)
    assert (value, name, files) == (again, same, kept_files)
    assert value == 0.5
    scalars = tmp_path / "_kernels" / "scalars.py"
    text = scalars.read_text("utf-8")
    assert text.count("min(max(wanted / known, leak), 1.0)") == 1
    scalars.write_text(text.replace("wanted / known", "wanted / known / 2"), "utf-8")
    value, other, more_files = _run(tmp_path)
    assert value == 0.25
    assert other != name
    assert more_files > files
