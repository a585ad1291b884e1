"""What a file claims of its content: believed where it can be true, dropped with a caveat where not.

Units as the claims are printed: luminance cd/m², chromaticity CIE 1931 xy.
"""

from __future__ import annotations

import math
from dataclasses import replace

from emulate.errors import Caveat
from emulate.frames.frame import Metadata
from emulate.frames.said import Chromaticities, is_gamut

PEAKS = (5.0, 10000.0)  # cd/m², range of a mastering peak, SMPTE ST 2086:2018, 4.2.2 (from memory)
BLACKS = (0.0, 5.0)  # cd/m², of a mastering black, as above (from memory)
LEVELS = (0.0, 10000.0)  # cd/m², of MaxCLL and MaxFALL: the light PQ can carry, ST 2084


def believed(about: str, claimed: Metadata) -> tuple[Metadata, tuple[Caveat, ...]]:
    """The claims that can be true; each of the others is dropped and becomes a caveat."""
    caveats: tuple[Caveat, ...] = ()
    for check in (_peak, _black, _primaries, _max_cll, _max_fall, _levels):
        claimed, doubts = check(about, claimed)
        caveats += doubts
    return claimed, caveats


_Checked = tuple[Metadata, tuple[Caveat, ...]]


def _peak(about: str, claimed: Metadata) -> _Checked:
    peak = claimed.mastering_peak
    if peak == 0 or PEAKS[0] <= peak <= PEAKS[1]:
        return claimed, ()
    reason = f"a mastering peak of {peak:g} cd/m², outside {PEAKS[0]:g} to {PEAKS[1]:g}"
    return replace(claimed, mastering_peak=0.0, mastering_black=0.0), _dropped(about, reason)


def _black(about: str, claimed: Metadata) -> _Checked:
    black, peak = claimed.mastering_black, claimed.mastering_peak or math.inf
    if BLACKS[0] <= black <= BLACKS[1] and black < peak:
        return claimed, ()
    reason = f"a mastering black of {black:g} cd/m², not within 0 to {BLACKS[1]:g} and below peak"
    return replace(claimed, mastering_black=0.0), _dropped(about, reason)


def _primaries(about: str, claimed: Metadata) -> _Checked:
    points = claimed.mastering_primaries
    reason = None if points is None else _wrong_with(points)
    if reason is None:
        return claimed, ()
    shown = " ".join(f"({x:.4g}, {y:.4g})" for x, y in points or ())
    reason = f"mastering primaries {shown}: {reason}"
    return replace(claimed, mastering_primaries=None), _dropped(about, reason)


def _max_cll(about: str, claimed: Metadata) -> _Checked:
    if LEVELS[0] <= claimed.max_cll <= LEVELS[1]:
        return claimed, ()
    reason = f"a MaxCLL of {claimed.max_cll:g} cd/m², outside 0 to {LEVELS[1]:g}"
    return replace(claimed, max_cll=0.0), _dropped(about, reason)


def _max_fall(about: str, claimed: Metadata) -> _Checked:
    if LEVELS[0] <= claimed.max_fall <= LEVELS[1]:
        return claimed, ()
    reason = f"a MaxFALL of {claimed.max_fall:g} cd/m², outside 0 to {LEVELS[1]:g}"
    return replace(claimed, max_fall=0.0), _dropped(about, reason)


def _levels(about: str, claimed: Metadata) -> _Checked:
    """A mean cannot exceed the largest of what it is the mean of: neither can be trusted."""
    if claimed.max_cll == 0 or claimed.max_fall <= claimed.max_cll:
        return claimed, ()
    reason = f"a MaxFALL of {claimed.max_fall:g} cd/m² above its MaxCLL of {claimed.max_cll:g}"
    return replace(claimed, max_cll=0.0, max_fall=0.0), _dropped(about, reason)


def _wrong_with(points: Chromaticities) -> str | None:
    if not is_gamut(points) or any(not 0 <= v <= 1 for xy in points for v in xy):
        return "they span no triangle around a white"
    red, green, blue = points[:3]
    if red[0] < max(green[0], blue[0]) or green[1] < max(red[1], blue[1]):
        return "they are not in the order red, green, blue"
    return None


def _dropped(about: str, reason: str) -> tuple[Caveat, ...]:
    return (Caveat(about, f"the file claims {reason}; the claim is dropped"),)
