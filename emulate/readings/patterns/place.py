"""Where rectangles lie: areas exact to a pixel row, boxes in picture heights."""

from __future__ import annotations

from emulate.readings.stimulus import Kind, Patch, Rgb, Stimulus

Shape = tuple[int, int]


def window(area: float, shape: Shape, signal: Rgb) -> Patch:
    """A centred rectangle of the picture's form that covers `area` (share) as exactly as it can.

    Of all pixel rectangles with an even border, heights within 1.5 % of the picture's form, the one
    nearest in area; of equals the one nearest in form.
    """
    rows, columns = shape
    if area >= 1:
        return Patch(0, 0, rows, columns, signal)
    ideal = rows * area**0.5
    reach = max(2, round(0.015 * ideal))
    heights = [h for h in range(round(ideal) - reach, round(ideal) + reach + 1) if _fits(h, rows)]
    sizes = [(height, _width(area * rows * columns / height, columns)) for height in heights]
    height, width = min(
        sizes,
        key=lambda size: (abs(size[0] * size[1] - area * rows * columns), abs(size[0] - ideal)),
    )
    return centred(height, width, shape, signal)


def lone_window(
    kind: Kind, name: str, level: Rgb, shape: Shape, area: float, peak: float
) -> Stimulus:
    """One centred window of a signal on black; `area` is its share, `peak` cd/m² of mastering."""
    lit = (window(area, shape, level),)
    return Stimulus(kind, name, shape, lit, level=level, value=area, mastering_peak=peak)


def centred(height: int, width: int, shape: Shape, signal: Rgb) -> Patch:
    """A rectangle of so many pixels in the middle of the picture."""
    return Patch((shape[0] - height) // 2, (shape[1] - width) // 2, height, width, signal)


def pixels(length_h: float, shape: Shape) -> int:
    """A length in picture heights as whole pixels, at least one."""
    return max(1, int(length_h * shape[0] + 0.5))


def area_share(patch: Patch, shape: Shape) -> float:
    """Share of the picture that a rectangle covers."""
    return patch.height * patch.width / (shape[0] * shape[1])


def _fits(length: int, extent: int) -> bool:
    return 0 < length <= extent and (extent - length) % 2 == 0


def _width(exact: float, columns: int) -> int:
    """The width nearest to `exact` that leaves an even border."""
    nearest = 2 * round((exact - columns % 2) / 2) + columns % 2
    return int(min(max(nearest, 2 - columns % 2), columns))
