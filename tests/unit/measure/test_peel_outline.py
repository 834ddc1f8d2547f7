"""Outlines and lap directions. Witness: shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from lapwright.measure.errors import LapDirectionRefused, PeelOutlineRefused
from lapwright.measure.peel.direction import (
    LapDirection,
    check_against_corners,
    lap_from_angle,
    lap_from_corners,
    lap_from_points,
    skew_deg,
)
from lapwright.measure.peel.outline import make_outline, outline_pixels

SIZE = (60, 50)
SQUARE = [(10, 5), (40, 5), (40, 25), (10, 25)]


def test_pixels_on_the_outline_belong_to_the_surface() -> None:
    pixels = outline_pixels(make_outline(SQUARE, SIZE), SIZE)
    wanted = np.zeros((50, 60), bool)
    wanted[5:26, 10:41] = True
    np.testing.assert_array_equal(pixels, wanted)


def test_an_outline_to_the_rim_takes_the_whole_picture() -> None:
    rim = [(-0.5, -0.5), (59.5, -0.5), (59.5, 49.5), (-0.5, 49.5)]
    assert outline_pixels(make_outline(rim, SIZE), SIZE).all()


def test_the_pixels_come_close_to_the_area_of_the_polygon() -> None:
    corners = [(3.2, 4.7), (55.1, 9.3), (49.9, 46.2), (7.4, 38.8), (20.0, 20.0)]
    polygon = shapely.Polygon(corners)
    pixels = outline_pixels(make_outline(corners, SIZE), SIZE)
    assert abs(int(pixels.sum()) - polygon.area) < polygon.length / 2


@pytest.mark.parametrize(
    ("points", "said"),
    [
        ([(1, 1), (9, 9)], "2 points"),
        ([(1, 1), (9, 1), (9, 60)], "9,60"),
        ([(1, 1), (9, 1), (float("nan"), 9)], "nan"),
        ([(1, 1), (9, 9), (9, 1), (1, 9)], "no area"),
        ([(1, 1), (30, 30), (30, 1), (1, 40)], "sides 1 and 3 that meet"),
        ([(1, 1), (9, 1), (20, 1)], "no area"),
        ([(1, 1), (9, 1), (9, 1), (9, 9)], "stands twice"),
        ([(1, 1), (30, 1), (20, 1), (20, 20)], "runs back"),
        ([(0, 0), (20, 0), (10, 10), (20, 20), (0, 20), (10, 10)], "that meet"),
    ],
)
def test_an_outline_that_bounds_no_surface_is_refused(points, said: str) -> None:
    with pytest.raises(PeelOutlineRefused, match=said):
        make_outline(points, SIZE)


def test_four_corners_give_the_direction_from_mouth_to_stop() -> None:
    assert lap_from_corners(make_outline(SQUARE, SIZE)) == LapDirection(0, 1)
    turned = SQUARE[1:] + SQUARE[:1]
    assert lap_from_corners(make_outline(turned, SIZE)) == LapDirection(-1, 0)
    askew = [(10, 5), (40, 6), (39, 26), (9, 25)]
    assert lap_from_corners(make_outline(askew, SIZE)) == LapDirection(-1, 20)


@pytest.mark.parametrize("angle", [0, 37.3, 90, 135, 180, 225.5, 270, 359.99, -45, 720])
def test_an_angle_becomes_a_vector_of_whole_numbers(angle: float) -> None:
    lap = lap_from_angle(angle)
    assert math.gcd(lap.dx, lap.dy) == 1
    off = math.remainder(math.radians(lap.angle_deg - angle), math.tau)
    assert abs(off) < 1e-4
    if angle % 45 == 0:
        assert {abs(lap.dx), abs(lap.dy)} <= {0, 1}
        assert abs(off) < 1e-12


def test_two_points_give_their_direction_to_hundredths_of_a_pixel() -> None:
    assert lap_from_points((3.0, 4.0), (3.0, 90.0)) == LapDirection(0, 1)
    assert lap_from_points((0.0, 0.0), (0.25, -1.0)) == LapDirection(1, -4)


def test_a_lap_direction_without_length_is_refused() -> None:
    with pytest.raises(LapDirectionRefused, match="one place"):
        lap_from_points((3.0, 4.0), (3.001, 4.0))
    for fault in (float("nan"), float("inf")):
        with pytest.raises(LapDirectionRefused, match="MEAS-035"):
            lap_from_points((3.0, fault), (3.0, 4.0))
        with pytest.raises(LapDirectionRefused, match="MEAS-035"):
            lap_from_angle(fault)


def test_more_than_four_points_need_a_direction() -> None:
    with pytest.raises(LapDirectionRefused, match="5 points and no direction"):
        lap_from_corners(make_outline([*SQUARE, (5, 15)], SIZE))


def test_a_direction_along_the_mouth_edge_is_refused() -> None:
    outline = make_outline(SQUARE, SIZE)
    assert check_against_corners(LapDirection(1, 3), outline) == LapDirection(1, 3)
    for lap in (LapDirection(1, 0), LapDirection(0, -1), LapDirection(3, 2)):
        with pytest.raises(LapDirectionRefused, match="the corners say 90"):
            check_against_corners(lap, outline)


def test_the_skew_is_the_largest_angle_between_opposite_sides() -> None:
    assert skew_deg(make_outline(SQUARE, SIZE)) == pytest.approx(0)
    leaning = [(10, 5), (40, 5), (50, 25), (10, 25)]
    assert skew_deg(make_outline(leaning, SIZE)) == pytest.approx(math.degrees(math.atan2(10, 20)))
