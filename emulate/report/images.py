"""Images of a page: in the file itself, each with its size and the finding it shows in words."""

from __future__ import annotations

import struct
from base64 import b64encode
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np

from emulate.errors import FindingsError
from emulate.findings.results import Made
from emulate.frames.compact import hdr_png_bytes, webp_bytes
from emulate.frames.still import load_frame
from emulate.pictures.page import Drawing, save_drawing
from emulate.pictures.style import Rgb
from emulate.values import Pixels

_KINDS = {".webp": "image/webp", ".png": "image/png", ".mp4": "video/mp4"}


@dataclass(frozen=True)
class Image:
    """An image as a page holds it: data URI, size in px, and words that stand for it."""

    uri: str
    width: int
    height: int
    alt: str


class Size(NamedTuple):
    """Of an image in px."""

    width: int
    height: int


def light_of(made: Made, name: str) -> Pixels:
    """Light (h, w, 3) [cd/m²] of a part. Raises FindingsError or MaterialError where it is none."""
    return load_frame(made.file(name), absolute=True).light


@lru_cache(maxsize=64)
def _swatch(shape: tuple[int, ...], codes: bytes) -> str:
    return data_uri("image/webp", webp_bytes(np.frombuffer(codes, np.uint8).reshape(shape)))


def swatch_image(codes: Rgb) -> Image:
    """A small picture that a page shows many times and words stand beside."""
    return Image(_swatch(codes.shape, codes.tobytes()), codes.shape[1], codes.shape[0], "")


def sdr_image(codes: Rgb, alt: str) -> Image:
    """sRGB codes (h, w, 3), or with alpha (h, w, 4), code for code."""
    return Image(data_uri("image/webp", webp_bytes(codes)), codes.shape[1], codes.shape[0], alt)


def hdr_image(light: Pixels, alt: str) -> Image:
    """Light (h, w, 3) [cd/m²] at absolute level."""
    uri = data_uri("image/png", hdr_png_bytes(light))
    return Image(uri, light.shape[1], light.shape[0], alt)


def file_image(path: Path, size: Size, alt: str) -> Image:
    """A picture in a file, as it is."""
    return Image(data_uri(kind_of(path), path.read_bytes()), *size, alt)


def drawn_image(drawing: Drawing) -> Image:
    """A drawing as PNG."""
    with TemporaryDirectory() as folder:
        data = save_drawing(drawing, Path(folder) / "drawing.png").path.read_bytes()
    return png_image(data, drawing.alt)


def png_image(data: bytes, alt: str) -> Image:
    """The bytes of a PNG file."""
    width, height = struct.unpack(">2I", data[16:24])  # IHDR, W3C PNG 11.2.1
    return Image(data_uri("image/png", data), width, height, alt)


def data_uri(kind: str, data: bytes) -> str:
    """RFC 2397, base64."""
    return f"data:{kind};base64,{b64encode(data).decode('ascii')}"


def kind_of(path: Path) -> str:
    """The media type of a file by its ending. Raises FindingsError for one that no page holds."""
    kind = _KINDS.get(path.suffix.lower())
    if kind is None:
        raise FindingsError(f"{path}: accepted on a page is {', '.join(_KINDS)}")
    return kind
