"""What a video stream says of itself: how its light is written down, when its frames are due."""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from emulate.errors import Caveat
from emulate.frames.cicp import said_by_cicp
from emulate.frames.container import stream_of
from emulate.frames.frame import Encoding, Siting
from emulate.frames.planes import Planes
from emulate.frames.said import Said, settle

FALLBACK_RATE = Fraction(
    24
)  # frames a second where neither stream nor caller says; common practice

ROUNDED = 1e-3  # frames a second, what three printed decimals of a rate can be off; ours

_DURATION = re.compile(r"([0-9]{1,6}):([0-9]{1,2}):([0-9]{1,2}(?:\.[0-9]{1,12})?)[\0 ]*")
_COLOUR = b"\x55\xb0"  # Matroska element Colour, RFC 9559 5.1.4.1.28.16
_ACROSS, _DOWN = 0x55B7, 0x55B8  # ChromaSitingHorz and ChromaSitingVert, as above
_SITINGS: dict[tuple[int, int], Siting] = {  # 1 collocated, 2 half way, as above
    (1, 1): "topleft",
    (1, 2): "left",
    (2, 2): "centre",
}


def exact_rate(rate: float) -> Fraction:
    """The rate that a rounded number stands for: 23.976, 29.97 and 59.94 are n·1000/1001."""
    slowed = Fraction(round(rate * 1001 / 1000) * 1000, 1001)  # SMPTE ST 2036-1, from memory
    if abs(rate - slowed) < ROUNDED:
        return slowed
    return Fraction(rate).limit_denominator(1000)


@dataclass(frozen=True)
class Timeline:
    """When frames are due: every 1/rate second, or at the listed time stamps.

    start and times: in the stream's own ticks; tick [s]. rate: frames a second. An even stream has
    no list; index and time then follow from the rate alone, and a lost frame keeps its number.
    """

    tick: Fraction
    start: int
    rate: Fraction
    times: tuple[int, ...] | None = None

    def index_at(self, stamp: int) -> int:
        """Index of the frame due at `stamp`."""
        if self.times is not None:
            return bisect_left(self.times, stamp)
        return round((stamp - self.start) * self.tick * self.rate)

    def stamp_of(self, index: int) -> int | None:
        """When frame `index` is due, or None where the list has no such frame."""
        if self.times is not None:
            return self.times[index] if 0 <= index < len(self.times) else None
        return self.start + round(index / (self.rate * self.tick))

    def seconds_of(self, index: int) -> float:
        """When frame `index` is due [s]; of one past the list, a frame later than the last."""
        if self.times is None:
            return float(index / self.rate)
        last = len(self.times) - 1
        beyond = max(index - last, 0) / self.rate
        return float((self.times[min(index, last)] - self.start) * self.tick + beyond)

    def stamp_at(self, time_s: float) -> int:
        return self.start + round(Fraction(time_s).limit_denominator(10**9) / self.tick)


def encoding_of(
    about: str, frame: Any, planes: Planes, siting: Siting | None, caller: Said
) -> tuple[Encoding, tuple[Caveat, ...]]:
    """How a decoded picture's light was written down, and what had to be assumed for it."""
    ranges = {1: False, 2: True}  # AVCOL_RANGE_MPEG and _JPEG of libavutil/pixfmt.h
    full = True if planes.is_full_range else ranges.get(int(frame.color_range))
    matrix = 0 if planes.is_rgb else int(frame.colorspace)
    told, caveats = said_by_cicp(
        about, int(frame.color_primaries), int(frame.color_trc), matrix, full
    )
    told = Said(
        transfer=told.transfer,
        gamut=told.gamut,
        matrix=told.matrix,
        full_range=told.full_range,
        siting=_siting_of(planes, siting),
    )
    encoding, doubts = settle(about, told, caller, _assumed(told, caller, planes), planes.bits)
    return encoding, caveats + doubts


def _siting_of(planes: Planes, told: Siting | None) -> Siting | None:
    """4:2:2 is co-sited by definition and 4:4:4 has nowhere else to be: ITU-R BT.2020-2 table 4."""
    return told if _is_420(planes) else "left"


def _is_420(planes: Planes) -> bool:
    return bool(
        planes.second.shape[0] < planes.first.shape[0]
        and planes.second.shape[1] < planes.first.shape[1]
    )


def _assumed(told: Said, caller: Said, planes: Planes) -> Said:
    """Untagged material is taken for SDR in BT.709, and for PQ where it says it is BT.2020.

    Common practice, no source.
    """
    gamut = caller.gamut or told.gamut
    transfer = caller.transfer or told.transfer or ("pq" if gamut == "bt2020" else "sdr")
    wide = transfer in ("pq", "hlg")
    return Said(
        transfer=transfer,
        gamut="bt2020" if wide else "bt709",
        matrix="rgb" if planes.is_rgb else ("bt2020" if wide else "bt709"),
        full_range=planes.is_rgb,
        siting="left",
    )


def siting_of_stream(stream: Any) -> Siting | None:
    """Where the stream says its chroma is sited, None where it does not.

    av does not show it, but writes it into a Matroska header: an empty one is made in memory.
    """
    import io

    import av

    memory = io.BytesIO()
    try:
        with av.open(memory, "w", format="matroska") as container:
            container.add_stream_from_template(stream, opaque=True)
            container.start_encoding()
    except (av.FFmpegError, ValueError):
        return None
    found = _elements_of_colour(memory.getvalue())
    return _SITINGS.get((found.get(_ACROSS, 0), found.get(_DOWN, 0)))


