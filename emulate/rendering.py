"""The recipe: from reference light to seen light, one line an effect, in the order light takes."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate.cuts import is_cut, signature_of
from emulate.display import Displayed
from emulate.errors import Caveat, RequestError
from emulate.frames.frame import Frame
from emulate.panel.cause import Cause as Cause
from emulate.panel.cell import emitted, seen_from, turned
from emulate.panel.curves import Curve
from emulate.panel.panel import Panel
from emulate.panel.policy import Choice, Policy, curve_for
from emulate.panel.primaries import light_from_panel, panel_light
from emulate.panel.spread import backlight
from emulate.panel.surface import in_room, reflected_light
from emulate.panel.tone import toned
from emulate.panel.tracking import tracked
from emulate.panel.uniformity import shaded
from emulate.values import Numbers, Pixels, Value, locked, numbers


@dataclass(frozen=True, eq=False)
class State(Value):
    """What a clip hands from one frame to the next; None stands for a settled start.

    drive (rows, columns): v of §5.4, before the limiter. gain: of the limiter. peak [cd/m²]: the
    smoothed source peak of `by_frame`. time_s: of the frame. waiting: drives held back by latency,
    oldest first. signature: what tells a scene cut.
    """

    drive: Numbers
    gain: float
    peak: float
    time_s: float
    waiting: tuple[Numbers, ...] = ()
    signature: Numbers | None = None


@dataclass(frozen=True, eq=False)
class Rendering(Value, Displayed):
    """What the panel shows of a frame.

    light (h, w, 3): BT.2020 cd/m², as seen. asked (h, w, 3): after tone and primaries, what a
    perfect backlight would show. backlight [B] (h, w) cd/m². drive [d] (rows, columns) 0..1, after
    the limiter. gain 0..1. why (h, w) uint8: bits of Cause. reflected [cd/m²]: the room's light off
    the screen, already in `light`. curve: the tone curve that acted. cut: a new scene starts here.
    called (rows, columns) 0..1: the drive this frame calls for, before latency, time and limiter.
    """

    light: Pixels
    asked: Pixels
    backlight: Pixels
    drive: Numbers
    gain: float
    why: NDArray[np.uint8]
    reflected: float
    curve: Curve
    panel: Panel
    state: State
    caveats: tuple[Caveat, ...] = ()
    cut: bool = False
    called: Numbers = field(default_factory=lambda: numbers([[1.0]]))


def render(
    frame: Frame,
    panel: Panel,
    *,
    policy: str | Policy | Curve | None = None,
    angle: float = 0.0,
    room_lux: float = 0.0,
    state: State | None = None,
) -> Rendering:
    """What `panel` shows of `frame`: the recipe of physics §2.

    policy: which tone curve acts, as `policy_from` reads it; None = the panel's own habit.
    angle [degree] off axis. room_lux: light of the room on the screen. state: of the frame before,
    None = settled.

    Raises RequestError where the picture has fewer pixels than the panel has zones, the policy, the
    angle or the room's light cannot be, or the state comes from a later frame or other zones.
    """
    view = seen_from(angle, panel.cell, panel.angles)
    reflected = reflected_light(panel.surface, _checked_lux(room_lux))
    moment = _moment(frame, panel, state)

    chosen = _chosen(frame, panel, policy, moment)
    tone, why = toned(frame.light, chosen.curve, panel.tone.acts_on)
    wanted = panel_light(tone, panel.primaries, panel.open_cdm2, why, out=tone)
    asked = light_from_panel(wanted, panel.primaries)
    source = _source(wanted, panel, moment)
    lit = backlight(source.driven, panel.spread, frame.shape, panel.open_cdm2)
    leak, unknown = panel.zones.leak(view.contrast), panel.limiter.unknown(source.gain)
    light = emitted(wanted, lit, view, leak, unknown, panel.open_cdm2, why)
    light = tracked(light, panel.tracking, out=light)
    light = shaded(light, panel.uniformity, out=light)
    light = light_from_panel(light, panel.primaries, out=light)
    light = turned(light, view, out=light)
    light = in_room(light, reflected, out=light)

    return Rendering(
        light=light,
        asked=asked,
        backlight=lit,
        drive=source.driven,
        gain=source.gain,
        why=why,
        reflected=reflected,
        curve=chosen.curve,
        panel=panel,
        state=_state_after(frame, source, chosen, moment),
        caveats=(*frame.caveats, *panel.caveats, *chosen.caveats, *view.caveats),
        cut=moment.cut,
        called=source.called,
    )


def advance(
    frame: Frame,
    panel: Panel,
    *,
    policy: str | Policy | Curve | None = None,
    state: State | None = None,
) -> State:
    """The state that `render` leaves after `frame`, to the last bit, without the picture.

    What a frame far into a clip starts from, at a fraction of the work. Raises as `render` does.
    """
    moment = _moment(frame, panel, state)
    chosen = _chosen(frame, panel, policy, moment)
    tone, why = toned(frame.light, chosen.curve, panel.tone.acts_on)
    wanted = panel_light(tone, panel.primaries, panel.open_cdm2, why, out=tone)
    return _state_after(frame, _source(wanted, panel, moment), chosen, moment)


NOTHING_BEFORE = State(drive=np.zeros((1, 1)), gain=1.0, peak=0.0, time_s=-math.inf)
"""Before a settled start: so long ago that nothing of it is left."""


class _Moment(NamedTuple):
    """Where in a clip a frame stands: what its tone and its light come from, and how long ago."""

    time_s: float
    tone: State
    light: State
    signature: Numbers
    cut: bool


def _moment(frame: Frame, panel: Panel, state: State | None) -> _Moment:
    before = state or NOTHING_BEFORE
    if not frame.time_s >= before.time_s:
        raise RequestError(
            f"{frame.name}: its time, {frame.time_s:g} s, is before the state's, "
            f"{before.time_s:g} s; accepted are frames in order, or no state"
        )
    signature = signature_of(frame)
    cut = is_cut(before.signature, signature)
    resets = cut and panel.zones.resets_at_cuts
    tone, light = (NOTHING_BEFORE if fresh else before for fresh in (cut, resets))
    return _Moment(frame.time_s, tone, light, signature, cut)


def _chosen(
    frame: Frame, panel: Panel, policy: str | Policy | Curve | None, moment: _Moment
) -> Choice:
    """The tone curve of this frame; a peak of 0 was no peak, so there is none to move from."""
    before, since_s = moment.tone.peak or None, moment.time_s - moment.tone.time_s
    return curve_for(panel, frame, policy, previous_peak=before, dt_s=since_s)


class _Source(NamedTuple):
    """The light source at a frame: drive [v], the limiter's gain, their product [d], the queue,
    and the drive called for."""

    drive: Numbers
    gain: float
    driven: Numbers
    waiting: tuple[Numbers, ...]
    called: Numbers


def _source(wanted: Pixels, panel: Panel, moment: _Moment) -> _Source:
    """Drive and gain on their way to what the picture calls for (physics §5.2, 5.4, 5.5)."""
    before, since_s = moment.light, moment.time_s - moment.light.time_s
    newest = panel.zones.target(wanted, panel.open_cdm2)
    target, waiting = _delayed(newest, before.waiting, panel.zones.latency_frames)
    drive = panel.zones.moved(_of_shape(before.drive, target), target, since_s)
    load = panel.zones.load(wanted, target, panel.open_cdm2)
    gain = panel.limiter.moved(before.gain, panel.limiter.target(load), since_s)
    return _Source(drive, gain, locked(gain * drive), waiting, locked(newest))


def _state_after(frame: Frame, source: _Source, chosen: Choice, moment: _Moment) -> State:
    peak, signature = chosen.peak, moment.signature
    return State(source.drive, source.gain, peak, frame.time_s, source.waiting, signature)


def _delayed(
    newest: Numbers, waiting: tuple[Numbers, ...], frames: int
) -> tuple[Numbers, tuple[Numbers, ...]]:
    """The drive called for `frames` frames ago, and the ones since; at the start, the first."""
    queue = (*waiting, locked(newest))[-frames - 1 :]
    return queue[0], queue[max(0, len(queue) - frames) :]


def _of_shape(drive: Numbers, target: Numbers) -> Numbers:
    if drive.shape not in ((1, 1), target.shape):
        raise RequestError(
            f"state of {drive.shape[1]} × {drive.shape[0]} zones for a panel of "
            f"{target.shape[1]} × {target.shape[0]}: accepted is a state of the same panel"
        )
    return drive


def _checked_lux(room_lux: float) -> float:
    if not 0 <= room_lux < math.inf:
        raise RequestError(f"room_lux = {room_lux}: accepted is 0 or more, finite")
    return room_lux
