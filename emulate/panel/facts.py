"""Facts: what a panel is, a line each, for a person to read."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from emulate.colorimetry import BT709, BT2020, P3, gamut_coverage
from emulate.panel.panel import Panel
from emulate.panel.zones import Zones

Fact = tuple[str, str]
ACTS_ON = {
    "max_rgb": "the brightest of red, green and blue",
    "per_channel": "red, green and blue, each by itself",
    "luminance": "luminance",
}
FOLLOWS = {
    "fixed": "nothing: one curve for all content",
    "by_metadata": "what the file says of itself",
    "by_frame": "each frame's own light",
}


def facts(panel: Panel) -> list[Fact]:
    """(what, value as text) in the order light takes; an effect that is absent says so."""
    return [
        ("name", panel.name),
        ("white, all open", f"{panel.open_cdm2:g} cd/m²"),
        *_tone(panel),
        *_colour(panel),
        *_source(panel),
        *_cell(panel),
        *_screen(panel),
        *_timing(panel),
        ("fitted", f"{len(panel.fit)} entries" if panel.fit else "no"),
        *(("doubt", str(doubt)) for doubt in panel.caveats),
        *([("notes", panel.notes)] if panel.notes else []),
    ]


def _timing(panel: Panel) -> Iterator[Fact]:
    timing = panel.timing
    if timing.refresh_hz.size:
        yield "refresh", ", ".join(f"{rate:g}" for rate in timing.refresh_hz) + " Hz"
    late = timing.frames_late()
    for rate, lag, frames in zip(timing.refresh_hz, timing.input_lag_ms, late, strict=False):
        yield f"input lag at {rate:g} Hz", f"{lag:g} ms, {frames:.2g} pictures"


def _tone(panel: Panel) -> Iterator[Fact]:
    tone = panel.tone
    yield "tone curve acts on", ACTS_ON[tone.acts_on]
    yield "tone curve follows", FOLLOWS[tone.policy]
    for reading in tone.curves:
        top = f"{reading.light[0]:g} to {reading.light[-1]:g} cd/m²"
        yield "tone curve", f"{reading.text}, {len(reading.signal)} readings, {top}"
    if not tone.curves:
        yield "tone curve", "none measured"


def _colour(panel: Panel) -> Iterator[Fact]:
    primaries = panel.primaries
    for name in ("red", "green", "blue", "white"):
        x, y = getattr(primaries, name)
        yield f"{name} xy", f"{x:.4f}, {y:.4f}"
    for name, target in (("BT.2020", BT2020), ("P3", P3), ("BT.709", BT709)):
        flat = gamut_coverage(primaries.rgb, target)
        even = gamut_coverage(primaries.rgb, target, diagram="uv")
        yield f"covers of {name}", f"{flat:.1%} in xy, {even:.1%} in u′v′"
    shares = np.stack([panel.tracking.red, panel.tracking.green, panel.tracking.blue])
    furthest = float(np.abs(shares - 1).max())
    yield "grey tracking", f"off by up to {furthest:.1%}" if furthest else "as intended"


def _source(panel: Panel) -> Iterator[Fact]:
    zones = panel.zones
    if isinstance(zones, Zones):
        count = f"{zones.columns} × {zones.rows} = {zones.columns * zones.rows}"
        yield "zones", f"{count}, {zones.attack_s:g} s up, {zones.decay_s:g} s down"
        widths = zip(panel.spread.weight, panel.spread.sigma_h, strict=True)
        shown = ", ".join(f"{weight:.0%} over {sigma:g} H" for weight, sigma in widths)
        yield "spread", shown if panel.spread.sigma_h.any() else "none"
    else:
        yield "zones", "none, every pixel is its own light"
    limiter = panel.limiter
    least = float(limiter.gain[-1])
    full = f"{least:.0%} of its light at full load, {limiter.acts}"
    yield "limiter", full if least < 1 else "none"


def _cell(panel: Panel) -> Iterator[Fact]:
    contrast = panel.cell.contrast
    yield "native contrast", f"{contrast:g}:1" if np.isfinite(contrast) else "no leakage"
    yield "compensation", f"{panel.cell.compensation:.0%}"
    angles = panel.angles
    for degree, ratio, gain in zip(angles.degree, angles.contrast, angles.gain, strict=True):
        seen = f", {ratio:g}:1" if np.isfinite(ratio) else ""
        yield f"from {degree:g}°", f"{gain:.0%} of the light{seen}"


def _screen(panel: Panel) -> Iterator[Fact]:
    grid = panel.uniformity.grid
    uneven = (
        f"{grid.min():.1%} to {grid.max():.1%} of the centre, {grid.shape[1]} × {grid.shape[0]}"
    )
    yield "uniformity", uneven if grid.max() > grid.min() else "even"
    yield "reflectance", f"{panel.surface.reflectance:.2%}"
