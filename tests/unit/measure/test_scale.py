"""Lines of known length and lengths taken with a scale. Witness: `uncertainties`, arithmetic."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from PIL import Image
from uncertainties import ufloat

from lapwright.measure import errors
from lapwright.measure.drawing.views import Camera
from lapwright.measure.resolution import said_px_per_mm
from lapwright.measure.scale import (
    LENS_REL_U,
    LINE_REL_U,
    TILT_REL_U,
    length_along,
    line_scale,
    typed_scale,
)
from lapwright.measure.scalecard import card_scale
from unit.measure.card_views import CARDS, view

LINE = np.array([[0.0, 0.0], [300.0, 400.0]])


def test_a_line_gives_its_scale_with_the_spread_of_its_parts() -> None:
    """Outside witness: the package `uncertainties`."""
    scale = line_scale((10.0, 20.0), (910.0, 20.0), length_mm=20.0, click_u_px=1.5)
    assert scale.px_per_mm == 45.0
    px = ufloat(910, 1.5) - ufloat(10, 1.5)
    factor = math.prod(ufloat(1, u) for u in (LINE_REL_U, TILT_REL_U, LENS_REL_U))
    assert scale.u == pytest.approx((px * factor / 20.0).std_dev, rel=1e-6)


def test_a_length_follows_the_arc_and_feels_its_ends() -> None:
    scale = typed_scale(50.0, 0.5)
    length = length_along(scale, LINE, arc_px=505.0, end_u_px=3.0)
    assert length.mm == pytest.approx(10.1)
    expected = ufloat(505.0, math.sqrt(2) * 3) / ufloat(50.0, 0.5)
    assert length.u_mm == pytest.approx(expected.std_dev, rel=1e-9)


@pytest.mark.parametrize(
    ("start", "end", "mm"),
    [
        ((0.0, 0.0), (30.0, 0.0), 5.0),
        ((0.0, 0.0), (300.0, 0.0), 0.0),
        ((0.0, 0.0), (300.0, 0.0), math.inf),
        ((math.nan, 0.0), (300.0, 0.0), 5.0),
    ],
)
def test_a_line_that_is_none_is_refused(start, end, mm) -> None:
    with pytest.raises(errors.ScaleLineRefused, match="MEAS-058"):
        line_scale(start, end, length_mm=mm)


def test_a_scale_too_loose_for_a_length_is_refused() -> None:
    with pytest.raises(errors.ScaleTooLoose, match="MEAS-057"):
        line_scale((0.0, 0.0), (45.0, 0.0), length_mm=1.0, click_u_px=3.0)
    with pytest.raises(errors.ScaleTooLoose, match="MEAS-057"):
        length_along(typed_scale(50.0, 5.0), LINE, arc_px=500.0)


def test_a_joint_far_from_a_small_card_is_less_certain() -> None:
    camera = Camera((1400, 1000), 14.0, 15, axis_deg=60, focal_px=3000)
    card = CARDS["LW1-2"]
    near = view(camera, card, at_mm=(-28, -20), line=((-38, -12), (-20, -12)), seed=4)
    far = view(camera, card, at_mm=(-28, -20), line=((25, 25), (43, 25)), seed=4)
    scale = card_scale(near.photo)
    fits = [
        dict(length_along(scale, v.line_px, arc_px=v.arc_px).parts)["corners"] for v in (near, far)
    ]
    assert fits[1] > 3 * fits[0]


@pytest.mark.parametrize("values", [(0.0, None), (-1.0, None), (50.0, -1.0), (math.nan, None)])
def test_a_typed_scale_that_is_none_is_refused(values) -> None:
    with pytest.raises(errors.ScaleRefused, match="MEAS-017"):
        typed_scale(*values)


def _picture(kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (80, 80), "red").save(out, kind, **options)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_a_stated_resolution_is_read(kind: str) -> None:
    said = said_px_per_mm(_picture(kind, dpi=(1270, 1270)))
    assert said == pytest.approx(50.0, rel=1e-3)


@pytest.mark.parametrize("dpi", [72, 96, 300])
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_figures_that_nobody_measured_are_not_used(kind: str, dpi: int) -> None:
    assert said_px_per_mm(_picture(kind, dpi=(dpi, dpi))) is None


def test_a_file_that_says_nothing_says_nothing() -> None:
    assert said_px_per_mm(_picture("PNG")) is None
    assert said_px_per_mm(b"no picture") is None


def test_exif_in_centimetres_counts_before_the_density() -> None:
    exif = Image.Exif()
    exif[282], exif[296] = 400.0, 3
    assert said_px_per_mm(_picture("JPEG", exif=exif, dpi=(1270, 1270))) == pytest.approx(40.0)
