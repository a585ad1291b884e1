"""Layout: every key of a panel file, format emulate-panel/1, and what it accepts.

A key's description completes the sentence "accepted is ...". Numbers are finite, whole numbers are
not truth values, and no table takes a key that is not here.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from emulate.colorimetry import BT2020, D65
from emulate.panel.tone import ActsOn, Follows
from emulate.transfer import PQ_PEAK

FORMAT = "emulate-panel/1"
SUM_NOISE = 1e-6  # weights written with seven digits sum to one within this


def refusal(key: str, sentence: str) -> PydanticCustomError:
    """A refusal in our own words: `key` below the table it is raised in, then what is wrong."""
    return PydanticCustomError("refusal", "{key}{sentence}", {"key": key, "sentence": sentence})


def _ordered(values: list[float], sign: int, strict: bool) -> list[float]:
    for index, (before, value) in enumerate(pairwise(values), start=1):
        step = sign * (value - before)
        if step < 0 or (strict and step == 0):
            context = {"index": index, "value": value, "before": before}
            raise PydanticCustomError("order", "out of order", context)
    return values


def _rising(values: list[float]) -> list[float]:
    return _ordered(values, 1, True)


def _never_falling(values: list[float]) -> list[float]:
    return _ordered(values, 1, False)


def _never_rising(values: list[float]) -> list[float]:
    return _ordered(values, -1, False)


def _whole_span(values: list[float]) -> list[float]:
    if values[0] != 0 or values[-1] != 1:
        raise ValueError
    return values


def _sum_of_one(values: list[float]) -> list[float]:
    if abs(sum(values) - 1) > SUM_NOISE:
        raise ValueError
    return values


def _a_colour(xy: list[float]) -> list[float]:
    if xy[0] + xy[1] > 1:
        raise ValueError
    return xy


def _rectangle(rows: list[Any]) -> list[Any]:
    if len({len(row) for row in rows}) > 1:
        raise ValueError
    return rows


Share = Annotated[float, Field(ge=0, le=1)]
Light = Annotated[float, Field(ge=0, le=PQ_PEAK)]
Seconds = Annotated[float, Field(ge=0, le=60)]
Gain = Annotated[float, Field(gt=0, le=10)]
Contrast = Annotated[float, Field(gt=1, le=1e9)]
Gains = Annotated[list[Gain], Field(min_length=1)]
Chromaticity = Annotated[float, Field(gt=0, lt=1)]
Colour = Annotated[list[Chromaticity], Field(min_length=2, max_length=2), AfterValidator(_a_colour)]

_SECONDS = "seconds, 0 to 60"
_GAINS = "one number per level, above 0, at most 10"
_XY = "CIE 1931 [x, y], both above 0, x + y at most 1"


class Table(BaseModel):
    """A table of the file: unknown keys, other types and non-finite numbers are refused."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class LightTable(Table):
    open_cdm2: Annotated[
        float, Field(gt=0, le=PQ_PEAK, description="cd/m², above 0, at most 10000")
    ]


class CurveTable(Table):
    mastering_peak: Light = Field(
        0.0, description="cd/m², 0 to 10000; 0 = whatever the content says"
    )
    signal: Annotated[list[Share], Field(min_length=2), AfterValidator(_rising)] = Field(
        description="two or more PQ signals 0 to 1, rising"
    )
    light: Annotated[list[Light], AfterValidator(_never_falling)] = Field(
        description="one light per signal, 0 to 10000 cd/m², never falling"
    )

    @model_validator(mode="after")
    def _paired(self) -> Self:
        _as_many("signal", self.signal, light=self.light)
        return self


class ToneTable(Table):
    acts_on: ActsOn = Field("max_rgb", description="max_rgb, per_channel or luminance")
    policy: Follows = Field("fixed", description="fixed, by_metadata or by_frame")
    curve: list[CurveTable] = Field([], description="[[tone.curve]] tables with signal and light")

    @model_validator(mode="after")
    def _one_a_peak(self) -> Self:
        peaks = [curve.mastering_peak for curve in self.curve]
        for index, peak in enumerate(peaks):
            if peak in peaks[:index]:
                sentence = f" = {peak!r} twice; accepted is one curve per mastering peak"
                raise refusal(f"curve#{index + 1}.mastering_peak", sentence)
        return self


