"""Runs that are mottle are joined; those of a known material end where its hue ends."""

from __future__ import annotations

import numpy as np
import pytest

from lapwright.measure.runs import Run, join_mottled
from lapwright.measure.settings import DEFAULT

STEPS = 1000
FILLER = np.array([-0.18, 0.04, -0.01])


def run(start: int, end: int, colour: np.ndarray) -> Run:
    spread = np.diag([0.015**2, 0.019**2, 0.011**2]) * 4 / (end - start)
    return Run(start, end, colour, spread, 0.0, 1.0)


class Steps:
    """As much of a series as is asked for: its number of steps."""

    colour = np.zeros((STEPS, 3))


@pytest.mark.parametrize(("bluer", "ends"), [(0.1, [250, 285]), (0.02, [])])
def test_a_pocket_as_light_as_the_filler_is_kept_apart_by_its_hue(
    bluer: float, ends: list[int]
) -> None:
    hue = np.array([0.0, bluer, 0.0])
    pieces = [
        run(0, 250, FILLER),
        run(250, 265, FILLER + hue),
        run(265, 275, FILLER + 0.8 * hue + np.array([0.02, 0.0, 0.0])),
        run(275, 285, FILLER + hue),
        run(285, 305, FILLER),
        run(305, 1000, FILLER),
    ]
    joined = join_mottled(pieces, Steps(), DEFAULT, gap_px=3.8)
    assert [one.end for one in joined[:-1]] == ends
