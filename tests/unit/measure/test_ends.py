"""Ends are brought onto the joint: the truth is that of the drawing."""

from __future__ import annotations

import math

import numpy as np
import pytest

from lapwright.measure.ends import snap_ends
from lapwright.measure.errors import EndsSwapped
from lapwright.measure.face import read_face
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.settings import DEFAULT
from lapwright.measure.synthetic import draw_demo_face

VOIDS = ((0.0, 0.08, "open"), (0.4, 0.5, "open"))


@pytest.fixture(scope="module")
def face():
    return draw_demo_face(VOIDS, seed=11, width_px=1600)


def along(face, point, end) -> float:
    """Distance of a point from an end along the chord, [-] of the overlap."""
    first, last = np.array(face.tube_end), np.array(face.cup_face)
    chord = last - first
    return float((np.array(point) - np.array(end)) @ chord / (chord @ chord))


def snapped(face, start, end):
    wide = face.pixels.shape[1]
    return snap_ends(
        face.pixels, start, end, slack_px=0.025 * wide, given_u_px=0.0025 * wide, settings=DEFAULT
    )


@pytest.mark.parametrize("off", [(-0.02, 0.02), (0.02, -0.02), (0.02, 0.02), (-0.02, -0.02)])
def test_ends_two_percent_of_the_width_off_come_onto_the_joint(face, off) -> None:
    wide = face.pixels.shape[1]
    chord = np.array(face.cup_face) - np.array(face.tube_end)
    unit = chord / np.hypot(*chord)
    start = tuple(np.array(face.tube_end) + off[0] * wide * unit)
    end = tuple(np.array(face.cup_face) + off[1] * wide * unit)
    found = snapped(face, start, end)
    assert found.found == "both"
    assert abs(along(face, found.tube_end, face.tube_end)) < 0.004
    assert abs(along(face, found.cup_face, face.cup_face)) < 0.004


def test_ends_off_the_line_come_back_to_it(face) -> None:
    chord = np.array(face.cup_face) - np.array(face.tube_end)
    across = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    move = 0.012 * face.pixels.shape[1] * across
    found = snapped(
        face, tuple(np.array(face.tube_end) + move), tuple(np.array(face.cup_face) + move)
    )
    gap_px = face.plan.clearance_mm * face.px_per_mm
    assert math.dist(found.tube_end, face.tube_end) < gap_px
    assert math.dist(found.cup_face, face.cup_face) < gap_px


def test_the_share_no_longer_feels_ends_that_are_off(face) -> None:
    photo = photo_from_pixels(face.pixels)
    wide = face.pixels.shape[1]
    start = (face.tube_end[0] - 0.015 * wide, face.tube_end[1])
    loose = read_face(photo, start, face.cup_face)
    fixed = read_face(photo, start, face.cup_face, snap="no")
    truth = face.truth_share
    assert abs(loose.unbrazed_share - truth) < 0.006
    assert abs(loose.unbrazed_share - truth) < abs(fixed.unbrazed_share - truth)
    assert loose.given_px == (start, face.cup_face)
    assert loose.ends_found == "both"
    assert fixed.ends_found == "given"


def test_an_end_without_a_mark_stays_as_given_with_its_spread(face) -> None:
    chord = np.array(face.cup_face) - np.array(face.tube_end)
    first = tuple(np.array(face.tube_end) + 0.25 * chord)
    last = tuple(np.array(face.tube_end) + 0.75 * chord)
    found = snapped(face, first, last)
    assert found.found == "given"
    assert (found.tube_end, found.cup_face) == (first, last)
    assert found.tube_u_px == found.cup_u_px == 0.0025 * face.pixels.shape[1]


def test_swapped_ends_are_refused(face) -> None:
    with pytest.raises(EndsSwapped) as refusal:
        snapped(face, face.cup_face, face.tube_end)
    assert refusal.value.code == "MEAS-023"


def test_a_picture_without_copper_moves_nothing() -> None:
    grey = np.full((400, 900, 3), 120, np.uint8)
    found = snap_ends(grey, (100, 200), (800, 200), slack_px=20, given_u_px=2, settings=DEFAULT)
    assert found.found == "given"
