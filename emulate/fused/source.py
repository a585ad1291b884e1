"""Where a frame's light comes from, as the fused kernels take it: planes of codes, or light."""

from __future__ import annotations

from functools import lru_cache, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from emulate._kernels import row
from emulate.frames.decode import check_planes, code_base, luma_steps, siting_offsets, unmixing
from emulate.frames.frame import CodePicture, Encoding, Frame
from emulate.frames.gamut import bt2020_matrix
from emulate.fused.tables import signal_table
from emulate.transfer import light_from_pq, light_from_sdr
from emulate.values import Numbers, locked

_NO_CODES = locked(np.zeros(1, np.uint16))
_NO_LIGHT = locked(np.zeros(1, np.float32))


def source_of(frame: Frame) -> row.Source:
    """Planes where the frame's file holds codes that a table turns into light; else its light."""
    picture = frame.picture
    if isinstance(picture, CodePicture) and holds_signal(frame):
        return _of_codes(picture)
    return _of_light(frame)


def holds_signal(frame: Frame) -> bool:
    """Whether the frame's file holds codes that a table turns into light."""
    picture = frame.picture
    return isinstance(picture, CodePicture) and picture.encoding.transfer in ("pq", "sdr")


def _of_light(frame: Frame) -> row.Source:
    codes = _of_encoding(Encoding("pq", bits=10))
    return codes._replace(coded=0, light=locked(frame.light.reshape(-1)))


def _of_codes(picture: CodePicture) -> row.Source:
    check_planes(picture)
    first, first_step = _flat(picture.first)
    second, other_step = _flat(picture.second)
    third, third_step = _flat(picture.third)
    if third_step != other_step:
        second, other_step = _flat(np.ascontiguousarray(picture.second))
        third, _ = _flat(np.ascontiguousarray(picture.third))
    chroma = picture.second.shape[0], picture.second.shape[1]
    halved = int(chroma[0] != picture.shape[0]), int(chroma[1] != picture.shape[1])
    return _of_encoding(picture.encoding)._replace(
        first=first,
        second=second,
        third=third,
        first_step=first_step,
        other_step=other_step,
        chroma=chroma,
        halved=halved,
    )


def _flat(plane: NDArray[Any]) -> tuple[NDArray[Any], int]:
    """A plane as one flat read-only array, and how many numbers lie from one row to the next."""
    if plane.strides[1] != plane.itemsize or plane.strides[0] % plane.itemsize:
        plane = np.ascontiguousarray(plane)
    step = plane.strides[0] // plane.itemsize
    if step < plane.shape[1]:
        plane, step = np.ascontiguousarray(plane), plane.shape[1]
    length = (plane.shape[0] - 1) * step + plane.shape[1]
    flat = np.lib.stride_tricks.as_strided(plane, (length,), (plane.itemsize,), writeable=False)
    return flat, step


@lru_cache(maxsize=16)
def _of_encoding(encoding: Encoding) -> row.Source:
    eotf = light_from_pq
    if encoding.transfer == "sdr":
        eotf = _sdr(encoding.scale)
    gamut = bt2020_matrix(encoding.gamut)
    return row.Source(
        coded=1,
        light=_NO_LIGHT,
        first=_NO_CODES,
        second=_NO_CODES,
        third=_NO_CODES,
        first_step=0,
        other_step=0,
        chroma=(1, 1),
        halved=(0, 0),
        up=_narrow(np.stack([_between(offset) for offset in siting_offsets(encoding)])),
        mix=_narrow(unmixing(encoding) / luma_steps(encoding)),
        base=_narrow(code_base(encoding)),
        table=signal_table(eotf),
        recoloured=int(not np.array_equal(gamut, np.eye(3))),
        gamut=_narrow(gamut),
    )


@lru_cache(maxsize=8)
def _sdr(white: float) -> Any:
    return partial(light_from_sdr, white=white)


def _between(offset: float) -> Numbers:
    """Weights (2, 2) of the chroma samples around an even luma sample, then around an odd one."""
    early, late = offset / 2, (1 - offset) / 2
    return np.array([[early, 1 - early], [1 - late, late]])


def _narrow(values: Numbers) -> NDArray[np.float32]:
    return locked(values.astype(np.float32))
