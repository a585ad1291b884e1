"""Clips out: HDR10 and lossless HDR, honest SDR video, and animated stills. Whole or not at all."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import chain
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from emulate.errors import OutputError, RequestError
from emulate.frames.frame import CodePicture, Encoding, Frame, Metadata
from emulate.frames.stream import exact_rate
from emulate.frames.ycbcr import pq_picture, sdr_picture
from emulate.outputs import whole_file

Codec = Literal["hevc", "av1", "ffv1"]
Chroma = Literal["420", "422", "444", "rgb"]

HEVC_QUALITY = 16  # x265 crf, by eye no different from its source; our choice
AV1_QUALITY = 20  # SVT-AV1 crf, as above
# Flat and smooth pictures come back within a code. Threads and mbtree: each run has bytes its own.
_H264 = {"crf": "12", "preset": "medium", "x264-params": "threads=1:mbtree=0"}
THREADS = 2  # fixed, since what these encoders write can depend on it
KEY_EVERY_S = 1.0  # so that a seek never decodes more than a second; our choice

_FAST = {"hevc": {"preset": "ultrafast"}, "av1": {"preset": "12"}, "ffv1": {}}  # as they name them
_PRIMARIES = {"bt709": 1, "bt2020": 9, "p3": 12}  # ITU-T H.273 table 2
_TRANSFERS = {"sdr": 1, "linear": 8, "pq": 16, "hlg": 18}  # as above, table 3
_MATRICES = {"rgb": 0, "bt709": 1, "bt601": 6, "bt2020": 9}  # as above, table 4
_SITINGS = {"left": 0, "centre": 1, "topleft": 2}  # as above, Chroma420SampleLocType
_XY_STEP, _LIGHT_STEP = 0.00002, 0.0001  # ITU-T H.265 D.3.28


@dataclass(frozen=True)
class _Recipe:
    """How one encoder is asked for what we want: its name, its options, its container tag."""

    encoder: str
    pixels: str
    options: dict[str, str] = field(default_factory=dict)
    tag: str = ""
    tags: tuple[int, int, int, int] = (2, 2, 2, 0)  # primaries, transfer, matrix, range


def write_clip(
    frames: Iterable[Frame | CodePicture | ArrayLike],
    path: str | os.PathLike[str],
    *,
    rate: float,
    metadata: Metadata | None = None,
    codec: Codec = "hevc",
    lossless: bool = True,
    chroma: Chroma = "420",
    fast: bool = False,
) -> Path:
    """An HDR clip of frames of one size, `rate` a second, read one at a time.

    Frames that hold code values are written code for code with what their encoding says; light
    (h, w, 3) [cd/m²] is written as narrow 10-bit BT.2020 PQ, its `chroma` 420 (HDR10), 422, 444 or
    rgb. metadata: ST 2086 and content light level, in hevc and av1. lossless: decoding gives back
    the same codes. fast: a larger file, sooner. hevc pictures carry a check sum, so that damage is
    told when they are read.

    Raises RequestError for frames, a rate or metadata that cannot be written so, OutputError for a
    place that cannot be written.
    """
    pictures = (_picture_of(frame, chroma) for frame in frames)
    first = next(pictures, None)
    if first is None:
        raise RequestError(f"{path}: no frames; accepted is at least one")
    recipe = _RECIPES[_known(codec, _RECIPES, "codec")](first, metadata, lossless, _exact(rate))
    if fast:
        recipe = replace(recipe, options=recipe.options | _FAST[codec])
    with whole_file(path) as scratch:
        _encode(chain([first], pictures), scratch, rate, recipe)
    return Path(path)


def write_sdr_clip(
    pictures: Iterable[NDArray[np.uint8]], path: str | os.PathLike[str], rate: float
) -> Path:
    """H.264 video of R′G′B′ pictures (h, w, 3) uint8 that every player shows alike.

    4:2:0, BT.709, narrow range, and tagged so; sides of odd length lose their last line. Raises
    RequestError for pictures that are none, OutputError for a place that cannot be written.
    """
    planes = (sdr_picture(_even(_rgb8(picture))) for picture in pictures)
    first = next(planes, None)
    if first is None:
        raise RequestError(f"{path}: no pictures; accepted is at least one")
    recipe = _Recipe(
        "libx264",
        "yuv420p",
        _H264 | {"g": _keys(_exact(rate))},
        tags=_tags(first.encoding),
    )
    with whole_file(path) as scratch:
        _encode(chain([first], planes), scratch, rate, recipe)
    return Path(path)


def write_animation(
    pictures: Iterable[NDArray[np.uint8]], path: str | os.PathLike[str], rate: float
) -> Path:
    """An animated PNG of R′G′B′ pictures (h, w, 3) uint8, shown over and over.

    Animated PNG, since it is lossless in 24-bit colour (GIF has 256 colours), plays in every
    browser as a picture, and shows its first frame where it does not play. Raises as
    `write_sdr_clip` does.
    """
    if Path(path).suffix.lower() not in (".png", ".apng"):
        raise RequestError(f"{path}: accepted is .png or .apng")
    planes = (_rgb_planes(_rgb8(picture)) for picture in pictures)
    first = next(planes, None)
    if first is None:
        raise RequestError(f"{path}: no pictures; accepted is at least one")
    recipe = _Recipe("apng", "rgb24", {"pred": "mixed"})
    with whole_file(path) as scratch:
        _encode(
            chain([first], planes), scratch, rate, recipe, container="apng", asked={"plays": "0"}
        )
    return Path(path)


def _picture_of(frame: Frame | CodePicture | ArrayLike, chroma: str) -> CodePicture:
    _known(chroma, ("420", "422", "444", "rgb"), "chroma")
    if isinstance(frame, Frame):
        picture = frame.picture
        return picture if isinstance(picture, CodePicture) else _pq(frame.light, chroma)
    return frame if isinstance(frame, CodePicture) else _pq(frame, chroma)


def _pq(light: ArrayLike, chroma: str) -> CodePicture:
    return pq_picture(light, bits=10, chroma=chroma)


def _rgb8(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    array = np.asarray(picture)
    if array.dtype != np.uint8 or array.ndim != 3 or array.shape[2] != 3 or 0 in array.shape:
        raise RequestError(
            f"a picture of shape {array.shape} and {array.dtype}; accepted is (h, w, 3) uint8"
        )
    return array


def _even(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    height, width = (side - side % 2 for side in picture.shape[:2])
    if 0 in (height, width):
        raise RequestError(f"a picture of shape {picture.shape}; accepted is 2 by 2 pixels or more")
    return picture[:height, :width]


def _rgb_planes(picture: NDArray[np.uint8]) -> CodePicture:
    red, green, blue = (picture[..., i].astype(np.uint16) for i in range(3))
    return CodePicture(red, green, blue, Encoding("sdr", "bt709", "rgb", True, 8))


def _hevc(first: CodePicture, metadata: Metadata | None, lossless: bool, rate: Fraction) -> _Recipe:
    encoding = first.encoding
    primaries, transfer, matrix, span = _tags(encoding)
    told = {
        "log-level": "none",
        "hash": "1",  # a check sum in every picture
        "info": "0",
        "frame-threads": str(THREADS),
        "repeat-headers": "1",
        "bframes": "0",  # x265 leaves the times of very short clips to chance with them
        "keyint": _keys(rate),
        "colorprim": str(primaries),
        "transfer": str(transfer),
        "colormatrix": str(matrix),
        "range": "full" if span == 2 else "limited",
        "lossless" if lossless else "crf": "1" if lossless else str(HEVC_QUALITY),
    }
    if _sampling(first) == "420":
        told["chromaloc"] = str(_SITINGS[encoding.siting])
    told |= _claims(metadata, "master-display", "max-cll", _steps_of)
    joined = ":".join(f"{name}={value}" for name, value in told.items())
    return _Recipe("libx265", _pixels(first), {"x265-params": joined}, "hvc1", _tags(encoding))


def _av1(first: CodePicture, metadata: Metadata | None, lossless: bool, rate: Fraction) -> _Recipe:
    encoding = first.encoding
    told = {
        "enable-tf": "0",
        "keyint": _keys(rate),
        "lossless" if lossless else "crf": "1" if lossless else str(AV1_QUALITY),
    }
    if encoding.siting != "centre":
        told["chroma-sample-position"] = encoding.siting
    told |= _claims(metadata, "mastering-display", "content-light", _plain)
    joined = ":".join(f"{name}={value}" for name, value in told.items())
    options = {"svtav1-params": joined, "preset": "8"}
    return _Recipe("libsvtav1", _pixels(first), options, "", _tags(encoding))


def _ffv1(first: CodePicture, metadata: Metadata | None, lossless: bool, _: Fraction) -> _Recipe:
    if not lossless:
        raise RequestError("codec ffv1 is lossless; for a smaller clip take hevc or av1")
    if metadata is not None and metadata != Metadata():
        raise RequestError("codec ffv1 carries no metadata; hevc and av1 do")
    options = {"level": "3", "slicecrc": "1", "slices": "4", "g": "1"}
    if _sampling(first) == "420":
        named = {"centre": "center"}.get(first.encoding.siting, first.encoding.siting)
        options["chroma_sample_location"] = named
    return _Recipe("ffv1", _pixels(first), options, "", _tags(first.encoding))


_RECIPES: dict[str, Callable[[CodePicture, Metadata | None, bool, Fraction], _Recipe]] = {
    "hevc": _hevc,
    "av1": _av1,
    "ffv1": _ffv1,
}


def _tags(encoding: Encoding) -> tuple[int, int, int, int]:
    """Primaries, transfer, matrix and range as H.273 and libavutil number them."""
    if not isinstance(encoding.gamut, str):
        raise RequestError(f"primaries {encoding.gamut}; accepted are {', '.join(_PRIMARIES)}")
    return (
        _PRIMARIES[encoding.gamut],
        _TRANSFERS[encoding.transfer],
        _MATRICES[encoding.matrix],
        2 if encoding.full_range else 1,
    )


def _sampling(picture: CodePicture) -> str:
    if picture.second.shape == picture.first.shape:
        return "444"
    return "422" if picture.second.shape[0] == picture.first.shape[0] else "420"


def _pixels(picture: CodePicture) -> str:
    """The pixel format that holds these planes as they are."""
    bits = picture.encoding.bits
    kind = "gbrp" if picture.encoding.matrix == "rgb" else f"yuv{_sampling(picture)}p"
    return kind if bits == 8 else f"{kind}{bits}le"


def _claims(
    metadata: Metadata | None, display: str, levels: str, shown: Callable[[Metadata], str]
) -> dict[str, str]:
    """ST 2086 and CTA-861.3 as an encoder's parameters. Raises RequestError for half a display."""
    if metadata is None or metadata == Metadata():
        return {}
    if metadata.dynamic is not None:
        raise RequestError("dynamic metadata is not written; accepted is ST 2086 and light levels")
    told = {}
    if metadata.max_cll or metadata.max_fall:
        told[levels] = f"{round(metadata.max_cll)},{round(metadata.max_fall)}"
    known = (metadata.mastering_peak > 0, metadata.mastering_primaries is not None)
    if all(known):
        told[display] = shown(metadata)
    elif any(known):
        raise RequestError("ST 2086 wants both a mastering peak and its primaries with white")
    return told


