"""How large a picture may be, asked before anything is allocated for it."""

from __future__ import annotations

from pathlib import Path

from emulate.errors import MaterialError

LARGEST = 2**27  # pixels, 1.5 GiB of light: 16K (15360×8640) still fits; our own limit
MOST_SAMPLES = 4 * LARGEST  # colour and alpha of the largest picture


def check_size(file: Path | str, width: int, height: int) -> None:
    """Raises MaterialError where a declared size is nothing, or more than `LARGEST` pixels."""
    if width < 1 or height < 1 or width * height > LARGEST:
        raise MaterialError(
            f"{file}: says it is {width} × {height} pixels; accepted are 1 to {LARGEST} in all"
        )
