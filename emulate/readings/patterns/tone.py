"""Grey ramp, near-black ladder and the drift patch: one grey in a window of 10 % of the area."""

from __future__ import annotations

from emulate.readings.patterns.code import NARROW_BLACK, code_of, code_within, grey
from emulate.readings.patterns.place import Shape, lone_window
from emulate.readings.stimulus import Kind, Stimulus

PATCH_AREA = 0.10  # also where a meter file states no area; common practice, no source
DRIFT_LIGHT = 100.0  # cd/m², ours: bright enough to read fast, dim enough for any panel
RAMP_STEPS = 20  # ours: 5 % of the signal up to the peak
LADDER = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64)  # 10-bit codes above black, ours


def drift(shape: Shape, peak: float) -> Stimulus:
    """The reference patch that tells drift from effect."""
    return _patch("drift", "drift", code_of(DRIFT_LIGHT), shape, peak)


def ramp(shape: Shape, peak: float) -> list[Stimulus]:
    """Greys in even steps of signal from black to the mastering peak [cd/m²]."""
    top = code_within(peak)
    steps = (step / RAMP_STEPS for step in range(RAMP_STEPS + 1))
    codes = [round(NARROW_BLACK + step * (top - NARROW_BLACK)) for step in steps]
    return [_patch("ramp", f"ramp_p{peak:05.0f}_c{code:03d}", code, shape, peak) for code in codes]


def near_black(shape: Shape, peak: float) -> list[Stimulus]:
    """The first codes above black."""
    codes = [NARROW_BLACK + step for step in LADDER]
    return [_patch("near_black", f"near_black_c{code:03d}", code, shape, peak) for code in codes]


def _patch(kind: Kind, name: str, code: int, shape: Shape, peak: float) -> Stimulus:
    return lone_window(kind, name, grey(code), shape, PATCH_AREA, peak)
