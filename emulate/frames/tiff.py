"""TIFF in: 16-bit codes and floating-point light. The one door to tifffile."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from emulate.errors import Caveat, MaterialError
from emulate.frames.codes import frame_of_codes
from emulate.frames.floats import frame_of_floats
from emulate.frames.frame import Frame
from emulate.frames.said import Said, settle
from emulate.frames.size import LARGEST, MOST_SAMPLES, check_size

_ASSUMED_CODES = Said(transfer="sdr", gamut="bt709")  # what viewers take an unmarked TIFF for
_ASSUMED_LIGHT = Said(gamut="bt709")
_ACCEPTED = "8 or 16-bit whole numbers or 16, 32 or 64-bit floats, grey or RGB"
_MIN_IS_BLACK, _RGB = 1, 2  # PhotometricInterpretation, TIFF 6.0 section 8
_ICC = 34675  # InterColorProfile, ICC.1:2010 annex B.4


def read_tiff(file: Path, said: Said) -> Frame:
    """A frame from the first page of a TIFF: codes as SDR unless said, floats as linear light.

    Raises MaterialError for another depth, a palette, a packing that is not read, or a truncated
    file.
    """
    name = file.name
    samples, doubts = _read(file)
    if samples.dtype.kind == "f":
        told = Said(transfer="linear")
        encoding, assumptions = settle(name, told, said, _ASSUMED_LIGHT)
        wide = np.broadcast_to(samples, (*samples.shape[:2], 3))
        return frame_of_floats(
            name, np.ascontiguousarray(wide, np.float32), encoding, doubts + assumptions
        )
    return frame_of_codes(
        name,
        samples,
        8 * samples.dtype.itemsize,
        told=Said(matrix="rgb", full_range=True),
        said=said,
        assumed=_ASSUMED_CODES,
        doubts=doubts,
    )


def _read(file: Path) -> tuple[NDArray[Any], tuple[Caveat, ...]]:
    """Samples (h, w, 1 or 3) of the first page, and what is doubtful about them."""
    import tifffile

    try:
        with tifffile.TiffFile(file) as tiff:
            page = tiff.pages[0]
            _check(file, page)
            doubts = _doubts(file.name, page, len(tiff.pages))
            return _interleaved(page), doubts
    except MaterialError:
        raise
    except Exception as error:  # tifffile raises whatever its parsers and packings do
        raise MaterialError(f"{file}: cannot be read as TIFF ({error})") from error


def _check(file: Path, page: Any) -> None:
    check_size(file, page.imagewidth, page.imagelength)
    samples = page.imagewidth * page.imagelength * page.samplesperpixel * page.imagedepth
    if samples > MOST_SAMPLES or page.tilewidth * page.tilelength > LARGEST:
        raise MaterialError(f"{file}: {samples} samples in all; accepted are {MOST_SAMPLES}")
    kind = page.dtype
    depth = f"{page.bitspersample}-bit {kind}"
    if (
        kind is None
        or (kind.kind, kind.itemsize) not in {("u", 1), ("u", 2), ("f", 2), ("f", 4), ("f", 8)}
        or page.bitspersample != 8 * kind.itemsize
    ):
        raise MaterialError(f"{file}: {depth}; accepted are {_ACCEPTED}")
    channels = {_MIN_IS_BLACK: 1, _RGB: 3}.get(int(page.photometric), 0)
    if not channels or page.samplesperpixel < channels or page.imagedepth != 1:
        raise MaterialError(
            f"{file}: {page.samplesperpixel} channels of kind {int(page.photometric)}; "
            f"accepted are {_ACCEPTED}"
        )


def _interleaved(page: Any) -> NDArray[Any]:
    """(h, w, 1 or 3): planes brought together, further channels left out."""
    samples = page.asarray().reshape(
        (page.imagelength, page.imagewidth, -1)
        if int(page.planarconfig) == 1
        else (-1, page.imagelength, page.imagewidth)
    )
    if int(page.planarconfig) != 1:
        samples = np.moveaxis(samples, 0, -1)
    return np.asarray(samples[..., : 3 if int(page.photometric) == _RGB else 1])


def _doubts(name: str, page: Any, pages: int) -> tuple[Caveat, ...]:
    doubts = []
    if pages > 1:
        doubts.append(f"{pages} pages; the first is read")
    if page.samplesperpixel not in (1, 3):
        doubts.append("its further channels are ignored")
    if _ICC in page.tags:
        doubts.append("its ICC profile is not read")
    if page.dtype.kind == "u" and page.dtype.itemsize == 1:
        doubts.append("8 bits a channel; steps between codes may be seen")
    return tuple(Caveat(name, text) for text in doubts)
