"""A frame on cells: the kernel against a separately written plain numpy twin, and who is blamed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from emulate import Cause, Frame, Viewer
from emulate.findings.evidence import Evidence
from emulate.findings.fluctuation import Change, Glance, changes_between, glance_of, late
from tests.rooms.handmade import rendering_of

WEIGHTS = np.array([0.2627, 0.6780, 0.0593])  # ITU-R BT.2100-2 table 4
SHAPE = (60, 90)
VIEWER = Viewer(distance_h=15.0)  # cells of some pixels each


def made(seed, reflected=0.0):
    rng = np.random.default_rng(seed)
    frame = Frame.from_light(rng.random((*SHAPE, 3)) ** 3 * 500)
    light = (frame.light * rng.uniform(0.3, 1.5, (*SHAPE, 1))).astype(np.float32)
    why = rng.choice([0, Cause.FLOOR, Cause.WIDE_OPEN, Cause.CURVE_HIGH], SHAPE).astype(np.uint8)
    rendering = rendering_of(frame, light, why=why, reflected=reflected)
    lit = rng.uniform(50, 400, SHAPE).astype(np.float32)
    return frame, replace(rendering, backlight=lit, called=np.full((1, 1), 0.7), gain=1.0)


def settled_twin(own, wanted, lit, then, held):
    """Held pixels go with their light, up to what they want; a cell that knows its light keeps."""
    moved = own * then / lit
    up_to = np.where(own <= wanted, np.minimum(moved, np.maximum(wanted, own)), moved)
    down_to = np.where(own >= wanted, np.maximum(moved, np.minimum(wanted, own)), up_to)
    toward = np.where(then > lit, up_to, np.where(own >= wanted, down_to, moved))
    return np.where(held, toward, own)


@pytest.mark.parametrize("reflected", [0.0, 3.0])
def test_the_kernel_does_what_plain_numpy_does(reflected):
    frame, rendering = made(1, reflected)
    glance = glance_of(Evidence(frame, rendering, VIEWER))
    own = np.maximum(rendering.light @ WEIGHTS - reflected, 0)
    held = np.isin(rendering.why, [Cause.FLOOR, Cause.WIDE_OPEN])
    wanted = rendering.asked @ WEIGHTS
    then = np.full(SHAPE, 0.7 * 1000.0)  # one zone at the drive called for lights all alike
    images = {
        "reference": frame.light @ WEIGHTS,
        "asked": wanted,
        "own": own,
        "held": np.where(held, own, 0),
        "settled": settled_twin(own, wanted, rendering.backlight, then, held),
    }
    for name, image in images.items():
        means = cell_means_twin(image, getattr(glance, name).shape)
        np.testing.assert_allclose(getattr(glance, name), means, rtol=2e-5, err_msg=name)


def cell_means_twin(image, cells):
    """Physics §8: pixel i lies in cell floor(i·n/H)."""
    rows = np.arange(SHAPE[0]) * cells[0] // SHAPE[0]
    columns = np.arange(SHAPE[1]) * cells[1] // SHAPE[1]
    sums, counts = np.zeros(cells), np.zeros(cells)
    np.add.at(sums, np.ix_(rows, columns), image)
    np.add.at(counts, np.ix_(rows, columns), 1)
    return sums / counts


def glance(own, asked=None, settled=None, held=0.0, gain=1.0, reference=None, **rest):
    """One cell by hand, all light in cd/m²."""
    one = {
        "own": own,
        "asked": own if asked is None else asked,
        "settled": own if settled is None else settled,
        "held": held,
    }
    one["reference"] = one["asked"] if reference is None else reference
    cells = {name: np.full((1, 1), float(value)) for name, value in one.items()}
    base = {"reflected": 0.0, "gain": gain, "follows": 1.0, "unknown": gain}
    return Glance(**cells, picture=np.ones((1, 1), bool), **(base | rest))


BLACK = {"asked": 0.0}
CASES = {  # J(0.1) and J(0.11) are 1.7 steps apart, by the PQ formula worked out by hand
    "still": (glance(0.1, **BLACK), glance(0.1, **BLACK), 0),
    "below a step": (glance(0.1, **BLACK), glance(0.104, **BLACK), 0),
    "asked for": (glance(0.1), glance(0.12), 0),
    "newly called": (glance(0.1, **BLACK), glance(0.12, **BLACK), Change.INDECISION),
    "called before": (
        glance(0.1, settled=0.2, **BLACK),
        glance(0.12, settled=0.2, **BLACK),
        Change.LAG,
    ),
    "the gain": (glance(100, asked=100), glance(95, asked=100, gain=0.95), Change.LIMITER),
    "the curve": (
        glance(100, asked=100, reference=100),
        glance(110, asked=110, reference=100),
        Change.CURVE,
    ),
    "a room drowns it": (
        glance(0.1, reflected=5.0, **BLACK),
        glance(0.12, reflected=5.0, **BLACK),
        0,
    ),
}


@pytest.mark.parametrize(("before", "now", "code"), CASES.values(), ids=CASES)
def test_each_cause_alone(before, now, code):
    assert changes_between(before, now)[0][0, 0] == code


def test_the_gain_moves_all_light_or_only_what_is_held():
    dims = glance(100.0, held=20.0, gain=1.0, follows=1.0)
    clips = glance(100.0, held=20.0, gain=1.0, follows=0.0)
    assert dims.at_gain(0.5)[0, 0] == 50
    assert clips.at_gain(0.5)[0, 0] == 80 + 10


@pytest.mark.parametrize(
    ("own", "asked", "settled", "code"),
    [
        (0.2, 0.0, 0.1, Change.TRAILING),
        (50.0, 100.0, 90.0, Change.LEADING),
        (0.1, 0.0, 0.2, 0),  # the glow to come is not missing light
        (50.0, 50.0, 50.0, 0),
    ],
)
def test_the_two_sides_of_lag(own, asked, settled, code):
    assert late(glance(own, asked=asked, settled=settled))[0, 0] == code
