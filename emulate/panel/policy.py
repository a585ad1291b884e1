"""Policy: which tone curve acts on a frame, and what it follows (physics §3)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isclose
from typing import NamedTuple, get_args

import numpy as np

from emulate.errors import Caveat, RequestError
from emulate.frames.frame import DynamicMetadata, Frame, Metadata
from emulate.panel import curves
from emulate.panel.curves import Curve
from emulate.panel.pace import moved
from emulate.panel.panel import Panel
from emulate.panel.tone import Follows, ToneReading
from emulate.transfer import PQ_PEAK, pq_from_light
from emulate.values import Value

UNSAID_PEAK = 1000.0  # cd/m², mastering peak where the content says none, physics §3
PEAK_SHARE = 0.9999  # of the pixels are no brighter than the source peak, physics §3
SAME_PEAK = 0.001  # share: files hold a mastering peak in steps of 0.0001 to 1 cd/m², ours
ATTACK_S = 0.1  # smoothed peak rising: our own choice, a new light clips for a few frames at most
DECAY_S = 1.0  # smoothed peak falling: our own choice, slow enough not to be seen as pumping


@dataclass(frozen=True, eq=False)
class Policy(Value):
    """What the tone curve follows, and which curve it is.

    built: bt2390, st2094_40, st2094_10, hard_clip, or nothing for the panel's own readings (by
    frame, and by metadata without a measured family: bt2390). source_peak [cd/m²]: what a fixed
    built curve is made for. attack_s, decay_s: of the smoothed peak of `by_frame`. curve: a curve
    that acts whatever else is said.
    """

    follows: Follows = "fixed"
    built: str = ""
    source_peak: float = PQ_PEAK
    attack_s: float = ATTACK_S
    decay_s: float = DECAY_S
    curve: Curve | None = None


class Choice(NamedTuple):
    """The curve that acts, the source peak it was chosen for [cd/m², 0 = none], and doubts."""

    curve: Curve
    peak: float
    caveats: tuple[Caveat, ...] = ()


def policy_from(asked: str | Policy | Curve | None, panel: Panel) -> Policy:
    """A policy from what a caller says; None is the panel's own habit.

    Text is `follows`, `follows:built` or `fixed:built:source peak`, as in "by_frame:bt2390" or
    "fixed:bt2390:4000". Raises RequestError for any other.
    """
    if isinstance(asked, Policy):
        return asked
    if isinstance(asked, Curve):
        return Policy(curve=asked)
    return _parsed(asked if asked is not None else panel.tone.policy)


def curve_for(
    panel: Panel,
    frame: Frame,
    policy: str | Policy | Curve | None = None,
    *,
    previous_peak: float | None = None,
    dt_s: float = 0.0,
    cut: bool = False,
    peak_of: Callable[[Frame], float] | None = None,
) -> Choice:
    """The curve that acts on `frame`: it, its source peak [cd/m²] and caveats.

    previous_peak: the peak this function gave dt_s seconds earlier; None, or a cut, is a settled
    start. peak_of: what finds the source peak, `source_peak` or a twin of it. Raises RequestError
    where the policy is not understood.
    """
    followed = policy_from(policy, panel)
    if followed.curve is not None:
        return Choice(followed.curve, 0.0)
    if followed.follows == "by_frame":
        start = None if cut else previous_peak
        peak = (peak_of or source_peak)(frame)
        before = peak if start is None else start
        smooth = float(moved(before, peak, dt_s, followed.attack_s, followed.decay_s))
        return _built(followed.built or "bt2390", panel, frame, smooth)
    if followed.follows == "by_metadata":
        return _by_metadata(followed, panel, frame)
    if followed.built:
        return _built(followed.built, panel, frame, followed.source_peak)
    return _own_curve(panel.tone.curves, frame)


def source_peak(frame: Frame) -> float:
    """The 99.99th percentile of max(R, G, B) over the active picture [cd/m²], at most 10 000.

    The smallest value that at least 99.99 % of the pixels do not exceed: exact, no interpolation.
    """
    top, bottom, left, right = frame.active or (0, frame.shape[0], 0, frame.shape[1])
    light = frame.light[top:bottom, left:right]
    m = np.maximum(np.maximum(light[..., 0], light[..., 1]), light[..., 2]).ravel()
    index = int(np.ceil(PEAK_SHARE * m.size)) - 1
    return min(float(np.partition(m, index)[index]), PQ_PEAK)


def metadata_peak(frame: Frame) -> tuple[float, tuple[Caveat, ...]]:
    """What the content says of its own peak [cd/m²]: MaxCLL where it is below the mastering peak.

    Where neither is said, 1000 with a caveat.
    """
    claims = frame.metadata
    said = [peak for peak in (claims.max_cll, claims.mastering_peak) if peak > 0]
    if said:
        return min(said), ()
    text = (
        f"the content says neither mastering peak nor MaxCLL: {UNSAID_PEAK:g} cd/m² is assumed; "
        "mastered (--mastered) says another"
    )
    return UNSAID_PEAK, (Caveat("tone curve", text),)


def family_curve(readings: Sequence[ToneReading], peak: float) -> Curve:
    """The curve of a family at a source peak [cd/m²]: linear in PQ⁻¹(peak) between neighbours.

    Readings are those with a mastering peak, in any order; the outermost are held beyond.
    """
    members = sorted(readings, key=lambda reading: reading.mastering_peak)
    keys = pq_from_light([reading.mastering_peak for reading in members])
    place = float(np.interp(pq_from_light(peak), keys, np.arange(len(members))))
    below = min(int(place), len(members) - 2)
    return curves.between(members[below].curve(), members[below + 1].curve(), place - below)


def _parsed(text: str) -> Policy:
    follows, *rest = text.split(":")
    try:
        if follows not in get_args(Follows) or len(rest) > 2:
            raise ValueError
        if rest and rest[0] not in _BUILDERS:
            raise ValueError
        peak = float(rest[1]) if len(rest) == 2 else PQ_PEAK
        if not 0 < peak <= PQ_PEAK or (len(rest) == 2 and follows != "fixed"):
            raise ValueError
    except ValueError:
        raise RequestError(
            f'policy "{text}": accepted is {", ".join(get_args(Follows))}, with a built curve if '
            f"wanted ({', '.join(_BUILDERS)}) and, for fixed, its source peak up to 10000 cd/m², "
            'as in "by_frame:bt2390" or "fixed:bt2390:4000"'
        ) from None
    return Policy(follows, rest[0] if rest else "", peak)  # type: ignore[arg-type]


def _by_metadata(policy: Policy, panel: Panel, frame: Frame) -> Choice:
    peak, doubts = metadata_peak(frame)
    family = [reading for reading in panel.tone.curves if reading.mastering_peak > 0]
    if len(family) > 1 and not policy.built:
        doubts += _which(family, peak, frame.metadata) + _unread_black(family)
        return Choice(family_curve(family, peak), peak, doubts)
    choice = _built(policy.built or "bt2390", panel, frame, peak)
    return choice._replace(caveats=doubts + choice.caveats)


def _which(family: Sequence[ToneReading], peak: float, claims: Metadata) -> tuple[Caveat, ...]:
    """Which curves of a family act at a source peak, and what decided it.

    Nothing where the content says that it was mastered as one of them was read.
    """
    peaks = sorted(reading.mastering_peak for reading in family)
    mastered = claims.mastering_peak
    if isclose(peak, mastered, rel_tol=SAME_PEAK) and any(
        isclose(peak, each, rel_tol=SAME_PEAK) for each in peaks
    ):
        return ()
    below = max((each for each in peaks if each <= peak), default=peaks[0])
    above = min((each for each in peaks if each >= peak), default=peaks[-1])
    where = f"between the curves for {below:g} and {above:g} cd/m²"
    if below == above:
        where = f"the curve for {below:g} cd/m² acts"
    why = f"the content is mastered for {peak:g} cd/m²"
    if not isclose(peak, mastered, rel_tol=SAME_PEAK):
        by_level = f"the file claims at most {peak:g} cd/m² (MaxCLL)"
        why = by_level if claims.max_cll > 0 else f"{peak:g} cd/m² is assumed"
    return (Caveat("tone curve", f"{where}, since {why}"),)


def _own_curve(readings: Sequence[ToneReading], frame: Frame) -> Choice:
    """The panel's one curve: the reading for whatever content, else the first in the file."""
    if not readings:
        return Choice(curves.identity(), 0.0)
    general = [reading for reading in readings if reading.mastering_peak == 0]
    chosen = (general or list(readings))[0]
    read, graded = chosen.mastering_peak, frame.metadata.mastering_peak
    doubts = []
    if not general and len(readings) > 1:
        text = f"the policy is fixed and the panel has several curves: {chosen.text} acts"
        doubts.append(Caveat("tone curve", text))
    elif read and graded and not isclose(read, graded, rel_tol=SAME_PEAK):
        text = f"the only curve on file was read for {read:g} cd/m² masters; this one is graded for"
        doubts.append(Caveat("tone curve", f"{text} {graded:g} cd/m²"))
    return Choice(chosen.curve(), 0.0, (*doubts, *_unread_black([chosen])))


