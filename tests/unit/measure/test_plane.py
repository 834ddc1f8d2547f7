"""The fitted plane. Witnesses: OpenCV's homography, exact geometry, Monte Carlo."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.measure.drawing.views import Camera, project
from lapwright.measure.plane import (
    apply,
    beyond_horizon,
    fit_plane,
    lengths_mm,
    scale_at,
    spread_of,
    squash_at,
)

GRID = np.stack(np.meshgrid(np.arange(9) * 4.0, np.arange(5) * 4.0), axis=-1).reshape(-1, 2)
STEEP = Camera((2000, 1400), 40.0, tilt_deg=30, axis_deg=35, turn_deg=50, focal_px=3000)


def test_the_map_is_that_of_an_outside_solver() -> None:
    """Outside witness: cv2.findHomography, least squares over all points."""
    noisy = project(STEEP, GRID) + np.random.default_rng(1).normal(0, 0.3, GRID.shape)
    ours = fit_plane(GRID, noisy).matrix()
    theirs, _ = cv2.findHomography(GRID, noisy, 0)
    probe = np.array([[0.0, 0.0], [30.0, 10.0], [60.0, -20.0]])
    assert np.abs(apply(ours, probe) - apply(theirs, probe)).max() < 0.02


def test_without_noise_lengths_are_exact() -> None:
    plane = fit_plane(GRID, project(STEEP, GRID))
    ends = np.array([[-6.0, 25.0], [31.0, 22.0]])
    length = float(np.hypot(*lengths_mm(plane.matrix(), project(STEEP, ends)).T).sum())
    assert length == pytest.approx(np.hypot(37.0, 3.0), rel=1e-9)


@given(
    tilt=st.floats(0, 38),
    axis=st.floats(0, 360),
    turn=st.floats(-180, 180),
    focal=st.floats(1500, 20000),
)
def test_the_tilt_is_read_off_whatever_the_lens(tilt, axis, turn, focal) -> None:
    camera = Camera((2000, 1400), 30.0, tilt, axis, turn, focal)
    matrix = fit_plane(GRID, project(camera, GRID)).matrix()
    middle = np.array([999.5, 699.5])
    assert squash_at(matrix, middle) == pytest.approx(np.cos(np.radians(tilt)), abs=1e-6)
    assert scale_at(matrix, middle) == pytest.approx(
        30.0 * np.sqrt(np.cos(np.radians(tilt))), rel=1e-6
    )


def test_the_spread_of_a_length_is_that_of_repeated_fits() -> None:
    """Outside witness: Monte Carlo of 400 noisy fits (JCGM 101:2008)."""
    rng = np.random.default_rng(3)
    clean = project(STEEP, GRID)
    line = project(STEEP, np.array([[-10.0, 30.0], [20.0, 34.0]]))

    def length(matrix: np.ndarray) -> float:
        return float(np.hypot(*lengths_mm(matrix, line).T).sum())

    fits = [fit_plane(GRID, clean + rng.normal(0, 0.5, clean.shape)) for _ in range(400)]
    seen = np.std([length(fit.matrix()) for fit in fits])
    stated = np.sqrt(np.mean([spread_of(fit, length) ** 2 for fit in fits]))
    assert stated == pytest.approx(seen, rel=0.12)


def test_places_past_the_horizon_are_known() -> None:
    camera = Camera((2000, 1400), 60.0, tilt_deg=75, focal_px=900)
    plane = fit_plane(GRID / 8 - 1, project(camera, GRID / 8 - 1))
    rows = np.array([[1000.0, 0.0], [1000.0, 700.0], [1000.0, 1399.0]])
    told = beyond_horizon(plane, rows)
    horizon = 699.5 - 900 / np.tan(np.radians(75))  # of a plane tilted about x
    assert horizon > 0
    assert told.tolist() in ([True, False, False], [False, False, True])
