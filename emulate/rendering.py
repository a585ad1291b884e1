"""The recipe: from reference light to seen light, one line an effect, in the order light takes.

`render_plainly` is the recipe itself. `render` gives the same through its twin in `fused`, where
that is within its bounds: quicker, and pixels are made only when somebody asks for them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from emulate.cuda.sketch import CardSketch, on_card
from emulate.cuts import is_cut, signature_of
from emulate.display import Displayed
from emulate.errors import Caveat, RequestError
from emulate.frames.frame import Frame
from emulate.fused.draw import Drawn, Lit, drawn, lit
from emulate.fused.fits import fits
from emulate.fused.sketch import Sketch, levels_of, seen_by_zones, sketched
from emulate.fused.workspace import Workspace, working
from emulate.panel.cause import Cause as Cause
from emulate.panel.cell import View, emitted, seen_from, turned
from emulate.panel.curves import Curve
from emulate.panel.panel import Panel
from emulate.panel.policy import PEAK_SHARE, Choice, Policy, curve_for, source_peak
from emulate.panel.primaries import light_from_panel, panel_light
from emulate.panel.spread import backlight
from emulate.panel.surface import in_room, reflected_light
from emulate.panel.tone import toned
from emulate.panel.tracking import tracked
from emulate.panel.uniformity import shaded
from emulate.panel.zones import Statistics
from emulate.transfer import PQ_PEAK
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
    sketch: Sketch | None = field(default=None, init=False, repr=False)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns in pixels."""
        if self.sketch is not None:
            return self.sketch.frame.shape
        return self.why.shape[0], self.why.shape[1]

    def __getattr__(self, name: str) -> Any:
        """The pictures of a sketch, drawn when they are first asked for."""
        sketch = self.__dict__.get("sketch")
        if name not in Drawn._fields or sketch is None:
            raise AttributeError(f"a rendering has no {name}")
        self.__dict__.update(_pictures(sketch, name) | self.__dict__)
        return self.__dict__[name]


def _pictures(sketch: Sketch | CardSketch, name: str) -> dict[str, Any]:
    """The picture of this name, and those that come with it at no more work."""
    if isinstance(sketch, CardSketch):
        return sketch.drawn()._asdict()
    return (lit(sketch) if name in Lit._fields else drawn(sketch))._asdict()


def of_sketch(sketch: Sketch, **rest: object) -> Rendering:
    """A rendering whose pictures are not drawn yet."""
    rendering = object.__new__(Rendering)
    defaults = {"caveats": (), "cut": False, "called": numbers([[1.0]])}
    rendering.__dict__.update(defaults | rest | {"sketch": sketch})
    return rendering


def render(
    frame: Frame,
    panel: Panel,
    *,
    policy: str | Policy | Curve | None = None,
    angle: float = 0.0,
    room_lux: float = 0.0,
    state: State | None = None,
    work: Workspace | None = None,
    device: str = "cpu",
) -> Rendering:
    """What `panel` shows of `frame`: the recipe of physics §2.

    policy: which tone curve acts, as `policy_from` reads it; None = the panel's own habit.
    angle [degree] off axis. room_lux: light of the room on the screen. state: of the frame before,
    None = settled. work: threads and memory to share between frames of a clip, None = its own.
    device: cpu, or cuda for a graphics card (codes, and light in arrays, to 1e-4 of the light).

    Raises RequestError where the picture has fewer pixels than the panel has zones, the policy, the
    angle or the room's light cannot be, the state comes from a later frame or other zones, or there
    is no such device.
    """
    if device != "cpu":
        return _on_device(device, frame, panel, policy, angle, room_lux, state)
    if not fits(frame, panel):
        return render_plainly(
            frame, panel, policy=policy, angle=angle, room_lux=room_lux, state=state
        )
    view = seen_from(angle, panel.cell, panel.angles)
    reflected = reflected_light(panel.surface, _checked_lux(room_lux))
    moment = _moment(frame, panel, state)
    with working(work) as place:
        chosen, sketch, source = _sketched(frame, panel, policy, view, moment, place)
        unknown = panel.limiter.unknown(source.gain)
        settled = source.gain * source.called
        sketch = sketch.lit(source.driven, settled, unknown, reflected, place)
    return of_sketch(
        replace(sketch, work=work),
        drive=source.driven,
        gain=source.gain,
        reflected=reflected,
        curve=chosen.curve,
        panel=panel,
        state=_state_after(frame, source, chosen, moment),
        caveats=(*chosen.caveats, *frame.caveats, *panel.caveats, *view.caveats),
        cut=moment.cut,
        called=source.called,
    )