def _unread_black(readings: Sequence[ToneReading]) -> tuple[Caveat, ...]:
    first = max(float(reading.signal[0]) for reading in readings)
    text = f"not read below signal {first:g}: from there it is taken to run to black"
    return (Caveat("tone curve", text),) if first > 0 else ()


def _built(name: str, panel: Panel, frame: Frame, source: float) -> Choice:
    curve, doubts = _BUILDERS[name](source, panel.open_cdm2, frame.metadata.dynamic)
    return Choice(curve, source, doubts)


Built = tuple[Curve, tuple[Caveat, ...]]


def _bt2390(source: float, peak: float, _: DynamicMetadata | None) -> Built:
    return curves.identity() if peak >= source else curves.bt2390(source, 0.0, peak, 0.0), ()


def _hard_clip(_source: float, peak: float, _: DynamicMetadata | None) -> Built:
    return curves.hard_clip(peak), ()


def _st2094_10(source: float, peak: float, _: DynamicMetadata | None) -> Built:
    """Black to black, peak to peak, and the middle of the signal where BT.2390 puts it: ours."""
    if peak >= source:
        return curves.identity(), ()
    end, top = pq_from_light([source, peak]).tolist()
    middle = end / 2
    kept = float(curves.bt2390(source, 0.0, peak, 0.0).signal(middle))
    return curves.st2094_10([(curves.BLACK, curves.BLACK), (middle, kept), (end, top)]), ()


