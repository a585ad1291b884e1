"""What the kernels take, brought to the card: a panel's tables, a frame's numbers."""

from __future__ import annotations

from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numba import cuda
from numpy.typing import NDArray

from emulate._kernels import row
from emulate._kernels.compiling import physics
from emulate._kernels.lookups import Slices
from emulate.cuda.light import Cells
from emulate.cuda.pixel import LIGHT, RGB, YCBCR, Kind, Reading
from emulate.frames.frame import CodePicture, Encoding
from emulate.fused.lamps import weights_between
from emulate.fused.sketch import WEIGHTS, Sketch, shown_matrices
from emulate.transfer import light_from_pq, light_from_sdr, signal_from_code

Array = NDArray[Any]

CODES = 1 << 16  # whatever 16 bits can hold finds a place in a table
NO_CODES, NO_LIGHT, NO_FLAGS = (
    np.zeros(1, np.uint16),
    np.zeros(1, np.float32),
    np.zeros(1, np.uint8),
)


def kind_of(sketch: Sketch, step: int) -> Kind:
    """The kind of a frame on a panel, its backlight known on every `step`th pixel."""
    source, encoding = sketch.source, sketch.frame.encoding
    rgb = encoding.matrix == "rgb"
    return Kind(
        source=(RGB if rgb else YCBCR) if source.coded else LIGHT,
        by_table=int(encoding.transfer != "pq"),
        halved=source.halved if source.coded and not rgb else (0, 0),
        acts_on=sketch.tone.acts_on,
        recoloured=source.recoloured if source.coded else 0,
        guessing=int(sketch.view.compensation != 1.0),
        straying=sketch.cell.straying,
        uneven=sketch.cell.uneven,
        room=int(sketch.reflected > 0.0),
        step=step,
    )


def planes_of(sketch: Sketch) -> tuple[Array, Array, Array, Array]:
    """The frame as flat arrays on this machine: three planes of codes, or light."""
    picture = sketch.frame.picture
    if not sketch.source.coded or not isinstance(picture, CodePicture):
        return NO_CODES, NO_CODES, NO_CODES, sketch.source.light
    planes = (picture.first, picture.second, picture.third)
    first, second, third = (np.ascontiguousarray(each).reshape(-1) for each in planes)
    return first, second, third, NO_LIGHT


def reading_of(sketch: Sketch) -> Reading:
    """How its codes are read and what the panel then asks for; tables on the card."""
    source, cell = sketch.source, sketch.cell
    tables = _reading_tables(sketch.tone, source.table, sketch.frame.encoding, source.coded)
    return Reading(
        size=_whole((*sketch.frame.shape, *source.chroma)),
        up=_numbers(source.up),
        mix=_numbers(source.mix),
        base=_numbers(source.base),
        gamut=_numbers(source.gamut),
        into=_numbers(cell.into),
        **tables._asdict(),
        sides=_numbers(sketch.tone.sides),
        weights=_numbers(WEIGHTS),
        ceiling=np.float32(cell.ceiling),
        noise=np.float32(cell.noise),
    )


def cells_of(sketch: Sketch, cell: row.Cell, grid: Any, wide: int, step: int) -> Cells:
    """What cells do of light, for a backlight's grid on the card."""
    out, plain = shown_matrices(sketch)
    return Cells(
        leak=np.float32(cell.leak),
        tolerance=np.float32(cell.tolerance),
        known_share=np.float32(cell.known_share),
        powers=cuda.to_device(flat(cell.powers, row.LIGHT)),
        **_tracking(_Same(cell.tracking)),
        uniformity=_shading(_Same(cell.uniformity)),
        grid=grid,
        wide=np.int32(wide),
        weights=cuda.to_device(weights_between(step).reshape(-1)),
        out=_numbers(out),
        plain=_numbers(plain),
        reflected=np.float32(sketch.reflected),
    )


