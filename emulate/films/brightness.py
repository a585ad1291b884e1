"""Brightness: HDR and SDR content under one brightness setting of the panel. [ours]

The setting is the share of its light that the source is turned down to. A picture keeps its place
in that light, so that leakage, spread and zones go down with it; the room's light does not. SDR is
meant relative to its white, so it is held against itself at the white of the setting; HDR is meant
in cd/m², so it is held against its master.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from emulate.errors import RequestError
from emulate.films.compare import MOST_CASES
from emulate.films.comparison import Case, Comparison, comparison_of
from emulate.films.noticeable import least_area
from emulate.films.seats import GROWING
from emulate.findings.evidence import HIGHLIGHT
from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import light_text, value_text
from emulate.findings.measure import measure
from emulate.frames.frame import Frame
from emulate.panel.curves import identity
from emulate.panel.panel import Panel
from emulate.rendering import Rendering, render
from emulate.sight import Viewer
from emulate.transfer import PQ_PEAK
from emulate.values import Pixels, locked

Tell = Callable[[str], None]
LEAST = 0.01  # of the light: no set goes lower [ours]


def compare_brightness(
    frame: Frame,
    panel: Panel,
    settings: Sequence[float],
    *,
    sdr_white: float | None = None,
    policy: str | None = None,
    room_lux: float = 0.0,
    viewer: Viewer | None = None,
    tell: Tell = lambda _: None,
) -> Comparison:
    """What each brightness setting (share of full light, 0.01 to 1) leaves of a frame.

    sdr_white [cd/m²]: what white of an SDR frame comes to at full setting; None = all the panel's
    light. SDR passes no tone curve. Beside what `measure` finds there is `light.white`: white of
    SDR, or what reference white of HDR (203 cd/m², ITU-R BT.2408) comes to. Raises RequestError
    for settings or a white that cannot be, and as `render`.
    """
    _check(settings, sdr_white)
    white, seen_by = sdr_white or panel.open_cdm2, viewer or Viewer()
    cases = []
    for setting in settings:
        tell(f"setting {setting:.0%}")
        if frame.encoding.transfer == "sdr":
            case = _sdr(frame, panel, setting, white, room_lux, seen_by)
        else:
            case = _hdr(frame, panel, setting, policy, room_lux, seen_by)
        cases.append(case)
    found = comparison_of(frame.name, tuple(cases), least_area(seen_by, frame.shape))
    return replace(found, sentence=" ".join(_told(found, case) for case in cases))


def turned_down(rendering: Rendering, setting: float) -> Rendering:
    """A rendering with the panel's light, not the room's, turned down to a share of itself."""
    room = np.float32(rendering.reflected)
    own = (rendering.light - room) * np.float32(setting) + room
    return replace(
        rendering,
        light=_light(own),
        asked=_light(rendering.asked * np.float32(setting)),
        backlight=_light(rendering.backlight * np.float32(setting)),
        panel=replace(rendering.panel, open_cdm2=rendering.panel.open_cdm2 * setting),
    )


def _light(values: Pixels) -> Pixels:
    return locked(np.ascontiguousarray(values, dtype=np.float32))


def _sdr(
    frame: Frame, panel: Panel, setting: float, white: float, room_lux: float, viewer: Viewer
) -> Case:
    share = white / frame.encoding.scale
    full = replace_light(frame, share)
    rendering = turned_down(render(full, panel, policy=identity(), room_lux=room_lux), setting)
    meant = replace_light(frame, share * setting)
    findings = measure(meant, rendering, viewer=viewer)
    text = f"White of SDR is meant to be {light_text(white * setting)}."
    return _case(setting, panel, rendering, findings, _white(white * setting, text))


def _hdr(
    frame: Frame,
    panel: Panel,
    setting: float,
    policy: str | None,
    room_lux: float,
    viewer: Viewer,
) -> Case:
    rendering = turned_down(render(frame, panel, policy=policy, room_lux=room_lux), setting)
    findings = measure(frame, rendering, viewer=viewer)
    white = setting * min(float(rendering.curve.light(HIGHLIGHT)), panel.open_cdm2)
    text = f"Reference white of HDR, 203 cd/m², is asked at {light_text(white)}."
    return _case(setting, panel, rendering, findings, _white(white, text))


def replace_light(frame: Frame, share: float) -> Frame:
    """The frame with its light times `share`, at most 10 000 cd/m²."""
    light = np.minimum(frame.light * np.float32(share), np.float32(PQ_PEAK))
    kept = {"encoding": frame.encoding, "metadata": frame.metadata, "caveats": frame.caveats}
    place = {"time_s": frame.time_s, "index": frame.index, "active": frame.active}
    return Frame.from_light(light, frame.name, **kept, **place)


def _case(
    setting: float, panel: Panel, rendering: Rendering, findings: Findings, white: Finding
) -> Case:
    found = {"light.white": white} | dict(findings.items())
    shown = replace(findings, by_name=found)
    return Case(f"setting {setting:.0%}", panel, None, shown, rendering.curve)


def _white(light: float, sentence: str) -> Finding:
    definition = (
        "White of SDR, or reference white of HDR (203 cd/m², ITU-R BT.2408) after the tone curve, "
        "times the setting; limiter, zones and room left out."
    )
    return Finding(light, "cd/m²", sentence, definition)


def _told(found: Comparison, case: Case) -> str:
    """A setting: its white, and what it loses more of than the first."""
    first = found.cases[0].findings
    parts = [f"white {light_text(case.findings['light.white'].value)}"]
    counted = {line.name for line in found.lines}
    for name, spoken in GROWING.items():
        value, before = case.findings[name], first[name]
        if name in counted and value.value > before.value:
            now, then = (value_text(each.value, each.unit) for each in (value, before))
            parts.append(f"{spoken} {now} ({then})")
    return f"{case.label.capitalize()}: {', '.join(parts)}."


def _check(settings: Sequence[float], sdr_white: float | None) -> None:
    if not 2 <= len(settings) <= MOST_CASES or len(set(settings)) < len(settings):
        raise RequestError(
            f"brightness: {len(settings)} settings, {len(set(settings))} of them different; "
            f"accepted is 2 to {MOST_CASES}, all different"
        )
    for setting in settings:
        if not LEAST <= setting <= 1:
            raise RequestError(f"setting = {setting}: accepted is {LEAST:g} to 1, of full light")
    if sdr_white is not None and not 0 < sdr_white <= PQ_PEAK:
        raise RequestError(f"sdr_white = {sdr_white} cd/m²: accepted is above 0, at most 10000")
