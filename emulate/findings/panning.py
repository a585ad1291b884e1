"""Panning: what stays on the screen while grey passes over it, dirt and the grid of zones. [ours]

Soft bands of grey, a picture height long and half as bright to half as bright again as the level,
move one wavelength across the screen. What a panel adds to them (J of what is seen less J of what a
perfect backlight would show, on cells of 0.1°), averaged over the way, is what stays in place.
Less its mean over a broad Gaussian, which leaves out slow shading, it is what a viewer calls dirt.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from emulate.errors import RequestError
from emulate.findings.evidence import VISIBLE_STEPS, luminance_of
from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import light_text, opening, share_text, steps_text
from emulate.frames.frame import Frame
from emulate.panel.panel import Panel
from emulate.panel.uniformity import Uniformity
from emulate.panel.zones import Zones
from emulate.rendering import render
from emulate.sight import CELL_DEGREES, Viewer, cell_means, steps_from_light
from emulate.transfer import PQ_PEAK
from emulate.values import Numbers, Pixels, Value

SHAPE = (360, 640)  # px: two a cell of 0.1° at 3.2 picture heights [ours]
BROAD_DEGREES = 4.0  # σ of what counts as slow shading [ours]
DEPTH = 0.5  # of the bands [ours]
STEPS = 12  # positions over a wavelength [ours]
WORST = 99  # percentile that stands for the dirtiest places [ours]

_RULE = (
    "Soft bands of grey (half to one and a half times the level, one picture height long) move one "
    "wavelength across the screen; on squares of 0.1°, the visible steps (ITU-R BT.2124) between "
    "what is seen and what a perfect backlight would show are averaged over the way, less their "
    "Gaussian mean of σ 4°"
)


@dataclass(frozen=True, eq=False)
class Pan(Value):
    """What stays on the screen at one level of grey [cd/m²].

    dirt (cells down, cells across): visible steps against the surroundings, lighter above 0.
    findings: `dirt.*` and, where there are zones, `grid.*`.
    """

    level: float
    dirt: Numbers
    findings: Findings


def measure_pan(
    panel: Panel,
    level: float,
    *,
    policy: str | None = None,
    angle: float = 0.0,
    viewer: Viewer | None = None,
    shape: tuple[int, int] = SHAPE,
) -> Pan:
    """How dirty the screen looks, and whether its zones show, as grey of `level` [cd/m²] pans.

    shape: rows and columns [px] of the picture made for it; policy and angle as `render` has them.
    Raises RequestError where the level is not above 0 and at most 10000 / 1.5 cd/m², or as
    `render`.
    """
    if not 0 < level * (1 + DEPTH) <= PQ_PEAK:
        most = PQ_PEAK / (1 + DEPTH)
        raise RequestError(f"level = {level} cd/m²: accepted is above 0, at most {most:.0f}")
    seen_by = viewer or Viewer()

    def passing(shown: Panel) -> Numbers:
        each = [_added(frame, shown, policy, angle, seen_by) for frame in _bands(level, shape)]
        return np.array(each)

    moving = passing(replace(panel, uniformity=Uniformity()))
    left, even = passing(panel).mean(axis=0), moving.mean(axis=0)
    dirt = without_shading(left)
    found = _dirt(level, dirt, left - dirt, without_shading(even), without_shading(left - even))
    if isinstance(panel.zones, Zones):
        found |= _grid(level, grid_steps(dirt, panel.zones))
        found["grid.passing"] = _passing(level, np.stack([without_shading(m) for m in moving]))
    basis = f"Seen from {seen_by.distance_h:g} picture heights, in a dark room."
    return Pan(level, dirt, Findings(found, panel.caveats, panel=panel.name, basis=basis))


def without_shading(steps: Numbers) -> Numbers:
    """Steps on cells of 0.1° less their Gaussian mean of σ 4°, edges mirrored."""
    from scipy.ndimage import gaussian_filter

    broad = gaussian_filter(steps, BROAD_DEGREES / CELL_DEGREES, mode="reflect")
    return np.asarray(steps - broad)


def grid_steps(dirt: Numbers, zones: Zones) -> tuple[float, float]:
    """From crest to trough, the part of `dirt` [steps] that repeats with the zones' columns and
    with their rows: twice the amplitude of the first harmonic, 0 where there is one zone only."""
    across = _harmonic(dirt.mean(axis=0), zones.columns)
    return across, _harmonic(dirt.mean(axis=1), zones.rows)


def _harmonic(profile: Numbers, count: int) -> float:
    if count < 2 or count > profile.size // 2:
        return 0.0
    turns = np.exp(-2j * np.pi * count * (np.arange(profile.size) + 0.5) / profile.size)
    return float(4 * np.abs(np.mean(profile * turns)))


def _bands(level: float, shape: tuple[int, int]) -> list[Frame]:
    """Bands a picture height long, at each step of their way across."""
    rows, columns = shape
    turn = (np.arange(columns) + 0.5) / rows
    waves = [1 + DEPTH * np.sin(2 * np.pi * (turn - step / STEPS)) for step in range(STEPS)]
    return [_grey(level * wave, rows) for wave in waves]


def _grey(across: Numbers, rows: int) -> Frame:
    light = np.broadcast_to(across[None, :, None], (rows, across.size, 3))
    return Frame.from_light(light, "grey bands")


def _added(frame: Frame, panel: Panel, policy: str | None, angle: float, viewer: Viewer) -> Numbers:
    """J of what is seen less J of what a perfect backlight would show, on cells."""
    rendering = render(frame, panel, policy=policy, angle=angle)
    seen, asked = (_steps(light, viewer) for light in (rendering.light, rendering.asked))
    return seen - asked


def _steps(light: Pixels, viewer: Viewer) -> Numbers:
    return steps_from_light(cell_means(luminance_of(light), viewer))


def _dirt(
    level: float, dirt: Numbers, shading: Numbers, backlight: Numbers, screen: Numbers
) -> dict[str, Finding]:
    worst, by_light, by_screen = (
        float(np.percentile(np.abs(part), WORST)) for part in (dirt, backlight, screen)
    )
    area = float(np.mean(np.abs(dirt) >= VISIBLE_STEPS))
    return {
        "dirt.worst": _worst(level, worst, area),
        "dirt.area": _area(level, area),
        "dirt.screen": _part("the uneven screen", by_screen, "[uniformity] alone makes"),
        "dirt.backlight": _part("the backlight", by_light, "is left without [uniformity]"),
        "dirt.shading": _shading(float(np.ptp(np.percentile(shading, (1, WORST))))),
    }


def _worst(level: float, steps: float, area: float) -> Finding:
    grey = f"grey of {light_text(level)}"
    if steps >= VISIBLE_STEPS:
        stand = f"patches that stay in place stand out by up to {steps_text(steps)}"
        sentence = f"On a pan across {grey}, {stand}."
    elif area:
        sentence = f"On a pan across {grey} less than 1 % of the screen shows dirt."
    else:
        sentence = f"On a pan across {grey} no dirt is to be seen."
    return Finding(steps, "steps", sentence, f"{_RULE}. 99th percentile of their size.")


def _area(level: float, share: float) -> Finding:
    sentence = (
        f"{opening(share_text(share))} of the screen looks dirty as grey of {light_text(level)} "
        f"passes."
        if share
        else f"No part of the screen looks dirty as grey of {light_text(level)} passes."
    )
    return Finding(share, "share", sentence, f"{_RULE}. Share of the squares at one step or more.")


def _part(culprit: str, steps: float, rule: str) -> Finding:
    sentence = (
        f"By itself {culprit} makes patches of up to {steps_text(steps)}."
        if steps >= VISIBLE_STEPS
        else f"By itself {culprit} makes no patch that shows."
    )
    return Finding(steps, "steps", sentence, f"{_RULE}: what {rule}. 99th percentile of its size.")


def _shading(steps: float) -> Finding:
    sentence = f"Broad shading over the screen spans {steps_text(steps)}, too slow to look dirty."
    definition = f"{_RULE.removesuffix(', less their Gaussian mean of σ 4°')}; of their Gaussian "
    return Finding(
        steps, "steps", sentence, f"{definition}mean of σ 4°, from 1st to 99th percentile."
    )


def _grid(level: float, strength: tuple[float, float]) -> dict[str, Finding]:
    names = {"grid.columns": "columns", "grid.rows": "rows"}
    return {
        name: _zones(level, lines, steps)
        for (name, lines), steps in zip(names.items(), strength, strict=True)
    }


def _passing(level: float, moving: Numbers) -> Finding:
    steps = float(np.percentile(np.abs(moving), WORST))
    sentence = (
        f"As grey of {light_text(level)} passes, the zones behind it show by up to "
        f"{steps_text(steps)}."
        if steps >= VISIBLE_STEPS
        else f"As grey of {light_text(level)} passes, the zones behind it do not show."
    )
    definition = (
        f"{_RULE.replace(' are averaged over the way,', ' at each moment,')}; without "
        f"[uniformity]. 99th percentile of their size over the squares and the way."
    )
    return Finding(steps, "steps", sentence, definition)


def _zones(level: float, lines: str, steps: float) -> Finding:
    sentence = (
        f"The {lines} of zones show by {steps_text(steps)} on grey of {light_text(level)}."
        if steps >= VISIBLE_STEPS
        else f"The {lines} of zones do not show on grey of {light_text(level)}."
    )
    definition = (
        f"{_RULE}; of their mean across the {lines}, the part that repeats with the zones: from "
        f"crest to trough of its first harmonic."
    )
    return Finding(steps, "steps", sentence, definition)