def _steps_of(metadata: Metadata) -> str:
    """ST 2086 in whole steps, green, blue, red and white, as x265 wants it."""
    red, green, blue, white = (
        f"({round(x / _XY_STEP)},{round(y / _XY_STEP)})"
        for x, y in metadata.mastering_primaries or ()
    )
    peak, black = (
        round(v / _LIGHT_STEP) for v in (metadata.mastering_peak, metadata.mastering_black)
    )
    return f"G{green}B{blue}R{red}WP{white}L({peak},{black})"


def _plain(metadata: Metadata) -> str:
    """ST 2086 in plain numbers, as SVT-AV1 wants it."""
    red, green, blue, white = (f"({x:.6f},{y:.6f})" for x, y in metadata.mastering_primaries or ())
    peak, black = metadata.mastering_peak, metadata.mastering_black
    return f"G{green}B{blue}R{red}WP{white}L({peak:.4f},{black:.4f})"


def _encode(
    pictures: Iterator[CodePicture],
    scratch: Path,
    rate: float,
    recipe: _Recipe,
    container: str | None = None,
    asked: dict[str, str] | None = None,
) -> None:
    import av

    first = next(pictures)
    try:
        with (
            _hushed(),
            av.open(str(scratch), "w", format=container, options=_SAME | (asked or {})) as file,
        ):
            stream = _stream(file, first, _exact(rate), recipe)
            for index, picture in enumerate(chain([first], pictures)):
                if picture.shape != first.shape or picture.encoding != first.encoding:
                    raise RequestError(
                        f"{scratch.name}: frame {index} is of another size or encoding than the "
                        "first; accepted is one size and one encoding"
                    )
                decoded = _framed(picture, recipe, index)
                for packet in stream.encode(decoded):
                    file.mux(packet)
            for packet in stream.encode(None):
                file.mux(packet)
    except (av.FFmpegError, ValueError) as error:
        raise OutputError(
            f"{recipe.encoder} cannot write {recipe.pixels} of {first.shape[1]}×{first.shape[0]} "
            f"pixels to a {scratch.suffix} file ({error})"
        ) from error


