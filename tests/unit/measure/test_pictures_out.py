"""Overlay and grid decode and show what they should. Witness: Pillow."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from lapwright.measure.grid import draw_grid, grid_step
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.overlay import COLOURS, WIDTH_PX, draw_overlay
from lapwright.measure.overlaymarks import ROW_PX, Mark, draw_marks


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


def test_places_to_look_at_have_arrows_and_the_legend_grows_by_their_words(
    tidy_photo, tidy_reading
) -> None:
    plain = decoded(draw_overlay(tidy_photo, tidy_reading))
    line = np.array(tidy_reading.line)
    middle = line[len(line) // 2] + [0, 40]
    marks = [Mark((float(middle[0]), float(middle[1])), "dark line")]
    outline = [(float(x), float(y) - 60) for x, y in line[::20]]
    marked = decoded(draw_overlay(tidy_photo, tidy_reading, look_at=marks))
    walls = decoded(draw_overlay(tidy_photo, tidy_reading, outlines=[outline]))
    assert marked.shape[0] == walls.shape[0] == plain.shape[0] + ROW_PX
    assert (marked[-ROW_PX:] != walls[-ROW_PX:]).any()
    changed = np.argwhere((marked[: plain.shape[0]] != plain).any(axis=-1))
    scale = WIDTH_PX / 1.32 / tidy_reading.overlap_px
    assert 0 < np.ptp(changed[:, 1]) < 80  # one arrow in one place
    assert np.ptp(changed[:, 0]) < 120
    reach = tidy_reading.gap_px * scale / 2
    joint = (line[len(line) // 2] - line.min(axis=0))[1] * scale
    assert (changed[:, 0] > joint + reach).all()  # and none of it on the joint


def test_numbers_of_near_places_do_not_hide_each_other() -> None:
    canvas = np.zeros((400, 800, 3), np.uint8)
    line = np.stack([np.linspace(100, 700, 50), np.full(50, 200.0)], axis=1)
    spots = [np.array([400.0, 260.0]), np.array([410.0, 260.0])]
    one, both = canvas.copy(), canvas.copy()
    draw_marks(one, line, spots[:1])
    draw_marks(both, line, spots)
    assert (both > 0).any(axis=-1).sum() > 1.6 * (one > 0).any(axis=-1).sum()


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
