"""Panels, films, comparisons and what was asked of a panel, as they stand on a page."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from emulate.findings.finding import Unit
from emulate.findings.formatting import light_text, share_text, value_text
from emulate.findings.results import (
    Asked,
    Claim,
    Comparison,
    Film,
    Illustration,
    Made,
    PanelEntry,
    Still,
)
from emulate.findings.saving import load_findings
from emulate.findings.windows import Window, white_windows
from emulate.panel.facts import facts
from emulate.panel.file import load_panel
from emulate.panel.panel import Panel
from emulate.pictures.page import Paper
from emulate.pictures.sheet import draw_sheet
from emulate.report.contents import AskedView, ClaimLine, ComparisonView, FilmView, PanelView
from emulate.report.images import Image, data_uri, drawn_image, kind_of, png_image
from emulate.report.scenes import headline_of, lines_of, titled

SHARP = 2  # px of a sheet for one of a page: type stays sharp on a fine screen


def panels_of(made: Sequence[Made], told: Collection[str] = ()) -> tuple[PanelView, ...]:
    """Every panel that entries name, once: panels are the same where their files are.

    told: doubts that the page lists anyway; of a panel they are only counted.
    """
    files: dict[bytes, tuple[Made, PanelEntry | None]] = {}
    for each in made:
        entry = each.entry
        if isinstance(entry, Still | PanelEntry):
            key = each.file(entry.panel_file).read_bytes()
            known = files.get(key)
            if known is None or (isinstance(entry, PanelEntry) and entry.trust):  # it says more
                files[key] = (each, entry if isinstance(entry, PanelEntry) else None)
    return tuple(_panel(each, entry, told) for each, entry in files.values())


def film_of(made: Made, film: Film) -> FilmView:
    """A clip on a panel. Raises FindingsError where a file is missing or cannot be understood."""
    findings = load_findings(made.file(film.findings))
    return FilmView(
        titled(film.scene),
        film.panel,
        film.question,
        film.caution,
        _video(made, film.video),
        _png(made, film.loop, film.alt) if film.loop else None,
        film.alt,
        headline_of(findings),
        lines_of(findings),
        _images(made, film.illustrations),
        findings.basis,
    )


def comparison_of(made: Made, entry: Comparison) -> ComparisonView:
    """Several cases, claim by claim. Raises FindingsError where a file is missing."""
    found = [load_findings(made.file(name)) for name in entry.findings]
    return ComparisonView(
        entry.title,
        entry.sentence,
        entry.cases,
        tuple(_claim(each) for each in entry.claims),
        _images(made, entry.illustrations),
        entry.basis,
        len({doubt for each in found for doubt in each.caveats}),
    )


def asked_of(made: Made, entry: Asked) -> AskedView:
    """What one change would take. Raises FindingsError where a file is missing."""
    findings = load_findings(made.file(entry.findings))
    does = [each.sentence for each in findings.values() if each.unit == "times" and each.value > 1]
    return AskedView(
        titled(entry.scene),
        entry.panel,
        tuple(does) or ("No single change tried takes any loss out of sight.",),
        lines_of(findings),
        _images(made, entry.illustrations),
        findings.basis,
        len(findings.caveats),
    )


def sheet_of(panel: Panel, windows: Sequence[Window]) -> Image:
    """A panel's curves, its windows as rendered, its zones to scale and its gamut."""
    image = drawn_image(draw_sheet(panel, windows, Paper(scale=SHARP)))
    return Image(image.uri, image.width // SHARP, image.height // SHARP, image.alt)


def _panel(made: Made, entry: PanelEntry | None, told: Collection[str]) -> PanelView:
    still = made.entry
    assert isinstance(still, Still | PanelEntry)
    panel = load_panel(made.file(still.panel_file))
    windows = white_windows(panel)
    return PanelView(
        panel.name,
        _facts(panel, told),
        sheet_of(panel, windows),
        tuple((share_text(area), light_text(light)) for area, light in windows),
        () if entry is None else entry.trust,
        () if entry is None else _images(made, entry.illustrations),
    )


def _facts(panel: Panel, told: Collection[str]) -> tuple[tuple[str, str], ...]:
    """What is on file but its name, and how many of its doubts are listed elsewhere."""
    own = [fact for fact in facts(panel)[1:] if fact[0] != "doubt" or fact[1] not in told]
    count = sum(str(doubt) in told for doubt in panel.caveats)
    return (*own, *([("doubts", f"{count}, at the end of the page")] if count else []))


def _claim(claim: Claim) -> ClaimLine:
    interval = ""
    if claim.interval is not None:
        low, high = (_text(value, claim.unit) for value in claim.interval)
        interval = f"{low} to {high}"
    values = tuple(
        (_text(value, claim.unit), place == claim.best) for place, value in enumerate(claim.values)
    )
    return ClaimLine(claim.name, claim.sentence, values, interval)


def _text(value: float | None, unit: Unit) -> str:
    return value_text(float("nan") if value is None else value, unit)


def _images(made: Made, pictures: Sequence[Illustration]) -> tuple[tuple[str, Image], ...]:
    return tuple((each.title, _png(made, each.file, each.alt)) for each in pictures)


def _png(made: Made, name: str, alt: str) -> Image:
    return png_image(made.file(name).read_bytes(), alt)


def _video(made: Made, name: str) -> str:
    if not name:
        return ""
    path = made.file(name)
    return data_uri(kind_of(path), path.read_bytes())