_SAME = {"fflags": "+bitexact"}  # no random numbers and no dates in the file


def _stream(file: Any, first: CodePicture, rate: Fraction, recipe: _Recipe) -> Any:
    import av

    try:
        formats = {f.name for f in av.codec.Codec(recipe.encoder, "w").video_formats or ()}
    except av.codec.codec.UnknownCodecError:
        raise OutputError(f"this installation of av has no encoder {recipe.encoder}") from None
    if recipe.pixels not in formats:
        raise RequestError(f"{recipe.encoder} does not write {recipe.pixels}")
    stream = file.add_stream(recipe.encoder, rate=rate)
    context = stream.codec_context
    stream.height, stream.width = first.shape
    stream.pix_fmt = recipe.pixels
    stream.options = recipe.options
    context.thread_count = THREADS
    context.time_base = 1 / rate
    if recipe.tag and Path(file.name).suffix.lower() in (".mp4", ".mov"):
        context.codec_tag = recipe.tag
    _tag(context, recipe)
    return stream


def _tag(target: Any, recipe: _Recipe) -> None:
    """The four code points, on the stream and on each picture: encoders look at either."""
    primaries, transfer, matrix, span = recipe.tags
    target.color_primaries, target.color_trc = primaries, transfer
    target.colorspace, target.color_range = matrix, span


