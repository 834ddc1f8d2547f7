"""What must not change the share: rotation, size, mirror, brightness; and what loupes must keep."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.measure.errors import EndsSwapped
from lapwright.measure.face import read_face
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.loupe import read_loupe
from lapwright.measure.synthetic import draw_demo_face

FACE = draw_demo_face([(0.15, 0.27, "open"), (0.6, 0.66, "residue")], seed=9, width_px=1300)
ENDS = np.array([FACE.tube_end, FACE.cup_face])
READING = read_face(photo_from_pixels(FACE.pixels), FACE.tube_end, FACE.cup_face)


def again(matrix: np.ndarray, size: tuple[int, int], gain: float = 1.0):
    """Read the face after a plane map of the picture and a gain of the light."""
    pixels = cv2.warpAffine(
        FACE.pixels, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    pixels = np.clip(pixels * gain, 0, 255).astype(np.uint8)
    ends = ENDS @ matrix[:, :2].T + matrix[:, 2]
    return read_face(photo_from_pixels(pixels), tuple(ends[0]), tuple(ends[1]))


def spread(reading) -> float:
    return 2 * float(np.hypot(reading.u, READING.u))


@settings(max_examples=6)
@given(st.floats(-180, 180))
def test_rotation_leaves_the_share_within_its_spread(degrees: float) -> None:
    size = (1500, 1500)
    turn = cv2.getRotationMatrix2D((650.0, 430.0), degrees, 1.0)
    turn[:, 2] += (750 - 650, 750 - 430)
    reading = again(turn, size)
    assert abs(reading.unbrazed_share - READING.unbrazed_share) <= spread(reading)


@settings(max_examples=5)
@given(st.floats(0.6, 1.5))
def test_size_leaves_the_share_within_its_spread(factor: float) -> None:
    shift = (factor - 1) / 2
    matrix = np.array([[factor, 0, shift], [0, factor, shift]])
    high, wide = FACE.pixels.shape[:2]
    reading = again(matrix, (int(wide * factor), int(high * factor)))
    assert abs(reading.unbrazed_share - READING.unbrazed_share) <= spread(reading)


@pytest.mark.parametrize(
    "matrix",
    [
        [[-1, 0, 1299], [0, 1, 0]],
        [[1, 0, 0], [0, -1, 857]],
        [[0, 1, 0], [1, 0, 0]],
    ],
)
def test_a_mirror_leaves_the_share_within_its_spread(matrix) -> None:
    high, wide = FACE.pixels.shape[:2]
    swap = matrix[0][0] == 0
    reading = again(np.array(matrix, float), (high, wide) if swap else (wide, high))
    assert abs(reading.unbrazed_share - READING.unbrazed_share) <= spread(reading)


@settings(max_examples=4)
@given(st.floats(0.6, 1.05))
def test_brightness_leaves_the_share_within_its_spread(gain: float) -> None:
    high, wide = FACE.pixels.shape[:2]
    reading = again(np.eye(2, 3), (wide, high), gain)
    assert abs(reading.unbrazed_share - READING.unbrazed_share) <= spread(reading)


def test_swapped_ends_are_refused_and_read_as_given_agree_within_their_intervals() -> None:
    """Read backwards the fillet is not where it is looked for, so classes may weigh otherwise."""
    photo = photo_from_pixels(FACE.pixels)
    with pytest.raises(EndsSwapped):
        read_face(photo, FACE.cup_face, FACE.tube_end)
    back = read_face(photo, FACE.cup_face, FACE.tube_end, snap="no")
    assert back.unbrazed_share == pytest.approx(READING.unbrazed_share, abs=0.02)
    assert back.interval95[0] <= READING.interval95[1]
    assert READING.interval95[0] <= back.interval95[1]


tenths = st.integers(1, 400).map(lambda n: Decimal(n) / 10)


@given(tenths, st.lists(st.integers(0, 400), min_size=2, max_size=8, unique=True))
def test_a_loupe_share_is_the_exact_sum_over_the_overlap(overlap: Decimal, marks) -> None:
    cuts = sorted(Decimal(m) / 400 * overlap for m in marks)
    runs = list(zip(cuts[::2], cuts[1::2], strict=False))
    reading = read_loupe(overlap, runs, resolution_mm="0.1")
    exact = sum((Fraction(b) - Fraction(a) for a, b in runs), Fraction(0)) / Fraction(overlap)
    assert Fraction(*reading.share_exact) == exact
    assert reading.interval95[0] <= reading.unbrazed_share <= reading.interval95[1]


@given(st.integers(1, 9), st.integers(1, 9))
def test_a_coarser_instrument_never_gives_a_tighter_interval(fine: int, more: int) -> None:
    steps = [Decimal(fine) / 100, Decimal(fine + more) / 100]
    first, second = (read_loupe("20", ["2", "1.5"], resolution_mm=s) for s in steps)
    assert second.u > first.u
