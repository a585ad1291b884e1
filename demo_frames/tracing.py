"""A small ray tracer: boxes, balls and upright tubes under one soft light; points are (3, n)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from emulate.demo_frames.canvas import WIDTH, Canvas, Image, step

FAR = np.float32(1e6)


class Shape(Protocol):
    """What a ray can meet; `hit` gives the distance along it, FAR where it misses."""

    def hit(self, eye: Image, ray: Image) -> Image: ...

    def normal(self, point: Image) -> Image: ...

    def veils(self, point: Image, light: Image, size: float) -> Image:
        """Share 0..1 of a light of radius `size` at `light` that still reaches the points."""
        ...


@dataclass(frozen=True)
class Ball:
    centre: tuple[float, float, float]
    radius: float

    def hit(self, eye: Image, ray: Image) -> Image:
        offset = eye - _column(self.centre)
        half = (offset * ray).sum(axis=0)
        inside = half**2 - ((offset**2).sum(axis=0) - self.radius**2)
        distance = -half - np.sqrt(np.maximum(inside, 0))
        return np.where((inside > 0) & (distance > 1e-4), distance, FAR)

    def normal(self, point: Image) -> Image:
        return (point - _column(self.centre)) / np.float32(self.radius)

    def veils(self, point: Image, light: Image, size: float) -> Image:
        towards, to_centre = light - point, _column(self.centre) - point
        share = np.clip((to_centre * towards).sum(axis=0) / (towards**2).sum(axis=0), 0, 1)
        gap = np.sqrt(((to_centre - share * towards) ** 2).sum(axis=0))
        return _penumbra(gap, self.radius, share, size)


@dataclass(frozen=True)
class Tube:
    """Upright: foot (x, y, z), radius, height."""

    foot: tuple[float, float, float]
    radius: float
    height: float

    def hit(self, eye: Image, ray: Image) -> Image:
        return np.minimum(self._side(eye, ray), self._top(eye, ray))

    def _side(self, eye: Image, ray: Image) -> Image:
        offset = eye - _column(self.foot)
        a = np.maximum(ray[0] ** 2 + ray[2] ** 2, 1e-9)
        half = offset[0] * ray[0] + offset[2] * ray[2]
        inside = half**2 - a * (offset[0] ** 2 + offset[2] ** 2 - self.radius**2)
        distance = (-half - np.sqrt(np.maximum(inside, 0))) / a
        up = offset[1] + distance * ray[1]
        met = (inside > 0) & (distance > 1e-4) & (up > 0) & (up < self.height)
        return np.where(met, distance, FAR)

    def _top(self, eye: Image, ray: Image) -> Image:
        offset = eye - _column(self.foot)
        distance = (self.height - offset[1]) / np.where(np.abs(ray[1]) < 1e-9, 1e-9, ray[1])
        x, z = offset[0] + distance * ray[0], offset[2] + distance * ray[2]
        return np.where((x**2 + z**2 < self.radius**2) & (distance > 1e-4), distance, FAR)

    def normal(self, point: Image) -> Image:
        offset = (point - _column(self.foot)) / np.float32(self.radius)
        lid = (point[1] - self.foot[1] > self.height - 1e-3).astype(np.float32)
        return np.stack([offset[0] * (1 - lid), lid, offset[2] * (1 - lid)])

    def veils(self, point: Image, light: Image, size: float) -> Image:
        towards, to_axis = light - point, _column(self.foot) - point
        flat = np.maximum(towards[0] ** 2 + towards[2] ** 2, 1e-9)
        share = np.clip((to_axis[0] * towards[0] + to_axis[2] * towards[2]) / flat, 0, 1)
        gap = np.hypot(to_axis[0] - share * towards[0], to_axis[2] - share * towards[2])
        up = point[1] + share * towards[1] - self.foot[1] - self.height
        over = step(-size * share - 0.002, size * share + 0.002, up)
        return np.maximum(_penumbra(gap, self.radius, share, size), over)


@dataclass(frozen=True)
class Box:
    """Between two corners. It throws no shadow: it is a wall, a table top or lies flat."""

    low: tuple[float, float, float]
    high: tuple[float, float, float]

    def hit(self, eye: Image, ray: Image) -> Image:
        inverse = 1 / np.where(np.abs(ray) < 1e-9, np.float32(1e-9), ray)
        first, second = (_column(self.low) - eye) * inverse, (_column(self.high) - eye) * inverse
        enter = np.minimum(first, second).max(axis=0)
        leave = np.maximum(first, second).min(axis=0)
        return np.where((enter < leave) & (enter > 1e-4), enter, FAR)

    def normal(self, point: Image) -> Image:
        low, high = _column(self.low), _column(self.high)
        centred = (2 * point - low - high) / (high - low)
        face = np.abs(centred).argmax(axis=0)
        return np.sign(centred) * (np.arange(3)[:, None] == face)

    def veils(self, point: Image, light: Image, size: float) -> Image:
        del light, size
        return np.ones(point.shape[1], np.float32)


@dataclass(frozen=True)
class View:
    """What each ray meets: which shape (-1 none), where, and which way it faces (3, n)."""

    which: Image
    point: Image
    normal: Image
    ray: Image


def rays(canvas: Canvas, eye_row: float, focal: float, pitch: float = 0.0) -> Image:
    """Unit directions (3, h·w): x right, y up, z away; `eye_row` is the row of the level gaze."""
    x, y = np.broadcast_arrays((canvas.x - WIDTH / 2) / focal, (eye_row - canvas.y) / focal)
    turn = np.array([np.cos(pitch), np.sin(pitch)], np.float32)
    ray = np.stack([x, y * turn[0] - turn[1], turn[0] + y * turn[1]]).reshape(3, -1)
    return ray / np.sqrt((ray**2).sum(axis=0))


def traced(shapes: tuple[Shape, ...], eye: tuple[float, float, float], ray: Image) -> View:
    """The nearest shape along each ray."""
    nearest = np.full(ray.shape[1], FAR, np.float32)
    which = np.full(ray.shape[1], -1, np.int8)
    for index, shape in enumerate(shapes):
        distance = shape.hit(_column(eye), ray)
        closer = distance < nearest
        nearest[closer], which[closer] = distance[closer], index
    point = _column(eye) + np.minimum(nearest, 100) * ray
    normal = np.zeros_like(point)
    for index, shape in enumerate(shapes):
        mine = which == index
        normal[:, mine] = shape.normal(point[:, mine])
    return View(which, point, normal, ray)


def illuminance(
    view: View, shapes: tuple[Shape, ...], light: tuple[float, float, float], size: float
) -> Image:
    """Light on each point (n,) from one source of unit intensity: cos/d², soft shadows."""
    towards = _column(light) - view.point
    square = (towards**2).sum(axis=0)
    facing = np.maximum((view.normal * towards).sum(axis=0), 0) / np.sqrt(square)
    reaching = np.asarray(facing / square, np.float32)
    for index, shape in enumerate(shapes):
        reaching *= np.where(view.which == index, 1, shape.veils(view.point, _column(light), size))
    return reaching


def gloss(view: View, light: tuple[float, float, float], sharpness: float) -> Image:
    """Highlight (n,) 0..1 of a source at `light` in a polished surface (Blinn 1977)."""
    towards = _column(light) - view.point
    half = towards / np.sqrt((towards**2).sum(axis=0)) - view.ray
    facing = (half * view.normal).sum(axis=0) / np.sqrt((half**2).sum(axis=0))
    return np.asarray(np.maximum(facing, 0) ** sharpness, np.float32)


def smoothed(picture: Image, which: Image) -> Image:
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


def _penumbra(gap: Image, radius: float, share: Image, size: float) -> Image:
    half = size * share + np.float32(1e-3)
    return np.where((share > 0.002) & (share < 0.998), step(radius - half, radius + half, gap), 1)
