"""A small ray tracer: boxes, balls and upright tubes under one soft light; points are (3, n)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from .canvas import WIDTH, Canvas, Image, step

FAR = np.float32(1e6)
TINY = np.float32(1e-9)

Index = NDArray[np.signedinteger]
Pattern = Callable[[Image, Image, Image], Image]  # factor on the reflectance at x, y, z


class Shape(Protocol):
    """What a ray can meet; `hit` gives the distance along it, FAR where it misses."""

    @property
    def around(self) -> tuple[Image, float]:
        """Centre and radius of a ball that holds it."""
        ...

    def hit(self, eye: Image, ray: Image) -> Image: ...

    def normal(self, point: Image) -> Image: ...

    def veils(self, point: Image, light: Image, size: float) -> Image:
        """Share 0..1 of a light of radius `size` at `light` that still reaches the points."""
        ...


@dataclass(frozen=True)
class Ball:
    centre: tuple[float, float, float]
    radius: float

    @property
    def around(self) -> tuple[Image, float]:
        return _column(self.centre), self.radius

    def hit(self, eye: Image, ray: Image) -> Image:
        offset = eye - _column(self.centre)
        half = _dot(offset, ray)
        inside = half**2 - (_dot(offset, offset) - self.radius**2)
        distance = -half - np.sqrt(np.maximum(inside, 0))
        return np.where((inside > 0) & (distance > 1e-4), distance, FAR)

    def normal(self, point: Image) -> Image:
        return (point - _column(self.centre)) / np.float32(self.radius)

    def veils(self, point: Image, light: Image, size: float) -> Image:
        towards, to_centre = light - point, _column(self.centre) - point
        share = np.clip(_dot(to_centre, towards) / _dot(towards, towards), 0, 1)
        gap = _length(to_centre - share * towards)
        return _penumbra(gap, self.radius, share, size)


@dataclass(frozen=True)
class Tube:
    """Upright: foot (x, y, z), radius, height."""

    foot: tuple[float, float, float]
    radius: float
    height: float

    @property
    def around(self) -> tuple[Image, float]:
        middle = _column(self.foot) + _column((0, self.height / 2, 0))
        return middle, float(np.hypot(self.radius, self.height / 2))

    def hit(self, eye: Image, ray: Image) -> Image:
        return np.minimum(self._side(eye, ray), self._top(eye, ray))

    def _side(self, eye: Image, ray: Image) -> Image:
        offset = eye - _column(self.foot)
        a = np.maximum(ray[0] ** 2 + ray[2] ** 2, TINY)
        half = offset[0] * ray[0] + offset[2] * ray[2]
        inside = half**2 - a * (offset[0] ** 2 + offset[2] ** 2 - self.radius**2)
        distance = (-half - np.sqrt(np.maximum(inside, 0))) / a
        up = offset[1] + distance * ray[1]
        met = (inside > 0) & (distance > 1e-4) & (up > 0) & (up < self.height)
        return np.where(met, distance, FAR)

    def _top(self, eye: Image, ray: Image) -> Image:
        offset = eye - _column(self.foot)
        distance = (self.height - offset[1]) / np.where(np.abs(ray[1]) < TINY, TINY, ray[1])
        x, z = offset[0] + distance * ray[0], offset[2] + distance * ray[2]
        return np.where((x**2 + z**2 < self.radius**2) & (distance > 1e-4), distance, FAR)

    def normal(self, point: Image) -> Image:
        offset = (point - _column(self.foot)) / np.float32(self.radius)
        lid = (point[1] - self.foot[1] > self.height - 1e-3).astype(np.float32)
        return np.stack([offset[0] * (1 - lid), lid, offset[2] * (1 - lid)])

    def veils(self, point: Image, light: Image, size: float) -> Image:
        towards, to_axis = light - point, _column(self.foot) - point
        flat = towards[0] ** 2 + towards[2] ** 2
        along = (to_axis[0] * towards[0] + to_axis[2] * towards[2]) / np.maximum(flat, TINY)
        share = np.where(flat > 1e-6, np.clip(along, 0, 1), 0.5)  # straight down: anywhere
        gap = np.hypot(to_axis[0] - share * towards[0], to_axis[2] - share * towards[2])
        up = point[1] + share * towards[1] - self.foot[1] - self.height
        over = step(-size * share - 0.002, size * share + 0.002, up)
        return np.maximum(_penumbra(gap, self.radius, share, size), over)


@dataclass(frozen=True)
class Box:
    """Between two corners. It throws no shadow: it is a wall, a table top or lies flat."""

    low: tuple[float, float, float]
    high: tuple[float, float, float]

    @property
    def around(self) -> tuple[Image, float]:
        low, high = _column(self.low), _column(self.high)
        return (low + high) / 2, float(np.sqrt(((high - low) ** 2).sum())) / 2

    def hit(self, eye: Image, ray: Image) -> Image:
        inverse = 1 / np.where(np.abs(ray) < TINY, TINY, ray)
        first, second = (_column(self.low) - eye) * inverse, (_column(self.high) - eye) * inverse
        enter = np.maximum.reduce(list(np.minimum(first, second)))
        leave = np.minimum.reduce(list(np.maximum(first, second)))
        return np.where((enter < leave) & (enter > 1e-4), enter, FAR)

    def normal(self, point: Image) -> Image:
        low, high = _column(self.low), _column(self.high)
        centred = (2 * point - low - high) / (high - low)
        face = np.abs(centred).argmax(axis=0)
        return np.asarray(np.sign(centred) * (np.arange(3)[:, None] == face), np.float32)

    def veils(self, point: Image, light: Image, size: float) -> Image:
        del light, size
        return np.ones(point.shape[1], np.float32)


@dataclass(frozen=True)
class View:
    """What each ray meets: which shape (-1 none), where, and which way it faces (3, n)."""

    which: Index
    point: Image
    normal: Image
    ray: Image
    shapes: tuple[Shape, ...]

    def index(self, shape: Shape) -> int:
        """Its number in `which`, -2 where it was not traced."""
        return self.shapes.index(shape) if shape in self.shapes else -2


def rays(canvas: Canvas, eye_row: float, focal: float, pitch: float = 0.0) -> Image:
    """Unit directions (3, h·w): x right, y up, z away; `eye_row` is the row of the level gaze."""
    x, y = np.broadcast_arrays((canvas.x - WIDTH / 2) / focal, (eye_row - canvas.y) / focal)
    turn = np.array([np.cos(pitch), np.sin(pitch)], np.float32)
    ray = np.stack([x, y * turn[0] - turn[1], turn[0] + y * turn[1]]).reshape(3, -1)
    return np.asarray(ray / _length(ray), np.float32)


def traced(shapes: tuple[Shape, ...], eye: tuple[float, float, float], ray: Image) -> View:
    """The nearest shape along each ray."""
    nearest = np.full(ray.shape[1], FAR, np.float32)
    which = np.full(ray.shape[1], -1, np.int8)
    for index, shape in enumerate(shapes):
        near = _towards(shape, _column(eye), ray, 0.0)
        distance = shape.hit(_column(eye), ray[:, near])
        closer = distance < nearest[near]
        nearest[near[closer]], which[near[closer]] = distance[closer], index
    point = _column(eye) + np.minimum(nearest, 100) * ray
    normal = np.zeros_like(point)
    for index, shape in enumerate(shapes):
        mine = which == index
        normal[:, mine] = shape.normal(point[:, mine])
    return View(which, point, normal, ray, shapes)


def illuminance(
    view: View, shapes: tuple[Shape, ...], light: tuple[float, float, float], size: float
) -> Image:
    """Light on each point (n,) from one source of unit intensity: cos/d², soft shadows."""
    towards = _column(light) - view.point
    square = _dot(towards, towards)
    towards /= np.sqrt(square)
    reaching = np.maximum(_dot(view.normal, towards), 0) / square
    for shape in shapes:
        dark = _towards(shape, _column(light), -towards, size)
        dark = dark[(reaching[dark] > 0) & (view.which[dark] != view.index(shape))]
        reaching[dark] *= shape.veils(view.point[:, dark], _column(light), size)
    return np.asarray(reaching, np.float32)


def shone(
    view: View, light: tuple[float, float, float], polish: Mapping[int, tuple[float, float]]
) -> Image:
    """The source seen again in polished shapes (n,): brightness, sharpness (Blinn 1977)."""
    seen = np.zeros(view.which.shape, np.float32)
    for index, (brightness, sharpness) in polish.items():
        mine = np.flatnonzero(view.which == index)
        towards = _column(light) - view.point[:, mine]
        half = towards / _length(towards) - view.ray[:, mine]
        facing = _dot(half, view.normal[:, mine]) / _length(half)
        seen[mine] = brightness * np.maximum(facing, 0) ** sharpness
    return seen


def painted(view: View, reflectance: Image, patterns: Mapping[int, Pattern]) -> Image:
    """Reflectance (n, 3) of each point, with the patterns of the shapes that have one."""
    colour = reflectance[view.which]
    for index, pattern in patterns.items():
        mine = np.flatnonzero(view.which == index)
        colour[mine] *= np.maximum(pattern(*view.point[:, mine]), 0.05)[:, None]
    return colour


def smoothed(picture: Image, which: Index) -> Image:
    """Softens the stairs along outlines: pixels on one become the mean of their neighbourhood."""
    edge = np.zeros(which.shape, bool)
    edge[:, 1:] |= which[:, 1:] != which[:, :-1]
    edge[1:] |= which[1:] != which[:-1]
    edge[:-1] |= edge[1:]
    edge[:, :-1] |= edge[:, 1:]
    padded = np.pad(picture, ((1, 1), (1, 1), (0, 0)), mode="edge")
    down = padded[:-2] + 2 * padded[1:-1] + padded[2:]
    return np.where(edge[..., None], (down[:, :-2] + 2 * down[:, 1:-1] + down[:, 2:]) / 16, picture)


def _column(values: object) -> Image:
    return np.asarray(values, np.float32).reshape(3, -1)


def _dot(first: Image, second: Image) -> Image:
    return np.asarray(first[0] * second[0] + first[1] * second[1] + first[2] * second[2])


def _length(vector: Image) -> Image:
    return np.asarray(np.sqrt(_dot(vector, vector)))


def _towards(shape: Shape, eye: Image, ray: Image, size: float) -> Index:
    """Which of the rays from a source of radius `size` at `eye` can meet the shape at all."""
    centre, radius = shape.around
    distance = float(np.sqrt(((centre - eye) ** 2).sum()))
    if radius + size >= distance:
        return np.arange(ray.shape[1])
    sine = (radius + size) / distance
    axis = (centre - eye) / np.float32(distance)
    return np.flatnonzero(_dot(ray, axis) > np.sqrt(1 - sine**2) - 1e-4)


def _penumbra(gap: Image, radius: float, share: Image, size: float) -> Image:
    half = size * share + np.float32(1e-3)
    return np.where((share > 0.002) & (share < 0.998), step(radius - half, radius + half, gap), 1)
