"""Copper is told by hue from resin, red resin included."""

from __future__ import annotations

import numpy as np
import pytest

from lapwright.measure.copper import copper_hue, copper_likeness, hues

COPPER = (96, 130, 200)
OTHERS = {
    "grey resin": (120, 122, 118),
    "red resin": (35, 38, 110),
    "brown resin": (30, 48, 130),
    "blue resin": (160, 110, 60),
    "dark bench": (45, 50, 56),
    "pale resin": (180, 200, 205),
}


def picture(other: tuple[int, int, int], light: float = 1.0) -> np.ndarray:
    pixels = np.zeros((60, 100, 3), float)
    pixels[:, :50], pixels[:, 50:] = COPPER, other
    noise = np.random.default_rng(1).normal(0, 3, pixels.shape)
    return np.clip(pixels * light + noise, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("name", OTHERS)
@pytest.mark.parametrize("light", [0.6, 1.0, 1.2])
def test_copper_is_told_from_what_surrounds_it(name: str, light: float) -> None:
    pixels = picture(OTHERS[name], light)
    found = hues(pixels)
    own = copper_hue(pixels, found)
    assert own is not None
    like = copper_likeness(found, own)
    assert like[:, :50].mean() > 0.9
    assert like[:, 50:].mean() < 0.1


def test_a_picture_without_copper_has_no_copper_hue() -> None:
    grey = np.full((50, 50, 3), 130, np.uint8)
    assert copper_hue(grey, hues(grey)) is None
