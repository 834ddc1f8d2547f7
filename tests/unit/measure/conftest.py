"""Drawn faces shared by the tests of the measuring package; all of the testing stream."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import pytest

from lapwright.measure.face import read_face
from lapwright.measure.image import Photo, photo_from_pixels
from lapwright.measure.synthetic import DrawnFace, draw_demo_face, draw_face
from lapwright.measure.values import FaceMeasurement

VOIDS = ((0.12, 0.2, "open"), (0.4, 0.47, "residue"), (0.8, 0.85, "open"))


@lru_cache(maxsize=64)
def drawn(seed: int, style: str) -> DrawnFace:
    return draw_face(seed, stream="testing", width_px=1400, style=style)


@pytest.fixture(scope="session")
def face_of() -> Callable[[int, str], DrawnFace]:
    return drawn


@pytest.fixture(scope="session")
def tidy() -> DrawnFace:
    return draw_demo_face(VOIDS, seed=5, width_px=1400)


@pytest.fixture(scope="session")
def tidy_photo(tidy: DrawnFace) -> Photo:
    return photo_from_pixels(tidy.pixels)


@pytest.fixture(scope="session")
def tidy_reading(tidy: DrawnFace, tidy_photo: Photo) -> FaceMeasurement:
    return read_face(tidy_photo, tidy.tube_end, tidy.cup_face)


@pytest.fixture
def plain_copper() -> np.ndarray:
    """Copper all over, with the noise of a camera."""
    noise = np.random.default_rng(1).normal(0, 2, (400, 900, 3))
    return np.clip(np.array([95.0, 130.0, 200.0]) + noise, 0, 255).astype(np.uint8)
