"""Files written whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from emulate.errors import OutputError


@contextmanager
def whole_file(path: str | os.PathLike[str]) -> Iterator[Path]:
    """A scratch path beside `path`, moved onto it when the block ends well, removed when not.

    The scratch name keeps the suffix, so that writers which choose a format by it still do.
    Raises OutputError when the folder is missing, read-only or full.
    """
    target = Path(path)
    scratch = _scratch(target)
    try:
        yield scratch
        _sync(scratch)
        scratch.replace(target)
    except OSError as error:
        raise OutputError(f"{target}: cannot be written ({error.strerror or error})") from error
    finally:
        with suppress(OSError):
            scratch.unlink()


def write_text(path: str | os.PathLike[str], text: str) -> Path:
    """`text` as UTF-8 with plain line ends, whole or not at all."""
    with whole_file(path) as scratch:
        scratch.write_text(text, encoding="utf-8", newline="\n")
    return Path(path)


def write_bytes(path: str | os.PathLike[str], data: bytes) -> Path:
    """`data`, whole or not at all."""
    with whole_file(path) as scratch:
        scratch.write_bytes(data)
    return Path(path)


def folder(path: str | os.PathLike[str]) -> Path:
    """An existing or new folder. Raises OutputError when it cannot be one."""
    try:
        Path(path).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        reason = error.strerror or error
        raise OutputError(f"{path}: cannot be made a folder ({reason})") from error
    return Path(path)


def check_folder(path: str | os.PathLike[str]) -> None:
    """Nothing, where a folder can be made or filled; leaves no trace.

    Raises OutputError, as `whole_folder` would at the end of the work.
    """
    target = Path(path)
    ground = _ground(target)
    try:
        with tempfile.TemporaryDirectory(prefix=".emulate-", dir=ground) as scratch:
            (Path(scratch) / target.absolute().relative_to(ground)).mkdir(
                parents=True, exist_ok=True
            )
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise OutputError(f"{target}: cannot be written ({reason})") from error


def check_file(path: str | os.PathLike[str]) -> None:
    """Nothing, where a file can be written; leaves no trace.

    Raises OutputError, as `whole_file` would at the end of the work.
    """
    target = Path(path)
    if target.is_dir():
        raise OutputError(f"{target}: cannot be written (a folder; accepted is a file)")
    scratch = _scratch(target)
    scratch.unlink()


def _ground(target: Path) -> Path:
    """The folder itself, or what there is of the path to it. Raises OutputError for a file."""
    place = target.absolute()
    ground = next(each for each in (place, *place.parents) if os.path.lexists(each))
    if not ground.is_dir():
        raise OutputError(f"{target}: {ground} is no folder; accepted is a folder, or none yet")
    return ground


@contextmanager
def whole_folder(path: str | os.PathLike[str]) -> Iterator[Path]:
    """A scratch folder in or above `path`; what was put there moves to `path` when all ends well.

    Nothing is left behind when it does not, and no folder is made before. Files of the same names
    in an existing folder are replaced, others stay. Raises OutputError where it cannot be written.
    """
    target = Path(path)
    try:
        scratch = Path(tempfile.mkdtemp(prefix=".emulate-", dir=_ground(target)))
        try:
            yield scratch
            for file in sorted(each for each in scratch.rglob("*") if each.is_file()):
                place = target / file.relative_to(scratch)
                folder(place.parent)
                file.replace(place)
        finally:
            shutil.rmtree(scratch, ignore_errors=True)
    except OSError as error:
        raise OutputError(f"{target}: cannot be written ({error.strerror or error})") from error


def _scratch(target: Path) -> Path:
    try:
        handle, name = tempfile.mkstemp(
            prefix=f".{target.stem[:40]}.", suffix=target.suffix, dir=target.parent
        )
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise OutputError(f"{target}: cannot be written ({reason})") from error
    os.close(handle)
    scratch = Path(name)
    scratch.chmod(0o666 & ~_umask())
    return scratch


def _sync(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
