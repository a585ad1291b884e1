"""The card: the recipe and findings of luminance as the plain recipe gives them, and refusals.

CI has no card: there the kernels run in numba-cuda's simulator, one thread after another, on a
picture of a stamp's size, where numba-cuda is installed.
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from importlib.util import find_spec

import numpy as np
import pytest

from emulate import Frame, Viewer, load_panel, measure, render
from emulate._kernels import scalars
from emulate.cuda import compiling
from emulate.demo_frames import panel_files
from emulate.errors import RequestError
from emulate.findings.evidence import Evidence
from emulate.frames.ycbcr import pq_picture
from emulate.panel.panel import Panel
from emulate.panel.spread import Spread
from emulate.panel.zones import Zones
from emulate.rendering import render_plainly
from emulate.transfer import PQ_CONSTANTS
from emulate.values import numbers
from tests.house.plan import ROOT

NEAR = scalars.near_constants(PQ_CONSTANTS)
CASES = ("rgb", "420", "by luminance", "self-emissive", "light")
LIGHT = 1e-4  # share of light that the card may differ by


def _card() -> bool:
    try:
        compiling.require_card()
    except RequestError:
        return False
    return True


# ---------------------------------------------------------------- PQ in single precision


@pytest.mark.parametrize(
    ("light", "signal"),
    [(0.1, 0.0623368657), (100, 0.5080784215), (1000, 0.7518270962), (10000, 1.0)],
)  # SMPTE ST 2084, worked values
def test_near_forms_meet_worked_values(light, signal) -> None:
    assert scalars.pq_signal_near(light, NEAR) == pytest.approx(signal, abs=1e-9)
    assert scalars.pq_light_near(signal, NEAR) == pytest.approx(light, rel=1e-6)


def test_near_forms_are_good_in_single_precision() -> None:
    """Against colour-science in double precision: 2e-6 of light, 2e-4 steps of 720 a signal."""
    colour = pytest.importorskip("colour")
    near = tuple(np.float32(each) for each in NEAR)
    signal = np.linspace(0.02, 1, 300, dtype=np.float32)
    light = np.geomspace(1e-3, 1e4, 300, dtype=np.float32)
    true_light = colour.models.eotf_ST2084(signal.astype(np.float64))
    true_signal = colour.models.eotf_inverse_ST2084(light.astype(np.float64))
    mine = np.array([scalars.pq_light_near(each, near) for each in signal])
    np.testing.assert_allclose(mine, true_light, rtol=1e-5)
    mine = np.array([scalars.pq_signal_near(each, near) for each in light])
    np.testing.assert_allclose(720 * mine, 720 * true_signal, atol=5e-4)


# ---------------------------------------------------------------- refusals


@pytest.mark.skipif(_card(), reason="this machine has a card")
def test_without_a_card_it_says_so() -> None:
    frame = Frame.from_light(np.ones((9, 9, 3)))
    with pytest.raises(RequestError, match=r'device = "cuda": .* accepted is "cpu"'):
        render(frame, Panel("plain", 100.0), device="cuda")


def test_without_numba_cuda_it_says_what_to_install() -> None:
    assert "emulate[gpu]" in compiling.no_compiler()


def test_an_unknown_device_is_refused() -> None:
    with pytest.raises(RequestError, match="accepted is"):
        render(Frame.from_light(np.ones((9, 9, 3))), Panel("plain", 100.0), device="tpu")


# ---------------------------------------------------------------- the same as the plain recipe


def stamp(case: str, rows: int, columns: int) -> tuple[Frame, Panel, float]:
    """A small picture with lamps, texture, shadow and a letterbox; a panel; the room's lux."""
    rng = np.random.default_rng(20)
    y, x = np.mgrid[:rows, :columns]
    texture = 0.3 + 0.15 * np.sin(x / 3) * np.cos(y / 5) + 0.03 * rng.standard_normal(x.shape)
    light = np.clip(texture, 0, 1)[..., None] ** 4 * 900 * np.array([1, 0.8, 0.6])
    for top, left in rng.integers(0, (rows - 3, columns - 3), (5, 2)):
        light[top : top + 3, left : left + 3] = rng.uniform(300, 9000) * rng.uniform(0.2, 1, 3)
    light[rows // 2 :, : columns // 3] *= 1e-4
    panels = {file.stem: load_panel(file) for file in panel_files()}
    panel = panels["self_emissive" if case == "self-emissive" else "fine_zones"]
    if case == "by luminance":
        panel = replace(panel, tone=replace(panel.tone, acts_on="luminance"))
    if isinstance(panel.zones, Zones):
        blurs = Spread(numbers([0.8, 0.2]), numbers([0.05, 0.9]))
        panel = replace(panel, zones=replace(panel.zones, rows=2, columns=3), spread=blurs)
    if case == "light":
        return Frame.from_light(light), panel, 0.0
    picture = pq_picture(light, chroma=case if case in ("rgb", "420") else "rgb")
    active = (2, rows - 2, 0, columns)
    return Frame(picture, case, picture.encoding, active=active), panel, 40.0 * (case == "420")


def hold(case: str, rows: int, columns: int, viewer: Viewer) -> None:
    """Light within LIGHT of the plain recipe's; flags, maps and counts to the pixel."""
    frame, panel, lux = stamp(case, rows, columns)
    plain = render_plainly(frame, panel, room_lux=lux)
    card = render(frame, panel, room_lux=lux, device="cuda")
    np.testing.assert_allclose(card.drive, plain.drive, rtol=1e-5, atol=1e-9)
    for name in ("light", "asked", "backlight"):
        np.testing.assert_allclose(
            getattr(card, name), getattr(plain, name), rtol=LIGHT, atol=1e-5, err_msg=name
        )
    np.testing.assert_array_equal(card.why, plain.why)
    expected, found = Evidence(frame, plain, viewer), measure(frame, card, viewer=viewer)
    np.testing.assert_array_equal(found.maps["loss"] & 63, expected.clipped[0] | expected.crushed)
    np.testing.assert_array_equal(found.maps["detail"], expected.detail[0])
    np.testing.assert_allclose(found.maps["halo_lift"], expected.lift[1], rtol=1e-3, atol=1e-4)
    for name, finding in measure(frame, plain, viewer=viewer).items():
        assert found[name].value == pytest.approx(finding.value, rel=1e-3, abs=1e-6, nan_ok=True)


@pytest.mark.skipif(not _card(), reason="no NVIDIA card here: the simulator stands in, see below")
@pytest.mark.parametrize("case", CASES)
def test_the_card_gives_what_the_plain_recipe_gives(case) -> None:
    hold(case, 270, 480, Viewer(distance_h=4.0))


@pytest.mark.skipif(find_spec("numba_cuda") is None, reason="numba-cuda is not installed")
@pytest.mark.parametrize("case", ["rgb", "420"])
def test_the_simulator_gives_what_the_plain_recipe_gives(case) -> None:
    """In a process of its own: numba decides for the simulator when it is imported."""
    code = (
        "from emulate.cuda import picture; picture.MOST = 32;"
        "from emulate import Viewer; from tests.rooms.test_cuda import hold;"
        f"hold({case!r}, 22, 26, Viewer(distance_h=26.0))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env=os.environ | {"NUMBA_ENABLE_CUDASIM": "1"},
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert ran.returncode == 0, ran.stderr[-3000:]
