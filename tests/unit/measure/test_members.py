"""Walls and clearance of drawn faces against what was drawn; dips of known depth."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from lapwright.measure.clearance import STRETCHES, corrected, measure_clearance
from lapwright.measure.drawing.eaten import Dip, eat, half_section
from lapwright.measure.drawing.geometry import joint_fields, picture_point
from lapwright.measure.erosion import detection, judge_surface, outer_dips
from lapwright.measure.halfsection import outside_width
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.members import Members, Wall, look_members
from lapwright.measure.synthetic import DrawnFace, draw_demo_face, draw_face
from lapwright.measure.values import FaceMeasurement

VOIDS = ((0.3, 0.4, "open"), (0.7, 0.75, "residue"))


def drawn_line(face: DrawnFace) -> FaceMeasurement:
    """Return a reading whose line and gap are those of the drawing."""
    plan = face.plan
    at = np.linspace(0, plan.overlap_mm, 200)
    line = tuple(picture_point(plan, float(s)) for s in at)
    gap = math.hypot(plan.clearance_mm * plan.px_per_mm, 3.5)
    return FaceMeasurement(
        overlap_px=plan.overlap_mm * plan.px_per_mm,
        overlap_mm=plan.overlap_mm,
        overlap_mm_u=0.0,
        segments=(),
        unbrazed_share=0.0,
        u=0.0,
        interval95=(0.0, 0.0),
        unsure_share=0.0,
        needs_reader="",
        tube_end_px=face.tube_end,
        cup_face_px=face.cup_face,
        line=line,
        gap_px=gap,
        budget=(),
        method="as drawn",
        image_sha256="",
    )


def looked(face: DrawnFace, pixels: np.ndarray | None = None) -> Members:
    return look_members(
        photo_from_pixels(face.pixels if pixels is None else pixels), drawn_line(face)
    )


def surface(wall: Wall, name: str):
    return next(s for s in wall.surfaces if s.name == name)


@pytest.fixture(scope="module")
def tidy() -> DrawnFace:
    return draw_demo_face(VOIDS, seed=2, width_px=1200)


@pytest.fixture(scope="module")
def clean(tidy: DrawnFace) -> Members:
    return looked(tidy)


def test_the_walls_of_a_tidy_face_are_those_drawn(tidy: DrawnFace, clean: Members) -> None:
    scale, plan = tidy.plan.px_per_mm, tidy.plan
    for wall, truth in ((clean.tube, plan.wall_tube_mm), (clean.cup, plan.wall_cup_mm)):
        assert wall.state == "nothing-seen"
        assert wall.away is not None
        assert wall.thinnest is not None
        assert wall.loss is not None
        assert abs(wall.away.px - truth * scale) < 2 * wall.away.u_px
        assert abs(np.median(wall.profile_px) - truth * scale) < 2 * wall.thinnest.u_px
        assert abs(wall.loss.px) < 2 * wall.loss.u_px
    assert clean.tube.away_from == "beyond-the-cup-face"
    assert clean.cup.away_from == "behind-the-tube-end"


@pytest.mark.parametrize("clearance_mm", [0.08, 0.12, 0.2])
def test_the_clearance_is_that_drawn(clearance_mm: float) -> None:
    face = draw_demo_face(VOIDS, seed=4, width_px=1200, clearance_mm=clearance_mm)
    middle = looked(face).clearance.median
    assert middle is not None
    assert abs(middle.width_px - clearance_mm * face.px_per_mm) < 2 * middle.u_px


def test_a_gap_of_two_pixels_is_limited_by_the_picture() -> None:
    face = draw_demo_face(VOIDS, seed=4, width_px=1200, clearance_mm=0.025)
    found = looked(face).clearance
    assert found.state == "limited-by-the-picture"
    assert found.median is not None
    assert found.median.u_px > 0.3 * found.median.width_px
    truth = 0.025 * face.px_per_mm
    assert abs(found.median.width_px - truth) < 2 * found.median.u_px


@pytest.mark.parametrize("name", ["outer", "joint"])
@pytest.mark.parametrize("member", ["tube", "cup"])
def test_a_dip_deeper_than_the_stated_limit_is_raised_at_its_place(
    tidy: DrawnFace, clean: Members, member: str, name: str
) -> None:
    least = surface(getattr(clean, member), name).detectable_px
    dip = Dip(member, name, 0.55, 0.12, 1.3 * least)
    found = looked(tidy, eat(tidy.pixels, tidy.plan, dip))
    wall, other = getattr(found, member), getattr(found, "cup" if member == "tube" else "tube")
    assert wall.state == "raise"
    assert other.state == "nothing-seen"
    assert abs(wall.thinnest_at - 0.55) < 0.05
    assert surface(wall, name).dip_px == pytest.approx(1.3 * least, rel=0.25)
    x, y = picture_point(tidy.plan, wall.thinnest_at * tidy.plan.overlap_mm)
    assert math.dist(wall.thinnest_place, (x, y)) < 90


def test_a_dip_far_under_the_limit_is_not_raised(tidy: DrawnFace, clean: Members) -> None:
    least = surface(clean.tube, "outer").detectable_px
    dip = Dip("tube", "outer", 0.4, 0.12, 0.3 * least)
    assert looked(tidy, eat(tidy.pixels, tidy.plan, dip)).tube.state == "nothing-seen"


@pytest.mark.parametrize("style", ["field", "plate"])
def test_faces_as_drawn_raise_nothing(style: str) -> None:
    faces = [
        draw_face(seed, stream="testing", style=style, width_px=1200) for seed in range(9400, 9402)
    ]
    assert [seed for seed, f in enumerate(faces) if looked(f).raised] == []


def test_an_even_taper_is_no_dip() -> None:
    even = np.linspace(100, 92, STRETCHES)
    noise = np.random.default_rng(3).normal(0, 0.1, STRETCHES)
    dips = outer_dips(even + noise, np.full(STRETCHES, 80.0))
    found = judge_surface("outer", dips, gap_px=8)
    assert found is not None
    assert found.state == "nothing-seen"


def test_a_straying_line_is_no_dip() -> None:
    stray = 2 * np.exp(-(((np.arange(STRETCHES) - 15) / 2) ** 2))
    found = judge_surface("outer", outer_dips(90 - stray, 70 + stray), gap_px=8)
    assert found is not None
    assert found.state == "nothing-seen"


def test_the_limit_of_one_stretch_would_be_the_well_known_one() -> None:
    alone = 2 * NormalDist().inv_cdf(0.95)
    assert alone == pytest.approx(3.29, abs=0.005)  # Currie 1968, from memory
    critical, detectable = detection(1.0)
    assert critical < detectable
    assert detectable > alone


def test_the_error_of_a_raise_by_chance_alone_is_small() -> None:
    rng = np.random.default_rng(8)
    critical, _ = detection(1.0)
    deepest = rng.normal(0, 1, (20000, 4 * STRETCHES)).max(axis=1)
    assert 0.03 < np.mean(deepest > critical) < 0.06


def off_line(face: DrawnFace) -> np.ndarray:
    """Return how far each pixel lies off the line towards the tube, [mm]."""
    return -joint_fields(face.plan)[1]


def test_a_wall_in_resin_like_copper_has_a_reason_and_no_number(tidy: DrawnFace) -> None:
    pixels = tidy.pixels.copy()
    grey = pixels.max(axis=2).astype(int) - pixels.min(axis=2) < 30
    pixels[grey & (off_line(tidy) > 0.5)] = [90, 125, 190]
    found = looked(tidy, pixels).tube
    assert found.state == "not-measured"
    assert found.reason in ("outline-not-traced", "members-not-told-apart")
    assert (found.thinnest, found.loss, found.away, found.surfaces) == (None, None, None, ())


@pytest.mark.parametrize("light", [90.0, 180.0, 320.0])
def test_a_soft_glare_on_the_outline_is_no_dip(tidy: DrawnFace, light: float) -> None:
    rows, columns = np.indices(tidy.pixels.shape[:2])
    x, y = picture_point(tidy.plan, 0.5 * tidy.plan.overlap_mm, -tidy.plan.wall_tube_mm)
    spot = light * np.exp(-((columns - x) ** 2 + (rows - y) ** 2) / (2 * 45.0**2))
    pixels = np.clip(tidy.pixels + spot[..., None], 0, 255).astype(np.uint8)
    assert looked(tidy, pixels).tube.state != "raise"


def test_glare_all_along_a_wall_has_a_reason_and_no_number(tidy: DrawnFace) -> None:
    off = off_line(tidy) - tidy.plan.wall_tube_mm
    band = 320.0 * np.exp(-0.5 * (off / 0.4) ** 2)
    pixels = np.clip(tidy.pixels + band[..., None], 0, 255).astype(np.uint8)
    found = looked(tidy, pixels).tube
    assert found.state == "not-measured"
    assert found.reason in ("outline-not-traced", "members-not-told-apart")
    assert (found.thinnest, found.loss, found.away, found.surfaces) == (None, None, None, ())


def test_a_cropped_picture_measures_neither_the_cropped_wall_nor_its_loss(
    tidy: DrawnFace,
) -> None:
    y = picture_point(tidy.plan, tidy.plan.overlap_mm / 2, 0.5 * tidy.plan.wall_cup_mm)[1]
    high = tidy.pixels.shape[0]
    below = y > high / 2
    kept = slice(0, round(y)) if below else slice(round(y), high)
    shift = 0 if below else round(y)
    line = tuple((a, b - shift) for a, b in drawn_line(tidy).line)
    face = replace(drawn_line(tidy), line=line)
    found = look_members(photo_from_pixels(np.ascontiguousarray(tidy.pixels[kept])), face)
    assert found.cup.state == "not-measured"
    assert found.cup.reason == "outline-not-traced"
    assert found.tube.state == "nothing-seen"


def test_a_mouth_out_of_view_leaves_the_members_unnamed(tidy: DrawnFace) -> None:
    right = tidy.cup_face[0] > tidy.tube_end[0]
    edge = round(tidy.cup_face[0]) + (4 if right else -4)
    kept = slice(0, edge) if right else slice(edge, tidy.pixels.shape[1])
    shift = 0 if right else edge
    line = tuple((a - shift, b) for a, b in drawn_line(tidy).line)
    cropped = photo_from_pixels(np.ascontiguousarray(tidy.pixels[:, kept]))
    found = look_members(cropped, replace(drawn_line(tidy), line=line))
    assert found.tube.reason == found.cup.reason == "members-not-told-apart"
    assert found.clearance.median is not None


def test_grey_pictures_hold_no_copper(tidy: DrawnFace) -> None:
    grey = np.repeat(tidy.pixels.mean(axis=2, keepdims=True).astype(np.uint8), 3, axis=2)
    found = looked(tidy, grey)
    assert found.tube.reason == found.cup.reason == "no-copper"
    assert found.clearance.state == "not-measured"


def test_the_outside_width_of_a_half_section_is_that_drawn(tidy: DrawnFace) -> None:
    found = looked(tidy, half_section(tidy.pixels, tidy.plan, 2.0))
    assert found.edges is not None
    width = outside_width(half_section(tidy.pixels, tidy.plan, 2.0), found.edges)
    assert width is not None
    truth = (2.0 + 2 * tidy.plan.wall_tube_mm) * tidy.px_per_mm
    assert abs(width.px - truth) < 2 * width.u_px


def test_one_wall_alone_has_no_outside_width(tidy: DrawnFace, clean: Members) -> None:
    assert clean.edges is not None
    assert outside_width(tidy.pixels, clean.edges) is None


def test_a_document_has_millimetres_only_with_a_scale(clean: Members) -> None:
    bare, scaled = clean.as_dict(None), clean.as_dict(80.0, 0.01)
    assert bare["tube"]["away"]["mm"] is None
    assert bare["clearance"]["median"]["mm"] is None
    assert scaled["tube"]["away"]["mm"] == pytest.approx(bare["tube"]["away"]["px"] / 80)
    assert scaled["tube"]["away"]["u_mm"] > bare["tube"]["away"]["u_px"] / 80
    least = [s["detectable_mm"] for s in scaled["cup"]["surfaces"]]
    assert all(v > 0 for v in least)


def test_a_gap_that_shows_nowhere_is_not_measured() -> None:
    found = measure_clearance(np.full(STRETCHES, np.nan))
    assert (found.state, found.median) == ("not-measured", None)


@pytest.mark.parametrize("apparent", [4.0, 6.0, 12.0, 30.0])
def test_a_corrected_width_lies_between_its_bounds(apparent: float) -> None:
    width, u = corrected(np.array([apparent]))
    assert math.sqrt(max(apparent**2 - 4.6**2, 0)) <= width[0] <= apparent
    assert u[0] >= 0.5
