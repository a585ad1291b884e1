"""Notebook: frames, panels, renderings and findings, shown where they are evaluated."""

from __future__ import annotations

from functools import singledispatch

from emulate.findings.finding import Findings
from emulate.findings.windows import white_windows
from emulate.frames.frame import Frame
from emulate.panel.facts import facts
from emulate.panel.panel import Panel
from emulate.pictures.exposure import slices_of, written
from emulate.pictures.style import amount_colours
from emulate.pictures.wipe import main_slice, page_light
from emulate.rendering import Rendering
from emulate.report.images import Image, sdr_image
from emulate.report.panels import sheet_of
from emulate.report.scenes import headline_of, lines_of
from emulate.report.write import templates
from emulate.values import Pixels

WIDTH = 640  # px of a picture


@singledispatch
def html_of(value: object) -> str:
    """HTML for a notebook, every name escaped."""
    raise TypeError(f"{type(value).__name__} has no picture of its own")


@html_of.register
def _of_frame(frame: Frame) -> str:
    rows, columns = frame.shape
    own = (("size", f"{columns} × {rows} px"), ("time", f"{frame.time_s:g} s"))
    told = (("mastering peak", frame.metadata.mastering_peak), ("MaxCLL", frame.metadata.max_cll))
    claims = tuple((name, f"{written(light)} cd/m²") for name, light in told if light)
    doubts = tuple(("doubt", str(each)) for each in frame.caveats)
    image, exposure = _pictured(frame.light, frame.light, frame.name)
    return _filled(frame.name, (image,), exposure, own + claims + doubts)


@html_of.register
def _of_rendering(rendering: Rendering) -> str:
    panel = rendering.panel
    image, exposure = _pictured(rendering.light, rendering.asked, f"Seen on {panel.name}")
    light = page_light(rendering.backlight[..., None], WIDTH)[..., 0]
    codes = amount_colours(light / panel.open_cdm2)
    behind = sdr_image(codes, f"The light behind it, up to {written(panel.open_cdm2)} cd/m².")
    own = (
        ("limiter leaves", f"{written(100 * rendering.gain)} %"),
        ("light behind it", f"{written(float(rendering.backlight.mean()))} cd/m² on average"),
        ("tone curve", rendering.curve.text),
    )
    doubts = tuple(("doubt", str(each)) for each in rendering.caveats)
    return _filled(panel.name, (image, behind), exposure, own + doubts)


@html_of.register
def _of_panel(panel: Panel) -> str:
    return _filled(panel.name, (sheet_of(panel, white_windows(panel)),), "", tuple(facts(panel)))


@html_of.register
def _of_findings(findings: Findings) -> str:
    own = tuple((f"{line.name}: {line.value}", line.sentence) for line in lines_of(findings))
    doubts = tuple(("doubt", str(each)) for each in findings.caveats)
    title = f"{findings.frame} on {findings.panel}".strip()
    said = " ".join((*headline_of(findings), findings.basis))
    return _filled(title, (), said, own + doubts)


def _pictured(light: Pixels, beside: Pixels, name: str) -> tuple[Image, str]:
    """A picture at the exposure nearest to life, and the sentence that states it."""
    found = slices_of(beside, light)
    exposure = found[main_slice(found)]
    codes = exposure.codes(page_light(light, WIDTH))
    return sdr_image(codes, f"{name}. {exposure.sentence}"), exposure.sentence


def _filled(
    title: str, images: tuple[Image, ...], sentence: str, facts: tuple[tuple[str, str], ...]
) -> str:
    template = templates().get_template("notebook.html")
    return template.render(title=title, images=images, sentence=sentence, facts=facts)
