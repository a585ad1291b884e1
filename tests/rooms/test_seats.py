"""Seats: what is seen from the side and in lit rooms, held against sums done by hand."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest

from emulate import Frame, Panel, Seat, compare_seats, load_panel, render
from emulate.demo_frames import panel_files, scene
from emulate.errors import RequestError
from emulate.films.seats import light_and_black
from emulate.panel.cell import Angles, Cell
from emulate.panel.surface import Surface
from emulate.panel.zones import Zones
from emulate.values import numbers

PANELS = {file.stem: file for file in panel_files()}


@pytest.fixture
def lamp() -> Panel:
    """One lamp behind all of a cell of 2000:1, that falls to 500:1 and half its light at 60°."""
    return Panel(
        "one lamp",
        500.0,
        zones=Zones(1, 1),
        cell=Cell(contrast=2000.0),
        angles=Angles(numbers([0.0, 60.0]), numbers([2000.0, 500.0]), numbers([1.0, 0.5])),
        surface=Surface(0.02),
    )


@pytest.mark.parametrize(
    ("seat", "light", "black"),
    [
        (Seat(), 1.0, 500 / 2000),
        (Seat(60.0), 0.5, 500 * 0.5 / 500),
        (Seat(30.0), 0.75, 500 * 0.75 / 1250),  # half-way between the readings
        (Seat(60.0, 100.0), 0.5, 500 * 0.5 / 500 + 0.02 * 100 / pi),  # Lambert
    ],
)
def test_white_and_black_of_a_seat(lamp, seat, light, black):
    assert light_and_black(lamp, seat) == pytest.approx((light, black))
    frame = np.zeros((90, 160, 3), np.float32)
    frame[:, :80] = 500.0
    shown = render(Frame.from_light(frame), lamp, angle=seat.angle, room_lux=seat.room_lux).light
    assert shown[0, -1, 0] == pytest.approx(black, rel=1e-5)
    room = 0.02 * seat.room_lux / pi
    assert shown[0, 0, 0] - room == pytest.approx(500 * light, rel=1e-5)


def test_what_differs_from_the_first_seat_is_told():
    panel = load_panel(PANELS["coarse_zones"])
    seats = (Seat(), Seat(60.0), Seat(0.0, 200.0))
    found = compare_seats(scene("candle_and_corners", rows=90), panel, seats)
    assert [case.label for case in found.cases] == [
        "on the axis, dark room",
        "60° off the axis, dark room",
        "on the axis, 200 lux",
    ]
    lines = {line.name: line for line in found.lines}
    assert lines["seat.light"].values == pytest.approx((1.0, 0.36, 1.0))  # its [angles]
    assert lines["seat.light"].best == 0
    black = 680 / 4300, 680 * 0.36 / 300, 680 / 4300 + 0.017 * 200 / pi
    assert lines["seat.black"].values == pytest.approx(black)
    assert "60° off the axis, dark room: white keeps 36 % of its light" in found.sentence
    assert "On the axis, 200 lux: white keeps 100 % of its light" in found.sentence


def test_a_panel_of_its_own_light_keeps_its_black_from_the_side():
    panel = load_panel(PANELS["self_emissive"])
    found = compare_seats(scene("candle_and_corners", rows=90), panel, (Seat(), Seat(60.0)))
    assert all(case.findings["seat.black"].value == 0 for case in found.cases)
    assert "no light at all" in found.cases[1].findings["seat.black"].sentence


@pytest.mark.parametrize("seats", [(Seat(),), (Seat(30.0), Seat(30.0))])
def test_seats_that_cannot_be_compared(lamp, seats):
    with pytest.raises(RequestError, match="accepted is 2 to 26, all different"):
        compare_seats(Frame.from_light(np.ones((90, 160, 3))), lamp, seats)
