"""Our look: few colours, plain type, light page, pictures on a dark neutral mat.

Colours that stand for categories keep a distance of 20 ΔE 2000 or more from each other and from
the ground they lie on, also for people with deuteranopia and protanopia (tests/rooms). Colours
that stand for amounts rise evenly in CIELAB lightness, so that they read without hue as well.
Sizes are page px; a page is 1000 of them wide.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Style = dict[str, Any]  # how matplotlib draws something
Rgb = NDArray[np.uint8]  # (..., 3) sRGB codes

PAGE = "#fbfaf7"  # our choice, as every colour below
INK = "#23221f"
FAINT = "#6b6963"  # contrast 5.2:1 on PAGE
RULE = "#d8d5cc"
MAT = "#3a3a3a"

CAUSES = {  # on the dark ground of maps
    "curve": "#bc8f0d",
    "dimming": "#9486fa",
    "gamut": "#fbe0fd",
    "leak": "#709f95",
    "room": "#cdf4b5",
}
SERIES = ("#1c3975", "#602e02", "#2486e3", "#818a1e", "#30766a")  # lines on the page
DASHES = ("-", (0, (5, 2)), (0, (1.5, 1.5)), (0, (7, 2, 1.5, 2)), (0, (3, 1)))  # beside SERIES
STEP_EDGES = (1, 2, 4, 8, 16)  # visible steps at which a halo changes colour
STEP_COLOURS = ("#6b4995", "#be5895", "#f87987", "#ffb693", "#ffeccb")  # L* 38 to 94
AMOUNT = (  # L* 8 to 96
    *("#061734", "#352556", "#6c2f69", "#a13b6f", "#cd526b"),
    *("#ec7565", "#fe9f64", "#fecc83", "#fcf4cd"),
)

TITLE, HEADING, BODY, SMALL = 19.0, 14.0, 13.0, 11.5  # px
MARGIN = 24

_RC: dict[str, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Verdana"],  # the first comes with matplotlib
    "text.parse_math": False,  # a frame may be called $x$
    "svg.fonttype": "none",  # text stays text: searched, read aloud
    "svg.hashsalt": "emulate",
    "pdf.fonttype": 42,
    "path.simplify": False,
    "axes.unicode_minus": True,
}
_NUMBERS: dict[str, Any] = {  # how numpy writes numbers, which names of clips in an SVG hang on
    "precision": 8, "suppress": False, "floatmode": "maxprec", "sign": "-", "legacy": False,
}  # fmt: skip


@contextmanager
def look() -> Iterator[None]:
    """matplotlib and numpy's print as we want them, whatever else is set; put back afterwards.

    A name in a script the font lacks is drawn as boxes, without a warning: the text of an SVG, the
    alt text and the findings still say it.
    """
    import matplotlib

    users: Any = matplotlib.rcParams
    plain: Any = matplotlib.rcParamsDefault | _RC
    ours = {k: v for k, v in plain.items() if "backend" not in k and users[k] != v}
    with (
        matplotlib.rc_context(ours),
        np.printoptions(**_NUMBERS),
        warnings.catch_warnings(),
    ):
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


def rgb(colour: str) -> Rgb:
    """(3,) sRGB codes of `#rrggbb`."""
    return np.frombuffer(bytes.fromhex(colour[1:]), dtype=np.uint8)


def amount_colours(share: ArrayLike) -> Rgb:
    """sRGB codes (..., 3) for amounts 0..1, dark to light, even in lightness."""
    anchors = np.array([rgb(colour) for colour in AMOUNT], dtype=np.float64)
    at = np.clip(np.asarray(share, dtype=np.float64), 0.0, 1.0) * (len(AMOUNT) - 1)
    channels = [np.interp(at, np.arange(len(AMOUNT)), anchors[:, c]) for c in range(3)]
    return np.rint(np.stack(channels, axis=-1)).astype(np.uint8)


def step_colours(steps: ArrayLike, below: Rgb) -> Rgb:
    """sRGB codes (h, w, 3) for visible steps (h, w): one colour a doubling, `below` under one."""
    bins = np.digitize(np.asarray(steps), STEP_EDGES)
    table = np.array([rgb(colour) for colour in (MAT, *STEP_COLOURS)])
    return np.where((bins == 0)[..., None], below, table[bins])


def laid_over(ground: Rgb, layers: Iterable[tuple[Rgb, NDArray[np.floating]]]) -> Rgb:
    """Colours over `ground` (h, w, 3), each by its share of the area (h, w), mixed as light is."""
    light = _linear(ground)
    mixed = light.copy()
    for colour, share in layers:
        mixed += (_linear(colour) - light) * np.asarray(share, dtype=np.float64)[..., None]
    return np.asarray(np.rint(_coded(mixed) * 255), dtype=np.uint8)


def _linear(codes: Rgb) -> NDArray[np.float64]:
    """IEC 61966-2-1:1999, 5.2."""
    v = codes / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)


def _coded(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """IEC 61966-2-1:1999, 5.2, inverse."""
    v = np.clip(linear, 0.0, 1.0)
    return np.where(v <= 0.0031308, v * 12.92, 1.055 * v ** (1 / 2.4) - 0.055)
