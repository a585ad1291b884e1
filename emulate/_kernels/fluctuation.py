"""Loops over pixels behind what changes from frame to frame (physics §9).

Light is (h, w, 3) float32 BT.2020 [cd/m²]; `weights` (3,) float64 are its luminance weights.
"""

# mypy: disable-error-code="no-untyped-def"

from numba import njit, prange


@njit(cache=True, nogil=True)
def _luminance(light, y, x, weights):
    return weights[0] * light[y, x, 0] + weights[1] * light[y, x, 1] + weights[2] * light[y, x, 2]


@njit(cache=True, nogil=True)
def _settled(own, wanted, behind, settled, held, follows):
    """Own luminance once the light behind it, `behind`, has come to be `settled`.

    A pixel held at floor or ceiling goes with its light, but never past what it wants.
    """
    if behind == settled:
        return own
    if behind == 0.0:
        return min(wanted, settled)
    if not held:
        return own * (settled / behind) ** follows
    moved = own * settled / behind
    if (own <= wanted < moved) or (own >= wanted > moved):
        return wanted
    return moved


@njit(cache=True, nogil=True, parallel=True)
def glance_cells(lights, less, why, held, lit, settled, gain, follows, weights, rows, columns, out):
    """out (5, cells down, cells across): mean luminance of reference, asked, own light, own light
    of the held pixels, and own light had the backlight `lit` (h, w) been `settled` (h, w).

    lights: reference, asked and seen (h, w, 3). less [cd/m²]: the room's light. held: bits of why
    (h, w) at floor or ceiling. gain: of asked light that the cell does not make up for. follows:
    the power of the backlight that other pixels go by. rows, columns (2, n): first and end pixel
    of each cell.
    """
    reference, asked, light = lights
    for i in prange(rows.shape[1]):
        for j in range(columns.shape[1]):
            first, second, third, fourth, fifth = 0.0, 0.0, 0.0, 0.0, 0.0
            for y in range(rows[0, i], rows[1, i]):
                for x in range(columns[0, j], columns[1, j]):
                    wanted = _luminance(asked, y, x, weights)
                    own = max(_luminance(light, y, x, weights) - less, 0.0)
                    is_held = (why[y, x] & held) != 0
                    behind, then = float(lit[y, x]), float(settled[y, x])
                    first += _luminance(reference, y, x, weights)
                    second += wanted
                    third += own
                    if is_held:
                        fourth += own
                    fifth += _settled(own, gain * wanted, behind, then, is_held, follows)
            pixels = (rows[1, i] - rows[0, i]) * (columns[1, j] - columns[0, j])
            out[0, i, j] = first / pixels
            out[1, i, j] = second / pixels
            out[2, i, j] = third / pixels
            out[3, i, j] = fourth / pixels
            out[4, i, j] = fifth / pixels
