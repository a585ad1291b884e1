"""How findings are worded: sensible digits, whole sentences, no jargon, for any value."""

from __future__ import annotations

import re
from math import nan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from emulate.findings.formatting import value_text
from emulate.findings.measure import measure
from emulate.frames.frame import Frame
from emulate.panel.panel import Panel
from emulate.rendering import render
from tests.rooms.handmade import frame_of, rendering_of, square


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.0, "share", "0 %"),
        (1.0, "share", "100 %"),
        (0.00001, "share", "less than 0.01 %"),
        (0.0042, "share", "0.42 %"),
        (0.0314, "share", "3.1 %"),
        (0.03, "share", "3 %"),
        (0.274, "share", "27 %"),
        (0.996, "share", "99.6 %"),
        (0.99999, "share", "more than 99.9 %"),
        (0.0, "cd/m²", "0 cd/m²"),
        (0.00001, "cd/m²", "less than 0.0001 cd/m²"),
        (0.000456, "cd/m²", "0.00046 cd/m²"),
        (0.42, "cd/m²", "0.42 cd/m²"),
        (203.0, "cd/m²", "203 cd/m²"),
        (40.53, "cd/m²", "40.5 cd/m²"),
        (9999.7, "cd/m²", "10000 cd/m²"),
        (1.0, "steps", "1 visible step"),
        (0.96, "steps", "0.96 visible steps"),
        (12.4, "steps", "12 visible steps"),
        (138.4, "steps", "138 visible steps"),
        (0.001, "steps", "less than 0.01 visible steps"),
        (0.3, "degree", "0.3°"),
        (1204.0, "count", "1204"),
        (nan, "share", "undetermined"),
        (nan, "times", "no amount"),
    ],
)
def test_values_in_digits_a_person_can_use(value, unit, text):
    assert value_text(value, unit) == text


JARGON = re.compile(r"ITP|PQ|pixel share|nan|None(?! of)|CLL|FALL|luminance|ΔE|\binf\b|e[+-]\d|  ")


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10**6), scale=st.floats(0.0, 2.0), room=st.sampled_from([0.0, 0.3]))
def test_every_sentence_is_a_plain_one(seed, scale, room):
    rng = np.random.default_rng(seed)
    light = 10 ** rng.uniform(-4, 4, (6, 8, 1)) * rng.uniform(0.2, 1, (6, 8, 3))
    frame = Frame.from_light(light, active=(1, 5, 0, 8) if seed % 2 else None)
    why = rng.integers(0, 128, frame.shape) * rng.integers(0, 2)
    shown = np.maximum(frame.light * np.float32(scale), np.float32(0.002 * (seed % 3)))
    for name, found in measure(frame, rendering_of(frame, shown, why=why, reflected=room)).items():
        assert re.fullmatch(r"[A-Z0-9][^\n]*[^ ]\.", found.sentence), name
        assert not JARGON.search(found.sentence), found.sentence
        assert found.sentence.count(". ") == 0, found.sentence
        assert found.definition.endswith(".")
        assert found.unit != "share" or np.isnan(found.value) or 0 <= found.value <= 1
        assert value_text(found.value, found.unit)


@pytest.mark.parametrize(
    ("undetermined", "told"),
    [
        ({}, "No glow shows around bright things."),
        ({"spread": "any width"}, "cannot be told: the panel's readings leave open how far"),
        ({"cell.contrast": "any"}, "leave open how much a closed cell lets by"),
    ],
)
def test_a_glow_that_was_never_read_is_not_denied(undetermined, told):
    """An effect left undetermined is an identity: that no glow comes out says nothing."""
    panel = Panel("half read", 1000.0, fit={"undetermined": undetermined})
    frame = frame_of(square((60, 60), slice(20, 40), slice(20, 40), 500.0))
    assert told in measure(frame, render(frame, panel))["halo.area"].sentence
