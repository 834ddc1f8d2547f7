"""Scale cards in drawn views. Witness: the exact geometry of the drawing camera."""

from __future__ import annotations

from decimal import Decimal

import cv2
import numpy as np
import pytest
import skimage.data

from lapwright.measure import errors
from lapwright.measure.cardface import dark_parts
from lapwright.measure.drawing.views import Camera, Wear
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.scale import PictureScale, length_along
from lapwright.measure.scalecard import (
    Print,
    board_of,
    card_scale,
    find_cards,
    measured_print,
)
from lapwright.reference.cards import ScaleCard, scale_cards
from unit.measure.card_views import CARDS, view, view_by_lot

EXACT = Print(100.0, 100.0)
SIZE = (1400, 1000)


def fact(scale: PictureScale, name: str) -> float:
    value = dict(scale.facts)[name]
    assert isinstance(value, float)
    return value


@pytest.mark.parametrize("card", scale_cards(), ids=lambda c: c.name)
def test_the_printed_parts_are_the_board_of_the_dictionary(card: ScaleCard) -> None:
    """Outside witness: the board as OpenCV draws it, pixel by pixel."""
    px = 60
    size = tuple(int(side * px) for side in card.size_mm)
    theirs = board_of(card).generateImage(size, marginSize=0, borderBits=1) < 128
    ours = np.zeros(size[::-1], bool)
    for x, y, wide, high in dark_parts(card):
        x0, y0, x1, y1 = (round(v * px) for v in (x, y, x + wide, y + high))
        assert not ours[y0:y1, x0:x1].any()
        ours[y0:y1, x0:x1] = True
    assert (ours == theirs).all()


def test_no_two_cards_share_a_marker() -> None:
    ids = [i for card in scale_cards() for i in card.marker_ids]
    assert len(ids) == len(set(ids))
    assert max(ids) < 100
    assert all(card.marker_mm == card.square_mm * Decimal("0.7") for card in scale_cards())


@pytest.mark.parametrize("name", CARDS)
@pytest.mark.parametrize("tilt", [0, 12, 35])
def test_lengths_in_the_plane_are_right_under_perspective(name: str, tilt: float) -> None:
    scale_px = {"LW1-2": 45.0, "LW1-4": 28.0, "LW1-6": 20.0}[name]
    camera = Camera(SIZE, scale_px, tilt, axis_deg=70, turn_deg=8, focal_px=3000)
    drawn = view(camera, CARDS[name], at_mm=(0, -4), seed=tilt)
    scale = card_scale(drawn.photo, printed=EXACT)
    length = length_along(scale, drawn.line_px, arc_px=drawn.arc_px)
    assert length.mm == pytest.approx(drawn.line_mm, rel=1e-3)
    assert abs(length.mm - drawn.line_mm) < 2 * length.u_mm
    assert fact(scale, "tilt_deg") == pytest.approx(tilt, abs=2 if tilt else 5)


def test_a_single_number_would_be_wrong_where_the_plane_is_right() -> None:
    camera = Camera(SIZE, 28.0, 30, axis_deg=90, focal_px=2500)
    drawn = view(camera, CARDS["LW1-4"], at_mm=(10, 0), line=((-20, -12), (-4, -12)))
    scale = card_scale(drawn.photo, printed=EXACT)
    length = length_along(scale, drawn.line_px, arc_px=drawn.arc_px)
    assert length.mm == pytest.approx(drawn.line_mm, rel=2e-3)
    assert abs(drawn.arc_px / camera.scale / drawn.line_mm - 1) > 0.02
    assert length.uneven > 0.02


def test_a_part_of_the_card_is_enough() -> None:
    camera = Camera(SIZE, 30.0, 10, axis_deg=20, focal_px=3000)
    drawn = view(camera, CARDS["LW1-4"], at_mm=(20, -8), line=((-15, 10), (5, 11)))
    (seen,) = find_cards(drawn.photo)
    assert 8 <= len(seen.card_mm) < 30
    scale = card_scale(drawn.photo, printed=EXACT)
    length = length_along(scale, drawn.line_px, arc_px=drawn.arc_px)
    assert length.mm == pytest.approx(drawn.line_mm, rel=5e-3)


