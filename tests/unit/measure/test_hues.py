"""Hues apart from copper, and what blur leaves. Witness: a blurred box drawn by OpenCV."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from lapwright.measure.hues import Optics, absolute_hues, dilutions
from lapwright.measure.settings import DEFAULT
from lapwright.measure.walls import relative_colour

COPPERS = [
    np.array(c) for c in ([84.0, 120.0, 200.0], [116.0, 148.0, 200.0], [100.0, 134.0, 200.0])
]


def hues_of(fill, copper):
    colour = relative_colour(np.array([fill], float), copper)
    return absolute_hues(colour, np.zeros((1, 3, 3)), copper)


@pytest.mark.parametrize("copper", COPPERS)
def test_paled_copper_is_not_green_whatever_the_copper(copper) -> None:
    for part in (0.0, 0.5, 1.0):
        paled = 1.3 * np.exp(part * np.log(copper) + (1 - part) * np.log(copper.mean()))
        assert hues_of(paled, copper).looks[0, 2] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("copper", COPPERS)
def test_a_green_fill_keeps_its_green_whatever_the_copper(copper) -> None:
    looks = hues_of([100.0, 130.0, 100.0], copper).looks[0]
    assert looks[1] == pytest.approx(0.0, abs=1e-9)
    assert looks[2] == pytest.approx(np.log(1.3), abs=1e-9)


@pytest.mark.parametrize(("width", "blur"), [(6, 1.0), (10, 1.5), (16, 0.8)])
def test_the_contrast_left_is_that_of_a_blurred_box(width: int, blur: float) -> None:
    fine = 20
    row = np.zeros((1, 100 * fine), np.float64)
    row[0, 50 * fine - width * fine // 2 : 50 * fine + width * fine // 2] = 1
    blurred = cv2.GaussianBlur(row, (0, 1), blur * fine, sigmaY=0.01)[0]
    reach = DEFAULT.core_of_gap / 2 * width
    at = 50 * fine + np.linspace(-reach, reach, 401) * fine
    left = float(np.interp(at, np.arange(row.size) + 0.5, blurred).mean())
    assert dilutions(Optics(width, blur), DEFAULT)[0][0][0] == pytest.approx(left, abs=0.02)


def test_thinner_gaps_and_more_blur_keep_less() -> None:
    def kept(gap: float, blur: float) -> float:
        return sum(share[0] * chance for share, chance in dilutions(Optics(gap, blur), DEFAULT))

    assert kept(4, 1) < kept(8, 1) < kept(20, 1) <= 1
    assert kept(6, 2) < kept(6, 1)


def test_the_suppositions_about_blur_have_probabilities() -> None:
    assert sum(chance for _, chance in dilutions(Optics(7, 1), DEFAULT)) == pytest.approx(1)
