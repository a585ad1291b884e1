"""Contents: what stands on a page, in the order of a page; only words, numbers and images."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from emulate.findings.results import Table
from emulate.report.images import Image


@dataclass(frozen=True)
class Line:
    """One finding: its name, value as text, and sentence; sure: with its interval in brackets."""

    name: str
    value: str
    sentence: str
    sure: bool = False


@dataclass(frozen=True)
class Shown:
    """One panel at one exposure: the picture, and what the exposure hides of it."""

    image: Image
    warning: str


@dataclass(frozen=True)
class View:
    """One exposure of a scene: the reference, and each panel. `sentence` states the exposure."""

    name: str
    sentence: str
    reference: Image
    shown: tuple[Shown, ...]


@dataclass(frozen=True)
class Swatch:
    """A colour of a layer, and what it means."""

    image: Image
    words: str


@dataclass(frozen=True)
class LayerView:
    """One map of one panel; `sentence` says what it shows. No image where there is nothing."""

    name: str
    title: str
    sentence: str
    image: Image | None = None
    swatches: tuple[Swatch, ...] = ()


@dataclass(frozen=True)
class CloseView:
    """The worst spot: both pictures, and box and frame size in px (left, top, width, height)."""

    reference: Image
    shown: Image
    sentence: str
    exposure: str
    box: tuple[int, int, int, int]
    of: tuple[int, int]


@dataclass(frozen=True)
class OnPanel:
    """What one panel makes of a scene."""

    panel: str
    headline: tuple[str, ...]
    lines: tuple[Line, ...]
    layers: tuple[LayerView, ...]
    close: CloseView | None
    basis: str
    doubts: int

    @property
    def sure(self) -> bool:
        """Whether any of its findings has an interval."""
        return any(line.sure for line in self.lines)


@dataclass(frozen=True)
class Scene:
    """A still on one or more panels. views: darkest first; `main` is the one to open with.
    real: the same at absolute level, for a screen that shows it. ground: to lay maps over.
    first_layer: the map to open with."""

    title: str
    question: str
    views: tuple[View, ...]
    main: int
    real: View
    ground: Image
    first_layer: int
    panels: tuple[OnPanel, ...]


@dataclass(frozen=True)
class FilmView:
    """A clip on a panel. video and loop are data URIs, or empty."""

    title: str
    panel: str
    question: str
    caution: str
    video: str
    loop: Image | None
    alt: str
    headline: tuple[str, ...]
    lines: tuple[Line, ...]
    images: tuple[tuple[str, Image], ...]
    basis: str


@dataclass(frozen=True)
class ClaimLine:
    """One thing compared, as text: a value for each case, and whether it is the best."""

    name: str
    sentence: str
    values: tuple[tuple[str, bool], ...]
    interval: str


@dataclass(frozen=True)
class ComparisonView:
    """One content in several cases beside each other. doubts: how many stand over it."""

    title: str
    sentence: str
    cases: tuple[str, ...]
    lines: tuple[ClaimLine, ...]
    images: tuple[tuple[str, Image], ...]
    basis: str
    doubts: int


@dataclass(frozen=True)
class AskedView:
    """What one change to a panel would take. headline: the changes that would do."""

    title: str
    panel: str
    headline: tuple[str, ...]
    lines: tuple[Line, ...]
    images: tuple[tuple[str, Image], ...]
    basis: str
    doubts: int


@dataclass(frozen=True)
class PanelView:
    """A panel: what it is, a line each; its sheet; its windows; how far its numbers hold."""

    name: str
    facts: tuple[tuple[str, str], ...]
    sheet: Image
    windows: tuple[tuple[str, str], ...]
    trust: tuple[Table, ...]
    images: tuple[tuple[str, Image], ...]


@dataclass(frozen=True)
class Opening:
    """One of the three sentences at the top, and where it comes from; of a comparison its title,
    and no panel."""

    sentence: str
    scene: str
    panel: str


@dataclass(frozen=True)
class Doubt:
    """A doubt, told once: what it is about, its text, and what stands under it, counted."""

    about: str
    text: str
    places: str


@dataclass(frozen=True)
class Contents:
    """The page. doubts: what each is about, the doubt, and what stands under it; definitions: of
    each finding on the page, by name."""

    title: str
    opening: tuple[Opening, ...]
    scenes: tuple[Scene, ...]
    films: tuple[FilmView, ...]
    comparisons: tuple[ComparisonView, ...]
    asked: tuple[AskedView, ...]
    panels: tuple[PanelView, ...]
    doubts: tuple[Doubt, ...]
    definitions: Mapping[str, str]
    version: str