def _st2094_40(source: float, peak: float, dynamic: DynamicMetadata | None) -> Built:
    """The stream's own curve where it carries one that can be drawn, else one of our shape."""
    if dynamic is not None and dynamic.anchors and dynamic.knee is not None:
        return _streamed(dynamic, source, peak)
    text = "the stream carries no ST 2094-40 curve: knee and anchors are of our own shape"
    doubts = (Caveat("tone curve", text),)
    if peak >= source:
        return curves.identity(), doubts
    return curves.st2094_40(source, *_own_anchors(source, peak), peak), doubts


def _streamed(dynamic: DynamicMetadata, source: float, peak: float) -> Built:
    scene = dynamic.scene_peak or source
    if peak >= scene:
        return curves.identity(), ()
    doubts = []
    anchors = np.maximum.accumulate(dynamic.anchors)
    if not np.array_equal(anchors, dynamic.anchors):
        doubts.append("the stream's anchors fall: each is held at the highest before it")
    if dynamic.target_peak and not np.isclose(dynamic.target_peak, peak, rtol=0.01):
        target = f"a {dynamic.target_peak:g} cd/m² display"
        doubts.append(f"the stream's curve is meant for {target} and drawn to {peak:g} cd/m²")
    caveats = tuple(Caveat("tone curve", text) for text in doubts)
    knee = dynamic.knee or (0.0, 0.0)
    if knee[0] >= 1 or (knee[0] == 0 and knee[1] > 0):
        text = f"the stream's knee {knee} gives no curve: knee and anchors are of our own shape"
        caveats += (Caveat("tone curve", text),)
        return curves.st2094_40(scene, *_own_anchors(scene, peak), peak), caveats
    return curves.st2094_40(scene, knee, anchors.tolist(), peak), caveats


def _own_anchors(source: float, peak: float) -> tuple[tuple[float, float], list[float]]:
    """A knee at half the panel's peak with light kept below it, then anchors that bend smoothly.

    Our own choice of shape: the first anchor continues the slope below the knee as far as it can.
    """
    order = 10  # nine anchors, the most that ST 2094-40 carries with a first and last implied
    kx, ky = 0.5 * peak / source, 0.5
    first = min((1 - kx) / kx / order, 0.95)
    power = np.log(1 - first) / np.log(1 - 1 / order)
    return (kx, ky), (1 - (1 - np.arange(1, order) / order) ** power).tolist()


_BUILDERS: dict[str, Callable[[float, float, DynamicMetadata | None], Built]] = {
    "bt2390": _bt2390,
    "st2094_40": _st2094_40,
    "st2094_10": _st2094_10,
    "hard_clip": _hard_clip,
}