class PrimariesTable(Table):
    red: Colour = Field(description=_XY)
    green: Colour = Field(description=_XY)
    blue: Colour = Field(description=_XY)
    white: Colour = Field(list(D65), description=_XY)

    @model_validator(mode="after")
    def _around_white(self) -> Self:
        corners = (self.red, self.green, self.blue)
        if _turn(*corners) < 1e-4:  # P3's triangle has 0.15: a hundredth of it is no display
            sentence = ": no triangle, or not in this order; accepted is red, green and blue xy"
            raise refusal("", f"{sentence}, as in BT.2020 {BT2020}")
        for index, corner in enumerate(corners):
            if _turn(corner, corners[(index + 1) % 3], self.white) <= 0:
                sentence = f" = {self.white}; accepted is xy inside the primaries' triangle"
                raise refusal("white", sentence)
        return self


class TrackingTable(Table):
    level: Annotated[
        list[Annotated[float, Field(gt=0, le=PQ_PEAK)]],
        Field(min_length=1),
        AfterValidator(_rising),
    ] = Field(description="one or more levels above 0, at most 10000 cd/m², rising")
    red: Gains = Field(description=_GAINS)
    green: Gains = Field(description=_GAINS)
    blue: Gains = Field(description=_GAINS)

    @model_validator(mode="after")
    def _paired(self) -> Self:
        _as_many("level", self.level, red=self.red, green=self.green, blue=self.blue)
        return self


class ZonesTable(Table):
    rows: int = Field(ge=1, le=4320, description="a whole number, 1 to 4320")
    columns: int = Field(ge=1, le=7680, description="a whole number, 1 to 7680")
    grain_px: int = Field(4, ge=1, le=1024, description="a whole number of pixels, 1 to 1024")
    peak_weight: Share = Field(1.0, description="0 (mean) to 1 (peak)")
    gamma: float = Field(1.0, gt=0, le=10, description="a number above 0, at most 10")
    cut: float = Field(0.0, ge=0, lt=1, description="a share from 0, below 1")
    floor: Share = Field(0.0, description="a share 0 to 1")
    reach: Share = Field(0.0, description="a share 0 to 1")
    attack_s: Seconds = Field(0.0, description=_SECONDS)
    decay_s: Seconds = Field(0.0, description=_SECONDS)
    latency_frames: int = Field(0, ge=0, le=60, description="a whole number of frames, 0 to 60")
    resets_at_cuts: bool = Field(True, description="true or false")


class SpreadTable(Table):
    weight: Annotated[
        list[Share], Field(min_length=1, max_length=16), AfterValidator(_sum_of_one)
    ] = Field(description="1 to 16 shares 0 to 1 that sum to 1")
    sigma_h: list[Annotated[float, Field(ge=0, le=100)]] = Field(
        description="one width per weight, 0 to 100 picture heights"
    )

    @model_validator(mode="after")
    def _paired(self) -> Self:
        _as_many("weight", self.weight, sigma_h=self.sigma_h)
        return self


class LimiterTable(Table):
    load: Annotated[
        list[Share], Field(min_length=2), AfterValidator(_rising), AfterValidator(_whole_span)
    ] = Field(description="two or more loads rising from 0 to 1, both ends included")
    gain: Annotated[list[Annotated[float, Field(gt=0, le=1)]], AfterValidator(_never_rising)] = (
        Field(description="one gain per load, above 0, at most 1, never rising")
    )
    acts: Literal["dims", "clips"] = Field("dims", description="dims or clips")
    attack_s: Seconds = Field(0.0, description=_SECONDS)
    decay_s: Seconds = Field(0.0, description=_SECONDS)

    @model_validator(mode="after")
    def _paired(self) -> Self:
        _as_many("load", self.load, gain=self.gain)
        return self


class CellTable(Table):
    contrast: Contrast | None = Field(
        None, description="a ratio above 1, at most 1e9; left out = no leakage"
    )
    compensation: Share = Field(1.0, description="0 (none) to 1 (full)")


