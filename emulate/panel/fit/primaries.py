"""Primaries and white from the patches of primaries and secondaries (physics §4, §10).

All patches are explained at once by eight chromaticity coordinates, with the light that a closed
cell lets by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from emulate.colorimetry import xyz_matrix
from emulate.panel.fit.account import Account, Number, number, unknown
from emulate.panel.fit.looks import Lamp, expected, laid_out
from emulate.panel.fit.mosaic import Mosaic
from emulate.panel.primaries import Primaries, Xy
from emulate.panel.tone import Tone
from emulate.readings.readings import Reading, Readings, gathered
from emulate.transfer import light_from_pq
from emulate.values import Numbers

NAMES = ("red", "green", "blue", "white")
CALM = 0.3  # share of L_open up to which mixtures are taken: no channel is cut there, ours
FAINT = 0.02  # X/Y or Z/Y below which noise is no longer a share of it, ours
UNIT = 0.002  # relative, of X/Y and Z/Y; the scale of noise is found from the misfit
PASSES = 2  # the cell's leak needs the primaries it is fitted with; settled after two


class Colours(NamedTuple):
    """The primaries, their account, and they moved by one standard error along each direction in
    which they are unsure."""

    primaries: Primaries
    account: Account
    unsure: tuple[Primaries, ...] = ()


def fit_primaries(readings: Readings, lamp: Lamp, tone: Tone) -> Colours:
    """Chromaticities of red, green, blue and white."""
    coloured = [r for r in readings.of("primary") if r.xy and r.angle == 0 and r.room_lux == 0]
    calm = [r for r in coloured if _brightest(r) <= CALM * lamp.open_cdm2]
    used = calm if _first_guess(calm) else coloured
    guess = _first_guess(used)
    if guess is None:
        why = "red, green, blue and white were not all read with their colour"
        return Colours(Primaries(), unknown("primaries", why))
    colours = Colours(guess, Account())
    for _ in range(PASSES):
        colours = _fitted(used, colours.primaries, lamp, tone)
    return colours


def _brightest(reading: Reading) -> float:
    return float(light_from_pq(max(reading.stimulus.signal_at(reading.spot))))


def _first_guess(read: Sequence[Reading]) -> Primaries | None:
    """The mean xy of patches of one channel alone, and of white."""
    found: dict[str, Xy] = {}
    for name, lit in zip(NAMES, ((1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 1)), strict=True):
        same = [r.xy for r in read if r.xy and _lit(r) == lit]
        if not same:
            return None
        x, y = np.mean(same, axis=0).tolist()
        found[name] = (x, y)
    return Primaries(**found)


def _lit(reading: Reading) -> tuple[int, ...]:
    """Which channels are lit; levels that differ say nothing of a primary."""
    signal = reading.stimulus.signal_at(reading.spot)
    top = max(signal)
    return tuple(int(s == top) if s in (0, top) else 2 for s in signal)


def _fitted(read: Sequence[Reading], start: Primaries, lamp: Lamp, tone: Tone) -> Colours:
    from scipy.optimize import least_squares

    groups = gathered(read)
    into = asked_panel_light(tone, start)
    light = expected(laid_out(groups, lamp.source, lamp.open_cdm2, into), lamp)
    seen = np.array(
        [_ratios(np.mean([r.xyz for r in g.readings if r.xyz], axis=0)) for g in groups]
    )
    count = np.array([len(g.readings) for g in groups], dtype=np.float64)

    def residuals(point: Numbers) -> Numbers:
        rgb, white = point[:6].reshape(3, 2), point[6:]
        shown = light @ xyz_matrix([tuple(xy) for xy in rgb], (white[0], white[1])).T
        off = (_ratios(shown) - seen) / (seen + FAINT) * np.sqrt(count)[:, None]
        return np.asarray(off.ravel() / UNIT)

    first = np.concatenate([getattr(start, name) for name in NAMES])
    found = least_squares(residuals, first, x_scale=0.01)
    dof = 2 * len(groups) - len(first)
    scatter = 2 * found.cost / dof if dof > 0 else 1.0
    jacobian = np.asarray(found.jac)
    covariance = scatter * np.linalg.pinv(jacobian.T @ jacobian)
    point = _real(found.x)
    found_numbers = _numbers(point, np.sqrt(np.diag(covariance)), dof)
    size, axes = np.linalg.eigh(covariance)
    steps = (np.sqrt(np.maximum(size, 0.0)) * axes).T
    account = Account(tuple(found_numbers), measured=("primary",))
    return Colours(_named(point), account, tuple(_named(_real(point + step)) for step in steps))


def _ratios(xyz: Numbers) -> Numbers:
    """X/Y and Z/Y (..., 2): a meter's channels err each by a share of its own light."""
    return np.asarray(xyz[..., [0, 2]] / xyz[..., 1:2])


def _real(point: Numbers) -> Numbers:
    """Chromaticities that noise put beyond x + y = 1 brought back to it."""
    pairs = point.reshape(4, 2)
    beyond = np.maximum(pairs.sum(axis=1, keepdims=True) - 1, 0.0)
    return np.asarray((pairs - beyond / 2 - np.where(beyond > 0, 1e-9, 0.0)).ravel())


def _named(point: Numbers) -> Primaries:
    pairs = [(float(x), float(y)) for x, y in point.reshape(4, 2)]
    return Primaries(**dict(zip(NAMES, pairs, strict=True)))


def _numbers(point: Numbers, errors: Numbers, dof: int) -> list[Number]:
    return [
        number(f"primaries.{name}#{axis + 1}", float(point[2 * n + axis]),
               float(errors[2 * n + axis]), "linear", dof)
        for n, name in enumerate(NAMES)
        for axis in range(2)
    ]  # fmt: skip


def asked_panel_light(tone: Tone, primaries: Primaries):  # type: ignore[no-untyped-def]
    """Turns a mosaic of reference light into panel channels: tone by max(R, G, B), primaries."""
    from emulate.panel.curves import identity

    curve = tone.curves[0].curve() if tone.curves else identity()
    matrix = primaries.matrix_in()

    def asked(mosaic: Mosaic) -> Mosaic:
        top = mosaic.light.max(axis=-1)
        share = np.divide(curve.light(top), top, out=np.zeros_like(top), where=top > 0)
        light = (mosaic.light * share[..., None]) @ matrix.T
        return replace(mosaic, light=np.maximum(light, 0.0))

    return asked
