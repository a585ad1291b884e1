"""Spectral: primaries, white and gamut from the power of each colour at each wavelength."""

from __future__ import annotations

from typing import cast

import numpy as np

from emulate.colorimetry import (
    BT709,
    BT2020,
    D65,
    P3,
    gamut_coverage,
    uv_from_xy,
    xy_from_xyz,
    xyz_from_spectrum,
)
from emulate.findings.finding import Finding, Findings
from emulate.findings.formatting import share_text, shift_text
from emulate.panel.primaries import Primaries
from emulate.readings.spectrum import Spectra
from emulate.values import Numbers

TARGETS = {"bt709": ("BT.709", BT709), "p3": ("P3", P3), "bt2020": ("BT.2020", BT2020)}
MIXED = ("red", "green", "blue")

_FROM = "Spectra weighted by the CIE 1931 2° observer at 1 nm (CIE 15)"


def primaries_from_spectra(spectra: Spectra) -> Primaries:
    """xy of red, green, blue and white; white is their sum where it was not read itself."""
    seen = _xyz(spectra)
    xy = {name: xy_from_xyz(xyz) for name, xyz in seen.items()}
    return Primaries(**{name: (float(x), float(y)) for name, (x, y) in xy.items()})


def find_spectral(spectra: Spectra) -> Findings:
    """Coverage of BT.709, P3 and BT.2020, white against D65, and whether the colours add up.

    Names: `spectrum.bt2020.xy`, `spectrum.white`, and `spectrum.sum` where white was read.
    """
    found = _coverages(primaries_from_spectra(spectra))
    seen = _xyz(spectra)
    found["spectrum.white"] = _white(seen["white"])
    if "white" in spectra.power:
        mixed = np.sum([seen[name] for name in MIXED], axis=0)
        found["spectrum.sum"] = _sum(float(mixed[1] / seen["white"][1]))
    return Findings(found, spectra.caveats, basis=f"{_FROM}.")


def _xyz(spectra: Spectra) -> dict[str, Numbers]:
    read = {
        name: xyz_from_spectrum(spectra.wavelength, power) for name, power in spectra.power.items()
    }
    mixed = cast(Numbers, np.sum([read[name] for name in MIXED], axis=0))
    return {**{name: read[name] for name in MIXED}, "white": read.get("white", mixed)}


def _coverages(primaries: Primaries) -> dict[str, Finding]:
    found = {}
    for target, (name, corners) in TARGETS.items():
        for diagram, drawn in (("xy", "CIE 1931 xy"), ("uv", "CIE 1976 u′v′")):
            share = gamut_coverage(primaries.rgb, corners, diagram=diagram)  # type: ignore[arg-type]
            found[f"spectrum.{target}.{diagram}"] = Finding(
                share,
                "share",
                f"The spectra cover {share_text(share)} of {name} in {drawn}.",
                f"{_FROM}; intersection of their triangle with that of {name}, over the latter's "
                f"area, in {drawn}.",
            )
    return found


def _white(xyz: Numbers) -> Finding:
    off = float(np.hypot(*(uv_from_xy(xy_from_xyz(xyz)) - uv_from_xy(D65))))
    sentence = f"White lies {shift_text(off)} from D65."
    return Finding(off, "Δu′v′", sentence, f"{_FROM}; distance from D65 in CIE 1976 u′v′.")


def _sum(share: float) -> Finding:
    sentence = f"Red, green and blue together give {share_text(share)} of white's light."
    definition = f"{_FROM}; luminance of the three added, over that of white. 100 % adds up."
    return Finding(share, "share", sentence, definition)