def _sketched(
    frame: Frame,
    panel: Panel,
    policy: str | Policy | Curve | None,
    view: View,
    moment: _Moment,
    place: Workspace,
) -> tuple[Choice, Sketch, _Source]:
    """Curve, sketch and light source of a frame by the twin."""

    def peak_of(frame: Frame) -> float:
        return min(levels_of(frame, place).at_share(PEAK_SHARE), PQ_PEAK)

    chosen = _chosen(frame, panel, policy, moment, peak_of)
    sketch = sketched(frame, panel, view, chosen.curve)
    return chosen, sketch, _source(seen_by_zones(sketch, place), panel, moment)


def _on_device(
    device: str,
    frame: Frame,
    panel: Panel,
    policy: str | Policy | Curve | None,
    angle: float,
    room_lux: float,
    state: State | None,
) -> Rendering:
    """The same on a graphics card."""
    if device != "cuda":
        raise RequestError(f'device = "{device}": accepted is "cpu" or "cuda"')
    view = seen_from(angle, panel.cell, panel.angles)
    reflected = reflected_light(panel.surface, _checked_lux(room_lux))
    moment = _moment(frame, panel, state)
    chosen = _chosen(frame, panel, policy, moment)
    sketch = on_card(replace(sketched(frame, panel, view, chosen.curve), reflected=reflected))
    source = _source(sketch.seen_by_zones(), panel, moment)
    return of_sketch(
        sketch.lit_by(source.driven, panel.limiter.unknown(source.gain)),
        drive=source.driven,
        gain=source.gain,
        reflected=reflected,
        curve=chosen.curve,
        panel=panel,
        state=_state_after(frame, source, chosen, moment),
        caveats=(*chosen.caveats, *frame.caveats, *panel.caveats, *view.caveats),
        cut=moment.cut,
        called=source.called,
    )


def render_plainly(
    frame: Frame,
    panel: Panel,
    *,
    policy: str | Policy | Curve | None = None,
    angle: float = 0.0,
    room_lux: float = 0.0,
    state: State | None = None,
) -> Rendering:
    """The same as `render`, effect by effect: what its twin is held to."""
    view = seen_from(angle, panel.cell, panel.angles)
    reflected = reflected_light(panel.surface, _checked_lux(room_lux))
    moment = _moment(frame, panel, state)

    chosen = _chosen(frame, panel, policy, moment)
    tone, why = toned(frame.light, chosen.curve, panel.tone.acts_on)
    wanted = panel_light(tone, panel.primaries, panel.open_cdm2, why, out=tone)
    asked = light_from_panel(wanted, panel.primaries)
    source = _source(panel.zones.seen(wanted, panel.open_cdm2), panel, moment)
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
        caveats=(*chosen.caveats, *frame.caveats, *panel.caveats, *view.caveats),
        cut=moment.cut,
        called=source.called,
    )


def advance(
    frame: Frame,
    panel: Panel,
    *,
    policy: str | Policy | Curve | None = None,
    state: State | None = None,
    work: Workspace | None = None,
) -> State:
    """The state that `render` leaves after `frame`, to the last bit, without the picture.

    What a frame far into a clip starts from, at a fraction of the work. Raises as `render` does.
    """
    moment = _moment(frame, panel, state)
    if fits(frame, panel):
        view = seen_from(0.0, panel.cell, panel.angles)
        with working(work) as place:
            chosen, _, source = _sketched(frame, panel, policy, view, moment, place)
    else:
        chosen = _chosen(frame, panel, policy, moment)
        tone, why = toned(frame.light, chosen.curve, panel.tone.acts_on)
        wanted = panel_light(tone, panel.primaries, panel.open_cdm2, why, out=tone)
        source = _source(panel.zones.seen(wanted, panel.open_cdm2), panel, moment)
    return _state_after(frame, source, chosen, moment)


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
    frame: Frame,
    panel: Panel,
    policy: str | Policy | Curve | None,
    moment: _Moment,
    peak_of: Callable[[Frame], float] = source_peak,
) -> Choice:
    """The tone curve of this frame; a peak of 0 was no peak, so there is none to move from."""
    before, since_s = moment.tone.peak or None, moment.time_s - moment.tone.time_s
    return curve_for(panel, frame, policy, previous_peak=before, dt_s=since_s, peak_of=peak_of)


class _Source(NamedTuple):
    """The light source at a frame: drive [v], the limiter's gain, their product [d], the queue,
    and the drive called for."""

    drive: Numbers
    gain: float
    driven: Numbers
    waiting: tuple[Numbers, ...]
    called: Numbers


def _source(seen: Statistics, panel: Panel, moment: _Moment) -> _Source:
    """Drive and gain on their way to what the zones see calls for (physics §5.2, 5.4, 5.5)."""
    before, since_s = moment.light, moment.time_s - moment.light.time_s
    newest = panel.zones.called_for(seen)
    target, waiting = _delayed(newest, before.waiting, panel.zones.latency_frames)
    drive = panel.zones.moved(_of_shape(before.drive, target), target, since_s)
    load = panel.zones.load(seen, target)
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
