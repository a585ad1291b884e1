"""Packets and pictures as av hands them out, and what it says went wrong."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from emulate.errors import MaterialError
from emulate.frames.regular import check_regular
from emulate.frames.size import LARGEST, check_size

_RETRIES = 8  # of a demuxer that fails in a row, then the file has ended; our choice
_STRICT = {"err_detect": "crccheck+bitstream+buffer+explode"}  # libavcodec: say, do not conceal

_BOUNDED = {"max_pixels": str(LARGEST)}  # libavcodec: refuse before memory is asked for
_LOCAL = {"protocol_whitelist": "file"}  # libavformat: a playlist must not lead to the network


@contextmanager
def stream_of(path: Path, strict: bool = True) -> Iterator[tuple[Any, Any]]:
    """The file and its first moving picture. A strict decoder tells of errors it could hide."""
    import av

    with _opened(path) as container:
        cover = av.stream.Disposition.attached_pic
        streams = [s for s in container.streams.video if not s.disposition & cover]
        if not streams:
            raise MaterialError(f"{path}: holds no video stream")
        stream = streams[0]
        if stream.codec_context is None:
            raise MaterialError(f"{path}: its video is of a codec that is not known here")
        if stream.width and stream.height:
            check_size(path, stream.width, stream.height)
        stream.thread_type = "AUTO"
        stream.codec_context.options = _BOUNDED | (_STRICT if strict else {})
        yield container, stream


def _opened(path: Path) -> Any:
    """The container, by its absolute name: others may be taken for an address or an option."""
    import av

    check_regular(path, "a video")
    try:
        return av.open(str(path.absolute()), options=_LOCAL, metadata_errors="replace")
    except (av.FFmpegError, OSError, ValueError) as error:
        raise MaterialError(f"{path}: cannot be read as video ({_reason(error)})") from None


def events_of(container: Any, stream: Any) -> Iterator[Any]:
    """Decoded pictures, and a text for each thing that went wrong, as they come."""
    import av

    for packet in _packets(container, stream):
        if isinstance(packet, str):
            yield packet
            continue
        if packet.is_corrupt:
            yield "the file marks a packet as corrupt"
        try:
            yield from packet.decode()
        except av.EOFError:
            return
        except av.FFmpegError as error:
            yield f"the decoder says: {_reason(error)}"
            if not packet.size:
                yield from _drained(stream)


def first_stamp(container: Any, stream: Any) -> int | None:
    """Time stamp of the packet that comes next, None where nothing says; it is used up."""
    packet = next(_packets(container, stream), "")
    return None if isinstance(packet, str) else packet.pts


def _packets(container: Any, stream: Any) -> Iterator[Any]:
    """Packets to the end of the file, past errors that the demuxer can get over."""
    import av

    fails, packets = 0, container.demux(stream)
    while fails < _RETRIES:
        try:
            packet = next(packets)
        except StopIteration:
            return
        except av.FFmpegError as error:
            fails += 1
            packets = container.demux(stream)
            yield f"the file cannot be read on: {_reason(error)}"
        else:
            fails = 0
            yield packet


def _drained(stream: Any) -> Iterator[Any]:
    """What a decoder still holds once it failed while being emptied."""
    import av

    for _ in range(_RETRIES):
        try:
            yield from stream.codec_context.decode(None)
        except av.EOFError:
            return
        except av.FFmpegError as error:
            yield f"the decoder says: {_reason(error)}"


def _reason(error: BaseException) -> str:
    text = getattr(error, "strerror", None) or str(error)
    return text[:1].lower() + text[1:]
