"""Stage micrometers. Witness: the exact geometry of the drawing; other pictures are refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
import skimage.data

from lapwright.measure import errors
from lapwright.measure.drawing.views import Camera, Wear, draw_graduations
from lapwright.measure.graduations import micrometer_scale
from lapwright.measure.image import Photo, photo_from_pixels

SIZE = (900, 640)


def ruling(
    spacing: float = 20.0, *, turn: float = 0.0, wear: Wear | None = None, seed: int = 0, **tilt
) -> Photo:
    camera = Camera(SIZE, spacing / 0.1, turn_deg=turn, focal_px=4000, **tilt)
    return photo_from_pixels(
        draw_graduations(camera, pitch_mm=0.1, divisions=100, line_mm=0.025, wear=wear, seed=seed)
    )


@pytest.mark.parametrize("spacing", [8.3, 20.0, 37.7])
@pytest.mark.parametrize("turn", [0.0, 31.0, 90.0, -163.0])
def test_the_scale_is_that_of_the_drawing(spacing: float, turn: float) -> None:
    scale = micrometer_scale(ruling(spacing, turn=turn), pitch_mm=0.1)
    assert scale.px_per_mm == pytest.approx(spacing / 0.1, rel=2e-3)
    assert abs(scale.px_per_mm - spacing / 0.1) < 2 * scale.u


@pytest.mark.parametrize("seed", range(6))
def test_blur_noise_and_light_lines_do_not_matter(seed: int) -> None:
    rng = np.random.default_rng(seed)
    drawn = ruling(24.0, turn=rng.uniform(-90, 90), wear=Wear(2.2, 9.0, 80), seed=seed)
    scale = micrometer_scale(drawn, pitch_mm=0.1)
    assert scale.px_per_mm == pytest.approx(240.0, rel=2e-3)
    turned = photo_from_pixels(255 - drawn.pixels)
    assert micrometer_scale(turned, pitch_mm=0.1).px_per_mm == pytest.approx(240.0, rel=2e-3)


def test_longer_lines_do_not_become_the_pitch() -> None:
    """Every tenth line is 1.8 times as long as the others; the period must stay theirs."""
    scale = micrometer_scale(ruling(20.0), pitch_mm=0.1)
    assert dict(scale.facts)["spacing_px"] == pytest.approx(20.0, rel=1e-3)


def stripes(strengths: tuple[float, ...], spacing: float = 20.0) -> Photo:
    x = np.arange(SIZE[0])
    row = np.full(SIZE[0], 215.0)
    for k, place in enumerate(np.arange(30.0, SIZE[0] - 30, spacing)):
        row -= 150 * strengths[k % len(strengths)] * np.exp(-((x - place) ** 2) / 8)
    grey = np.repeat(row[None], SIZE[1], axis=0)
    grey += np.random.default_rng(2).normal(0, 2, grey.shape)
    return photo_from_pixels(np.dstack([np.clip(grey, 0, 255).astype(np.uint8)] * 3))


def test_fainter_lines_between_the_others_are_ambiguous() -> None:
    micrometer_scale(stripes((1.0,)), pitch_mm=0.1)
    with pytest.raises(errors.GraduationsAmbiguous, match="MEAS-060"):
        micrometer_scale(stripes((1.0, 0.3)), pitch_mm=0.1)


def test_two_rulings_in_one_picture_are_ambiguous() -> None:
    upper, lower = stripes((1.0,), 20.0).pixels, stripes((1.0,), 27.0).pixels
    both = np.vstack([upper[:320], lower[:320]])
    with pytest.raises(errors.GraduationsAmbiguous, match="MEAS-060"):
        micrometer_scale(photo_from_pixels(both), pitch_mm=0.1)


def test_a_slanted_micrometer_is_refused() -> None:
    camera = Camera(SIZE, 200.0, tilt_deg=9, axis_deg=90, focal_px=1500)
    drawn = draw_graduations(camera, pitch_mm=0.1, divisions=100, line_mm=0.025)
    with pytest.raises(errors.GraduationsUneven, match="MEAS-061"):
        micrometer_scale(photo_from_pixels(drawn), pitch_mm=0.1)


@pytest.mark.parametrize("pitch", [0.0, -0.1, math.nan, math.inf])
def test_a_pitch_that_is_none_is_refused(pitch: float) -> None:
    with pytest.raises(errors.PitchRefused, match="MEAS-062"):
        micrometer_scale(ruling(), pitch_mm=pitch)


@pytest.mark.parametrize("name", ["astronaut", "camera", "coffee", "coins", "moon", "retina"])
def test_pictures_of_other_things_hold_no_graduations(name: str) -> None:
    values = getattr(skimage.data, name)()
    values = np.dstack([values] * 3) if values.ndim == 2 else values[..., :3]
    with pytest.raises(errors.NoGraduations, match="MEAS-059"):
        micrometer_scale(photo_from_pixels(np.ascontiguousarray(values)), pitch_mm=0.1)


def test_too_few_lines_are_refused() -> None:
    with pytest.raises(errors.NoGraduations, match="MEAS-059"):
        micrometer_scale(stripes((1.0,), 140.0), pitch_mm=0.1)
