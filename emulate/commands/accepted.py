"""Accepted: what an option may say, checked as it is read, and offered to a shell that completes.

Nothing is read, rendered or measured before every option has been looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from sys import float_info
from typing import Any

import typer

Check = Callable[[Any], Any]
Words = Callable[[], list[str]]


def from_to(low: float, high: float = float_info.max, unit: str = "") -> Check:
    """Numbers from `low` to `high`, both accepted; without `high` any that is finite."""
    bounds = f"{low:g} or more" if high == float_info.max else f"{low:g} to {high:g}"
    return _checked(lambda value: low <= value <= high, _with_unit(bounds, unit))


def above(low: float, high: float = float_info.max, unit: str = "") -> Check:
    """Numbers above `low`, up to `high`; without `high` any that is finite."""
    bounds = f"above {low:g}" if high == float_info.max else f"above {low:g}, at most {high:g}"
    return _checked(lambda value: low < value <= high, _with_unit(bounds, unit))


def between(low: float, high: float, unit: str = "") -> Check:
    """Numbers between two that are not accepted themselves."""
    bounds = f"above {low:g} and below {high:g}"
    return _checked(lambda value: low < value < high, _with_unit(bounds, unit))


def _with_unit(bounds: str, unit: str) -> str:
    return f"{bounds} {unit}" if unit else bounds


def _checked(holds: Callable[[float], bool], bounds: str) -> Check:
    """Looks at a number, or at each of several; what is unsaid is accepted."""

    def check(given: Any) -> Any:
        for value in given if isinstance(given, Sequence) else [given]:
            if value is not None and not holds(value):
                raise typer.BadParameter(f"{value:g}; accepted is {bounds}")
        return given

    return check


def folder_to_fill(given: Path | None) -> Path | None:
    """A folder that can be filled. Raises OutputError, before any work is done, where not."""
    from emulate.outputs import check_folder

    if given is not None:
        check_folder(given)
    return given


def file_to_write(given: Path | None) -> Path | None:
    """A file that can be written. Raises OutputError, before any work is done, where not."""
    from emulate.outputs import check_file

    if given is not None:
        check_file(given)
    return given


def words(*accepted: str) -> Words:
    """Words to complete with."""
    return lambda: list(accepted)


def scene_names() -> list[str]:
    """Names of the invented scenes."""
    from emulate.demo_frames import SCENES

    return list(SCENES)


def change_names() -> list[str]:
    """Names of the changes that `whatif` tries."""
    from emulate.whatif.changes import NAMES

    return list(NAMES)


def panel_files(incomplete: str) -> list[str]:
    """Panel files that begin so; none makes the shell go on with folders and other files."""
    above, slash, begun = incomplete.rpartition("/")
    try:
        found = sorted(file.name for file in Path(above + slash).glob("*.toml"))
    except OSError:
        return []
    return [above + slash + name for name in found if name.startswith(begun)]
