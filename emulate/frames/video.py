"""Video streams, frame by frame and frame-exact; what does not decode is told, not patched."""

from __future__ import annotations

import os
from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from emulate.errors import Caveat, MaterialError, RequestError
from emulate.frames.container import events_of, first_stamp, stream_of
from emulate.frames.frame import CodePicture, Encoding, Frame, Metadata, Siting
from emulate.frames.metadata import metadata_of
from emulate.frames.planes import Planes, planes_of
from emulate.frames.said import Said, claimed
from emulate.frames.source import ON_TIME, Damage, Pieces, Source, frame_shown_at
from emulate.frames.stream import (
    Timeline,
    count_of,
    encoding_of,
    oddities_of,
    siting_of_stream,
    timeline_of,
)

_MARGINS = (0.5, 5.0, 30.0, None)  # s to seek back further, then from the start; our choice

Tags = tuple[str, int, int, int, int]


class Picture(NamedTuple):
    """A decoded picture in its place: the number it has, and av's own frame."""

    number: int
    decoded: Any


@dataclass(frozen=True)
class Video:
    """A video file: what its stream says, and its pictures.

    rate: frames a second. frames and duration_s: as the file says, None where it does not.
    shape: rows, columns. metadata and encoding: of the first picture.
    """

    path: Path
    caller: Said
    tags: Tags
    siting: Siting | None
    encoding: Encoding
    metadata: Metadata
    caveats: tuple[Caveat, ...]
    shape: tuple[int, int]
    timeline: Timeline
    stamped: bool
    strict: bool
    frames: int | None
    reads_ahead = True  # decoders run no loops of ours

    @property
    def name(self) -> str:
        return self.path.name

    @property
    def rate(self) -> Fraction:
        return self.timeline.rate

    @property
    def duration_s(self) -> float | None:
        return None if self.frames is None else self.time_of(self.frames)

    def time_of(self, index: int) -> float:
        """When frame `index` is due [s]; of the frame after the last, when the last one ends."""
        return self.timeline.seconds_of(index)

    def index_of(self, time_s: float) -> int:
        """Index of the frame on show at `time_s`."""
        line = self.timeline
        if line.times is not None:
            return max(bisect_right(line.times, line.stamp_at(time_s + ON_TIME)) - 1, 0)
        return frame_shown_at(time_s, line.rate)

    def pictures(self, start: int = 0) -> Pieces:
        """Frames from `start` on, and the stretches between them that do not decode, in order."""
        for item in _from(self, start):
            yield item if isinstance(item, Damage) else self._frame(item)

    def samples(self, count: int) -> Iterator[Frame]:
        """Up to `count` key frames spread evenly; of a stream that cannot be sought, early ones."""
        for picture in _sampled(self, count):
            yield self._frame(picture)

    def _frame(self, picture: Picture) -> Frame:
        decoded = picture.decoded
        planes = planes_of(decoded)
        encoding, caveats = self.encoding, self.caveats
        if tags_of(decoded) != self.tags:
            encoding, more = encoding_of(self.name, decoded, planes, self.siting, self.caller)
            caveats += more
        metadata, doubts = _claims(self.name, decoded, self.caller, self.metadata)
        return Frame(
            CodePicture(planes.first, planes.second, planes.third, encoding),
            name=f"{self.name}, frame {picture.number}",
            encoding=encoding,
            metadata=metadata,
            caveats=caveats + tuple(doubt for doubt in doubts if doubt not in caveats),
            time_s=self.time_of(picture.number),
            index=picture.number,
        )


def frame_of_clip(
    path: str | os.PathLike[str],
    *,
    at_s: float | None = None,
    index: int | None = None,
    said: Said | None = None,
) -> Frame:
    """One frame of a video file: the one on show at `at_s`, or number `index` counted from 0.

    A time up to half a millisecond early still finds its frame. Raises MaterialError where the file
    has no such frame or it does not decode, RequestError where both or a negative one are asked.
    """
    video = open_video(path, said or Said())
    if at_s is not None and index is not None:
        raise RequestError(f"{path}: at {at_s:g} s and index {index}; say one of them")
    if at_s is not None:
        return frame_at(video, at_s)
    return frame_number(video, index or 0)


def frame_at(video: Source, time_s: float) -> Frame:
    """The frame of a Video or a Sequence on show at `time_s`. Raises as `frame_of_clip` does."""
    if not time_s >= 0:
        raise RequestError(f"{video.name}: time {time_s:g} s; accepted is 0 or more")
    return frame_number(video, video.index_of(time_s))


