"""How black is black enough: a published range for the veil of the eye to land on.

Wanat et al., 2012: a black patch looks perfectly black from a local contrast of 1300:1 to 2400:1
(figures from memory). Their patches are not ours, so the order of size is held: ours of 1° to 6°,
amid 100 to 1000 cd/m², stay within a factor of two of their range.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from emulate.sight import Viewer, steps_from_light, veiled

RANGE = (1300.0, 2400.0)
CELLS = 160  # 16° each way


def contrast_needed(patch: int, around: float) -> float:
    """Contrast at which light in a patch (cells of 0.1°) is one visible step over its veil."""
    at = (CELLS - patch) // 2
    inside = np.zeros((CELLS, CELLS))
    inside[at : at + patch, at : at + patch] = 1.0
    middle = CELLS // 2, CELLS // 2
    veil = veiled(around * (1 - inside), Viewer())[middle]
    own = veiled(around * inside, Viewer())[middle]

    def over(log_contrast: float) -> float:
        lifted = veil + own * np.exp(-log_contrast)
        return float(steps_from_light(lifted) - steps_from_light(veil)) - 1

    return float(np.exp(brentq(over, 0.0, 14.0)))


@pytest.mark.parametrize("patch", [10, 30, 60])
@pytest.mark.parametrize("around", [100.0, 400.0, 1000.0])
def test_black_enough_is_of_the_published_order(patch, around):
    assert RANGE[0] / 2 < contrast_needed(patch, around) < RANGE[1] * 2


def test_a_patch_of_three_degrees_lies_inside_the_range():
    for around in (100.0, 400.0, 1000.0):
        assert RANGE[0] < contrast_needed(30, around) < RANGE[1]


def test_a_larger_patch_asks_for_more_contrast():
    """Less veil lies on its middle."""
    needed = [contrast_needed(patch, 400.0) for patch in (10, 30, 60)]
    assert needed == sorted(needed)
