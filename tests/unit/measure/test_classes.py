"""Classes of runs made by hand: what is what is set by the test, not by a drawing."""

from __future__ import annotations

import numpy as np
import pytest

from lapwright.measure.chain import run_chain
from lapwright.measure.classes import Classed, Known, class_runs
from lapwright.measure.fillet import Fillet
from lapwright.measure.hues import Optics
from lapwright.measure.runs import Run
from lapwright.measure.settings import DEFAULT
from lapwright.measure.walls import Outside

COPPER = np.array([80.0, 110.0, 170.0])
RESIN = np.array([-0.7, 0.15, 0.0])
SILVER = np.array([0.3, 0.55, 0.03])
GREEN = np.array([0.0, 0.2, 0.16])
WIDE = Optics(gap_px=14.0, blur_px=1.0)


def runs_of(*pieces: tuple[int, np.ndarray]) -> list[Run]:
    found, at = [], 0
    for steps, colour in pieces:
        spread = np.diag([0.02**2, 0.015**2, 0.006**2]) * 20 / max(steps, 1)
        found.append(Run(at, at + steps, np.asarray(colour, float), spread, 0.0, 1.0))
        at += steps
    return found


def classed(*pieces: tuple[int, np.ndarray], fillet: Fillet | None = None) -> Classed:
    runs = runs_of(*pieces)
    known = Known(Outside((RESIN, RESIN)), COPPER, WIDE, fillet)
    return class_runs(runs, known, steps=runs[-1].end, settings=DEFAULT)


def fillet_like(colour: np.ndarray) -> Fillet:
    shades = np.linspace(0.9, 1.05, 8)[:, None]
    return Fillet(colour, shades * colour)


def test_filler_like_its_fillet_is_brazed_and_resin_is_a_void() -> None:
    seen = classed((400, SILVER), (200, RESIN), (600, SILVER), fillet=fillet_like(SILVER))
    assert seen.unbrazed[0] < 0.02
    assert seen.unbrazed[2] < 0.02
    assert seen.unbrazed[1] > 0.98


def test_green_residue_beside_filler_like_its_fillet_is_a_void() -> None:
    seen = classed((400, SILVER), (150, GREEN), (650, SILVER), fillet=fillet_like(SILVER))
    assert seen.unbrazed[1] > 0.9


COPPERY = np.array([0.02, 0.05, 0.0])
BROWN = np.array([-0.17, 0.12, 0.07])


def test_a_fill_that_is_not_the_fillets_is_never_surely_brazed() -> None:
    """Residue near the colour of the filler, from end to end or over a part."""
    whole = classed((1200, BROWN), fillet=fillet_like(COPPERY))
    assert whole.unbrazed[0] > 0.15
    part = classed((800, COPPERY), (100, BROWN), (300, COPPERY), fillet=fillet_like(COPPERY))
    assert part.unbrazed[1] > 0.15
    assert part.unbrazed[0] < 0.15


def test_what_hardly_looks_like_the_fillet_is_counted() -> None:
    hardly = COPPERY + np.array([-0.16, 0.03, 0.0])
    seen = classed((900, COPPERY), (300, hardly), fillet=fillet_like(COPPERY))
    assert seen.unbrazed[1] < 0.15
    assert seen.unlike_fillet == pytest.approx(0.25, abs=0.03)
    same = classed((1200, COPPERY), fillet=fillet_like(COPPERY))
    assert same.unlike_fillet == 0


@pytest.mark.parametrize("rim", [np.zeros(3), RESIN])
def test_a_fillet_that_shows_its_rim_in_some_spots_vouches_for_nothing_else(
    rim: np.ndarray,
) -> None:
    looks = np.concatenate([np.tile(SILVER, (40, 1)), np.tile(0.5 * (SILVER + rim), (10, 1))])
    between = 0.5 * (SILVER + rim) + np.array([0.0, 0.02, 0.02])
    seen = classed((1200, between), fillet=Fillet(SILVER, looks))
    assert seen.unbrazed[0] > 0.15


@pytest.mark.parametrize(("filled", "brazed"), [(0.8, "yes"), (0.2, "no")])
def test_a_pore_counts_when_more_than_half_of_the_gap_is_empty(filled: float, brazed: str) -> None:
    mixed = filled * SILVER + (1 - filled) * RESIN
    seen = classed((500, SILVER), (12, mixed), (688, SILVER), fillet=fillet_like(SILVER))
    assert ("yes" if seen.unbrazed[1] < 0.5 else "no") == brazed


def test_short_copper_rich_grains_do_not_make_filler_doubtful() -> None:
    grains = [(30, SILVER * (0.65 if k % 2 else 1.0)) for k in range(40)]
    seen = classed(*grains, fillet=fillet_like(SILVER))
    length = np.full(40, 1 / 40)
    assert float(seen.unbrazed @ length) < 0.05


def test_a_long_paler_stretch_is_no_second_phase() -> None:
    """Grains are short; a third of the line in another look stays in doubt."""
    paler = classed((800, SILVER), (400, 0.4 * SILVER)).unbrazed
    assert float(paler @ [2 / 3, 1 / 3]) > 0.1


def test_one_even_look_without_a_fillet_keeps_the_doubt_that_nothing_flowed() -> None:
    dark = np.array([-0.4, 0.3, 0.04])
    assert classed((1200, dark)).unbrazed[0] > 0.025
    assert classed((1200, SILVER), fillet=fillet_like(SILVER)).unbrazed[0] < 0.025


def test_twenty_pieces_of_one_look_are_as_likely_with_filler_as_without() -> None:
    filled = np.full((1, 20, 3), 1e-6)
    filled[..., 0] = 5.0
    empty = np.full((1, 20, 3), 1e-6)
    empty[..., 2] = 5.0
    nothing, length = np.zeros(20), np.zeros((20, 3))
    _, some = run_chain(filled, nothing, length, DEFAULT)
    _, none = run_chain(empty, nothing, length, DEFAULT, filler="none")
    assert abs(float(some[0] - none[0])) < 3  # of 20 pieces; uneven weights would give 10 and more
