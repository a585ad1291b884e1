"""What a file of each kind is given to, and read to its last pixel by."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from zlib import crc32

import emulate
from emulate.films.journal import open_journal
from tests.fuzz.seeds import HEADING

PICTURES = 12  # of a clip, enough to pass every seed's end


def _frame(path: Path) -> None:
    emulate.load_frame(path).light  # noqa: B018 - reading is the point


def _clip(path: Path) -> None:
    clip = emulate.open_clip(path)
    for number, piece in enumerate(clip.pieces()):
        if isinstance(piece, emulate.Frame):
            piece.light  # noqa: B018 - reading is the point
        if number >= PICTURES:
            break


def _results(path: Path) -> None:
    shutil.copyfile(path, path.with_name("results.json"))
    for made in emulate.load_results(path.parent):
        str(made)


def _journal(path: Path) -> None:
    with open_journal(path, HEADING) as journal:
        str(journal.complete)


def honest_journal(data: bytes) -> bytes:
    """Its check sums made right again, so that damage gets past them."""
    lines = [re.sub(rb"^.{0,9}", b"", line, count=1, flags=re.DOTALL) for line in data.split(b"\n")]
    return b"".join(f"{crc32(line):08x} ".encode() + line + b"\n" for line in lines if line)


READERS = {
    "png": (".png", _frame),
    "exr": (".exr", _frame),
    "tiff": (".tif", _frame),
    "radiance": (".hdr", _frame),
    "avif": (".avif", _frame),
    "clip": (".mkv", _clip),
    "sheet": (".csv", emulate.load_readings),
    "csv": (".csv", emulate.load_readings),
    "cgats": (".txt", emulate.load_readings),
    "trace": (".csv", emulate.load_readings),
    "spectra": (".csv", emulate.load_spectra),
    "panel": (".toml", emulate.load_panel),
    "findings": (".json", emulate.load_findings),
    "results": (".list", _results),
    "journal": (".jsonl", _journal),
}
