"""Digest: what tells one clip, panel and way of looking from another: what a journal is of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from hashlib import blake2b
from pathlib import Path
from typing import Any

from emulate.errors import RequestError
from emulate.films.journal import Heading
from emulate.films.terms import Terms
from emulate.frames.clip import Clip
from emulate.panel.panel import Panel

WHOLE_BYTES = 256 * 2**20  # a file up to this is read whole, a longer one in pieces [ours]
PIECE_BYTES = 2**20
PIECES = 64  # of a longer file, its beginning and end among them [ours]
STILL_BYTES = 2**16  # of each still of a sequence [ours]


def heading_of(clip: Clip, panel: Panel, terms: Terms) -> Heading:
    """What a journal of this scan belongs to. Raises RequestError for a clip that is on no file."""
    return {
        "version of emulate": _version(),
        "clip": clip_digest(clip),
        "stretch of the clip": [clip.start_s, clip.end_s, clip.every],
        "picture inside the bars": clip.active,
        "panel": _of(repr(_plain(panel)).encode()),
        "policy": _of(repr(_plain(terms.policy)).encode()),
        "viewer": asdict(terms.viewer),
        "angle": terms.angle,
        "room": terms.room_lux,
    }


def clip_digest(clip: Clip) -> str:
    """Of the file or the stills, and of what they are taken to mean.

    A file over 256 MiB is read in 64 pieces of 1 MiB spread over it, of stills the first 64 KiB.
    """
    said = [clip.name, str(clip.rate), repr(clip.encoding), repr(clip.metadata)]
    return _of("\n".join(said).encode(), *_content(clip))


def _content(clip: Clip) -> Iterable[bytes]:
    path = getattr(clip.source, "path", None)
    files: dict[int, Path] = getattr(clip.source, "files", {})
    if path is None:
        raise RequestError(f"{clip.name}: it is on no file; accepted is a clip on file")
    if files:
        for number in sorted(files):
            with files[number].open("rb") as file:
                yield f"{number} {files[number].stat().st_size}".encode() + file.read(STILL_BYTES)
        return
    size = path.stat().st_size
    yield str(size).encode()
    with path.open("rb") as file:
        if size <= WHOLE_BYTES:
            yield from iter(lambda: file.read(PIECE_BYTES), b"")
            return
        for piece in range(PIECES):
            file.seek(piece * (size - PIECE_BYTES) // (PIECES - 1))
            yield file.read(PIECE_BYTES)


def _plain(value: Any) -> Any:
    """Values as nested tuples of plain things, so that equal ones are written the same."""
    if hasattr(value, "tolist"):
        return ("array", getattr(value, "shape", ()), value.tobytes())
    if hasattr(value, "__dataclass_fields__"):
        return (type(value).__name__, *(_plain(getattr(value, n)) for n in _names(value)))
    if isinstance(value, dict):
        return tuple((key, _plain(value[key])) for key in value)
    if isinstance(value, list | tuple):
        return tuple(_plain(each) for each in value)
    return repr(value)


def _names(value: Any) -> list[str]:
    return list(value.__dataclass_fields__)


def _of(*parts: bytes) -> str:
    state = blake2b(digest_size=16)
    for part in parts:
        state.update(part)
    return state.hexdigest()


def _version() -> str:
    from importlib.metadata import version

    return version("emulate")
