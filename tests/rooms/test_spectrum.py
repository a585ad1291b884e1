"""Spectra on file: read as meters write them, and refused by line and column."""

from __future__ import annotations

import numpy as np
import pytest

from emulate import find_spectral, load_spectra
from emulate.demo_frames import panel_files
from emulate.errors import ReadingError
from emulate.findings.accuracy.spectral import primaries_from_spectra

LINES = {"red": 630, "green": 532, "blue": 467}  # nm: BT.2020's primaries, Report ITU-R BT.2246


def _csv(tmp_path, mark=",", comma=False, white=True, step=1):
    at = np.arange(380, 781, step)
    power = {name: np.where(at == nm, 1000.0, 0.0) for name, nm in LINES.items()}
    if white:
        power["white"] = sum(power.values()) * 1.25
    rows = [mark.join(("nm", *power)), "# a remark"]
    for index, nm in enumerate(at):
        cells = [f"{nm}.0", *(f"{values[index]:.1f}" for values in power.values())]
        rows.append(mark.join(cell.replace(".", ",") if comma else cell for cell in cells))
    file = tmp_path / "spectra.csv"
    file.write_text("\n".join(rows), encoding="utf-8")
    return file


@pytest.mark.parametrize(("mark", "comma"), [(",", False), (";", True), ("\t", False)])
def test_monochromatic_lines_give_the_gamut_of_bt2020(tmp_path, mark, comma):
    spectra = load_spectra(_csv(tmp_path, mark, comma))
    found = find_spectral(spectra)
    assert found["spectrum.bt2020.xy"].value > 0.998
    assert found["spectrum.bt709.uv"].value == pytest.approx(1.0)
    assert found["spectrum.sum"].value == pytest.approx(0.8)  # white was made 1.25 times the three
    assert "80 % of white's light" in found["spectrum.sum"].sentence
    assert primaries_from_spectra(spectra).red == pytest.approx((0.708, 0.292), abs=6e-4)
    assert spectra.caveats == ()


def test_the_demo_spectra_are_of_a_set_with_a_fine_gamut():
    spectra = load_spectra(next(iter(panel_files())).parents[1] / "spectra.csv")
    found = find_spectral(spectra)
    assert found["spectrum.p3.xy"].value > 0.95
    assert found["spectrum.sum"].value == pytest.approx(1 / 0.985, rel=1e-3)  # as it was made
    assert spectra.caveats == ()


def test_white_that_was_not_read_is_the_sum(tmp_path):
    with_white = load_spectra(_csv(tmp_path))
    white = primaries_from_spectra(with_white).white
    without = load_spectra(_csv(tmp_path, white=False))
    assert primaries_from_spectra(without).white == pytest.approx(white)
    assert "spectrum.sum" not in find_spectral(without)


def test_a_coarse_and_short_spectrum_is_doubted(tmp_path):
    file = tmp_path / "coarse.csv"
    rows = [f"{nm},{nm},{nm},{nm}" for nm in range(410, 691, 10)]
    file.write_text("wavelength,red,green,blue\n" + "\n".join(rows))
    doubts = [str(doubt) for doubt in load_spectra(file).caveats]
    assert any("read from 410 to 690 nm only" in doubt for doubt in doubts)
    assert any("up to 10 nm apart" in doubt for doubt in doubts)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "holds no spectrum"),
        ("nm,red,green\n400,1,1", "line 1: 0 columns named blue; accepted is a header"),
        ("nm,red,green,blue,red\n400,1,1,1,1", "line 1: 2 columns named red"),
        ("nm,red,green,blue\n400,1,1", "line 2, column blue: is empty; accepted is a number"),
        ("nm,red,green,blue\n400,1,1,x\n405,1,1,1", "line 2, column blue: 'x' is no number"),
        ("nm,red,green,blue\n400,1,1,1\n400,1,1,1", "line 3, column wavelength_nm: 400 after 400"),
        ("nm,red,green,blue\n400,1,1,1\n450,1,1,1", "steps of at most 10 nm"),
        ("nm,red,green,blue\n0.4,1,1,1\n0.5,1,1,1", "line 2, column wavelength_nm: 0.4; accepted"),
        ("nm,red,green,blue\n400,1,1,0\n405,1,1,0", "line 2, column blue: no power at all"),
        ("nm,red,green,blue\n400,1,1,1", "1 wavelengths; accepted is 2 or more"),
    ],
)
def test_what_is_no_spectrum_is_refused_where_it_is_wrong(tmp_path, text, said):
    file = tmp_path / "bad.csv"
    file.write_text(text)
    with pytest.raises(ReadingError) as refused:
        load_spectra(file)
    assert said in str(refused.value)
