"""HDR tone-mapping and local-dimming emulator. Everything public is named here and nowhere else."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from emulate.errors import Caveat as Caveat
    from emulate.errors import EmulateError as EmulateError
    from emulate.films.brightness import compare_brightness as compare_brightness
    from emulate.films.compare import compare as compare
    from emulate.films.comparison import Comparison as Comparison
    from emulate.films.comparison import save_comparison as save_comparison
    from emulate.films.film import ClipFindings as ClipFindings
    from emulate.films.followed import measure_motion as measure_motion
    from emulate.films.motion import Shown as Shown
    from emulate.films.revisit import revisit as revisit
    from emulate.films.saving import save_film as save_film
    from emulate.films.scan import scan as scan
    from emulate.films.seats import Seat as Seat
    from emulate.films.seats import compare_seats as compare_seats
    from emulate.findings.accuracy.accuracy import find_accuracy as find_accuracy
    from emulate.findings.accuracy.spectral import find_spectral as find_spectral
    from emulate.findings.claims import measure_with_intervals as measure_with_intervals
    from emulate.findings.finding import Finding as Finding
    from emulate.findings.finding import Findings as Findings
    from emulate.findings.flashing import find_flashing as find_flashing
    from emulate.findings.measure import measure as measure
    from emulate.findings.panning import Pan as Pan
    from emulate.findings.panning import measure_pan as measure_pan
    from emulate.findings.results import load_results as load_results
    from emulate.findings.saving import load_findings as load_findings
    from emulate.findings.saving import save_findings as save_findings
    from emulate.findings.sharpness import Sharpness as Sharpness
    from emulate.findings.sharpness import measure_sharpness as measure_sharpness
    from emulate.findings.signal_range import SignalRange as SignalRange
    from emulate.findings.signal_range import measure_range as measure_range
    from emulate.findings.trust import Trust as Trust
    from emulate.findings.trust import held_out as held_out
    from emulate.findings.trust import predictions as predictions
    from emulate.findings.trusted import find_trust as find_trust
    from emulate.findings.windows import white_windows as white_windows
    from emulate.frames.bars import with_bars as with_bars
    from emulate.frames.clip import Clip as Clip
    from emulate.frames.clip import open_clip as open_clip
    from emulate.frames.encode import write_animation as write_animation
    from emulate.frames.encode import write_clip as write_clip
    from emulate.frames.encode import write_sdr_clip as write_sdr_clip
    from emulate.frames.frame import Frame as Frame
    from emulate.frames.source import Damage as Damage
    from emulate.frames.still import load_frame as load_frame
    from emulate.frames.writing import write_exr as write_exr
    from emulate.frames.writing import write_pq_png as write_pq_png
    from emulate.frames.writing import write_sdr_png as write_sdr_png
    from emulate.panel.file import load_panel as load_panel
    from emulate.panel.file import save_panel as save_panel
    from emulate.panel.fit.fitting import fit_panel as fit_panel
    from emulate.panel.panel import Panel as Panel
    from emulate.pictures.accuracy import draw_accuracy as draw_accuracy
    from emulate.pictures.album import draw_all as draw_all
    from emulate.pictures.curve import draw_curve as draw_curve
    from emulate.pictures.ladder import draw_ladder as draw_ladder
    from emulate.pictures.motion import write_motion as write_motion
    from emulate.pictures.page import Drawing as Drawing
    from emulate.pictures.page import Paper as Paper
    from emulate.pictures.page import Picture as Picture
    from emulate.pictures.page import save_drawing as save_drawing
    from emulate.pictures.pan import draw_pan as draw_pan
    from emulate.pictures.sharpness import draw_sharpness as draw_sharpness
    from emulate.pictures.sheet import draw_sheet as draw_sheet
    from emulate.pictures.trust import draw_trust as draw_trust
    from emulate.processing import Processing as Processing
    from emulate.processing import processed as processed
    from emulate.readings.load import load_readings as load_readings
    from emulate.readings.patterns.write import write_patterns as write_patterns
    from emulate.readings.readings import Readings as Readings
    from emulate.readings.spectrum import Spectra as Spectra
    from emulate.readings.spectrum import load_spectra as load_spectra
    from emulate.rendering import Cause as Cause
    from emulate.rendering import Rendering as Rendering
    from emulate.rendering import State as State
    from emulate.rendering import render as render
    from emulate.report.write import write_report as write_report
    from emulate.sight import Viewer as Viewer
    from emulate.whatif.asking import WhatIf as WhatIf
    from emulate.whatif.asking import what_if as what_if

_ROOMS = {
    "Cause": "emulate.rendering",
    "Caveat": "emulate.errors",
    "Clip": "emulate.frames.clip",
    "ClipFindings": "emulate.films.film",
    "Comparison": "emulate.films.comparison",
    "Damage": "emulate.frames.source",
    "Drawing": "emulate.pictures.page",
    "EmulateError": "emulate.errors",
    "Finding": "emulate.findings.finding",
    "Findings": "emulate.findings.finding",
    "Frame": "emulate.frames.frame",
    "Pan": "emulate.findings.panning",
    "Panel": "emulate.panel.panel",
    "Paper": "emulate.pictures.page",
    "Picture": "emulate.pictures.page",
    "Processing": "emulate.processing",
    "Readings": "emulate.readings.readings",
    "Rendering": "emulate.rendering",
    "Seat": "emulate.films.seats",
    "Sharpness": "emulate.findings.sharpness",
    "Shown": "emulate.films.motion",
    "SignalRange": "emulate.findings.signal_range",
    "Spectra": "emulate.readings.spectrum",
    "State": "emulate.rendering",
    "Trust": "emulate.findings.trust",
    "Viewer": "emulate.sight",
    "WhatIf": "emulate.whatif.asking",
    "compare": "emulate.films.compare",
    "compare_brightness": "emulate.films.brightness",
    "compare_seats": "emulate.films.seats",
    "draw_accuracy": "emulate.pictures.accuracy",
    "draw_all": "emulate.pictures.album",
    "draw_curve": "emulate.pictures.curve",
    "draw_ladder": "emulate.pictures.ladder",
    "draw_pan": "emulate.pictures.pan",
    "draw_sharpness": "emulate.pictures.sharpness",
    "draw_sheet": "emulate.pictures.sheet",
    "draw_trust": "emulate.pictures.trust",
    "find_accuracy": "emulate.findings.accuracy.accuracy",
    "find_flashing": "emulate.findings.flashing",
    "find_spectral": "emulate.findings.accuracy.spectral",
    "find_trust": "emulate.findings.trusted",
    "fit_panel": "emulate.panel.fit.fitting",
    "held_out": "emulate.findings.trust",
    "load_findings": "emulate.findings.saving",
    "load_frame": "emulate.frames.still",
    "load_panel": "emulate.panel.file",
    "load_readings": "emulate.readings.load",
    "load_results": "emulate.findings.results",
    "load_spectra": "emulate.readings.spectrum",
    "measure": "emulate.findings.measure",
    "measure_motion": "emulate.films.followed",
    "measure_pan": "emulate.findings.panning",
    "measure_range": "emulate.findings.signal_range",
    "measure_sharpness": "emulate.findings.sharpness",
    "measure_with_intervals": "emulate.findings.claims",
    "open_clip": "emulate.frames.clip",
    "predictions": "emulate.findings.trust",
    "processed": "emulate.processing",
    "render": "emulate.rendering",
    "revisit": "emulate.films.revisit",
    "save_comparison": "emulate.films.comparison",
    "save_drawing": "emulate.pictures.page",
    "save_film": "emulate.films.saving",
    "save_findings": "emulate.findings.saving",
    "save_panel": "emulate.panel.file",
    "scan": "emulate.films.scan",
    "what_if": "emulate.whatif.asking",
    "white_windows": "emulate.findings.windows",
    "with_bars": "emulate.frames.bars",
    "write_animation": "emulate.frames.encode",
    "write_clip": "emulate.frames.encode",
    "write_exr": "emulate.frames.writing",
    "write_motion": "emulate.pictures.motion",
    "write_patterns": "emulate.readings.patterns.write",
    "write_pq_png": "emulate.frames.writing",
    "write_report": "emulate.report.write",
    "write_sdr_clip": "emulate.frames.encode",
    "write_sdr_png": "emulate.frames.writing",
}

__all__ = sorted(_ROOMS)


def __getattr__(name: str) -> Any:
    """Opens a room when one of its names is first used, so that `import emulate` stays light."""
    if name not in _ROOMS:
        raise AttributeError(f"module 'emulate' has no attribute {name!r}")
    value = getattr(import_module(_ROOMS[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
