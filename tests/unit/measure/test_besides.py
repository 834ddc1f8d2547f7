"""What a face shows beside its share, on drawn faces with additions of known place and size."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from lapwright.measure.besides.excess import find_bore
from lapwright.measure.besides.frame import lay_straight
from lapwright.measure.besides.look import look_besides
from lapwright.measure.besides.values import Besides
from lapwright.measure.drawing.camera import spoil
from lapwright.measure.drawing.extras import Crack, Extras, crack_path, paint_with
from lapwright.measure.drawing.geometry import picture_point
from lapwright.measure.drawing.plan import FacePlan
from lapwright.measure.face import read_face
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.members import look_members
from lapwright.measure.synthetic import draw_demo_face, draw_face

PLAN = draw_demo_face(((0.3, 0.36, "open"),), seed=5, width_px=1200).plan
CRACK = Crack(at_mm=6.0, depth_mm=0.7, width_mm=0.04)
FULL = Extras(fillet_mm=(0.8, 0.6), behind=0.8, drops=((2.0, 0.5, 0.4),), cracks=(CRACK,))


def seen(plan: FacePlan, extras: Extras, style: str = "field", cut: slice = slice(None)) -> Besides:
    pixels = spoil(plan, paint_with(plan, style, extras))[:, cut]
    photo = photo_from_pixels(pixels)
    m = read_face(photo, picture_point(plan, 0.0), picture_point(plan, plan.overlap_mm))
    return look_besides(photo, m)


@pytest.fixture(scope="module", params=["field", "plate"])
def full(request: pytest.FixtureRequest) -> Besides:
    return seen(PLAN, FULL, request.param)


@pytest.fixture(scope="module")
def plain() -> Besides:
    return seen(PLAN, Extras(fillet_mm=(1e-4, 1e-4)))


def test_a_fillet_has_the_legs_it_was_drawn_with(full: Besides) -> None:
    gap, scale = PLAN.clearance_mm, PLAN.px_per_mm
    assert full.fillet.state == "seen"
    assert full.fillet.along_px == pytest.approx(0.8 * (1 + gap / 0.6) * scale, rel=0.15)
    assert full.fillet.up_px == pytest.approx((0.6 + gap) * scale, rel=0.15)


def test_a_drop_in_the_bore_is_seen_at_its_place(full: Besides) -> None:
    (spot,) = full.bore.spots
    truth = picture_point(PLAN, 2.0, -PLAN.clearance_mm / 2 - PLAN.wall_tube_mm - 0.2)
    assert math.dist(spot.place_px, truth) < 8
    assert spot.height_px == pytest.approx(0.4 * PLAN.px_per_mm, abs=5)


def test_fill_behind_the_tube_end_is_seen_there(full: Besides) -> None:
    (spot,) = full.behind.spots
    deep = -0.4 * PLAN.wall_tube_mm
    assert math.dist(spot.place_px, picture_point(PLAN, -PLAN.stop_gap_mm / 2, deep)) < 12
    assert spot.height_px == pytest.approx(0.8 * PLAN.wall_tube_mm * PLAN.px_per_mm, rel=0.2)


def test_a_crack_is_seen_at_its_place_and_side(full: Besides) -> None:
    (line,) = full.lines.found
    path = crack_path(PLAN, 0, CRACK)
    assert line.side == "cup"
    assert line.at == pytest.approx(0.6, abs=0.02)
    assert min(math.dist(line.end_px, p) for p in path[-2:]) < 8


def test_nothing_is_seen_on_a_face_without_any_of_it(plain: Besides) -> None:
    states = (plain.fillet, plain.behind, plain.bore, plain.lines)
    assert [s.state for s in states] == ["nothing-seen"] * 4
    assert plain.bore.spots == plain.behind.spots == plain.lines.found == ()


def test_scratches_of_one_direction_are_no_cracks() -> None:
    ground = seen(PLAN, Extras(grind=0.15, grind_deg=80.0))
    assert ground.lines.found == ()


def test_a_mouth_at_the_picture_edge_is_not_measured() -> None:
    plan = replace(PLAN, rotation_deg=2.0)  # the mouth to the right
    x, _ = picture_point(plan, plan.overlap_mm)
    cropped = seen(plan, FULL, cut=slice(0, round(x) + 20))
    assert (cropped.fillet.state, cropped.fillet.reason) == ("not-measured", "sides-not-told-apart")


def test_surroundings_as_red_as_copper_are_not_measured() -> None:
    photo = photo_from_pixels(spoil(PLAN, paint_with(PLAN, "field", FULL)))
    m = read_face(photo, picture_point(PLAN, 0.0), picture_point(PLAN, PLAN.overlap_mm))
    frame = lay_straight(photo, m)
    same = replace(frame, tone=np.zeros_like(frame.tone))
    assert find_bore(same) == "no-contrast"


def test_the_document_has_lengths_in_mm_only_with_a_scale(full: Besides) -> None:
    assert full.as_dict()["fillet"]["along_mm"] is None
    scaled = replace(full, overlap_mm=PLAN.overlap_mm).as_dict()
    assert scaled["fillet"]["along_mm"] == pytest.approx(
        0.8 * (1 + PLAN.clearance_mm / 0.6), rel=0.15
    )
    assert scaled["crack_like_lines"]["found"][0]["length_mm"] == pytest.approx(0.7, rel=0.25)


@pytest.mark.parametrize(("style", "seed"), [("field", 9102), ("plate", 9105)])
def test_a_disturbed_face_shows_no_crack_and_both_looks_agree_on_the_sides(
    style: str, seed: int
) -> None:
    drawn = draw_face(seed, stream="testing", width_px=900, style=style)
    photo = photo_from_pixels(drawn.pixels)
    m = read_face(photo, drawn.tube_end, drawn.cup_face)
    found = look_besides(photo, m)
    assert found.lines.state == "nothing-seen"
    edges, cup_side = look_members(photo, m).edges, lay_straight(photo, m).cup_side
    assert edges is not None
    assert (edges.tube_row, cup_side) in {(0, 1), (1, -1)}
