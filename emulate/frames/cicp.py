"""Coding-independent code points, as PNG, AVIF and video write them. ITU-T H.273 (2021)."""

from __future__ import annotations

from typing import Any

from emulate.errors import Caveat
from emulate.frames.frame import Gamut, Matrix
from emulate.frames.gamut import Chromaticities
from emulate.frames.said import Said
from emulate.transfer import Transfer

UNSPECIFIED = 2  # in each of the three tables

_GAMUTS: dict[int, Gamut | Chromaticities] = {  # ITU-T H.273 table 2
    1: "bt709",
    5: ((0.64, 0.33), (0.29, 0.60), (0.15, 0.06)),
    6: ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070)),
    7: ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070)),
    9: "bt2020",
    11: ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060), (0.314, 0.351)),
    12: "p3",
}
_TRANSFERS: dict[int, Transfer] = {  # ITU-T H.273 table 3
    1: "sdr",
    6: "sdr",
    8: "linear",
    13: "sdr",  # sRGB, shown as SDR is
    14: "sdr",
    15: "sdr",
    16: "pq",
    18: "hlg",
}
_MATRICES: dict[int, Matrix] = {  # ITU-T H.273 table 4
    0: "rgb",
    1: "bt709",
    5: "bt601",
    6: "bt601",
    9: "bt2020",
}


def said_by_cicp(
    about: str, primaries: int, transfer: int, matrix: int, full_range: bool | None
) -> tuple[Said, tuple[Caveat, ...]]:
    """What four code points say; one that is specified but not read here becomes a caveat."""
    tables: tuple[tuple[str, int, dict[int, Any]], ...] = (
        ("primaries", primaries, _GAMUTS),
        ("transfer function", transfer, _TRANSFERS),
        ("matrix", matrix, _MATRICES),
    )
    caveats = tuple(
        Caveat(about, f"code point {code} of its {noun} is not one that is read here")
        for noun, code, table in tables
        if code != UNSPECIFIED and code not in table
    )
    said = Said(
        gamut=_GAMUTS.get(primaries),
        transfer=_TRANSFERS.get(transfer),
        matrix=_MATRICES.get(matrix),
        full_range=full_range,
    )
    return said, caveats
