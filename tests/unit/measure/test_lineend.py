"""The end of a tube pushed home is where the line ends in whole copper; truth is drawn here."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from lapwright.measure.copper import copper_hues, hues, lightness, not_darker
from lapwright.measure.find import find_joints
from lapwright.measure.lineend import line_end, line_ends
from lapwright.measure.settings import DEFAULT

COPPER, RESIN, FILLER = (100, 135, 205), (40, 42, 45), (190, 195, 200)
TUBE_END, CUP_FACE, ROW = 300.0, 900.0, 330


def pushed_home(resin: tuple[int, int, int] = RESIN, line: bool = True) -> np.ndarray:
    """A tube from the right against the stop of its fitting: no gap breaks the copper."""
    picture = np.full((640, 1200, 3), resin, np.uint8)
    cv2.rectangle(picture, (0, 240), (int(CUP_FACE), ROW), COPPER, -1)
    cv2.rectangle(picture, (int(TUBE_END), ROW), (1199, 400), COPPER, -1)
    cv2.rectangle(picture, (0, ROW), (int(TUBE_END), 385), COPPER, -1)
    if line:
        cv2.line(picture, (int(TUBE_END), ROW), (int(CUP_FACE), ROW), FILLER, 4)
        cv2.line(picture, (600, ROW), (700, ROW), resin, 4)
    noise = np.random.default_rng(2).normal(0, 3, picture.shape)
    soft = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 0.8)
    return np.clip(soft + noise, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("resin", [RESIN, (205, 208, 206), (36, 40, 115), (70, 95, 60)])
def test_a_tube_pushed_home_is_found_by_the_end_of_its_line(resin) -> None:
    best = find_joints(pushed_home(resin), DEFAULT)[0]
    assert best.confidence > DEFAULT.plain_joint
    assert abs(best.ends.tube_end[0] - TUBE_END) < 0.02 * (CUP_FACE - TUBE_END)
    assert abs(best.ends.cup_face[0] - CUP_FACE) < 0.02 * (CUP_FACE - TUBE_END)


def test_the_same_outline_without_a_line_is_no_joint() -> None:
    found = find_joints(pushed_home(line=False), DEFAULT)
    assert all(c.confidence < DEFAULT.likely_joint for c in found)


def test_a_line_ends_where_it_was_drawn_to_end() -> None:
    seen = np.where(np.arange(400) >= 130, 0.9, 0.05)
    assert line_end(seen, 60, 250, 20) == (130.0, pytest.approx(0.85))
    assert abs(line_ends(seen, 20)[0] - 130) <= 1
    assert line_ends(np.full(400, 0.6), 20) == []


def test_copper_in_the_shade_is_told_from_polished_copper() -> None:
    picture = np.zeros((80, 100, 3), np.float32)
    picture[:, :50], picture[:, 50:] = COPPER, np.array(COPPER) * 0.4
    found = copper_hues(picture, hues(picture))
    light = lightness(picture)
    kept = not_darker(light, found[0].light)
    assert kept[:, :50].min() > 0.9
    assert kept[:, 50:].max() < 0.1
