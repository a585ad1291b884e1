"""Stills in: one door, the format told from the bytes themselves."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from importlib import import_module
from pathlib import Path

from emulate.errors import MaterialError, RequestError
from emulate.frames.frame import Frame, Gamut, Matrix, Siting
from emulate.frames.gamut import Chromaticities
from emulate.frames.regular import check_regular
from emulate.frames.said import Said, claimed
from emulate.transfer import Transfer

ACCEPTED = "EXR, PNG, TIFF, Radiance HDR, AVIF, or a clip (mp4, mov, mkv, webm, ts)"
_CLIP_SUFFIXES = {".mp4", ".m4v", ".mov", ".mkv", ".webm", ".ts", ".m2ts", ".mts", ".hevc", ".ivf"}
_MARKS = {  # first bytes of a file: its format
    (b"\x76\x2f\x31\x01",): "exr",  # OpenEXR file layout, magic number
    (b"\x89PNG\r\n\x1a\n",): "png",  # ISO/IEC 15948:2004, 5.2
    (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"): "tiff",  # TIFF 6.0 section 2; BigTIFF
    (b"#?",): "radiance",  # Radiance file formats, "Picture"
}
_HEAD = 64  # bytes, enough for the brands of an ISO file


def load_frame(
    path: str | os.PathLike[str],
    *,
    scale: float | None = None,
    absolute: bool = False,
    transfer: Transfer | None = None,
    gamut: Gamut | Chromaticities | None = None,
    matrix: Matrix | None = None,
    full_range: bool | None = None,
    siting: Siting | None = None,
    hlg_peak: float | None = None,
    sdr_white: float | None = None,
    mastered: float | None = None,
    at_s: float | None = None,
    index: int | None = None,
) -> Frame:
    """One frame of reference light from a still, or from a clip by time or index.

    Reads EXR, 8 and 16-bit PNG, 8, 16-bit and float TIFF, Radiance HDR, 8 to 12-bit AVIF, and
    whatever `open_clip` reads. What the file does not say the caller can; what neither says is
    assumed with a caveat, and where they contradict each other the caller is believed with one.

    scale [cd/m²]: what 1.0 of linear light stands for (203 where nobody says). absolute: 1.0 is
    1 cd/m². transfer: pq, hlg, sdr or linear. gamut: bt2020, p3, bt709 or xy of red, green, blue
    and white. matrix: rgb, bt2020, bt709 or bt601. full_range: of the code values. siting: left,
    topleft or centre. hlg_peak, sdr_white [cd/m²]. mastered [cd/m²]: peak of the screen it was
    graded on. at_s [s] or index: which frame of a clip.

    Raises MaterialError for a file that cannot be read as asked, RequestError for a value that is
    not accepted.
    """
    said = Said(
        scale=scale,
        absolute=absolute or None,
        transfer=transfer,
        gamut=gamut,
        matrix=matrix,
        full_range=full_range,
        siting=siting,
        hlg_peak=hlg_peak,
        sdr_white=sdr_white,
        mastered=mastered,
    )
    file = Path(path)
    read = _reader(file, _head(file))
    if read is None:
        from emulate.frames.video import frame_of_clip

        return frame_of_clip(file, at_s=at_s, index=index, said=said)
    if at_s is not None or index not in (None, 0):
        raise RequestError(f"{file}: a still has one frame; a time or an index is for clips")
    frame = read(file, said)
    metadata, doubts = claimed(file.name, frame.metadata, said)
    return replace(frame, metadata=metadata).doubted(*doubts)


def _head(file: Path) -> bytes:
    """The first bytes of a file. Raises MaterialError where there are none to read."""
    check_regular(file, ACCEPTED)
    try:
        with file.open("rb") as stream:
            head = stream.read(_HEAD)
    except OSError as error:
        raise MaterialError(f"{file}: cannot be read ({error})") from error
    if not head:
        raise MaterialError(f"{file}: empty; accepted are {ACCEPTED}")
    return head


def _reader(file: Path, head: bytes) -> Callable[[Path, Said], Frame] | None:
    """The reader of a still, or None for a clip. Raises MaterialError for neither."""
    for marks, kind in _MARKS.items():
        if head.startswith(marks):
            return _reader_of(kind)
    if head[4:8] == b"ftyp" and _is_avif(head):
        return _reader_of("avif")
    if file.suffix.lower() in _CLIP_SUFFIXES:
        return None
    raise MaterialError(f"{file}: not a kind of file that is read; accepted are {ACCEPTED}")


def _reader_of(kind: str) -> Callable[[Path, Said], Frame]:
    """The reader of a format, its room and its library opened only now."""
    read: Callable[[Path, Said], Frame] = getattr(
        import_module(f"emulate.frames.{kind}"), f"read_{kind}"
    )
    return read


def _is_avif(head: bytes) -> bool:
    """Whether an ISO file's brands name an AV1 still. AV1 Image File Format v1.1, 6."""
    end = min(int.from_bytes(head[:4], "big"), len(head))
    brands = {head[8:12], *(head[i : i + 4] for i in range(16, end - 3, 4))}
    return bool(brands & {b"avif", b"avis"})
