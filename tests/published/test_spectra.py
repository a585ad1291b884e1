"""Spectra to chromaticities, against what the CIE and the ITU print."""

from __future__ import annotations

import colour
import numpy as np
import pytest

from emulate.colorimetry import BT2020, xy_from_xyz, xyz_from_spectrum

ILLUMINANTS = {  # CIE 15:2018, table T.3 (1931 observer)
    "A": (0.44758, 0.40745),
    "D65": (0.31272, 0.32903),
    "D50": (0.34567, 0.35851),
}


@pytest.mark.parametrize("name", ILLUMINANTS)
def test_illuminants_lie_where_the_cie_has_them(name):
    """Spectral power of the illuminants by colour-science, 5 or 1 nm apart."""
    light = colour.SDS_ILLUMINANTS[name]
    xy = xy_from_xyz(xyz_from_spectrum(light.wavelengths, light.values))
    assert xy == pytest.approx(ILLUMINANTS[name], abs=1e-4)


@pytest.mark.parametrize(("line_nm", "xy"), [*zip((630, 532, 467), BT2020, strict=True)])
def test_lines_of_one_wavelength_are_the_primaries_of_bt2020(line_nm, xy):
    """Report ITU-R BT.2246: the primaries are monochromatic at 630, 532 and 467 nm."""
    at = np.arange(400.0, 701.0)
    found = xy_from_xyz(xyz_from_spectrum(at, (at == line_nm).astype(float)))
    assert found == pytest.approx(xy, abs=6e-4)  # printed to three places


def test_ends_of_the_locus():
    """CIE 15, spectral locus, from memory: 700 nm .7347 .2653, 520 nm .0743 .8338."""
    at = np.arange(380.0, 781.0)
    for line_nm, xy in ((700, (0.7347, 0.2653)), (520, (0.0743, 0.8338))):
        found = xy_from_xyz(xyz_from_spectrum(at, (at == line_nm).astype(float)))
        assert found == pytest.approx(xy, abs=1e-4)
