"""Overlay and grid decode and show what they should. Witness: Pillow."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from lapwright.measure.grid import draw_grid, grid_step
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.overlay import COLOURS, WIDTH_PX, draw_overlay


def decoded(data: bytes) -> np.ndarray:
    with Image.open(io.BytesIO(data)) as picture:
        assert picture.format == "PNG"
        return np.asarray(picture.convert("RGB"))[..., ::-1]


def share_of(picture: np.ndarray, colour: tuple[int, int, int]) -> float:
    return float((np.abs(picture.astype(int) - colour).max(axis=-1) < 12).mean())


def test_the_overlay_shows_both_states_and_keeps_the_photo(tidy_photo, tidy_reading) -> None:
    before = tidy_photo.pixels.copy()
    picture = decoded(draw_overlay(tidy_photo, tidy_reading))
    assert picture.shape[1] == WIDTH_PX
    assert share_of(picture[:-92], COLOURS["brazed"]) > 0
    assert share_of(picture[:-92], COLOURS["unbrazed"]) > 0
    assert share_of(picture[:-92], COLOURS["unsure"]) == 0
    np.testing.assert_array_equal(tidy_photo.pixels, before)


def test_the_legend_names_every_state_in_the_words_given(tidy_photo, tidy_reading) -> None:
    words = {
        "brazed": "soldado",
        "unbrazed": "sin soldar",
        "unsure": "dudoso",
        "tube_end": "tubo",
        "cup_face": "copa",
        "share": "sin soldar",
    }
    other = decoded(draw_overlay(tidy_photo, tidy_reading, labels=words))
    ours = decoded(draw_overlay(tidy_photo, tidy_reading))
    assert (other[-92:] != ours[-92:]).any()


def test_grid_lines_lie_on_the_pixels_they_name() -> None:
    picture = np.full((1000, 1600, 3), 90, np.uint8)
    grid = decoded(draw_grid(photo_from_pixels(picture)))
    assert grid.shape[:2] == (1000, 1600)
    changed = np.flatnonzero((grid[550:590] != 90).any(axis=(0, 2)))
    step = grid_step(1600)
    for place in range(step, 1600, step):
        assert np.abs(changed - place).min() <= 1
        assert np.abs(changed - (place + step / 2)).min() > 20


def test_a_large_grid_picture_is_shrunk_and_a_small_one_enlarged() -> None:
    large = decoded(draw_grid(photo_from_pixels(np.zeros((1500, 4000, 3), np.uint8))))
    small = decoded(draw_grid(photo_from_pixels(np.zeros((200, 300, 3), np.uint8))))
    assert large.shape[1] == 2000
    assert small.shape[1] == 900


def test_a_small_overlay_has_the_width_asked_for_and_the_same_shape(
    tidy_photo, tidy_reading
) -> None:
    whole = decoded(draw_overlay(tidy_photo, tidy_reading))
    small = decoded(draw_overlay(tidy_photo, tidy_reading, width_px=700))
    assert small.shape[1] == 700
    assert abs(small.shape[0] - whole.shape[0] * 700 / whole.shape[1]) <= 0.5
    wider = decoded(draw_overlay(tidy_photo, tidy_reading, width_px=10_000))
    assert wider.shape == whole.shape
