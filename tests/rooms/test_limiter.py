"""Limiter: its points, its ends, and what the cell is told."""

from __future__ import annotations

import numpy as np
import pytest

from emulate.panel.limiter import Limiter
from emulate.values import numbers

FALLING = Limiter(numbers([0.0, 0.1, 0.25, 1.0]), numbers([1.0, 1.0, 0.8, 0.3]))


def test_without_points_nothing_is_limited():
    assert [Limiter().target(load) for load in (0.0, 0.37, 1.0)] == [1.0, 1.0, 1.0]


def test_the_curve_passes_through_its_points():
    assert [FALLING.target(load) for load in FALLING.load] == pytest.approx([1.0, 1.0, 0.8, 0.3])


def test_between_points_it_never_rises():
    gains = [FALLING.target(load) for load in np.linspace(0, 1, 401)]
    assert np.all(np.diff(gains) <= 1e-15)
    assert max(gains) <= 1.0


def test_beyond_its_points_it_is_held():
    part = Limiter(numbers([0.2, 0.6]), numbers([0.9, 0.5]))
    assert part.target(0.0) == pytest.approx(0.9)
    assert part.target(1.0) == pytest.approx(0.5)


def test_a_dimming_limiter_is_unknown_to_the_cell():
    assert Limiter(acts="dims").unknown(0.4) == 0.4
    assert Limiter(acts="clips").unknown(0.4) == 1.0


def test_gain_falls_with_decay_and_rises_with_attack():
    """One time constant leaves 1/e of the way, by the definition of a time constant."""
    limiter = Limiter(attack_s=0.5, decay_s=2.0)
    assert limiter.moved(0.0, 1.0, 0.5) == pytest.approx(1 - np.exp(-1))
    assert limiter.moved(1.0, 0.0, 2.0) == pytest.approx(np.exp(-1))
