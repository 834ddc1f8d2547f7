"""Pictures and ends that allow no honest number: each refusal has its test.

Witness for "nothing here": the sample pictures that come with scikit-image.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import skimage.data

from lapwright.core.errors import LapwrightError
from lapwright.measure import errors
from lapwright.measure.face import read_face
from lapwright.measure.image import Photo, photo_from_pixels
from lapwright.measure.synthetic import DrawnFace, draw_demo_face


def copper(height: int = 400, width: int = 900, noise: float = 2.0) -> np.ndarray:
    rng = np.random.default_rng(7)
    return np.array([95.0, 130.0, 200.0]) + rng.normal(0, noise, (height, width, 3))


def photo(values: np.ndarray) -> Photo:
    return photo_from_pixels(np.clip(values, 0, 255).astype(np.uint8))


A, B = (100.0, 200.0), (800.0, 200.0)


@pytest.mark.parametrize("end", [(-3.0, 10.0), (1400.0, 10.0), (10.0, 5000.0)])
def test_an_end_outside_the_picture_is_refused(tidy_photo: Photo, end) -> None:
    with pytest.raises(errors.EndsOutsidePhoto, match="MEAS-008"):
        read_face(tidy_photo, end, (700.0, 300.0))


def test_an_end_that_is_no_number_is_refused(tidy_photo: Photo) -> None:
    with pytest.raises(errors.EndsRefused, match="MEAS-006"):
        read_face(tidy_photo, (float("nan"), 10.0), (700.0, 300.0))


def test_ends_too_close_together_are_refused(tidy_photo: Photo) -> None:
    with pytest.raises(errors.EndsTooClose, match="MEAS-009"):
        read_face(tidy_photo, (300.0, 300.0), (400.0, 300.0))


def test_a_flat_picture_is_refused() -> None:
    with pytest.raises(errors.PhotoFlat, match="MEAS-010"):
        read_face(photo(np.full((400, 900, 3), (95.0, 130.0, 200.0))), A, B)


def test_a_burnt_out_picture_is_refused() -> None:
    picture = np.full((400, 900, 3), 255.0)
    picture[196:204, ::3] = (60, 90, 140)
    with pytest.raises(errors.PhotoClipped, match="MEAS-011"):
        read_face(photo(picture), A, B)


def test_a_picture_without_colour_is_refused(tidy: DrawnFace) -> None:
    grey = np.repeat(tidy.pixels.mean(axis=2, keepdims=True), 3, axis=2)
    with pytest.raises(errors.PhotoColourless, match="MEAS-019"):
        read_face(photo(grey), tidy.tube_end, tidy.cup_face)


def test_an_unsharp_picture_is_refused(tidy: DrawnFace) -> None:
    soft = cv2.GaussianBlur(tidy.pixels, (0, 0), 14)
    with pytest.raises(errors.PhotoBlurred, match="MEAS-012"):
        read_face(photo_from_pixels(soft), tidy.tube_end, tidy.cup_face)


def test_ends_in_the_mounting_resin_are_refused(tidy: DrawnFace) -> None:
    high, wide = tidy.pixels.shape[:2]
    with pytest.raises((errors.NoCopperWalls, errors.PhotoColourless, errors.PhotoFlat)):
        read_face(photo_from_pixels(tidy.pixels), (100.0, 0.1 * high), (wide - 100.0, 0.1 * high))


def test_a_line_between_green_plates_is_no_joint() -> None:
    picture = copper()[..., [0, 2, 1]]
    picture[197:204] *= 0.5
    with pytest.raises(errors.NoCopperWalls, match="MEAS-013"):
        read_face(photo(picture), A, B)


def test_an_edge_between_copper_and_another_metal_is_no_joint() -> None:
    """As bright as copper but of another hue: filler of a wide gap, or brass."""
    picture = copper()
    picture[200:] = picture[200:] * [1.35, 1.0, 0.9]
    picture[198:203] *= 0.6
    with pytest.raises(errors.NoCopperWalls, match="in hue"):
        read_face(photo(picture), A, B)


def test_copper_without_a_line_is_refused() -> None:
    with pytest.raises(errors.NoJointLine, match="MEAS-014"):
        read_face(photo(copper(noise=5.0)), A, B)


def test_a_line_thinner_than_the_pixels_is_refused() -> None:
    picture = copper(noise=0.6)
    picture[200] *= 0.75
    with pytest.raises(errors.GapTooThin, match="MEAS-015"):
        read_face(photo(picture), A, B)


def test_scratches_that_match_the_gap_are_refused() -> None:
    rng = np.random.default_rng(9)
    picture = np.ascontiguousarray(copper(noise=2.0))
    picture[198:203] *= 0.72
    for _ in range(420):
        x, y, turn = rng.uniform(0, 900), rng.uniform(0, 400), rng.normal(0.6, 0.2)
        step = np.array([np.cos(turn), np.sin(turn)]) * 300
        ends = (np.array([x, y]) + np.outer([-1, 1], step)).astype(int)
        layer = np.zeros((400, 900), np.float32)
        cv2.line(layer, ends[0].tolist(), ends[1].tolist(), float(rng.uniform(0.15, 0.4)), 3)
        picture *= 1 - layer[..., None]
        picture = np.maximum(picture, [40.0, 55.0, 90.0])
    with pytest.raises((errors.FinishTooCoarse, errors.NoJointLine), match="loupe"):
        read_face(photo(picture), A, B)


@pytest.mark.parametrize(
    "options",
    [
        {"px_per_mm": 0.0},
        {"px_per_mm": -4.0},
        {"overlap_mm": 0.0},
        {"px_per_mm": float("nan")},
        {"px_per_mm": 100.0, "overlap_mm": 9.0},
        {"px_per_mm": 100.0, "px_per_mm_u": -1.0},
    ],
)
def test_a_scale_that_is_none_is_refused(tidy_photo: Photo, tidy: DrawnFace, options) -> None:
    with pytest.raises(errors.ScaleRefused, match="MEAS-017"):
        read_face(tidy_photo, tidy.tube_end, tidy.cup_face, **options)


@pytest.mark.parametrize(
    "name",
    [
        "astronaut",
        "brick",
        "camera",
        "cat",
        "coffee",
        "coins",
        "hubble_deep_field",
        "immunohistochemistry",
        "moon",
        "retina",
        "rocket",
    ],
)
@pytest.mark.parametrize(
    "ends", [((0.15, 0.5), (0.85, 0.52)), ((0.1, 0.3), (0.9, 0.3)), ((0.2, 0.2), (0.8, 0.7))]
)
def test_pictures_of_other_things_are_refused(name: str, ends) -> None:
    values = getattr(skimage.data, name)()
    values = np.dstack([values] * 3) if values.ndim == 2 else values[..., :3]
    other = photo_from_pixels(np.ascontiguousarray(values[..., ::-1]))
    size = np.array([other.width, other.height])
    with pytest.raises(LapwrightError, match="MEAS-0"):
        read_face(other, tuple(ends[0] * size), tuple(ends[1] * size))


@pytest.mark.parametrize("sigma", [9, 12])
def test_a_blur_that_mixes_void_and_filler_is_never_read_as_sound(sigma: int) -> None:
    voids = ((0.0, 0.13, "open"), (0.45, 0.5, "open"), (0.88, 1.0, "open"))
    face = draw_demo_face(voids, seed=602, width_px=2000)
    soft = cv2.GaussianBlur(face.pixels, (0, 0), sigma)
    with pytest.raises((errors.PhotoBlurred, errors.FillUnclear)):
        read_face(photo_from_pixels(soft), face.tube_end, face.cup_face)


def test_noise_removal_asks_for_a_reader(tidy: DrawnFace) -> None:
    plain = read_face(photo_from_pixels(tidy.pixels), tidy.tube_end, tidy.cup_face)
    smooth = cv2.fastNlMeansDenoisingColored(tidy.pixels, None, 10, 10, 5, 11)
    changed = read_face(photo_from_pixels(smooth), tidy.tube_end, tidy.cup_face)
    assert plain.needs_reader == ""
    assert changed.needs_reader == "smoothed-picture"