def test_the_measured_check_lines_correct_a_stretched_print() -> None:
    camera = Camera(SIZE, 28.0, 5, focal_px=3000)
    drawn = view(camera, CARDS["LW1-4"], at_mm=(0, -4), stretch=(0.97, 1.02))
    told = measured_print(97.0, 102.0)
    scale = card_scale(drawn.photo, printed=told)
    length = length_along(scale, drawn.line_px, arc_px=drawn.arc_px)
    assert length.mm == pytest.approx(drawn.line_mm, rel=1e-3)
    untold = length_along(card_scale(drawn.photo), drawn.line_px, arc_px=drawn.arc_px)
    assert abs(untold.mm / drawn.line_mm - 1) > 0.02
    assert untold.u_mm > 2 * length.u_mm


def test_stated_uncertainties_hold_on_views_by_lot() -> None:
    """At least 14 of 16 lie within two standard uncertainties; the docs give 240."""
    inside = []
    for seed in range(5000, 5016):
        drawn, printed = view_by_lot(seed, width=(800, 1000))
        scale = card_scale(drawn.photo, printed=printed)
        length = length_along(scale, drawn.line_px, arc_px=drawn.arc_px)
        inside.append(abs(length.mm - drawn.line_mm) <= 2 * length.u_mm)
    assert sum(inside) >= 14


@pytest.mark.parametrize("name", ["astronaut", "brick", "coffee", "cat", "rocket"])
def test_a_picture_without_a_card_is_refused(name: str) -> None:
    values = getattr(skimage.data, name)()
    values = np.dstack([values] * 3) if values.ndim == 2 else values[..., :3]
    with pytest.raises(errors.NoCard, match="MEAS-051"):
        card_scale(photo_from_pixels(np.ascontiguousarray(values)))


def test_too_little_of_a_card_is_refused() -> None:
    drawn = view(Camera(SIZE, 30.0), CARDS["LW1-4"])
    pixels = drawn.photo.pixels.copy()
    kept = np.zeros(pixels.shape[:2], bool)
    kept[190:570, 90:470] = True  # three squares by three, four corners between them
    pixels[~kept] = (95, 130, 200)
    with pytest.raises(errors.TooFewCorners, match="MEAS-052"):
        card_scale(photo_from_pixels(pixels))


def test_corners_of_one_row_are_too_few() -> None:
    drawn = view(Camera(SIZE, 30.0), CARDS["LW1-4"])
    pixels = drawn.photo.pixels.copy()
    pixels[SIZE[1] // 2 - 60 :] = (95, 130, 200)  # two of five rows of squares are left
    with pytest.raises(errors.TooFewCorners, match="in one row"):
        card_scale(photo_from_pixels(pixels))


def test_a_card_seen_from_the_side_is_refused() -> None:
    drawn = view(Camera(SIZE, 30.0, 55, axis_deg=80, focal_px=4000), CARDS["LW1-4"])
    with pytest.raises(errors.CardTooSteep, match="MEAS-053"):
        card_scale(drawn.photo)


def test_a_bent_card_is_refused() -> None:
    drawn = view(Camera(SIZE, 30.0), CARDS["LW1-4"])
    ys, xs = np.mgrid[0 : SIZE[1], 0 : SIZE[0]].astype(np.float32)
    arm = (xs - SIZE[0] / 2) / 600

    bent = cv2.remap(drawn.photo.pixels, xs, ys + 25 * arm**2 - 20 * arm**3, cv2.INTER_LINEAR)
    with pytest.raises(errors.CardNotFlat, match="MEAS-054"):
        card_scale(photo_from_pixels(np.asarray(bent)))


def _beside(*names: str, scales: tuple[float, float]) -> np.ndarray:
    halves = [
        view(Camera((1000, 900), px), CARDS[name], wear=Wear(0.6, 2)).photo.pixels
        for name, px in zip(names, scales, strict=True)
    ]
    return np.hstack(halves)


def test_cards_in_two_planes_are_refused() -> None:
    card_scale(photo_from_pixels(_beside("LW1-2", "LW1-4", scales=(22.0, 22.0))))
    with pytest.raises(errors.CardsDisagree, match="MEAS-055"):
        card_scale(photo_from_pixels(_beside("LW1-2", "LW1-4", scales=(22.0, 23.2))))


def test_two_copies_of_one_card_are_refused() -> None:
    with pytest.raises(errors.CardsDisagree, match="two copies"):
        card_scale(photo_from_pixels(_beside("LW1-4", "LW1-4", scales=(22.0, 22.0))))


@pytest.mark.parametrize("line", [(3.94, 3.94), (100.0, 120.0), (float("nan"), 100.0)])
def test_a_check_line_that_no_print_has_is_refused(line: tuple[float, float]) -> None:
    with pytest.raises(errors.CheckLineRefused, match="MEAS-056"):
        measured_print(*line)
