"""A cut off the axis: shapely cuts an annulus with a line and says what it shows."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from lapwright.measure.errors import OffAxisRefused
from lapwright.measure.offaxis import apparent_wall, off_axis, off_axis_by_width

TUBES = [(22.225, 1.143), (9.525, 0.762), (53.975, 2.108)]


def cut_by_shapely(h: float, od: float, wall: float) -> tuple[float, float]:
    """Return wall and outside width of an annulus on a line at a distance from its centre."""
    fine = 2048  # a polygon of so many sides a quarter lies within 1e-7 of its circle
    ring = Point(0, 0).buffer(od / 2, fine) - Point(0, 0).buffer(od / 2 - wall, fine)
    parts = ring.intersection(LineString([(-od, h), (od, h)]))
    lengths = [part.length for part in parts.geoms]
    left, _, right, _ = parts.bounds
    return lengths[0], right - left


@pytest.mark.parametrize(("od", "wall"), TUBES)
@pytest.mark.parametrize("share", [0.0, 0.1, 0.4, 0.8])
def test_the_wall_shown_is_that_of_shapely(od: float, wall: float, share: float) -> None:
    h = share * (od / 2 - wall)
    assert apparent_wall(h, od, wall) == pytest.approx(cut_by_shapely(h, od, wall)[0], abs=1e-4)


@pytest.mark.parametrize(("od", "wall"), TUBES)
@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_the_offset_of_a_cut_by_shapely_is_found_again(
    od: float, wall: float, share: float
) -> None:
    h = share * (od / 2 - wall)
    shown, width = cut_by_shapely(h, od, wall)
    by_wall, by_width = off_axis(shown, 1e-6, od, wall), off_axis_by_width(width, 1e-6, od)
    assert by_wall.offset_mm == pytest.approx(h, rel=1e-3)
    assert by_width.offset_mm == pytest.approx(h, rel=1e-3)
    assert by_wall.stretch == pytest.approx(od / width, rel=1e-3)


@given(
    od=st.floats(4, 120),
    wall_share=st.floats(0.02, 0.4),
    share=st.floats(0, 1),
    u=st.floats(1e-4, 0.05),
)
def test_the_interval_holds_the_offset_that_made_the_wall(
    od: float, wall_share: float, share: float, u: float
) -> None:
    wall = wall_share * od / 2
    h = share * (od / 2 - wall)
    found = off_axis(apparent_wall(h, od, wall), u, od, wall)
    assert found.offset95_mm is not None
    low, high = found.offset95_mm
    assert low - 1e-3 * od <= h <= high + 1e-3 * od
    assert found.stretch95 is not None
    assert 1 <= found.stretch95[0] <= found.stretch95[1]


def test_near_the_axis_the_wall_tells_only_a_bound() -> None:
    found = off_axis(1.143, 0.01, 22.225, 1.143)
    assert found.state == "not-told-from-the-axis"
    assert found.offset_mm == pytest.approx(0, abs=1e-6)
    assert found.offset95_mm is not None
    assert found.offset95_mm[0] == 0
    assert apparent_wall(found.offset95_mm[1], 22.225, 1.143) == pytest.approx(1.1626, abs=1e-4)


@pytest.mark.parametrize("shown", [0.9, 8.0])
def test_a_wall_that_no_cut_shows_disagrees(shown: float) -> None:
    assert off_axis(shown, 0.02, 22.225, 1.143).state == "disagrees"
    assert off_axis(shown, 0.02, 22.225, 1.143).offset_mm is None


def test_a_width_over_the_diameter_disagrees() -> None:
    assert off_axis_by_width(22.6, 0.05, 22.225).state == "disagrees"


def test_doubt_about_the_wall_widens_the_interval() -> None:
    plain, doubtful = (off_axis(1.25, 0.01, 22.225, 1.143, wall_u_mm=u) for u in (0.0, 0.02))
    assert plain.u_mm is not None
    assert doubtful.u_mm is not None
    assert doubtful.u_mm > plain.u_mm


@pytest.mark.parametrize(
    ("shown", "u", "od", "wall"),
    [
        (1.0, 0.01, 0.0, 1.0),
        (1.0, 0.01, 4.0, 2.0),
        (1.0, 0.01, math.inf, 1.0),
        (0.0, 0.01, 22.0, 1.0),
        (1.0, -0.1, 22.0, 1.0),
        (math.nan, 0.01, 22.0, 1.0),
    ],
)
def test_off_axis_refused(shown: float, u: float, od: float, wall: float) -> None:
    with pytest.raises(OffAxisRefused) as refusal:
        off_axis(shown, u, od, wall)
    assert refusal.value.code == "MEAS-070"


def test_an_offset_beyond_the_bore_is_refused() -> None:
    with pytest.raises(OffAxisRefused):
        apparent_wall(10.5, 22.0, 1.0)
