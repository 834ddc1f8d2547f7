"""Straightening and tracing. Witnesses: shapely, scikit-image `profile_line`, plain searching."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from shapely.geometry import LineString, Point
from skimage.measure import profile_line

from lapwright.measure.settings import DEFAULT
from lapwright.measure.strip import (
    ROWS_AT_ONCE,
    arc_length,
    carried_on,
    chord_points,
    cut_strip,
    resample,
    strip_parts,
)
from lapwright.measure.trace import best_arc, least_cost_path, trace_line, whittaker


def curve() -> np.ndarray:
    x = np.linspace(20, 380, 300)
    return np.stack([x, 60 + 25 * np.sin(x / 70)], axis=1)


def test_arc_length_agrees_with_shapely() -> None:
    assert arc_length(curve())[-1] == pytest.approx(LineString(curve()).length, rel=1e-12)


def test_resampled_points_lie_on_the_line_at_equal_distances() -> None:
    line = LineString(curve())
    points = resample(curve(), 57)
    assert max(line.distance(Point(p)) for p in points) < 1e-9
    along = [line.project(Point(p)) for p in points]
    assert np.ptp(np.diff(along)) < 1e-6


def test_a_line_is_carried_straight_on_at_its_own_spacing() -> None:
    inner = resample(curve(), 57)
    points = carried_on(inner, 5, 8, tail=6)
    assert len(points) == 5 + 57 + 8
    assert np.array_equal(points[5:-8], inner)
    step = np.hypot(*np.diff(inner, axis=0).T).mean()
    for end, deep, far, count in ((5, 11, 0, 5), (-9, -15, -1, 8)):
        assert LineString([points[deep], points[far]]).distance(Point(points[end])) < 1e-9
        assert math.dist(points[end], points[far]) == pytest.approx(count * step, rel=0.01)


def test_a_strip_row_is_the_profile_scikit_image_reads() -> None:
    rng = np.random.default_rng(3)
    import cv2

    picture = cv2.GaussianBlur(rng.uniform(0, 255, (120, 200, 3)), (0, 0), 3).astype(np.uint8)
    points = chord_points((20.0, 30.0), (160.0, 90.0), columns=153)
    ours = cut_strip(picture, points, np.array([0.0]))[0, :, 1]
    # profile_line counts (row, column) and steps one pixel; same line, same steps
    theirs = profile_line(
        picture[..., 1].astype(float), (30, 20), (90, 160), order=3, mode="reflect"
    )
    assert len(theirs) == math.ceil(math.hypot(140, 60)) + 1
    at = np.linspace(0, 1, 153)
    again = np.interp(at, np.linspace(0, 1, len(theirs)), theirs)
    assert np.abs(ours - again).max() < 1.5


def test_a_wide_strip_cut_in_parts_has_every_row_in_its_place() -> None:
    y, x = np.mgrid[0:400, 0:300]
    picture = np.stack([x % 256, y // 2, (x + y) // 4], axis=-1).astype(np.uint8)
    points = chord_points((50.0, 200.0), (250.0, 200.0), columns=201)
    offsets = np.arange(-70.0, 71.0)
    parts = [len(part) for part in strip_parts(picture, points, offsets)]
    assert parts == [ROWS_AT_ONCE, ROWS_AT_ONCE, 141 - 2 * ROWS_AT_ONCE]
    strip = cut_strip(picture, points, offsets)
    np.testing.assert_array_equal(strip, picture[130:271, 50:251])


def test_the_middle_of_the_first_pixel_is_the_origin() -> None:
    picture = np.zeros((70, 70, 3), np.uint8)
    picture[10, 20] = 255
    strip = cut_strip(picture, np.array([[19.0, 10.0], [20.0, 10.0], [21.0, 10.0]]), np.zeros(1))
    assert strip[0, :, 0].tolist() == [0.0, 255.0, 0.0]


def test_the_path_is_the_best_of_all_paths() -> None:
    rng = np.random.default_rng(8)
    evidence = rng.uniform(0, 1, (4, 6))
    place = rng.uniform(0, 0.3, (4, 6))

    def cost(path: tuple[int, ...]) -> float:
        steps = [abs(a - b) for a, b in itertools.pairwise(path)]
        if max(steps) > 1:
            return math.inf
        own = sum(1 - evidence[r, c] + place[r, c] for c, r in enumerate(path))
        return own + DEFAULT.step_cost * sum(steps)

    best = min(itertools.product(range(4), repeat=6), key=cost)
    assert tuple(least_cost_path(evidence, place, DEFAULT)) == best


def test_the_arc_is_the_one_that_gathers_most_of_all_arcs_tried() -> None:
    rng = np.random.default_rng(9)
    rows, columns = 21, 40
    evidence = rng.uniform(0, 1, (rows, columns))
    place = rng.uniform(0, 0.3, (rows, columns))
    u = np.linspace(0, 1, columns)

    def gathered(arc: np.ndarray) -> float:
        at = np.clip(np.rint(arc), 0, rows - 1).astype(int)
        return float((evidence - place)[at, np.arange(columns)].sum())

    ends, bows = np.linspace(-2.5, 2.5, 9), np.linspace(-8, 8, 17)
    arcs = [
        10 + first * (1 - u) + last * u + bow * 4 * u * (1 - u)
        for first, last, bow in itertools.product(ends, ends, bows)
    ]
    best = max(arcs, key=gathered)
    np.testing.assert_allclose(best_arc(evidence, place, DEFAULT), best, atol=1e-9)


def test_smoothing_leaves_a_straight_series_alone() -> None:
    series = np.linspace(3, 9, 50)
    smooth = whittaker(series, np.ones(50), stiffness=1e4)
    np.testing.assert_allclose(smooth, series, atol=1e-6)


@pytest.mark.parametrize("tone", [-35, 35])
def test_a_bowed_line_is_traced_whether_darker_or_lighter(tone: int) -> None:
    y, x = np.mgrid[0:300, 0:900].astype(float)
    line = 150 + 14 * np.sin(np.pi * (x - 100) / 700)
    inside = np.clip(3.5 - np.abs(y - line), 0, 1)
    picture = np.array([95.0, 130.0, 195.0]) + tone * inside[..., None]
    picture += np.random.default_rng(4).normal(0, 2, picture.shape)
    trace = trace_line(
        np.clip(picture, 0, 255).astype(np.uint8), (100.0, 152.0), (800.0, 148.0), DEFAULT
    )
    truth = 150 + 14 * np.sin(np.pi * (trace.points[:, 0] - 100) / 700)
    assert np.abs(trace.points[:, 1] - truth)[15:-15].max() < 1.0


def test_the_banded_smoothing_is_the_dense_least_squares() -> None:
    rng = np.random.default_rng(5)
    for n in (4, 5, 6, 37):
        values, weights = rng.normal(size=n), rng.uniform(0.1, 1, n)
        bend = np.diff(np.eye(n), n=2, axis=0)
        kept, dense = weights.copy(), values
        for _ in range(3):
            dense = np.linalg.solve(7.0 * bend.T @ bend + np.diag(kept + 1e-9), kept * values)
            miss = np.abs(values - dense)
            kept = weights / (1 + (miss / (2 * np.median(miss) + 0.3)) ** 2)
        np.testing.assert_allclose(whittaker(values, weights, stiffness=7.0), dense, atol=1e-8)
