"""What may be opened as a file: no folder, pipe or device, which would wait or never end."""

from __future__ import annotations

from pathlib import Path
from stat import S_ISDIR, S_ISREG

from emulate.errors import MaterialError


def check_regular(file: Path, accepted: str) -> None:
    """Raises MaterialError where `file` is missing, a folder, or no ordinary file."""
    try:
        mode = file.stat().st_mode
    except FileNotFoundError as error:
        raise MaterialError(f"{file}: no such file") from error
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise MaterialError(f"{file}: cannot be read ({reason})") from error
    if S_ISDIR(mode):
        raise MaterialError(f"{file}: a folder; accepted is one file: {accepted}")
    if not S_ISREG(mode):
        raise MaterialError(f"{file}: a pipe or device; accepted is one file: {accepted}")
