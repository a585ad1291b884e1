"""EOTF tracking: the light of each grey step beside the light that its signal stands for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from emulate.findings.accuracy.table import Cells, square_on
from emulate.findings.finding import Finding
from emulate.findings.formatting import digits_text, light_text, steps_text
from emulate.readings.readings import Reading, Readings
from emulate.sight import steps_from_light
from emulate.transfer import light_from_pq
from emulate.values import Numbers, Value, numbers

KINDS = ("ramp", "near_black")


@dataclass(frozen=True, eq=False)
class EotfTable(Value):
    """Grey steps of content mastered at one peak [cd/m²] (0: whatever the content says).

    signal (n,) PQ, rising; light (n,) [cd/m²] as read, repeats averaged.
    """

    mastering_peak: float
    signal: Numbers
    light: Numbers

    @property
    def ideal(self) -> Numbers:
        """Light (n,) [cd/m²] that the signal stands for, SMPTE ST 2084."""
        return light_from_pq(self.signal)

    @property
    def steps_off(self) -> Numbers:
        """Visible steps (n,) by which the light is too bright (+) or too dark (−)."""
        return steps_from_light(self.light) - steps_from_light(self.ideal)

    @property
    def share_off(self) -> Numbers:
        """The same as a share of the ideal (n,); NaN of black."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.ideal > 0, self.light / self.ideal - 1, np.nan)

    @property
    def reachable(self) -> NDArray[np.bool_]:
        """Steps (n,) that ask for no more than the brightest light of the table."""
        return np.asarray(self.ideal <= self.light.max())

    @property
    def title(self) -> str:
        return f"EOTF tracking{_of(self.mastering_peak)}"

    @property
    def head(self) -> Cells:
        return ("signal, %", "ideal, cd/m²", "measured, cd/m²", "off, %", "off, visible steps")

    def rows(self) -> list[Cells]:
        """Black has no share; a step beyond reach stays in the table."""
        columns = (self.signal * 100, self.ideal, self.light, self.share_off * 100, self.steps_off)
        return [
            (f"{e:.1f}", digits_text(ideal, 3), digits_text(light, 3), *_signed(share, steps))
            for e, ideal, light, share, steps in zip(*(c.tolist() for c in columns), strict=True)
        ]

    def findings(self) -> dict[str, Finding]:
        """Mean and largest error of the steps within reach."""
        off = np.abs(self.steps_off[self.reachable])
        brightest = light_text(float(self.light.max()))
        within = f"grey steps up to the brightest read, {brightest},"
        mean, worst = float(off.mean()), float(off.max())
        at = float(self.signal[self.reachable][off.argmax()])
        root = f"eotf{f'.p{self.mastering_peak:.0f}' if self.mastering_peak else ''}"
        how = (
            "|J(measured) − J(ideal)|, J = 720·PQ⁻¹ (ITU-R BT.2124), ideal = PQ EOTF of the "
            f"signal; over the {off.size} steps that ask for no more than the brightest reading"
        )
        return {
            f"{root}.mean": Finding(
                mean,
                "steps",
                f"The {within}{_of(self.mastering_peak)} are {steps_text(mean)} off on average.",
                f"Mean {how}.",
            ),
            f"{root}.worst": Finding(
                worst,
                "steps",
                f"The grey farthest off{_of(self.mastering_peak)}, at {100 * at:.0f} % signal, is "
                f"{steps_text(worst)} off{self._left_out(brightest)}.",
                f"Largest {how}.",
            ),
        }

    def _left_out(self, brightest: str) -> str:
        """Steps of the table that are farther off, but ask for what the panel does not have."""
        count = int((~self.reachable).sum())
        if not count:
            return ""
        asks = "step that asks" if count == 1 else "steps that ask"
        return f", left out the {count} {asks} for more than the brightest read, {brightest}"


def eotf_tables(readings: Readings) -> tuple[EotfTable, ...]:
    """A table for each mastering peak at which a grey ramp was read, the dimmest peak first."""
    greys = [r for r in square_on(readings, *KINDS) if len(set(r.stimulus.level)) == 1]
    ramps = {r.stimulus.mastering_peak for r in greys if r.stimulus.kind == "ramp"}
    return tuple(_table(peak, greys) for peak in sorted(ramps))


def _table(peak: float, greys: list[Reading]) -> EotfTable:
    by_signal: dict[float, list[float]] = {}
    for reading in greys:
        if reading.stimulus.mastering_peak == peak:
            by_signal.setdefault(reading.stimulus.level[0], []).append(reading.luminance)
    signal = sorted(by_signal)
    return EotfTable(peak, numbers(signal), numbers([np.mean(by_signal[e]) for e in signal]))


def _of(peak: float) -> str:
    return f" in content mastered at {peak:.0f} cd/m²" if peak else ""


def _signed(share: float, steps: float) -> Cells:
    shown = "–" if np.isnan(share) else f"{share:+.1f}"
    return shown, f"{steps:+.2f}"