class AnglesTable(Table):
    degree: Annotated[
        list[Annotated[float, Field(ge=0, lt=90)]], Field(min_length=1), AfterValidator(_rising)
    ] = Field(description="one or more angles from 0, below 90 degrees, rising")
    contrast: list[Contrast] | None = Field(
        None, description="one ratio per angle, above 1, at most 1e9"
    )
    gain: Gains = Field(description="one gain per angle, above 0, at most 10")

    @model_validator(mode="after")
    def _paired(self) -> Self:
        _as_many("degree", self.degree, gain=self.gain)
        if self.contrast is not None:
            _as_many("degree", self.degree, contrast=self.contrast)
        return self


class UniformityTable(Table):
    grid: Annotated[list[Gains], Field(min_length=1), AfterValidator(_rectangle)] = Field(
        description="rows of equal length, numbers above 0, at most 10"
    )


class SurfaceTable(Table):
    reflectance: Share = Field(description="a share 0 to 1")


class TimingTable(Table):
    refresh_hz: Annotated[
        list[Annotated[float, Field(ge=1, le=1000)]], Field(min_length=1), AfterValidator(_rising)
    ] = Field(description="one or more rates from 1 to 1000 Hz, rising")
    input_lag_ms: list[Annotated[float, Field(ge=0, le=10000)]] | None = Field(
        None, description="one time per rate, 0 to 10000 ms"
    )

    @model_validator(mode="after")
    def _paired(self) -> Self:
        if self.input_lag_ms is not None:
            _as_many("refresh_hz", self.refresh_hz, input_lag_ms=self.input_lag_ms)
        return self


class File(Table):
    """The whole file. A panel without zones is self-emissive: nothing in it can leak or spread."""

    format: Literal["emulate-panel/1"] = Field(description=f'"{FORMAT}"')
    name: str = Field(
        min_length=1,
        max_length=200,
        pattern=r"^[^\x00-\x1f\x7f]+$",
        description="one line of text, 1 to 200 characters",
    )
    notes: str = Field("", description="text")
    light: LightTable = Field(description="a table [light] with open_cdm2")
    tone: ToneTable | None = Field(None, description="a table [tone]")
    primaries: PrimariesTable | None = Field(None, description="a table [primaries]")
    tracking: TrackingTable | None = Field(None, description="a table [tracking]")
    zones: ZonesTable | None = Field(None, description="a table [zones]")
    spread: SpreadTable | None = Field(None, description="a table [spread]")
    limiter: LimiterTable | None = Field(None, description="a table [limiter]")
    cell: CellTable | None = Field(None, description="a table [cell]")
    angles: AnglesTable | None = Field(None, description="a table [angles]")
    uniformity: UniformityTable | None = Field(None, description="a table [uniformity]")
    surface: SurfaceTable | None = Field(None, description="a table [surface]")
    timing: TimingTable | None = Field(None, description="a table [timing]")
    fit: dict[str, Any] = Field({}, description="a table [fit]")

    @model_validator(mode="after")
    def _leaks_only_with_zones(self) -> Self:
        contrast = self.cell.contrast if self.cell else None
        seen = self.angles.contrast if self.angles else None
        given = {"spread": self.spread, "cell.contrast": contrast, "angles.contrast": seen}
        for key, value in given.items():
            if value is not None and self.zones is None:
                advice = "add [zones] (rows = 1, columns = 1 for one lamp behind all)"
                sentence = f" without [zones]; accepted is {advice}, or leave {key} out"
                raise refusal(key, f"{sentence}: a panel without zones is its own light")
        return self

    @model_validator(mode="after")
    def _one_account_of_contrast(self) -> Self:
        contrast = self.cell.contrast if self.cell else None
        if self.angles is None or (contrast is None) == (self.angles.contrast is None):
            return self
        missing, other = ("cell", "angles") if contrast is None else ("angles", "cell")
        sentence = f" is missing, and {other}.contrast is there; accepted is both or neither"
        raise refusal(f"{missing}.contrast", sentence)


def _as_many(key: str, values: list[float], **others: list[float]) -> None:
    for name, numbers in others.items():
        if len(numbers) != len(values):
            sentence = f" has {len(numbers)} numbers and {key} has {len(values)}"
            raise refusal(name, f"{sentence}; accepted is as many")


def _turn(a: list[float], b: list[float], c: list[float]) -> float:
    """Twice the area of a triangle, positive where it runs anticlockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