def _framed(picture: CodePicture, recipe: _Recipe, index: int) -> Any:
    """An av frame that holds the planes."""
    import av

    height, width = picture.shape
    frame = av.VideoFrame(width, height, recipe.pixels)
    planes = [picture.first, picture.second, picture.third]
    if recipe.pixels.startswith("gbr"):
        planes = [planes[1], planes[2], planes[0]]
    if recipe.pixels == "rgb24":
        planes = [np.stack(planes, axis=-1).reshape(height, -1)]
    kind = np.uint16 if picture.encoding.bits > 8 else np.uint8
    buffers: tuple[Any, ...] = frame.planes
    for plane, codes in zip(buffers, planes, strict=True):
        lines = np.frombuffer(plane, kind).reshape(plane.height, -1)
        lines[:, : codes.shape[1]] = codes
    _tag(frame, recipe)
    frame.pts = index
    return frame


@contextmanager
def _hushed() -> Iterator[None]:
    """SVT-AV1 prints its settings unless its environment says not to."""
    before = os.environ.get("SVT_LOG")
    os.environ["SVT_LOG"] = before or "1"  # errors only
    try:
        yield
    finally:
        if before is None:
            del os.environ["SVT_LOG"]


def _exact(rate: float) -> Fraction:
    if not (math.isfinite(rate) and rate > 0):
        raise RequestError(f"rate {rate:g}; accepted is above 0 frames a second")
    return exact_rate(rate)


def _keys(rate: Fraction) -> str:
    return str(max(1, round(rate * Fraction(KEY_EVERY_S))))


def _known(value: str, accepted: Iterable[str], noun: str) -> str:
    if value not in accepted:
        raise RequestError(f"{noun} {value!r}; accepted are {', '.join(accepted)}")
    return value
