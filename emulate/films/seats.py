"""Seats: one frame on one panel as it is seen off the axis and in lit rooms."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from emulate.errors import RequestError
from emulate.films.compare import MOST_CASES
from emulate.films.comparison import Case, Comparison, comparison_of
from emulate.films.noticeable import least_area
from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import light_text, opening, share_text, value_text
from emulate.findings.measure import measure
from emulate.frames.frame import Frame
from emulate.panel.cell import seen_from
from emulate.panel.panel import Panel
from emulate.panel.surface import reflected_light
from emulate.rendering import Rendering, render
from emulate.sight import Viewer

Tell = Callable[[str], None]
GROWING = {  # what a seat can make worse -> how a sentence calls it
    "crushed.area": "crushed shadows",
    "clipped.area": "clipping",
    "halo.area": "glow",
    "detail.lost": "fine detail lost",
    "colour.hue.mean": "wrong hue and saturation",
}


@dataclass(frozen=True)
class Seat:
    """Where somebody sits: angle [degree] off the axis; room_lux [lux] of light on the screen."""

    angle: float = 0.0
    room_lux: float = 0.0

    @property
    def text(self) -> str:
        """`45° off the axis, 100 lux`."""
        where = f"{self.angle:g}° off the axis" if self.angle else "on the axis"
        return f"{where}, {f'{self.room_lux:g} lux' if self.room_lux else 'dark room'}"


def compare_seats(
    frame: Frame,
    panel: Panel,
    seats: Sequence[Seat],
    *,
    policy: str | None = None,
    viewer: Viewer | None = None,
    tell: Tell = lambda _: None,
) -> Comparison:
    """What each seat sees of `frame` on `panel`, and what differs from the first seat's view.

    Beside what `measure` finds there are `seat.light`, the share of white's light that is left
    (gain of the panel at that angle), and `seat.black` [cd/m²], what a closed cell shows before a
    backlight at full: leakage at that angle, and the room's reflection. Raises RequestError where
    there are not 2 to 26 different seats, or the panel cannot be seen from one.
    """
    if not 2 <= len(seats) <= MOST_CASES or len(set(seats)) < len(seats):
        raise RequestError(
            f"seats: {len(seats)}, {len(set(seats))} of them different; accepted is 2 to "
            f"{MOST_CASES}, all different"
        )
    seen_by = viewer or Viewer()
    cases = []
    for seat in seats:
        tell(seat.text)
        rendering = render(frame, panel, policy=policy, angle=seat.angle, room_lux=seat.room_lux)
        findings = _findings(frame, rendering, panel, seat, seen_by)
        cases.append(Case(seat.text, panel, policy, findings, rendering.curve))
    found = comparison_of(frame.name, tuple(cases), least_area(seen_by, frame.shape))
    return replace(found, sentence=_sentence(found))


def light_and_black(panel: Panel, seat: Seat) -> tuple[float, float]:
    """Share of white's light left at a seat, and black before a backlight at full [cd/m²]."""
    view = seen_from(seat.angle, panel.cell, panel.angles)
    leak = panel.zones.leak(view.contrast)
    room = reflected_light(panel.surface, seat.room_lux)
    return view.gain, panel.open_cdm2 * view.gain * leak + room


def _findings(
    frame: Frame, rendering: Rendering, panel: Panel, seat: Seat, viewer: Viewer
) -> Findings:
    measured = measure(frame, rendering, viewer=viewer)
    light, black = light_and_black(panel, seat)
    basis = f"Seen from {viewer.distance_h:g} picture heights, by eyes {viewer.age:g} years old."
    own = {"seat.light": _light(light), "seat.black": _black(black)}
    return replace(measured, by_name=own | dict(measured.items()), basis=basis)


def _light(share: float) -> Finding:
    sentence = f"From here white keeps {share_text(share)} of its light."
    definition = "The panel's gain at this angle: light against that on the axis, the room's apart."
    return Finding(share, "share", sentence, definition)


def _black(light: float) -> Finding:
    sentence = (
        f"From here black before a full backlight shows {light_text(light)}."
        if light
        else "From here black shows no light at all."
    )
    definition = (
        "Light of a closed cell before a backlight at full: full light times the gain at this "
        "angle over the native contrast at this angle, and the room's light off the screen."
    )
    return Finding(light, "cd/m²", sentence, definition)


def _sentence(found: Comparison) -> str:
    """Each other seat against the first: its white, its black and what it loses more of."""
    first, *others = found.cases
    return " ".join(_against(found, first, case) for case in others)


def _against(found: Comparison, first: Case, case: Case) -> str:
    one, other = first.findings, case.findings
    parts = [
        f"white keeps {share_text(other['seat.light'].value)} of its light",
        f"black before a full backlight is {light_text(other['seat.black'].value)} "
        f"({light_text(one['seat.black'].value)} {first.label})",
    ]
    counted = {line.name for line in found.lines}
    for name, spoken in GROWING.items():
        if name in counted and other[name].value > one[name].value:
            now, before = (value_text(each[name].value, other[name].unit) for each in (other, one))
            parts.append(f"{spoken} {now} ({before})")
    return f"{opening(case.label)}: {', '.join(parts)}."
