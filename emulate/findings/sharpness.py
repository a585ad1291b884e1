"""Sharpness: what processing leaves of a star and of coloured lines. [ours]"""

from __future__ import annotations

from dataclasses import dataclass
from math import nan

import numpy as np
from numpy.typing import ArrayLike, NDArray

from emulate.colorimetry import ictcp_from_rgb
from emulate.errors import RequestError
from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import pixels_text, share_text
from emulate.frames.frame import Frame
from emulate.processing import Processing, processed
from emulate.transfer import light_from_pq, pq_from_light
from emulate.values import Numbers, Pixels, Value, numbers

SPOKES = 48
SIZE = 401  # px a side of the star, its middle on a pixel
GREY = 0.5  # PQ signal of the star's mean, 92 cd/m² [ours]
SWING = 0.1  # PQ signal above and below it
FINEST, BROADEST = 2.2, 24.0  # px: the star's periods that are looked at
HALF = 0.5  # of the modulation: common practice, no source
RED, GREEN = (150.0, 0.0, 0.0), (0.0, 58.1, 0.0)  # cd/m² BT.2020, equal luminance of 39.4

_STAR = (
    f"A star of {SPOKES} spokes whose PQ signal is a sine around every circle; on each circle the "
    "share of its first harmonic that is left, against the length of the sine on it"
)


@dataclass(frozen=True, eq=False)
class Sharpness(Value):
    """What a star keeps: before and after (n, n, 3) [cd/m²]; period [px] (m,) rising, and kept (m,)
    the share of modulation left at it."""

    before: Pixels
    after: Pixels
    period: Numbers
    kept: Numbers
    processing: Processing
    findings: Findings


def measure_sharpness(processing: Processing, swing: float = SWING) -> Sharpness:
    """What `processing` leaves of a star whose signal swings so much, and of red and green lines.

    Findings: `star.half` [px], the shortest period that keeps half its modulation; `star.fine`, the
    share kept at 2.2 px; `lines.WIDTH` of colour 1, 2 and 4 px wide. Raises RequestError where the
    swing is not above 0 and at most 0.45.
    """
    if not 0 < swing <= 0.45:
        raise RequestError(f"swing = {swing}: accepted is above 0, at most 0.45 of the PQ signal")
    star = Frame.from_light(_star(swing), "star")
    shown = processed(star, processing)
    period = np.linspace(FINEST, BROADEST, 110)
    kept = _on_circles(shown.light, period) / _on_circles(star.light, period)
    found = {"star.half": _half(period, kept), "star.fine": _fine(float(kept[0]))}
    found |= {f"lines.{width}px": _lines(width, processing) for width in (1, 2, 4)}
    basis = f"Before the panel: {processing.text}."
    return Sharpness(
        star.light, shown.light, numbers(period), numbers(kept), processing,
        Findings(found, basis=basis),
    )  # fmt: skip


def _star(swing: float) -> Numbers:
    y, x = np.mgrid[:SIZE, :SIZE] - SIZE // 2
    signal = GREY + swing * np.sin(SPOKES * np.arctan2(y, x))
    return np.repeat(light_from_pq(signal)[..., None], 3, axis=2)


def _on_circles(light: Pixels, period: Numbers) -> Numbers:
    """Amplitude of the first harmonic of the PQ signal around circles of these periods (m,)."""
    from scipy.ndimage import map_coordinates

    signal = pq_from_light(light[..., 1])
    turn = 2 * np.pi * np.arange(SPOKES * 16) / (SPOKES * 16)
    radius = period * SPOKES / (2 * np.pi)
    y, x = (SIZE // 2 + np.outer(radius, each) for each in (np.sin(turn), np.cos(turn)))
    around = map_coordinates(signal, [y, x], order=3, mode="nearest")
    return np.asarray(2 * np.abs(np.mean(around * np.exp(-1j * SPOKES * turn), axis=1)))


def _half(period: Numbers, kept: Numbers) -> Finding:
    over = kept >= HALF
    if over[0]:
        value, sentence = FINEST, f"Even detail of {pixels_text(FINEST)} keeps half its contrast."
    elif not over.any():
        value, sentence = nan, f"No detail up to {pixels_text(BROADEST)} keeps half its contrast."
    else:
        last = int(np.flatnonzero(~over)[-1])
        at = min(last + 1, len(period) - 1)
        value = float(np.interp(HALF, kept[[last, at]], period[[last, at]]))
        sentence = f"Detail keeps half its contrast from {pixels_text(value)} on."
    return Finding(value, "px", sentence, f"{_STAR}. Shortest from which half is left.")


def _fine(kept: float) -> Finding:
    sentence = f"The finest detail keeps {share_text(min(kept, 1.0))} of its contrast."
    return Finding(kept, "share", sentence, f"{_STAR}. At {FINEST:g} px.")


def _lines(width: int, processing: Processing) -> Finding:
    """Red and green lines by turns, equal in luminance."""
    columns = 48 * width
    red = (np.arange(columns) // width % 2 == 0)[None, :, None]
    before = np.broadcast_to(np.where(red, RED, GREEN), (48, columns, 3))
    frame = Frame.from_light(before, "lines")
    after = processed(frame, processing).light
    middle = slice(8 * width, -8 * width)  # whole pairs, away from the edges
    kept = _colour_left(after[8:-8, middle], red[:, middle]) / _colour_left(
        before[8:-8, middle], red[:, middle]
    )
    sentence = f"Red and green lines {width} px wide keep {share_text(min(kept, 1.0))} of colour."
    definition = (
        "Vertical red and green lines of equal luminance; the distance that is left between the "
        "mean hue and saturation (T and P of ITU-R BT.2124) of the places of red and of green ones."
    )
    return Finding(kept, "share", sentence, definition)


def _colour_left(light: ArrayLike, red: NDArray[np.bool]) -> float:
    """Distance in ICtCp's colour plane between the places of red and of green lines, in means."""
    plane = ictcp_from_rgb(light)[..., 1:] * (0.5, 1.0)  # T is half of Ct, ITU-R BT.2124-0
    where = np.broadcast_to(red[..., 0], plane.shape[:2])
    return float(np.hypot(*(plane[where].mean(axis=0) - plane[~where].mean(axis=0))))
