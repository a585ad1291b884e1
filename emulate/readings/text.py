"""A text file as lines, whatever program wrote it."""

from __future__ import annotations

import codecs
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from stat import S_ISCHR, S_ISFIFO

from emulate.errors import Caveat, ReadingError

LARGEST_BYTES = 64 * 2**20  # ours: a day of a 1 kHz logger is less


@dataclass(frozen=True)
class Text:
    """path as errors name it; lines without their ends; digest: SHA-256 of the bytes."""

    path: str
    lines: tuple[str, ...]
    digest: str
    caveats: tuple[Caveat, ...] = ()


def read_text(path: str | Path) -> Text:
    """The lines of a file in UTF-8, UTF-16 with its mark, or else Windows-1252, which is doubted.

    Raises ReadingError where the file cannot be read, is no text, or is over 64 MiB.
    """
    name = str(path)
    try:
        state = Path(path).stat()
        if S_ISFIFO(state.st_mode) or S_ISCHR(state.st_mode):  # they wait, or never end
            raise ReadingError(f"{name}: a pipe or device; accepted is a text file")
        if state.st_size > LARGEST_BYTES:
            raise ReadingError(
                f"{name}: {state.st_size} bytes; accepted is a text file up to 64 MiB"
            )
        data = Path(path).read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise ReadingError(f"{name}: cannot be read ({reason})") from error
    text, caveats = _decoded(name, data)
    return Text(name, tuple(_lines(text)), sha256(data).hexdigest(), caveats)


def _decoded(name: str, data: bytes) -> tuple[str, tuple[Caveat, ...]]:
    wide = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = data.decode("utf-16" if wide else "utf-8-sig")
        caveats: tuple[Caveat, ...] = ()
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        caveats = (Caveat(name, "is not UTF-8; it was read as Windows-1252"),)
    strange = next((c for c in text if ord(c) < 32 and c not in "\t\r\n\f\v"), None)
    if strange is not None:
        line = text[: text.index(strange)].count("\n") + 1
        raise ReadingError(
            f"{name}, line {line}: holds the control character {ord(strange)}; accepted is plain "
            "text: CSV or CGATS"
        )
    return text, caveats


def _lines(text: str) -> list[str]:
    return text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
