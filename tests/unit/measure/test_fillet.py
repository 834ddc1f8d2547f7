"""The fillet tells the colour of the filler; the truth is that of the drawing."""

from __future__ import annotations

import numpy as np
import pytest

from lapwright.measure.checks import blur_px
from lapwright.measure.drawing.looks import copper, filler
from lapwright.measure.fillet import see_fillet, told_apart
from lapwright.measure.hues import Optics
from lapwright.measure.settings import DEFAULT
from lapwright.measure.synthetic import draw_demo_face, draw_face
from lapwright.measure.trace import trace_line
from lapwright.measure.walls import (
    Outside,
    look_outside,
    measure_gap,
    profile_gap,
    relative_colour,
    strip_along,
)


def fillet_of(face):
    trace = trace_line(face.pixels, face.tube_end, face.cup_face, DEFAULT)
    strip = strip_along(face.pixels, trace, 60)
    gap = measure_gap(strip, max(2.0, 2.2 * trace.scale_px))
    profile = profile_gap(strip, gap, DEFAULT)
    outside = look_outside(face.pixels, trace, gap.width_px)
    optics = Optics(gap.width_px, blur_px(strip, 1.5 * gap.width_px + 4))
    return see_fillet(face.pixels, trace, profile, outside, optics)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_the_colour_seen_is_that_of_the_filler(seed: int) -> None:
    face = draw_demo_face(((0.3, 0.4, "open"),), seed=seed, width_px=1600)
    looks = face.plan.looks
    truth = relative_colour(filler(face.plan)[None], copper(looks)[None])[0]
    seen = fillet_of(face)
    assert seen is not None
    assert np.abs(seen.colour - truth).max() < 0.12


def test_the_fillet_of_most_disturbed_faces_is_seen_and_near_the_truth() -> None:
    near = 0
    for seed in range(8200, 8210):
        face = draw_face(seed, stream="testing", style="field", width_px=1400)
        truth = relative_colour(filler(face.plan)[None], copper(face.plan.looks)[None])[0]
        seen = fillet_of(face)
        near += int(seen is not None and np.abs(seen.colour - truth).max() < 0.2)
    assert near >= 7


def test_resin_at_the_mouth_is_no_fillet() -> None:
    face = draw_demo_face(((0.3, 0.4, "open"),), seed=2, width_px=1600)
    x, y = (round(v) for v in face.cup_face)
    resin = face.pixels[5:25, 5:25].reshape(-1, 3).mean(axis=0)
    bare = face.pixels.copy()
    reach = 40
    bare[y - reach : y + reach, x + 1 : x + 2 * reach] = resin
    assert fillet_of(type(face)(**{**face.__dict__, "pixels": bare})) is None


@pytest.mark.parametrize(("wide", "seen"), [(3, "no"), (40, "yes")])
def test_a_colour_between_copper_and_resin_counts_only_where_it_is_wide(
    wide: int, seen: str
) -> None:
    copper, resin = np.zeros(3), np.array([-0.6, 0.3, 0.0])
    tone = np.broadcast_to(copper, (60, 80, 3)).copy()
    tone[:, 40:] = resin
    tone[:, 40 - wide // 2 : 40 + wide - wide // 2] = 0.5 * resin
    found = told_apart(tone, Outside((resin,)), blur_px=1.0)
    assert ("yes" if found.any() else "no") == seen


def test_a_colour_of_its_own_counts_however_narrow() -> None:
    tone = np.zeros((60, 80, 3))
    tone[:, 40:42] = [0.4, 0.7, 0.05]
    found = told_apart(tone, Outside((np.array([-0.6, 0.3, 0.0]),)), blur_px=1.0)
    assert found.sum() == 2 * 60


def test_a_pale_fillet_is_told_from_pale_resin_and_shaded_resin_is_not() -> None:
    resin = np.array([0.1, 0.8, 0.04])
    tone = np.broadcast_to(resin, (60, 80, 3)).copy()
    tone[:, :40] = resin + np.array([0.15, -0.08, 0.02])
    tone[:, 40:60] = resin + np.array([0.05, 0.03, 0.0])
    found = told_apart(tone, Outside((resin,)), blur_px=1.0)
    assert found[:, :40].all()
    assert not found[:, 40:].any()