def _elements_of_colour(header: bytes) -> dict[int, int]:
    """Two-byte elements of one byte each within Colour: number → value. RFC 8794 (EBML)."""
    at = header.find(_COLOUR)
    if at < 0:
        return {}
    size, inside = header[at + 2] & 0x7F, at + 3
    content = header[inside : inside + size]
    elements: dict[int, int] = {}
    while len(content) >= 4:
        length = content[2] & 0x7F
        elements[int.from_bytes(content[:2], "big")] = int.from_bytes(
            content[3 : 3 + length], "big"
        )
        content = content[3 + length :]
    return elements


def timeline_of(
    path: Path, stream: Any, decoded: Any, asked: Fraction | None
) -> tuple[Timeline, tuple[Caveat, ...]]:
    """When the frames of a stream are due, and what had to be assumed for it.

    asked: frames a second, used where the stream carries no times.
    """
    told = stream.average_rate or stream.guessed_rate
    if decoded.pts is None:
        rate = Fraction(asked or told or FALLBACK_RATE)
        text = f"its frames carry no times; {float(rate):.6g} frames a second are assumed"
        return Timeline(1 / rate, 0, rate), (Caveat(path.name, text),)
    start = stream.start_time if stream.start_time is not None else decoded.pts
    line = Timeline(stream.time_base, min(start, decoded.pts), Fraction(told or FALLBACK_RATE))
    doubts: tuple[Caveat, ...] = ()
    if asked is not None and asked != line.rate:
        text = f"it carries its own times; a rate of {float(asked):.6g} is not used"
        doubts = (Caveat(path.name, text),)
    if told and told == stream.base_rate and _fits(path, line):
        return line, doubts
    return _listed(path, line, told), doubts


def _fits(path: Path, line: Timeline) -> bool:
    with stream_of(path) as (container, stream):
        return _steps_evenly(container, stream, line)


def _listed(path: Path, line: Timeline, told: Fraction | None) -> Timeline:
    """Every time stamp of a stream of uneven pace, by reading the file through once."""
    with stream_of(path) as (container, stream):
        times = _listed_stamps(container, stream)
    rate = line.rate
    if not told and len(times) > 1:
        rate = Fraction(len(times) - 1) / ((times[-1] - times[0]) * line.tick)
    return replace(line, start=times[0] if times else line.start, rate=rate, times=times)


def count_of(container: Any, stream: Any, line: Timeline) -> int | None:
    """How many frames the stream says it has, None where it does not."""
    if line.times is not None:
        return len(line.times)
    if stream.frames:
        return int(stream.frames)
    end = _expected_end(container, stream)
    return None if end is None else round(end * line.rate)


def oddities_of(path: Path, stream: Any, decoded: Any) -> tuple[Caveat, ...]:
    """What the stream asks of a player that is not done here."""
    texts = []
    if decoded.rotation:
        texts.append(f"it asks to be turned by {decoded.rotation}°; it is shown as stored")
    if decoded.interlaced_frame:
        texts.append("it is interlaced; both fields are shown as one picture")
    aspect = stream.sample_aspect_ratio
    if aspect and aspect != 1:
        texts.append(f"its pixels are {aspect} wide for their height; they are shown square")
    return tuple(Caveat(path.name, text) for text in texts)


def _steps_evenly(container: Any, stream: Any, line: Timeline, packets: int = 100) -> bool:
    """Whether the first time stamps lie where the rate alone would put them, no two together."""
    stamps = _stamps(container, stream, packets)
    grid = [line.stamp_of(line.index_at(stamp)) for stamp in stamps]
    slack = max(1.0, float(0.1 / (line.rate * line.tick)))  # ticks; a tenth of a frame, ours
    near = all(abs(a - (b or 0)) <= slack for a, b in zip(stamps, grid, strict=True))
    return near and len(set(grid)) == len(stamps)


def _listed_stamps(container: Any, stream: Any) -> tuple[int, ...]:
    """Every time stamp of a stream, in order; reads the whole file."""
    return tuple(sorted(set(_stamps(container, stream, None))))


def _stamps(container: Any, stream: Any, packets: int | None) -> list[int]:
    import av

    stamps: list[int] = []
    try:
        for packet in container.demux(stream):
            if packet.pts is not None and packet.size and not packet.is_discard:
                stamps.append(packet.pts)
            if packets is not None and len(stamps) >= packets:
                break
    except av.FFmpegError:
        pass  # a file that breaks off is listed as far as it goes; decoding it tells of the rest
    return stamps


def _expected_end(container: Any, stream: Any) -> Fraction | None:
    """When the stream says it ends, counted from its first frame [s], None where it does not."""
    if stream.duration:
        return Fraction(stream.duration) * Fraction(stream.time_base)
    tag = _DURATION.fullmatch(stream.metadata.get("DURATION") or "")
    if tag:
        end = int(tag[1]) * 3600 + int(tag[2]) * 60 + Fraction(tag[3])
        return end if end > 0 else None
    if container.duration and len(container.streams) == 1:
        return Fraction(container.duration, 1_000_000)  # AV_TIME_BASE
    return None