def frame_number(video: Source, index: int) -> Frame:
    """Frame `index` of a Video or a Sequence. Raises as `frame_of_clip` does."""
    if index < 0:
        raise RequestError(f"{video.name}: index {index}; accepted is 0 or more")
    count = "" if video.frames is None else f" of {video.frames}"
    if video.frames is None or index <= video.frames:
        for item in video.pictures(index):
            if isinstance(item, Damage):
                raise MaterialError(f"{video.name}: frame {index}{count} cannot be read: {item}")
            if item.index == index:
                return item
            break
    lasts = "" if video.duration_s is None else f"; it lasts {video.duration_s:.3f} s"
    raise MaterialError(
        f"{video.name}: there is no frame {index} ({video.time_of(index):.3f} s){count}{lasts}"
    )


def open_video(path: str | os.PathLike[str], caller: Said, rate: Fraction | None = None) -> Video:
    """What a video file says, found by decoding its first picture.

    rate: frames a second, of streams that carry no times. A stream whose every picture offends a
    strict decoder is read by a lenient one, with a caveat. Raises MaterialError where the file is
    missing, is no video or holds no picture that can be decoded.
    """
    place = Path(path)
    try:
        return _opened(place, caller, rate, strict=True)
    except _UndecodableError as trouble:
        video = _opened(place, caller, rate, strict=False)
        text = f"it offends a strict decoder ({trouble.reason}); errors in it may go untold"
        return replace(video, caveats=(*video.caveats, Caveat(place.name, text)))


