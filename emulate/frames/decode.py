"""The one place where code values become light."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from functools import lru_cache, partial

import numpy as np

from emulate.errors import MaterialError
from emulate.frames.frame import CodePicture, Encoding
from emulate.frames.gamut import bt2020_matrix
from emulate.transfer import (
    LUMINANCE_2020,
    hlg_gamma,
    light_from_pq,
    light_from_sdr,
    scene_from_hlg,
)
from emulate.values import Numbers, Pixels, locked

KR_KB = {
    "bt2020": (0.2627, 0.0593),  # ITU-R BT.2020-2 table 4, non-constant luminance
    "bt709": (0.2126, 0.0722),  # ITU-R BT.709-6 item 3.2
    "bt601": (0.299, 0.114),  # ITU-R BT.601-7 table 2
}
_SITING = {  # rows, columns from the first luma sample to the first chroma sample
    "left": (0.5, 0.0),  # ITU-T H.273 Chroma420SampleLocType 0
    "centre": (0.5, 0.5),  # as above, type 1
    "topleft": (0.0, 0.0),  # as above, type 2
}
TABLE_STEPS = 65536  # fine enough that linear interpolation is below float32 rounding above black


def light_from_planes(picture: CodePicture, every: int = 1) -> Pixels:
    """Light (h, w, 3) float32, BT.2020 linear, cd/m², of code planes.

    Codes below black give 0, codes above white the light of 1.0. The matrix is applied in float64;
    chroma is upsampled bilinearly from where it is sited. A whole code that no matrix mixes gets
    the light of the printed transfer function rounded to float32, between codes linear
    interpolation over about 65 000 steps. Of every `every`th row and column, where not of all.
    Raises MaterialError where planes do not fit together.
    """
    from emulate._kernels.decode import light_from_codes
    from emulate._kernels.threads import on_one_thread

    encoding = picture.encoding
    check_planes(picture)
    rows, columns = (-(-extent // every) for extent in picture.shape)
    out = np.empty((rows, columns, 3), np.float32)
    fineness = max(1, round(TABLE_STEPS / luma_steps(encoding)))
    few = every > 1  # threads wait for one another longer than few pixels take
    with on_one_thread() if few else nullcontext():
        light_from_codes(
            picture.first,
            picture.second,
            picture.third,
            light_table(encoding.transfer, encoding.scale, luma_steps(encoding) * fineness),
            fineness * unmixing(encoding),
            code_base(encoding),
            bt2020_matrix(encoding.gamut),
            siting_offsets(encoding),
            every,
            out,
        )
        return with_ootf(out, encoding)


def with_ootf(light: Pixels, encoding: Encoding) -> Pixels:
    """Display light of HLG scene light, in place; every other light as it is. BT.2100-2 table 5."""
    from emulate._kernels.decode import hlg_ootf

    if encoding.transfer == "hlg":
        hlg_ootf(LUMINANCE_2020, hlg_gamma(encoding.scale) - 1, encoding.scale, light)
    return light


@lru_cache(maxsize=16)
def light_table(transfer: str, scale: float, steps: int) -> Pixels:
    """Light [cd/m²] (scene light for hlg) of the signals 0, 1/steps … 1, float32."""
    signal = np.arange(steps + 1) / steps
    makers: dict[str, Callable[[Numbers], Numbers]] = {
        "pq": light_from_pq,
        "hlg": scene_from_hlg,
        "sdr": partial(light_from_sdr, white=scale),
        "linear": partial(np.multiply, scale),
    }
    return locked(makers[transfer](signal).astype(np.float32))


def luma_steps(encoding: Encoding) -> int:
    """Code values from black to white. ITU-R BT.2100-2 table 9."""
    if encoding.full_range:
        return int(2**encoding.bits - 1)
    return int(219 * 2 ** (encoding.bits - 8))


def siting_offsets(encoding: Encoding) -> Numbers:
    """Rows and columns from the first luma sample to the first chroma sample, where halved."""
    return np.array(_SITING[encoding.siting])


def code_base(encoding: Encoding) -> Numbers:
    """Code values of black and of no colour. ITU-R BT.2100-2 table 9."""
    black = 0.0 if encoding.full_range else 16.0 * 2 ** (encoding.bits - 8)
    neutral = black if encoding.matrix == "rgb" else 2.0 ** (encoding.bits - 1)
    return np.array([black, neutral, neutral])


def unmixing(encoding: Encoding) -> Numbers:
    """Matrix (3, 3) from codes above `_base` to R′G′B′ in luma code steps. BT.2020-2 table 4."""
    if encoding.matrix == "rgb":
        return np.eye(3)
    kr, kb = KR_KB[encoding.matrix]
    kg = 1 - kr - kb
    wide = 1.0 if encoding.full_range else 219 / 224  # chroma has 224 steps where luma has 219
    red, blue = 2 * (1 - kr) * wide, 2 * (1 - kb) * wide
    return np.array([[1, 0, red], [1, -kb * blue / kg, -kr * red / kg], [1, blue, 0]])


def check_planes(picture: CodePicture) -> None:
    """Raises MaterialError where the planes do not fit together."""
    height, width = picture.shape
    rows, columns = {height, -(-height // 2)}, {width, -(-width // 2)}
    for plane in (picture.second, picture.third):
        if plane.shape[0] not in rows or plane.shape[1] not in columns:
            raise MaterialError(
                f"a colour plane of {plane.shape} beside one of {picture.shape}; accepted is the "
                "same size or half of it"
            )
    if picture.second.shape != picture.third.shape:
        raise MaterialError(f"colour planes of {picture.second.shape} and {picture.third.shape}")
