"""Trade habits checked as habits: common practice, no source.

A 1-1/2 in type L coupon with braze-depth cups is said to serve 5/8 in through
2 in, and a smaller coupon to be needed to reach 1/4 in. The sum reproduces
this where a fitting's wall is about that of type M tube; the exact condition
at the lower end is wall(1/2 fitting) < .030 in <= wall(5/8 fitting).
"""

from __future__ import annotations

from datetime import date

import pytest

from lapwright.core.evidence import Basis, RangeTable
from lapwright.core.outcomes import Outcome
from lapwright.core.quantities import length
from lapwright.reference.fittings import cup
from lapwright.reference.tube import tube
from lapwright.rules.joblist import list_sizes
from lapwright.rules.ranges import TestedJoint
from lapwright.rules.rulebook import Adopted
from lapwright.rules.thickness import CouponWalls

from .adopting import adopted

DAY = date(2026, 1, 5)
KIND = "K ASME B16.50"
PRACTICE = ["5/8", "3/4", "1", "1-1/4", "1-1/2", "2"]


@pytest.fixture(scope="module")
def in_force() -> Adopted:
    return adopted(["asme-bpvc-ix 2023", "programme 1"])


def _coupon(size: str) -> TestedJoint:
    wall = tube("ASTM B819", size, type_="L").wall_nominal
    return TestedJoint(
        "K",
        "K1",
        "D",
        "TB",
        "manual",
        ("107", "107"),
        "103",
        "rod",
        "socket",
        "none",
        cup("ASME B16.50", size).depth_min,
        CouponWalls(wall, None, "L"),
        KIND,
    )


def _served(
    size: str,
    in_force: Adopted,
    *,
    readings: tuple[str, ...] = ("S1", "S4"),
    walls: dict[str, str] | None = None,
) -> list[str]:
    """Sizes of type L with braze cups, table depth against table depth (no allowance)."""
    tables = ()
    if walls:
        adopted_walls = {s: length(w) for s, w in walls.items()}
        tables = (RangeTable("T", KIND, tuple(walls), "lead", DAY, adopted_walls),)
    basis = Basis(
        ("asme-bpvc-ix 2023",),
        "simple",
        readings,
        DAY,
        "lead",
        {"cup_allowance": "0.000 in"},
        range_tables=tables,
    )
    rows = list_sizes([_coupon(size)], basis, None, adopted=in_force)
    return [
        r.size
        for r in rows
        if r.tube_type == "L"
        and r.fitting == "ASME B16.50"
        and r.position == "D"
        and r.verdict.outcome is Outcome.MET
    ]


def test_an_inch_and_a_half_coupon_serves_five_eighths_through_two(in_force: Adopted) -> None:
    assert _served("1-1/2", in_force) == PRACTICE


def test_a_smaller_coupon_is_needed_to_reach_a_quarter(in_force: Adopted) -> None:
    assert "1/4" not in _served("1-1/2", in_force)
    assert _served("3/4", in_force)[0] == "1/4"


@pytest.mark.parametrize(
    ("half", "five_eighths", "lowest"),
    [
        ("0.029 in", "0.030 in", "5/8"),
        ("0.0299 in", "0.0300 in", "5/8"),
        ("0.030 in", "0.031 in", "1/2"),
        ("0.029 in", "0.0299 in", "3/4"),
    ],
)
def test_the_lower_end_hangs_on_the_fitting_wall_alone(
    in_force: Adopted, half: str, five_eighths: str, lowest: str
) -> None:
    walls = {"1/2": half, "5/8": five_eighths, "3/4": "0.033 in", "1": "0.040 in"}
    assert _served("1-1/2", in_force, readings=("S3",), walls=walls)[0] == lowest


def test_the_pair_of_coupons_serves_a_quarter_through_two(in_force: Adopted) -> None:
    both = set(_served("3/4", in_force)) | set(_served("1-1/2", in_force))
    assert both == {"1/4", "3/8", "1/2", *PRACTICE}


def test_cup_standards_are_not_mixed_silently(in_force: Adopted) -> None:
    basis = Basis(
        ("asme-bpvc-ix 2023",), "simple", ("S1", "S4"), DAY, "lead", {"cup_allowance": "0.000 in"}
    )
    rows = list_sizes([_coupon("1-1/2")], basis, None, adopted=in_force)
    solder = [
        r.size
        for r in rows
        if r.fitting == "ASME B16.22" and r.verdict.outcome is Outcome.MET and r.tube_type == "L"
    ]
    assert solder == []


def test_without_an_allowance_a_table_depth_never_covers(in_force: Adopted) -> None:
    basis = Basis(("asme-bpvc-ix 2023",), "simple", ("S1",), DAY, "lead", {})
    rows = list_sizes([_coupon("1-1/2")], basis, None, adopted=in_force)
    assert not [r for r in rows if r.verdict.outcome is Outcome.MET]
    assert [r for r in rows if r.reason.message.id == "overlap.measure_cup"]
