"""Parts of kernels in LLVM's own terms, against numpy: look-ups, running totals, half precision."""

from __future__ import annotations

import numpy as np
import pytest
from numba import njit

from emulate._kernels.lookups import Slices, lookup, one_of
from emulate._kernels.questions import _halves
from emulate._kernels.streaming import NUMBERS, send, settle
from emulate._kernels.totals import totals_of
from emulate.fused.tables import bounds, table_of
from emulate.fused.workspace import on_a_line

SLICES = Slices(-3, 4, 5, most=3.0)  # 1/8 to 4, of which up to 3 is looked up
ROOM = 64
_look, _one = lookup(SLICES), one_of(SLICES)


@njit
def _looked_up(s, n, table):
    _look(s, 0, ROOM, n, table)


@njit
def _one_looked_up(number, table):
    return _one(number, table)


@njit
def _sent(values, out):
    send(values, out)
    settle()


@njit
def _added_up(values, count, before, totals):
    totals_of(values, count, before, totals)


@njit
def _halved(values, out):
    _halves(values, out)


def _found(numbers: np.ndarray, table: np.ndarray) -> np.ndarray:
    room = np.full(2 * ROOM, -7, np.float32)
    room[: numbers.size] = numbers
    _looked_up(room, numbers.size, table)
    assert (room[ROOM + numbers.size :] == -7).all()  # nothing is written past what was asked
    return room[ROOM : ROOM + numbers.size]


@pytest.mark.parametrize("count", [0, 1, 7, 8, 9, 40, 61])
def test_a_table_is_linear_between_its_bounds_and_held_outside(count: int) -> None:
    at = bounds(SLICES)
    table = table_of(np.sqrt(at))
    numbers = np.geomspace(0.01, 50, count).astype(np.float32)
    expected = np.interp(np.clip(numbers, 0.125, 3.0), at, table)  # numpy.interp
    np.testing.assert_allclose(_found(numbers, table), expected, rtol=2e-7)


def test_eight_at_once_give_what_one_gives() -> None:
    table = table_of(np.random.default_rng(3).random(bounds(SLICES).size))
    numbers = np.concatenate([[0.0, -1.0, 3.0, np.inf], np.geomspace(0.1, 5, 36)])
    numbers = numbers.astype(np.float32)
    alone = [_one_looked_up(each, table) for each in numbers]
    assert _found(numbers, table).tolist() == alone


def test_beside_a_bound_without_an_answer_there_is_none() -> None:
    at = bounds(SLICES)
    values = at.copy()
    values[20] = np.nan
    numbers = ((at[1:] + at[:-1]) / 2)[:60].astype(np.float32)
    assert np.flatnonzero(np.isnan(_found(numbers, table_of(values)))).tolist() == [19, 20]


@pytest.mark.parametrize("shift", [0, 1, 4])
@pytest.mark.parametrize("count", [0, 5, NUMBERS, 5 * NUMBERS + 3])
def test_what_is_sent_arrives_whole_on_a_line_or_off_it(shift: int, count: int) -> None:
    values = np.random.default_rng(1).random(count).astype(np.float32)
    room = on_a_line((count + shift + 9,))
    room[:] = -1
    _sent(values, room[shift : shift + count])
    assert (room[shift : shift + count] == values).all()
    assert (room[:shift] == -1).all()
    assert (room[shift + count :] == -1).all()


@pytest.mark.parametrize("kind", [np.int32, np.int64])
@pytest.mark.parametrize("count", [1, 7, 8, 16, 17, 100])
def test_running_totals_wrap_as_numpys_do(kind: type, count: int) -> None:
    most = np.iinfo(kind).max
    values = np.random.default_rng(count).integers(-most, most, count, kind)
    totals = np.zeros(count + 3, kind)
    _added_up(values, count, kind(5), totals)
    expected = np.cumsum(np.concatenate([[kind(5)], values]), dtype=kind)  # numpy.cumsum
    assert (totals[: count + 1] == expected).all()
    assert (totals[count + 1 :] == 0).all()


def test_half_precision_is_ieee_754s() -> None:
    spread = np.geomspace(2.0**-14, 65000, 20001)
    ties = np.array([1 + 2.0**-11, 1 + 3 * 2.0**-11, 2049.0, 2051.0])  # half-way: to even
    values = np.concatenate([[0.0], ties, spread]).astype(np.float32)
    out = np.empty(values.size, np.uint16)
    _halved(values, out)
    assert (out.view(np.float16) == values.astype(np.float16)).all()  # numpy's conversion