def flat(table: Array, slices: Slices) -> NDArray[np.float32]:
    """start, rise by a unit in the last place, start, … of each slice of a table (n + 1,)."""
    rise = np.diff(table) / np.float32(1 << slices.rest)
    start = np.where(np.isnan(rise), np.float32(np.nan), table[:-1])
    return np.stack([start, rise], axis=1).astype(np.float32).reshape(-1)


def _numbers(values: Any) -> tuple[np.float32, ...]:
    return tuple(np.float32(each) for each in np.asarray(values).reshape(-1))


def _whole(values: Any) -> tuple[np.int32, ...]:
    return tuple(map(np.int32, values))


class _Tables(NamedTuple):
    table: Any
    light_of_code: Any
    scale_of_code: Any
    flag_of_code: Any
    scales: Any
    flags: Any
    edges: Any
    lights: Any
    offsets: Any


class _Same:
    """An array as a key: the same where it is the same memory, which is kept alive."""

    def __init__(self, array: Array) -> None:
        self.array = array

    def __hash__(self) -> int:
        return hash(self.array.ctypes.data)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, _Same):
            return False
        mine, theirs = self.array, other.array
        return mine.ctypes.data == theirs.ctypes.data and mine.shape == theirs.shape


def _reading_tables(tone: row.Tone, table: Array, encoding: Encoding, coded: int) -> _Tables:
    return _kept_tables(_Same(tone.scales), _Tone(tone), _Same(table), encoding, coded)


class _Tone:
    """A curve that is told apart by another argument."""

    def __init__(self, tone: row.Tone) -> None:
        self.tone = tone

    def __hash__(self) -> int:
        return self.tone.acts_on

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Tone) and self.tone.acts_on == other.tone.acts_on


@lru_cache(maxsize=8)
def _kept_tables(_: _Same, kept: _Tone, table: _Same, encoding: Encoding, coded: int) -> _Tables:
    tone = kept.tone
    by_code = NO_LIGHT, NO_LIGHT, NO_FLAGS
    if coded and encoding.matrix == "rgb":
        by_code = _by_code(tone, encoding)
    scales = flat(tone.scales, row.LIGHT)
    scales[::2][np.isnan(scales[::2])] = -1.0  # NaN has no place where arithmetic is fast
    exact = (each.astype(np.float32) for each in (tone.edges, tone.lights, tone.offsets))
    arrays = (
        flat(table.array, row.SIGNAL),
        *by_code,
        scales,
        np.ascontiguousarray(tone.flags),
        *exact,
    )
    return _Tables(*map(cuda.to_device, arrays))


def _by_code(tone: row.Tone, encoding: Encoding) -> tuple[Array, Array, Array]:
    """Light, T(light)/light and the curve's flag by whole code of R′G′B′."""
    count = 1 << encoding.bits
    signal = signal_from_code(np.arange(count), encoding.bits, full_range=encoding.full_range)
    eotf = {"pq": light_from_pq, "sdr": lambda e: light_from_sdr(e, encoding.scale)}
    light = eotf[encoding.transfer](np.clip(signal, 0.0, 1.0)).astype(np.float32)
    scale, flags = np.zeros(count, np.float32), np.zeros(count, np.uint8)
    for i in np.flatnonzero(light):
        exact = float(light[i])
        value, flags[i] = physics.toned(
            exact, tone.edges, tone.lights, tone.offsets, tone.pq, tone.sides
        )
        scale[i] = value / exact
    room = (0, CODES - count)
    return tuple(np.pad(each, room, mode="edge") for each in (light, scale, flags))  # type: ignore[return-value]


@lru_cache(maxsize=8)
def _tracking(tables: _Same) -> dict[str, Any]:
    names = ("red", "green", "blue")
    return {
        name: cuda.to_device(flat(t, row.LIGHT))
        for name, t in zip(names, tables.array, strict=True)
    }


@lru_cache(maxsize=4)
def _shading(uniformity: _Same) -> Any:
    return cuda.to_device(np.ascontiguousarray(uniformity.array))
