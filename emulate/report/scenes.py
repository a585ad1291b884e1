"""Scenes: stills of the same reference, on every panel they were shown on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import found_text, value_text
from emulate.findings.headline import WEIGHTS, headline
from emulate.findings.results import Closeup, Layer, Made, Still
from emulate.findings.saving import load_findings
from emulate.pictures.exposure import Slice, written
from emulate.pictures.ground import ground
from emulate.pictures.layers import GLOW, NAMES, legend_colours
from emulate.pictures.loss import KINDS, textured
from emulate.pictures.sampling import area_mean
from emulate.pictures.style import CAUSES, Rgb, rgb
from emulate.pictures.wipe import common_slices, main_slice
from emulate.report.contents import (
    CloseView,
    LayerView,
    Line,
    OnPanel,
    Scene,
    Shown,
    Swatch,
    View,
)
from emulate.report.images import Size, file_image, hdr_image, light_of, sdr_image, swatch_image
from emulate.values import Pixels

SWATCH = (12, 26)  # px
REAL = (
    "Real light: every pixel at its own level in cd/m², as far as this screen can follow. "
    "What is brighter than the screen can show is up to the screen."
)
_TITLES = dict(zip((*NAMES, GLOW), (*(kind.title for kind in KINDS), "Halo"), strict=True))
_CALLED = {"detail": "fine detail", "dimmed": "small lights"}  # layers of other names as well
_AREAS = ("clipped.area", "crushed.area", "detail.area", "dimmed.area", "halo.area")  # of layers
_TOLD = {  # layer -> the finding that says what it shows
    "clipped": "clipped.area",
    "crushed": "crushed.area",
    "detail": "detail.area",
    "dimmed": "dimmed.things",
    GLOW: "halo.area",
}


@dataclass(frozen=True, eq=False)
class Loaded:
    """A still with what was read of it."""

    made: Made
    still: Still
    findings: Findings
    shown: Pixels


def grouped(stills: Sequence[Made]) -> list[list[Made]]:
    """Stills of one scene together: those of the same name and the same reference light."""
    groups: dict[tuple[str, bytes], list[Made]] = {}
    for made in stills:
        still = made.entry
        assert isinstance(still, Still)
        key = (still.scene, made.file(still.reference).read_bytes())
        groups.setdefault(key, []).append(made)
    return list(groups.values())


def loaded(made: Made) -> Loaded:
    """Reads a still. Raises FindingsError or MaterialError where a part cannot be read."""
    still = made.entry
    assert isinstance(still, Still)
    findings = load_findings(made.file(still.findings))
    return Loaded(made, still, findings, light_of(made, still.shown))


def scene_of(stills: Sequence[Loaded]) -> Scene:
    """One scene on all its panels, at exposures that all share."""
    first = stills[0]
    reference = light_of(first.made, first.still.reference)
    found = common_slices([each.still.exposures for each in stills])
    columns = list(zip(*found, strict=True))
    return Scene(
        title=titled(first.still.scene),
        question=first.still.question,
        views=tuple(_view(one, reference, stills) for one in columns),
        main=main_slice(found[0]),
        real=_real(reference, stills),
        ground=sdr_image(
            ground(reference, reference.shape[:2]), "The reference in dim grey, under the map."
        ),
        first_layer=_widest_layer(first.findings),
        panels=tuple(_on_panel(each) for each in stills),
    )


def titled(name: str) -> str:
    """A scene's name as a title: names in small letters and underscores as plain words."""
    plain = re.fullmatch(r"[a-z0-9]+(_[a-z0-9]+)+", name)
    return name.replace("_", " ").capitalize() if plain else name


def lines_of(findings: Findings) -> tuple[Line, ...]:
    """Every finding as text, in the order in which they were measured."""
    return tuple(
        Line(name, found_text(name, found), found.sentence, found.interval is not None)
        for name, found in findings.items()
    )


def headline_of(findings: Findings) -> tuple[str, ...]:
    """What matters most on one panel; where not all is known that is weighed, what comes first."""
    if not set(WEIGHTS) <= set(findings):
        return tuple(found.sentence for found in list(findings.values())[:3])
    return tuple(headline(findings))


