"""Floating-point pictures, EXR, Radiance and TIFF alike, into light."""

from __future__ import annotations

import numpy as np

from emulate.errors import Caveat, MaterialError
from emulate.frames.decode import TABLE_STEPS, light_table, with_ootf
from emulate.frames.frame import Encoding, Frame, LightPicture
from emulate.frames.gamut import bt2020_matrix
from emulate.values import Numbers, Pixels

CHANNELS = ("red", "green", "blue")


def frame_of_floats(
    name: str, values: Pixels, encoding: Encoding, caveats: tuple[Caveat, ...]
) -> Frame:
    """A frame from RGB values (h, w, 3) float32, linear or signals 0..1 as `encoding` says.

    Light that is negative once in BT.2020 is set to 0 with a caveat. Raises MaterialError for NaN
    and infinity, with their place.
    """
    _refuse_non_finite(name, values)
    if encoding.transfer != "linear":
        light = _light_from_signals(values, encoding)
        return Frame(LightPicture(light), name, encoding, caveats=caveats)
    mix = encoding.scale * bt2020_matrix(encoding.gamut)
    light, doubts = light_from_linear(name, values, mix)
    return Frame(LightPicture(light), name, encoding, caveats=caveats + doubts)


def light_from_linear(name: str, values: Pixels, mix: Numbers) -> tuple[Pixels, tuple[Caveat, ...]]:
    """Light (h, w, 3) of linear values (h, w, 3) through `mix` (3, 3) into BT.2020 cd/m²."""
    from emulate._kernels import decode

    out = np.empty(values.shape, np.float32)
    negative, worst = np.empty(len(values), np.int64), np.empty(len(values), np.float64)
    decode.light_from_linear(values, mix, negative, worst, out)
    _refuse_non_finite(name, out)
    return out, _negative_doubts(name, int(negative.sum()) / values[..., 0].size, worst.min())


def _light_from_signals(values: Pixels, encoding: Encoding) -> Pixels:
    from emulate._kernels import decode

    out = np.empty(values.shape, np.float32)
    table = light_table(encoding.transfer, encoding.scale, TABLE_STEPS)
    decode.light_from_signals(values, table, bt2020_matrix(encoding.gamut), out)
    return with_ootf(out, encoding)


def _refuse_non_finite(name: str, values: Pixels) -> None:
    if not (np.isfinite(values.min()) and np.isfinite(values.max())):
        first = int(np.argmax(~np.isfinite(values)))
        row, column, channel = (int(i) for i in np.unravel_index(first, values.shape))
        raise MaterialError(
            f"{name}: row {row}, column {column}, {CHANNELS[channel]} holds "
            f"{values[row, column, channel]}; accepted is finite light"
        )


def _negative_doubts(name: str, share: float, worst: float) -> tuple[Caveat, ...]:
    if share == 0:
        return ()
    return (
        Caveat(
            name,
            f"{100 * share:.2g} % of the pixels hold light that is negative in BT.2020, down to "
            f"{worst:.3g} cd/m²; it is set to 0",
        ),
    )
