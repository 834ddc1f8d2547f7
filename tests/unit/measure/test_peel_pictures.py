"""Proposals and overlays of drawn peeled surfaces. Witness: the drawing's truth, Pillow."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from lapwright.measure.errors import PeelPhotoUnclear
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.peel.direction import LapDirection
from lapwright.measure.peel.drawing import DrawnPeel, draw_peel
from lapwright.measure.peel.outline import make_outline
from lapwright.measure.peel.overlay import (
    BAND_PX,
    COLOURS,
    LABELS,
    PATH_COLOUR,
    WIDTH_PX,
    draw_peel_overlay,
)
from lapwright.measure.peel.proposal import CLEAR, METHOD, propose_states
from lapwright.measure.peel.reading import read_peel

COPPER, OXIDE = [((0.3, 0.4), (0.12, 0.2))], [((0.65, 0.6), (0.15, 0.1))]
DOWN = LapDirection(0, 1)


@pytest.fixture(scope="module")
def peeled() -> DrawnPeel:
    return draw_peel(3, copper=COPPER, oxide=OXIDE)


@pytest.mark.parametrize("seed", range(4))
def test_a_proposal_is_modest_and_seldom_calls_a_discontinuity_sound(seed: int) -> None:
    drawn = draw_peel(seed, copper=COPPER, oxide=OXIDE)
    made = propose_states(photo_from_pixels(drawn.pixels), drawn.states > 0)
    assert made.method == METHOD
    np.testing.assert_array_equal(made.states > 0, drawn.states > 0)
    truly = drawn.states == 1
    assert (made.states[truly] == 3).mean() < 0.02
    assert (made.states[truly] == 1).mean() > 0.6
    assert (made.states[drawn.states == 3] == 1).mean() < 0.02
    assert made.mean_probability["discontinuity"] >= CLEAR
    assert made.mean_probability["sound"] >= CLEAR


def test_a_surface_that_is_neither_stays_unsure() -> None:
    rng = np.random.default_rng(2)
    stained = np.array([118.0, 142.0, 176.0]) * (1 + 0.1 * rng.standard_normal((300, 400, 1)))
    pixels = np.clip(stained, 0, 255).astype(np.uint8)
    made = propose_states(photo_from_pixels(pixels), np.ones((300, 400), bool))
    assert (made.states == 2).mean() > 0.8


def test_burnt_light_stays_unsure(peeled: DrawnPeel) -> None:
    pixels = peeled.pixels.copy()
    pixels[150:250, 500:650] = 255
    made = propose_states(photo_from_pixels(pixels), peeled.states > 0)
    assert (made.states[155:245, 505:645] == 2).all()


def test_a_grey_photograph_gives_no_proposal(peeled: DrawnPeel) -> None:
    grey = np.repeat(peeled.pixels.mean(axis=2, keepdims=True), 3, axis=2).astype(np.uint8)
    with pytest.raises(PeelPhotoUnclear, match="without colour"):
        propose_states(photo_from_pixels(grey), peeled.states > 0)


def test_a_burnt_out_photograph_gives_no_proposal(peeled: DrawnPeel) -> None:
    pixels = peeled.pixels.copy()
    pixels[:400] = 255
    with pytest.raises(PeelPhotoUnclear, match=r"5\d % of the surface burnt out"):
        propose_states(photo_from_pixels(pixels), peeled.states > 0)


def decoded(data: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(data)) as picture:
        assert picture.format == "PNG"
        return np.asarray(picture.convert("RGB"))[..., ::-1]


def share_of(picture: np.ndarray, colour: tuple[int, int, int]) -> float:
    return float((np.abs(picture.astype(int) - colour).max(axis=-1) < 12).mean())


def test_the_overlay_hatches_what_is_there_and_keeps_the_photo(peeled: DrawnPeel) -> None:
    photo = photo_from_pixels(peeled.pixels)
    reading = read_peel(peeled.states, DOWN)
    before = peeled.states.copy()
    picture = decoded(draw_peel_overlay(photo, peeled.states, reading))
    assert picture.shape[1] == WIDTH_PX
    assert share_of(picture[:-BAND_PX], COLOURS[1]) > 0.01
    assert share_of(picture[:-BAND_PX], COLOURS[2]) == 0
    np.testing.assert_array_equal(peeled.states, before)
    np.testing.assert_array_equal(photo.pixels, peeled.pixels)


def test_the_overlay_tells_unsure_and_proposal_apart(peeled: DrawnPeel) -> None:
    photo = photo_from_pixels(peeled.pixels)
    states = np.where(peeled.states == 1, 2, peeled.states).astype(np.uint8)
    reading = read_peel(states, DOWN)
    plain = decoded(draw_peel_overlay(photo, states, reading))
    assert share_of(plain[:-BAND_PX], COLOURS[2]) > 0.005
    assert share_of(plain[:-BAND_PX], COLOURS[1]) == 0
    proposed = decoded(draw_peel_overlay(photo, states, reading, proposal="x"))
    other = decoded(draw_peel_overlay(photo, states, reading, labels=LABELS | {"area": "zona"}))
    assert (proposed[-BAND_PX:] != plain[-BAND_PX:]).any()
    assert (other[-BAND_PX:] != plain[-BAND_PX:]).any()


def test_a_path_from_edge_to_edge_has_a_rim_of_its_own(peeled: DrawnPeel) -> None:
    photo = photo_from_pixels(peeled.pixels)
    joined = peeled.states.copy()
    joined[70:630, 700:720] = 1
    broken = joined.copy()
    broken[400:402, 700:720] = 3
    for states, told in ((joined, "yes"), (broken, "no")):
        reading = read_peel(states, DOWN)
        assert reading.through_path == told
        picture = decoded(draw_peel_overlay(photo, states, reading))
        assert (share_of(picture[:-BAND_PX], PATH_COLOUR) > 0.002) == (told == "yes")


def test_a_mirrored_order_of_corners_swaps_left_and_right_in_the_picture(
    peeled: DrawnPeel,
) -> None:
    photo, corners = photo_from_pixels(peeled.pixels), peeled.corners
    mirrored = (corners[1], corners[0], corners[3], corners[2])
    pictures = []
    for order in (corners, mirrored):
        outline = make_outline(order, (900, 700))
        reading = read_peel(peeled.states, DOWN, outline=outline)
        pictures.append(decoded(draw_peel_overlay(photo, peeled.states, reading, outline=outline)))
    changed = np.flatnonzero((pictures[0] != pictures[1]).any(axis=(0, 2)))
    inside = (changed > 300) & (changed < 1100)
    assert len(changed) > 0
    assert not inside.any()  # only the two names at the sides


@pytest.mark.parametrize("shape", [(600, 70), (70, 600), (64, 64)])
def test_tall_flat_and_tiny_surfaces_can_be_drawn(shape: tuple[int, int]) -> None:
    states = np.zeros(shape, np.uint8)
    states[20:-20, 30:-30] = 3
    states[25:30, 32:34] = 1
    photo = photo_from_pixels(np.full((*shape, 3), 120, np.uint8))
    picture = decoded(draw_peel_overlay(photo, states, read_peel(states, LapDirection(1, 9))))
    assert picture.shape[1] == WIDTH_PX
    assert 0.3 < (picture.shape[0] - BAND_PX) / WIDTH_PX < 1.3