def _view(slices: Sequence[Slice], reference: Pixels, stills: Sequence[Loaded]) -> View:
    one = slices[0]
    name = titled(stills[0].still.scene)
    exposed = f"white of the picture = {written(one.white)} cd/m²"
    return View(
        one.name,
        one.sentence,
        sdr_image(one.codes(reference), f"{name} as mastered; {exposed}."),
        tuple(
            Shown(sdr_image(part.codes(each.shown), _alt(each, exposed)), part.warning)
            for part, each in zip(slices, stills, strict=True)
        ),
    )


def _alt(each: Loaded, exposed: str) -> str:
    said = " ".join(headline_of(each.findings)[:2])
    return f"{titled(each.still.scene)} on {each.still.panel}; {exposed}. {said}"


def _real(reference: Pixels, stills: Sequence[Loaded]) -> View:
    """At half the size: light at its own level needs ten bits, and noise in them does not pack."""
    size = (max(1, reference.shape[0] // 2), max(1, reference.shape[1] // 2))
    name = titled(stills[0].still.scene)
    return View(
        "real light",
        REAL,
        hdr_image(area_mean(reference, size), f"{name} as mastered, at its real light level."),
        tuple(
            Shown(hdr_image(area_mean(each.shown, size), _alt(each, "at its real light level")), "")
            for each in stills
        ),
    )


def _on_panel(each: Loaded) -> OnPanel:
    close = each.still.closeup
    return OnPanel(
        each.still.panel,
        headline_of(each.findings),
        lines_of(each.findings),
        tuple(_layer(each, name) for name in (*NAMES, GLOW)),
        None if close is None else _close(each, close),
        each.findings.basis,
        len(each.findings.caveats),
    )


def _widest_layer(findings: Findings) -> int:
    """Which map holds the largest area."""
    areas = [findings[name].value if name in findings else 0.0 for name in _AREAS]
    return areas.index(max(areas))


def _layer(each: Loaded, name: str) -> LayerView:
    called = _CALLED.get(name, name)
    sentence = each.findings[_TOLD[name]].sentence if _TOLD[name] in each.findings else ""
    there = [layer for layer in each.still.layers if layer.name == name]
    if not there:
        return LayerView(called, _TITLES[name], sentence)
    layer, size = there[0], Size(each.shown.shape[1], each.shown.shape[0])
    alt = f"{layer.title}, on {each.still.panel}. {sentence}"
    image = file_image(each.made.file(layer.file), size, alt)
    return LayerView(called, _TITLES[name], sentence, image, _swatches(layer, each.findings))


def _swatches(layer: Layer, findings: Findings) -> tuple[Swatch, ...]:
    colours = legend_colours()
    return tuple(
        Swatch(
            swatch_image(_swatch(cause.key, colours[cause.key])),
            _counted(cause.words, None if layer.name == GLOW else findings.get(cause.finding)),
        )
        for cause in layer.causes
        if cause.key in colours and (layer.name == GLOW or _holds(findings.get(cause.finding)))
    )


def _holds(found: Finding | None) -> bool:
    return found is None or found.value != 0


def _counted(words: str, found: Finding | None) -> str:
    if found is None:
        return words
    return f"{words}: {value_text(found.value, found.unit)} of the picture"


def _swatch(key: str, colour: str) -> Rgb:
    cause = key if key in CAUSES else "curve"  # a glow has no texture, nor has the curve
    return textured(rgb(colour), cause, SWATCH)


def _close(each: Loaded, close: Closeup) -> CloseView:
    exposure = Slice("worst spot", close.white, 0.0, 0.0)
    top, left, height, width = close.box
    name, where = titled(each.still.scene), f"the worst spot of {each.still.panel}"
    return CloseView(
        sdr_image(
            exposure.codes(light_of(each.made, close.reference)),
            f"{name} as mastered, at {where}.",
        ),
        sdr_image(
            exposure.codes(light_of(each.made, close.shown)), f"{name}, {where}. {close.sentence}"
        ),
        close.sentence,
        exposure.sentence,
        (left, top, width, height),
        (close.of[1], close.of[0]),
    )
