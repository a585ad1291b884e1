"""Compare: the same content over panels, settings and tone curves."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import product

from emulate.errors import RequestError
from emulate.films.comparison import Case, Comparison, comparison_of, policy_text
from emulate.films.noticeable import least_area
from emulate.films.scan import scan
from emulate.films.terms import Terms
from emulate.films.walk import shown
from emulate.findings.measure import measure
from emulate.frames.clip import Clip
from emulate.frames.frame import Frame
from emulate.panel.curves import Curve
from emulate.panel.panel import Panel
from emulate.panel.policy import Policy, curve_for, policy_from
from emulate.sight import Viewer

MOST_CASES = 26  # one letter each [ours]
Asked = str | Policy | Curve | None
Tell = Callable[[str], None]


def compare(
    content: Frame | Clip,
    panels: Sequence[Panel],
    policies: Sequence[Asked] = (None,),
    *,
    viewer: Viewer | None = None,
    angle: float = 0.0,
    room_lux: float = 0.0,
    tell: Tell = lambda _: None,
) -> Comparison:
    """What differs between panels, and between tone curves, on one frame or clip.

    Every panel is shown under every policy (as `policy_from` reads it; None = its own habit),
    panels first. A setting is a panel file of its own. Of a clip the means over its frames are
    compared, and its worst frames. angle [degree], room_lux as `render` has them, viewer as
    `measure`; `tell` hears what is being done.

    Raises RequestError where there are not 2 to 26 cases or one cannot be rendered so,
    MaterialError where no frame of a clip can be read.
    """
    settings = _settings(panels, policies)
    seen_by = viewer or Viewer()
    cases = []
    for label, panel, policy in settings:
        tell(label)
        terms = Terms(policy, angle, room_lux, seen_by)
        cases.append(_case(content, label, panel, terms))
    return comparison_of(content.name, tuple(cases), least_area(seen_by, content.shape))


def _settings(panels: Sequence[Panel], policies: Sequence[Asked]) -> list[tuple[str, Panel, Asked]]:
    """Label, panel and policy of each case; a label says no more than what differs."""
    pairs = list(product(panels, policies))
    if not 2 <= len(pairs) <= MOST_CASES:
        raise RequestError(
            f"compare: {len(pairs)} cases, {len(panels)} panels by {len(policies)} policies; "
            f"accepted is 2 to {MOST_CASES}"
        )
    for panel, policy in pairs:
        policy_from(policy, panel)
    labels = [_label(panel, policy, len(panels), len(policies)) for panel, policy in pairs]
    return [(label, *pair) for label, pair in zip(_unique(labels), pairs, strict=True)]


def _label(panel: Panel, policy: Asked, panels: int, policies: int) -> str:
    if policies == 1:
        return panel.name
    text = policy_text(policy, panel)
    return text if panels == 1 else f"{panel.name}, {text}"


def _unique(labels: list[str]) -> list[str]:
    """The same labels, those that are not alone numbered in order."""
    counts, seen = Counter(labels), Counter[str]()
    unique = []
    for label in labels:
        seen[label] += 1
        unique.append(f"{label} ({seen[label]})" if counts[label] > 1 else label)
    return unique


def _case(content: Frame | Clip, label: str, panel: Panel, terms: Terms) -> Case:
    if isinstance(content, Clip):
        return _film(content, label, panel, terms)
    return _still(content, label, panel, terms)


def _still(frame: Frame, label: str, panel: Panel, terms: Terms) -> Case:
    rendering = shown(frame, panel, terms, None)
    findings = measure(frame, rendering, viewer=terms.viewer)
    return Case(label, panel, terms.policy, findings, rendering.curve)


def _film(clip: Clip, label: str, panel: Panel, terms: Terms) -> Case:
    film = scan(
        clip,
        panel,
        policy=terms.policy,
        viewer=terms.viewer,
        angle=terms.angle,
        room_lux=terms.room_lux,
    )
    first = clip.frame(int(film.table.index[0]))
    curve = curve_for(panel, first, terms.policy).curve
    return Case(label, panel, terms.policy, film.film, curve, film)