class _UndecodableError(MaterialError):
    """Nothing in a file can be decoded; `reason` is the decoder's word for it."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(f"{path}: nothing in it can be decoded ({reason})")
        self.reason = reason


def _opened(place: Path, caller: Said, rate: Fraction | None, strict: bool) -> Video:
    with stream_of(place, strict) as (container, stream):
        decoded = _first_picture(place, container, stream)
        siting = siting_of_stream(stream)
        timeline, doubts = timeline_of(place, stream, decoded, rate)
        stamped = decoded.pts is not None
        frames = count_of(container, stream, timeline) if stamped else None
        doubts += oddities_of(place, stream, decoded)
    planes = _planes(place, decoded)
    if planes.has_alpha:
        doubts += (Caveat(place.name, "it has an alpha channel, which is not used"),)
    encoding, assumed = encoding_of(place.name, decoded, planes, siting, caller)
    metadata, disbelieved = _claims(place.name, decoded, caller, Metadata())
    return Video(
        path=place,
        caller=caller,
        tags=tags_of(decoded),
        siting=siting,
        encoding=encoding,
        metadata=replace(metadata, dynamic=None),
        caveats=assumed + doubts + disbelieved,
        shape=planes.first.shape,
        timeline=timeline,
        stamped=stamped,
        strict=strict,
        frames=frames,
    )


def _planes(place: Path, decoded: Any) -> Planes:
    try:
        return planes_of(decoded)
    except MaterialError as error:
        raise MaterialError(f"{place}: {error}") from None


def tags_of(decoded: Any) -> Tags:
    """What a decoded picture says of its codes: pixel format and H.273 code points."""
    return (
        decoded.format.name,
        int(decoded.color_primaries),
        int(decoded.color_trc),
        int(decoded.colorspace),
        int(decoded.color_range),
    )


def _first_picture(path: Path, container: Any, stream: Any) -> Any:
    reason = "no picture in it"
    for event in events_of(container, stream):
        if not isinstance(event, str) and not event.is_corrupt:
            return event
        reason = event if isinstance(event, str) else "a corrupt picture"
    raise _UndecodableError(path, reason)


def _from(video: Video, start: int) -> Iterator[Picture | Damage]:
    """Pictures from `start` on. Seeking lands anywhere: what lands late is tried further back."""
    for margin in _MARGINS if video.stamped and start > 0 else (None,):
        items = _tracked(video, start, margin)
        try:
            first = next(items, None)
            late = margin is not None and not (isinstance(first, Picture) and first.number <= start)
            if late:
                continue
            if first is not None:
                yield from _wanted(first, items, start, video.time_of(start))
            return
        finally:
            items.close()  # type: ignore[attr-defined]


def _sampled(video: Video, count: int) -> Iterator[Picture]:
    """Key frames, and where they are few, every so manieth frame of what is not too long."""
    found = 0
    if video.stamped and video.frames:
        for picture in _keys(video, count, video.frames):
            found += 1
            yield picture
    if 2 * found < count:
        step = max(1, min(video.frames or _PASS, _PASS) // count)
        some = islice(_from(video, 0), 0, _PASS, step)
        yield from (item for item in some if isinstance(item, Picture))


_PASS = 1000  # frames that a look for bars is worth decoding; our choice


def _keys(video: Video, count: int, frames: int) -> Iterator[Picture]:
    with stream_of(video.path, video.strict) as (container, stream):
        stream.codec_context.skip_frame = "NONKEY"
        seen: set[int] = set()
        landed: set[int] = set()
        for turn in range(count):
            stamp = video.timeline.stamp_of(turn * frames // count) or 0
            container.seek(stamp, stream=stream, backward=True)
            here = first_stamp(container, stream)
            if here in landed:
                continue  # at a key frame that has been decoded
            if here is not None:
                landed.add(here)
            container.seek(stamp, stream=stream, backward=True)
            for event in events_of(container, stream):
                if isinstance(event, str) or event.is_corrupt:
                    continue
                picture = _placed(video.timeline, event, 0)
                if picture.number not in seen:
                    yield picture
                seen.add(picture.number)
                break


def _wanted(
    first: Picture | Damage, rest: Iterator[Picture | Damage], start: int, start_s: float
) -> Iterator[Picture | Damage]:
    item: Picture | Damage | None = first
    while item is not None:
        if isinstance(item, Picture):
            if item.number >= start:
                yield item
        elif item.end_s > start_s + ON_TIME:
            yield replace(item, start_s=max(item.start_s, start_s))
        item = next(rest, None)


def _tracked(video: Video, start: int, margin: float | None) -> Iterator[Picture | Damage]:
    """Pictures in their places, and Damage where some are missing.

    After an error nothing is believed until the next key frame: what is predicted from a broken
    picture is broken too, whether or not the decoder says so.
    """
    line = video.timeline
    with stream_of(video.path, video.strict) as (container, stream):
        expected = 0
        if margin is not None:
            stamp = line.stamp_of(start)
            if stamp is None:
                return
            container.seek(max(stamp - round(margin / line.tick), 0), stream=stream, backward=True)
            expected = -1  # wherever it lands
        trouble, lost, hurt = "", 0, margin is not None
        for event in events_of(container, stream):
            if isinstance(event, str) or event.is_corrupt:
                trouble = trouble or (event if isinstance(event, str) else _CORRUPT)
                lost += 1
                continue
            picture = _placed(line, event, max(expected, 0) + lost)
            if picture.number < expected:
                if not hurt:  # a straggler of a damaged stretch has been told of already
                    yield _damage(video, picture.number, picture.number, _TWICE)
                continue
            if trouble and not event.key_frame:
                lost += 1
                continue
            if expected >= 0 and picture.number > expected:
                yield _damage(video, expected, picture.number, trouble or _ABSENT)
                hurt = True
            trouble, lost, expected = "", 0, picture.number + 1
            yield picture
            del picture, event
        missing = (video.frames or 0) - max(expected, 0)
        if missing > (0 if trouble else 1):
            yield _damage(video, max(expected, 0), video.frames or 0, trouble or _CUT)
        elif trouble:
            yield _damage(video, max(expected, 0), max(expected, 0) + max(lost, 1), trouble)


_CORRUPT = "the decoder marks its pictures as corrupt"
_ABSENT = "no picture is stored for it"
_TWICE = "a second picture is stored for this time; it is left out"
_CUT = "the file ends early"


def _placed(line: Timeline, decoded: Any, expected: int) -> Picture:
    """Where a picture belongs; one without a time stamp follows the one before it."""
    if decoded.pts is None:
        return Picture(expected, decoded)
    return Picture(line.index_at(decoded.pts), decoded)


def _damage(video: Video, first: int, end: int, text: str) -> Damage:
    return Damage(video.time_of(first), video.time_of(end), text)


def _side_data(decoded: Any) -> list[tuple[str, bytes]]:
    """Not by the picture's own `side_data`, which refers back to it: pictures would pile up."""
    from av.sidedata import sidedata

    container: Any = sidedata.SideDataContainer
    wanted = ("MASTERING_DISPLAY_METADATA", "CONTENT_LIGHT_LEVEL", "DYNAMIC_HDR_PLUS")
    return [(d.type.name, bytes(d)) for d in container(decoded) if d.type.name in wanted]


def _claims(
    about: str, decoded: Any, caller: Said, clip: Metadata
) -> tuple[Metadata, tuple[Caveat, ...]]:
    """What a picture claims, what its clip began with where it repeats none, and the caller's."""
    metadata, disbelieved = metadata_of(about, _side_data(decoded))
    told, doubts = claimed(about, _with_static_of(clip, metadata), caller)
    return told, disbelieved + doubts


def _with_static_of(clip: Metadata, frame: Metadata) -> Metadata:
    """A frame that repeats no static claims keeps those its clip began with."""
    if replace(frame, dynamic=None) == Metadata():
        return replace(clip, dynamic=frame.dynamic)
    return frame
