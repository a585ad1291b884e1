"""Findings on file: the same bytes, read back whole, and every refusal in one clear line."""

from __future__ import annotations

import json
from math import isnan, nan

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from emulate.errors import Caveat, FindingsError, OutputError
from emulate.findings.finding import Finding, Findings
from emulate.findings.measure import measure
from emulate.findings.saving import load_findings, save_findings, text_of
from tests.rooms.handmade import frame_of, rendering_of

SOME = Findings(
    {
        "halo.area": Finding(1 / 3, "share", "A third glows.", "By hand.", (0.25, 0.5)),
        "halo.reach": Finding(nan, "degree", "Undetermined.", "By hand."),
    },
    (Caveat("file", "Nachtaufnahme — «scale» assumed"),),
    frame='lamp & "water"',
    panel="Übung",
    basis="Seen from 3.2 picture heights.",
)


def test_what_is_saved_is_what_is_loaded(tmp_path):
    loaded = load_findings(save_findings(SOME, tmp_path / "some.json"))
    assert loaded["halo.area"] == SOME["halo.area"]
    assert isnan(loaded["halo.reach"].value)
    assert (loaded.caveats, loaded.frame, loaded.panel) == (SOME.caveats, SOME.frame, SOME.panel)
    assert (loaded.basis, loaded.maps) == (SOME.basis, {})


def test_the_bytes_are_the_same_each_time(tmp_path):
    frame = frame_of(np.random.default_rng(2).uniform(0, 500, (40, 50)))
    paths = [tmp_path / "a.json", tmp_path / "b.json", tmp_path / "c.json"]
    for path in paths[:2]:
        save_findings(measure(frame, rendering_of(frame, frame.light / 2)), path)
    save_findings(load_findings(paths[0]), paths[2])
    assert paths[0].read_bytes() == paths[1].read_bytes() == paths[2].read_bytes()
    assert json.loads(paths[0].read_text("utf-8"))["format"] == "emulate-findings/1"


def changed(**keys):
    document = json.loads(text_of(SOME))
    return json.dumps({**document, **keys})


def with_entry(**keys):
    entry = {**json.loads(text_of(SOME))["findings"]["halo.area"], **keys}
    return changed(findings={"halo.area": entry})


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "no JSON"),
        ("{", "no JSON"),
        ("[" * 200_000, "nested too deep"),
        ("[]", "key top level"),
        (changed(format="emulate-findings/9"), "key format"),
        (changed(extra=1), "key extra"),
        (changed(caveats=[{"about": "x"}]), r"key caveats.0.text"),
        (with_entry(value="0.3"), r"key findings.halo.area.value"),
        (with_entry(value=True), r"key findings.halo.area.value"),
        (with_entry(value=float("inf")), r"key findings.halo.area.value"),
        (with_entry(unit="nits"), r"key findings.halo.area.unit"),
        (with_entry(interval=[0.1]), r"key findings.halo.area.interval"),
    ],
)
def test_a_file_that_is_not_ours_is_refused_in_one_line(tmp_path, text, message):
    path = tmp_path / "some.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(FindingsError, match=message) as refusal:
        load_findings(path)
    assert "\n" not in str(refusal.value)
    assert str(refusal.value).startswith(str(path))
    assert "emulate-findings/1" in str(refusal.value)


def test_bytes_that_are_no_text_and_files_that_are_not_there_are_refused(tmp_path):
    path = tmp_path / "some.json"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FindingsError, match="no JSON"):
        load_findings(path)
    with pytest.raises(FindingsError, match="cannot be read"):
        load_findings(tmp_path / "missing.json")
    with pytest.raises(OutputError):
        save_findings(SOME, tmp_path / "missing" / "some.json")


@given(st.floats(allow_nan=False, allow_infinity=False), st.text(max_size=20))
def test_any_number_and_any_text_survive(tmp_path_factory, value, text):
    path = tmp_path_factory.mktemp("any") / "some.json"
    found = Findings({text: Finding(value, "steps", text, text)}, (Caveat(text, text),))
    try:
        save_findings(found, path)
    except UnicodeEncodeError:  # lone surrogates are no text and cannot come from a file
        return
    assert load_findings(path)[text] == found[text]
