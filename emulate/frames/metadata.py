"""What a file claims of its content, checked before it is believed.

Mastering display (SMPTE ST 2086), content light level (CTA-861.3) and dynamic metadata (SMPTE
ST 2094-40). Real files claim primaries in another order and a peak of 0.1 cd/m²: what cannot be is
dropped and becomes a caveat that quotes the claim. Units as printed: cd/m², CIE 1931 xy.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator
from dataclasses import replace

from emulate.errors import Caveat
from emulate.frames.frame import DynamicMetadata, Metadata
from emulate.frames.gamut import Chromaticities, is_gamut
from emulate.transfer import PQ_PEAK

PEAKS = (5.0, 10000.0)  # cd/m², ITU-T H.265 (2021) D.3.28, from memory
BLACKS = (0.0, 5.0)  # cd/m², as above; it says 0.0001, real files say 0 as well
LARGEST_XY = (0.74, 0.84)  # as above: 37 000 and 42 000 steps of 0.00002


def checked(about: str, claimed: Metadata) -> tuple[Metadata, tuple[Caveat, ...]]:
    """The claims that can be true, and a caveat for each that cannot. 0 and None claim nothing."""
    caveats = []
    for fault_of, nothing in _CHECKS:
        fault = fault_of(claimed)
        if fault:
            claimed = replace(claimed, **nothing)
            caveats.append(Caveat(about, f"the file claims {fault}; the claim is dropped"))
    return claimed, tuple(caveats)


def metadata_of(
    about: str, side_data: Iterable[tuple[str, bytes]]
) -> tuple[Metadata, tuple[Caveat, ...]]:
    """What side data as av hands it out, (name of its type, bytes), claims and can be true."""
    return checked(about, claimed_by_side_data(side_data))


def claimed_by_side_data(side_data: Iterable[tuple[str, bytes]]) -> Metadata:
    """The claims of side data as av hands it out: (name of its type, bytes), unchecked."""
    metadata = Metadata()
    readers = {
        "MASTERING_DISPLAY_METADATA": _with_mastering,
        "CONTENT_LIGHT_LEVEL": _with_levels,
        "DYNAMIC_HDR_PLUS": _with_dynamic,
    }
    for name, data in side_data:
        if name in readers:
            metadata = readers[name](metadata, data)
    return metadata


def _fault_of_peak(claimed: Metadata) -> str:
    peak, black = claimed.mastering_peak, claimed.mastering_black
    if peak == 0 or PEAKS[0] <= peak <= PEAKS[1]:
        return ""
    return (
        f"a mastering peak of {peak:g} cd/m² (black {black:g}), outside {PEAKS[0]:g} to "
        f"{PEAKS[1]:g}"
    )


def _fault_of_black(claimed: Metadata) -> str:
    black, peak = claimed.mastering_black, claimed.mastering_peak
    if BLACKS[0] <= black <= BLACKS[1] and (peak == 0 or black < peak):
        return ""
    return f"a mastering black of {black:g} cd/m² under a peak of {peak:g}, outside 0 to 5"


def _fault_of_primaries(claimed: Metadata) -> str:
    points = claimed.mastering_primaries
    fault = "" if points is None else _fault_of_points(points)
    if not fault:
        return ""
    shown = " ".join(f"({x:.4g}, {y:.4g})" for x, y in points or ())
    return f"mastering primaries and white of {shown}, which are {fault}"


def _fault_of_points(points: Chromaticities) -> str:
    """Why these are no red, green, blue and white of a display, or nothing."""
    if any(not _in_diagram(xy) for xy in points):
        return "outside the chromaticity diagram"
    if not is_gamut(points):
        return "no triangle around a white"
    red, green, blue = points[:3]
    if red[0] <= max(green[0], blue[0]) or green[1] <= max(red[1], blue[1]):
        return "not in the order red, green, blue"
    return ""


def _in_diagram(xy: tuple[float, float]) -> bool:
    x, y = xy
    return 0 < x <= LARGEST_XY[0] and 0 < y <= LARGEST_XY[1] and x + y <= 1.0 + 1e-4  # rounding


def _fault_of_levels(claimed: Metadata) -> str:
    """A mean cannot exceed the largest of what it is the mean of: then neither can be trusted."""
    brightest, average = claimed.max_cll, claimed.max_fall
    said = f"MaxCLL {brightest:g} and MaxFALL {average:g} cd/m²"
    if not (0 <= brightest <= PQ_PEAK and 0 <= average <= PQ_PEAK):
        return f"{said}, outside 0 to {PQ_PEAK:g}"
    if 0 < brightest < average:
        return f"{said}, a mean above the largest"
    return ""


def _fault_of_dynamic(claimed: Metadata) -> str:
    dynamic = claimed.dynamic
    faults = () if dynamic is None else _faults_of_scene(dynamic)
    return next((f"dynamic metadata with {fault}" for fault in faults), "")


def _faults_of_scene(dynamic: DynamicMetadata) -> Iterator[str]:
    peak = dynamic.scene_peak
    if peak > PQ_PEAK or dynamic.target_peak > PQ_PEAK:
        yield f"a scene peak of {peak:g} and a target of {dynamic.target_peak:g} cd/m²"
    if 0 < peak < dynamic.average:
        yield f"a mean of {dynamic.average:g} above a peak of {peak:g} cd/m²"
    curve = (*(dynamic.knee or ()), *dynamic.anchors)
    if any(not 0 <= value <= 1 for value in curve):
        yield f"a curve through {', '.join(f'{value:g}' for value in curve)}"
    if any(not 0 <= percent <= 100 for percent, _ in dynamic.percentiles):
        yield "percentiles outside 0 to 100"


_CHECKS = (
    (_fault_of_peak, {"mastering_peak": 0.0, "mastering_black": 0.0}),
    (_fault_of_black, {"mastering_black": 0.0}),
    (_fault_of_primaries, {"mastering_primaries": None}),
    (_fault_of_levels, {"max_cll": 0.0, "max_fall": 0.0}),
    (_fault_of_dynamic, {"dynamic": None}),
)


# Layouts of libavutil's side data: mastering_display_metadata.h and hdr_dynamic_metadata.h.
_MASTERING = struct.Struct("=20i2i")  # red, green, blue, white xy, black, peak; then two flags
_LEVELS = struct.Struct("=2I")  # MaxCLL, MaxFALL
_WINDOW_AT = 4  # three bytes, then padding to a whole int
_WINDOW = struct.Struct("=8i2HBx3Hi6i2iB3x" + "B3x2i" * 15 + "2iB3x4iB3x30iB3x2i")
_WINDOWS = 3  # params[3]
_TARGET = struct.Struct("=2i")


def _with_mastering(metadata: Metadata, data: bytes) -> Metadata:
    """The flags behind the numbers are not asked: av lowers them on claims that we would quote."""
    *values, _, _ = _MASTERING.unpack_from(data)
    numbers = [_ratio(top, bottom) for top, bottom in zip(values[::2], values[1::2], strict=True)]
    points = tuple((numbers[i], numbers[i + 1]) for i in range(0, 8, 2))
    return replace(
        metadata,
        mastering_primaries=points if any(any(xy) for xy in points) else None,
        mastering_black=numbers[8],
        mastering_peak=numbers[9],
    )


def _with_levels(metadata: Metadata, data: bytes) -> Metadata:
    brightest, average = _LEVELS.unpack_from(data)
    return replace(metadata, max_cll=float(brightest), max_fall=float(average))


def _with_dynamic(metadata: Metadata, data: bytes) -> Metadata:
    fields = _WINDOW.unpack_from(data, _WINDOW_AT)
    target = _TARGET.unpack_from(data, _WINDOW_AT + _WINDOWS * _WINDOW.size)
    return replace(metadata, dynamic=_dynamic(fields, _ratio(*target)))


def _dynamic(fields: tuple[int, ...], target_peak: float) -> DynamicMetadata:
    """One window's fields, in the order of AVHDRPlusColorTransformParams."""
    values = iter(fields[15:])  # past the window's corners, ellipse and overlap

    def ratio() -> float:
        return _ratio(next(values), next(values))

    max_scl = (PQ_PEAK * ratio(), PQ_PEAK * ratio(), PQ_PEAK * ratio())
    average = PQ_PEAK * ratio()
    count = next(values)
    percentiles = [(next(values), PQ_PEAK * ratio()) for _ in range(15)][:count]
    bright_share = ratio()
    has_curve = next(values)
    knee = (ratio(), ratio())
    anchor_count = next(values)
    anchors = tuple(ratio() for _ in range(15))[:anchor_count]
    return DynamicMetadata(
        max_scl,
        average,
        tuple(percentiles),
        bright_share,
        target_peak,
        knee if has_curve else None,
        anchors if has_curve else (),
    )


def _ratio(top: int, bottom: int) -> float:
    return top / bottom if bottom else 0.0
