"""The geometry of the unrolled joint against shapely, scipy and arithmetic by hand."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import lsq_linear
from shapely import Point
from shapely.affinity import rotate

from lapwright.documents.jointlayout import (
    Span,
    along,
    clock_text,
    continuations,
    cut_angle,
    on_dial,
    spread,
    widest_gap,
)

angles = st.floats(0, 359.99)


@given(angles, st.floats(1, 100))
def test_a_dial_mark_is_twelve_turned_clockwise(angle: float, radius: float) -> None:
    # shapely turns anticlockwise with y upwards; on the page y runs down, so clockwise is +
    turned = rotate(Point(0, -radius), angle, origin=(0, 0))
    assert on_dial(angle, radius) == pytest.approx((turned.x, turned.y), abs=1e-6)


@given(st.lists(angles, min_size=1, max_size=9))
def test_the_roll_is_cut_as_far_from_every_face_as_can_be(faces: list[float]) -> None:
    def nearest(at: float) -> float:
        return min(min((at - a) % 360, (a - at) % 360) for a in faces)

    cut = cut_angle(faces)
    assert nearest(cut) == pytest.approx(max(nearest(a / 4) for a in range(1440)), abs=0.126)
    assert nearest(cut) == pytest.approx(widest_gap(faces) / 2, abs=1e-6)


@given(angles, angles)
def test_distances_along_the_roll_are_arcs_round_the_tube(one: float, cut: float) -> None:
    share = along(one, cut)
    assert 0 <= share < 1
    back = (cut + share * 360) % 360
    assert math.cos(math.radians(back - one)) == pytest.approx(1, abs=1e-9)


@given(
    st.lists(st.floats(0, 500), min_size=1, max_size=6).map(sorted),
    st.floats(1, 90),
)
def test_columns_move_apart_as_little_as_can_be(targets: list[float], gap: float) -> None:
    low, high = 10.0, 480.0
    places = spread(targets, gap, low, high)
    count = len(targets)
    assert all(b - a >= gap - 1e-6 for a, b in pairwise(places))
    assert low - 1e-6 <= places[0]
    assert places[-1] <= high + 1e-6
    # the same by bounded least squares: x0 free, the extra distances not negative
    shape = np.tril(np.ones((count, count)))
    offset = np.arange(count) * gap
    room = high - low - (count - 1) * gap
    best = lsq_linear(
        shape,
        np.array(targets) - offset - low,
        bounds=(0, max(room, 1e-9)),
        tol=1e-12,
    )
    other = shape @ best.x + offset + low
    if other[-1] <= high + 1e-6:  # its sum is not bounded above: compare where that is idle
        ours = sum((p - t) ** 2 for p, t in zip(places, targets, strict=True))
        assert ours == pytest.approx(sum((other - targets) ** 2), rel=1e-4, abs=1e-3)


def test_columns_without_room_are_spaced_evenly() -> None:
    assert spread([1.0, 2.0, 3.0], 50.0, 0.0, 60.0) == [0.0, 30.0, 60.0]


@pytest.mark.parametrize(
    ("angle", "text"),
    [(0.0, "12"), (90.0, "3"), (315.0, "10:30"), (15.0, "12:30"), (359.9, "12"), (180.4, "6:01")],
)
def test_an_angle_is_told_as_a_clock_position(angle: float, text: str) -> None:
    assert clock_text(angle) == text


def test_neighbours_that_lack_filler_at_one_depth_are_hinted_at_both_ways_round() -> None:
    links = continuations([0.0, 180.0], [[Span(0.2, 0.4)], [Span(0.3, 0.5)]], least=0.5)
    assert [(k.left, k.right, k.round_cut) for k in links] == [(0, 1, ""), (1, 0, "yes")]
    assert [k.depth for k in links] == pytest.approx([0.35, 0.35])


@pytest.mark.parametrize(
    ("where", "spans"),
    [
        ([0.0, 180.0], [[Span(0.2, 0.4)], [Span(0.35, 0.6)]]),  # too little in common
        ([0.0, 180.0], [[Span(0.2, 0.4)], []]),
        ([90.0, 90.0], [[Span(0.2, 0.4)], [Span(0.2, 0.4)]]),  # two sides of one saw cut
        ([0.0], [[Span(0.2, 0.4)]]),
    ],
)
def test_nothing_is_hinted_without_ground(where: list[float], spans: list[list[Span]]) -> None:
    assert continuations(where, spans, least=0.5) == ()


def test_cuts_more_than_half_round_are_no_neighbours() -> None:
    both = [[Span(0.2, 0.4)], [Span(0.2, 0.4)]]
    links = continuations([0.0, 100.0], both, least=0.5)
    assert [(k.left, k.right) for k in links] == [(0, 1)]
