"""Joints are found without ends; pictures without a joint are refused."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from skimage import data

from lapwright.measure.alone import choose, read_alone
from lapwright.measure.errors import NoJointFound, SeveralJoints
from lapwright.measure.find import find_joints
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.settings import DEFAULT
from lapwright.measure.synthetic import draw_demo_face, draw_face

VOIDS = ((0.12, 0.2, "open"), (0.6, 0.68, "open"))


def off(found, face) -> float:
    """Larger distance of the two ends from the truth, [-] of the overlap."""
    length = math.dist(face.tube_end, face.cup_face)
    return max(math.dist(found[0], face.tube_end), math.dist(found[1], face.cup_face)) / length


def test_the_joint_of_a_tidy_face_is_found_and_read() -> None:
    face = draw_demo_face(VOIDS, seed=5, width_px=1600)
    reading = read_alone(photo_from_pixels(face.pixels))
    assert off((reading.tube_end_px, reading.cup_face_px), face) < 0.02
    assert reading.unbrazed_share == pytest.approx(face.truth_share, abs=0.01)
    assert reading.ends_found == "both"


@pytest.mark.parametrize("turn", [None, cv2.ROTATE_90_CLOCKWISE, cv2.ROTATE_180])
def test_turning_the_picture_turns_what_is_found(turn) -> None:
    face = draw_demo_face(VOIDS, seed=6, width_px=1300)
    pixels = face.pixels if turn is None else cv2.rotate(face.pixels, turn)
    first = find_joints(pixels, DEFAULT)[0]
    length = math.dist(first.ends.tube_end, first.ends.cup_face)
    assert length == pytest.approx(math.dist(face.tube_end, face.cup_face), rel=0.01)


def test_most_joints_of_faces_not_used_for_tuning_are_found_and_no_wrong_one() -> None:
    right = wrong = 0
    for seed in range(8100, 8112):
        face = draw_face(seed, stream="testing", style="plate", width_px=1200)
        try:
            only = choose(find_joints(face.pixels, DEFAULT), DEFAULT)
        except (NoJointFound, SeveralJoints):
            continue
        near = off((only.ends.tube_end, only.ends.cup_face), face) < 0.03
        right, wrong = right + near, wrong + (not near)
    assert wrong == 0
    assert right >= 9


def test_two_joints_in_one_picture_are_both_named_and_neither_is_read() -> None:
    face = draw_demo_face(VOIDS, seed=7, width_px=1400)
    both = np.vstack([face.pixels, face.pixels[::-1]])
    with pytest.raises(SeveralJoints) as refusal:
        read_alone(photo_from_pixels(both))
    named = refusal.value.candidates
    assert len(named) == 2
    upper = min(named, key=lambda c: c["tube_end_px"][1])
    assert off((upper["tube_end_px"], upper["cup_face_px"]), face) < 0.02
    assert refusal.value.at("photo.jpg").candidates == named


@pytest.mark.parametrize(
    "name", ["astronaut", "chelsea", "coffee", "rocket", "immunohistochemistry"]
)
def test_pictures_of_other_things_hold_no_joint(name: str) -> None:
    picture = np.ascontiguousarray(getattr(data, name)()[..., ::-1])
    with pytest.raises(NoJointFound):
        read_alone(photo_from_pixels(picture))


def test_a_plain_copper_plate_holds_no_joint() -> None:
    plate = np.zeros((700, 1100, 3), np.uint8)
    plate[:] = (96, 130, 200)
    noise = np.random.default_rng(3).normal(0, 4, plate.shape)
    with pytest.raises(NoJointFound):
        read_alone(photo_from_pixels(np.clip(plate + noise, 0, 255).astype(np.uint8)))
