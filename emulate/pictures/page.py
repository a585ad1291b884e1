"""A page: one figure laid out in px from its top left corner, and how it is saved.

The page is as high as what was put on it. Pictures are placed on whole px and one drawn pixel is
one page px, so a PNG holds exactly the codes it was given; an SVG or PDF embeds the same codes.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from emulate.errors import RequestError
from emulate.outputs import folder as made_folder
from emulate.outputs import whole_file
from emulate.pictures.style import (
    BODY,
    FAINT,
    HEADING,
    INK,
    MARGIN,
    MAT,
    PAGE,
    RULE,
    SMALL,
    TITLE,
    Rgb,
    look,
)
from emulate.values import Numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH = 1000  # page px
INNER = WIDTH - 2 * MARGIN
_SPACE = 0.318  # of the type size: a space of DejaVu Sans
LEADING = 1.4  # line height over type size
GAPS = "\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}"
_BREAKS = re.compile(r" (?!cd/m²|%|×)")
_FORMATS: dict[str, dict[str, Any]] = {
    ".png": {"metadata": {"Software": None}},
    ".svg": {"metadata": {"Date": None, "Creator": None}},
    ".pdf": {"metadata": {"CreationDate": None, "Creator": None, "Producer": None}},
}


@dataclass(frozen=True)
class Paper:
    """How large a page comes out.

    scale: picture px for one page px; 1 is 1000 px wide, 2 suits dense screens. mm: width of the
    page in SVG and PDF; type shrinks with it.
    """

    scale: int = 1
    mm: float = 254.0

    def __post_init__(self) -> None:
        if not 1 <= self.scale <= 8:
            raise RequestError(f"paper scale = {self.scale}: accepted is 1 to 8")
        if not 20 <= self.mm <= 2000:
            raise RequestError(f"paper mm = {self.mm}: accepted is 20 to 2000")


@dataclass(frozen=True, eq=False)
class Drawing:
    """A picture drawn and not yet saved: `name` for its file, `title`, and `alt`, the finding it
    shows in words."""

    name: str
    title: str
    alt: str
    figure: Figure


@dataclass(frozen=True)
class Picture:
    """A picture in a file, with its title and the finding it shows in words."""

    path: Path
    title: str
    alt: str


@look()
def save_drawing(drawing: Drawing, path: str | os.PathLike[str]) -> Picture:
    """A drawing as .png, .svg or .pdf, whole or not at all, the same bytes each time.

    Raises RequestError for another ending, OutputError where the place cannot be written.
    """
    suffix = Path(path).suffix.lower()
    if suffix not in _FORMATS:
        accepted = ", ".join(_FORMATS)
        raise RequestError(f"{path}: pictures end in {suffix or 'nothing'}; accepted is {accepted}")
    metadata = dict(_FORMATS[suffix]["metadata"])
    if suffix != ".png":
        metadata["Title"] = plain(drawing.title)
    if suffix == ".svg":
        metadata["Description"] = plain(drawing.alt)
    with whole_file(path) as scratch:
        drawing.figure.savefig(scratch, format=suffix[1:], dpi="figure", metadata=metadata)
    return Picture(Path(path), drawing.title, drawing.alt)


def save_drawings(
    drawings: Iterable[Drawing], folder: str | os.PathLike[str], ending: str
) -> list[Picture]:
    """Drawings one after the other, each saved by its name into `folder`, which is made.

    Raises RequestError for an ending that is not accepted, OutputError where the folder cannot be
    written.
    """
    place = made_folder(folder)
    return [save_drawing(drawing, place / f"{drawing.name}{ending}") for drawing in drawings]


@dataclass(eq=False)
class Page:
    """A page in the making: `y` is how far down it is filled, in px."""

    paper: Paper = field(default_factory=Paper)
    y: float = MARGIN

    def __post_init__(self) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
        from matplotlib.transforms import Affine2D

        inches = self.paper.mm / 25.4
        dpi = WIDTH * self.paper.scale / inches
        self.figure = Figure(figsize=(inches, inches), dpi=dpi, facecolor=PAGE)
        FigureCanvasAgg(self.figure)
        self._inch = inches / WIDTH
        self._down = Affine2D()
        self._px = self._down + self.figure.dpi_scale_trans
        self._placed: list[tuple[Axes, tuple[float, float, float, float]]] = []

    def points(self, px: float) -> float:
        """px of the page in points of the figure."""
        return px * self._inch * 72

    def text(self, x: float, y: float, words: str, *, px: float = BODY, **look: Any) -> None:
        """One line of type whose middle height is at y."""
        settings: dict[str, Any] = {"color": INK, "ha": "left", "va": "center_baseline"} | look
        settings["fontsize"] = self.points(px)
        self.figure.text(x, y, plain(words), transform=self._px, **settings)

    def paragraph(
        self, words: str, *, x: float = MARGIN, width: float = INNER, px: float = BODY, **look: Any
    ) -> None:
        """Wrapped type at the foot of what is there; the page is filled that much further."""
        broad = 0.9 if look.get("weight") == "bold" else 1.0  # lines are measured in plain type
        for line in wrapped(plain(words), px, width * broad):
            self.text(x, self.y + px * LEADING / 2, line, px=px, **look)
            self.y += px * LEADING

    def title(self, title: str, subtitle: str = "") -> None:
        """What the page shows, and one sentence under it."""
        self.paragraph(title, px=TITLE, weight="bold")
        if subtitle:
            self.y += 3
            self.paragraph(subtitle, color=FAINT)
        self.y += 12

    def heading(self, words: str, **look: Any) -> None:
        """A heading inside the page."""
        self.paragraph(words, px=HEADING, weight="bold", **look)

    def mat(self, x: float, y: float, width: float, height: float, colour: str = MAT) -> None:
        """A filled rectangle under everything."""
        self.box(x, y, width, height, facecolor=colour, edgecolor="none", zorder=-1)

    def box(self, x: float, y: float, width: float, height: float, **look: Any) -> None:
        """A rectangle."""
        from matplotlib.patches import Rectangle

        shape = Rectangle((x, y), width, height, transform=self._px, linewidth=0, **look)
        self.figure.add_artist(shape)

    def line(self, x0: float, y0: float, x1: float, y1: float, **look: Any) -> None:
        """A straight line."""
        from matplotlib.lines import Line2D

        settings: dict[str, Any] = {"color": RULE, "linewidth": self.points(1)} | look
        self.figure.add_artist(Line2D([x0, x1], [y0, y1], transform=self._px, **settings))

    def lines(self, segments: Numbers, **look: Any) -> None:
        """Many straight lines: segments (n, 2 ends, 2) in px."""
        from matplotlib.collections import LineCollection

        settings: dict[str, Any] = {"color": PAGE, "linewidth": self.points(1)} | look
        self.figure.add_artist(LineCollection(list(segments), transform=self._px, **settings))

    def drawn(self, size: tuple[int, int]) -> tuple[int, int]:
        """Picture px (rows, columns) behind page px of `size`."""
        return size[0] * self.paper.scale, size[1] * self.paper.scale

    def image(self, x: int, y: int, codes: Rgb, size: tuple[int, int] | None = None) -> Axes:
        """sRGB codes (h, w, 3) in page px of `size`, or one code a page px; y runs down."""
        rows, columns = size or codes.shape[:2]
        axes = self.axes(x, y, columns, rows)
        axes.set_axis_off()
        extent = (0.0, float(columns), float(rows), 0.0)
        axes.imshow(codes, interpolation="none", aspect="auto", extent=extent)
        return axes

    def axes(self, x: float, y: float, width: float, height: float) -> Axes:
        """Axes in our look over a rectangle of the page."""
        axes = self.figure.add_axes((0, 0, 1, 1), facecolor="none", label=str(len(self._placed)))
        self._placed.append((axes, (x, y, width, height)))
        for side, spine in axes.spines.items():
            spine.set(color=FAINT, linewidth=self.points(1), visible=side in ("left", "bottom"))
        axes.tick_params(
            which="both",
            color=FAINT,
            labelcolor=INK,
            labelsize=self.points(SMALL),
            width=self.points(1),
            length=self.points(4),
            pad=self.points(4),
        )
        axes.tick_params(which="minor", length=self.points(2))
        axes.xaxis.label.set(color=INK, fontsize=self.points(BODY))
        axes.yaxis.label.set(color=INK, fontsize=self.points(BODY))
        return axes

    def finished(self, foot: str) -> Figure:
        """The figure, with its source line, as high as it is filled."""
        self.y += 12
        self.line(MARGIN, self.y, WIDTH - MARGIN, self.y)
        self.y += 6
        self.paragraph(foot, px=SMALL, color=FAINT)
        height = round(self.y + MARGIN / 2)
        self.figure.set_size_inches(self._inch * WIDTH, self._inch * height)
        self._down.scale(self._inch, -self._inch).translate(0, height * self._inch)
        for axes, (x, y, w, h) in self._placed:
            axes.set_position((x / WIDTH, 1 - (y + h) / height, w / WIDTH, h / height))
        return self.figure


def plain(words: str) -> str:
    """Printable characters on one line, so that no file name breaks a picture or its XML."""
    seen = words.encode("utf-8", "replace").decode("utf-8")
    return "".join(c if c.isprintable() or c in GAPS else " " for c in seen).strip()


def shortened(name: str, longest: int = 60) -> str:
    """A name with its middle left out where it is too long to print."""
    half = (longest - 1) // 2
    return name if len(name) <= longest else f"{name[:half]}…{name[-half:]}"


def wrapped(words: str, px: float, width: float) -> list[str]:
    """Lines no wider than `width` px; a number keeps its unit, a word too wide is cut."""
    lines: list[str] = [""]
    for word in _BREAKS.split(words):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if text_width(longer, px) <= width:
            lines[-1] = longer
        else:
            lines += _pieces(word, px, width)
    return [line for line in lines if line]


def text_width(words: str, px: float) -> float:
    """Width in px of words set in `px`, without the kerning across spaces."""
    parts = words.split(" ")
    return px * (sum(_word_width(part) for part in parts) + (len(parts) - 1) * _SPACE)


def _pieces(word: str, px: float, width: float) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_width(pieces[-1] + letter, px) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


@lru_cache(maxsize=4096)
def _word_width(word: str) -> float:
    """Of a word set in one px."""
    font = _font()
    font.set_size(100, 72)
    font.set_text(word, 0.0)
    return float(font.get_width_height()[0] / 6400)


@lru_cache(maxsize=1)
def _font() -> Any:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    return get_font(findfont(FontProperties(family="DejaVu Sans")))
