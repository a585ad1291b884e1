"""A stimulus as a 48-bit PQ still, written row band by row band so that a 4K set needs no memory.

Codes come from the signal itself, never through light, and are exact.
"""

from __future__ import annotations

import os
import struct
import zlib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np

from emulate.colorimetry import BT2020, D65
from emulate.frames.chunks import SIGNATURE, packed
from emulate.frames.frame import Metadata
from emulate.frames.writing import pq_chunks
from emulate.outputs import write_bytes
from emulate.readings.stimulus import Patch, Stimulus
from emulate.transfer import code_from_signal
from emulate.values import Numbers

PACKING = 6  # zlib level; its own default
UP = b"\x02"  # filter type Up: a row like the one above is zeros, W3C PNG 9.2
AS_IS = b"\x00"  # filter type None, as above


def metadata_of(stimulus: Stimulus) -> Metadata:
    """What a file of this stimulus claims: mastered in BT.2020 at its peak, content levels."""
    return Metadata(
        mastering_peak=stimulus.mastering_peak,
        mastering_primaries=(*BT2020, D65),
        max_cll=stimulus.max_cll,
        max_fall=stimulus.max_fall,
    )


def bands(stimulus: Stimulus, time_s: float = 0.0) -> Iterator[tuple[int, Numbers]]:
    """Runs of equal rows from top to bottom: how many, and the signal of one (columns, 3)."""
    patches = stimulus.patches_at(time_s)
    rows = stimulus.shape[0]
    edges = {0, rows} | {p.top for p in patches} | {p.top + p.height for p in patches}
    starts = sorted(edge for edge in edges if 0 <= edge <= rows)
    for top, bottom in pairwise(starts):
        crossing = [p for p in patches if p.top <= top < p.top + p.height]
        yield bottom - top, _row(stimulus, crossing)


def write_slide(stimulus: Stimulus, path: str | os.PathLike[str]) -> Path:
    """The still of a stimulus: 48-bit PNG, cICP 9/16/0/1, mDCV and cLLI; same bytes each time.

    Raises OutputError where it cannot be written.
    """
    rows, columns = stimulus.shape
    header = struct.pack(">2I5B", columns, rows, 16, 2, 0, 0, 0)  # W3C PNG 11.2.1
    title = f"Title\0{stimulus.number:03d} {stimulus.name}".encode("latin-1")
    chunks = [
        ("IHDR", header),
        *pq_chunks(metadata_of(stimulus)),
        ("tEXt", title),
        ("IDAT", _packed_rows(stimulus)),
        ("IEND", b""),
    ]
    return write_bytes(path, SIGNATURE + b"".join(packed(kind, data) for kind, data in chunks))


def _packed_rows(stimulus: Stimulus) -> bytes:
    packer = zlib.compressobj(PACKING)
    same = UP + bytes(6 * stimulus.shape[1])
    parts = []
    for count, signal in bands(stimulus):
        first = AS_IS + code_from_signal(signal, 16).astype(">u2").tobytes()
        parts += [packer.compress(first), packer.compress(same * (count - 1))]
    return b"".join([*parts, packer.flush()])


def _row(stimulus: Stimulus, patches: list[Patch]) -> Numbers:
    row = np.empty((stimulus.shape[1], 3))
    row[:] = stimulus.background
    for patch in patches:
        row[patch.left : patch.left + patch.width] = patch.signal
    return row
