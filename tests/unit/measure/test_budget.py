"""The budget of a share. Witnesses: `uncertainties` and numerical differences."""

from __future__ import annotations

import math

import pytest
from uncertainties import ufloat

from lapwright.measure.budget import Positions, combined, share_budget
from lapwright.measure.errors import OverlapOutOfRange
from lapwright.measure.segments import both_countings, expected_share, unsure_share
from lapwright.measure.values import Segment, unbrazed_share

SEGMENTS = (
    Segment(0.0, 0.1, "unbrazed", 1.0),
    Segment(0.1, 0.5, "brazed", 0.0),
    Segment(0.5, 0.6, "unsure", 0.4),
    Segment(0.6, 1.0, "brazed", 0.0),
)


def budget_of(*, overlap_px: float = 900.0, ends_u: float = 0.0, **places: float):
    positions = Positions((ends_u, ends_u), places.pop("boundary_u", 0.0), **places)
    return share_budget(
        SEGMENTS, overlap_px=overlap_px, positions=positions, line_u=0.0, class_doubt=0.0
    )


def test_shares_are_summed_along_the_line() -> None:
    assert expected_share(SEGMENTS) == pytest.approx(0.14)
    assert both_countings(SEGMENTS) == pytest.approx((0.1, 0.2))
    assert unsure_share(SEGMENTS) == pytest.approx(0.1)


def test_ends_and_boundaries_agree_with_the_uncertainties_package() -> None:
    length = 1000.0
    first, last = ufloat(0.0, 3.0), ufloat(length, 3.0)
    inner = [ufloat(p, 2.0) for p in (100.0, 500.0, 600.0)]
    share = (1.0 * (inner[0] - first) + 0.4 * (inner[2] - inner[1])) / (last - first)
    budget = budget_of(overlap_px=length, ends_u=3.0, boundary_u=2.0)
    kept = combined(budget, without=("scale", "class_doubt", "pixel"))
    assert share.nominal_value == pytest.approx(0.14)
    assert kept == pytest.approx(share.std_dev, rel=1e-9)


def test_voids_read_long_throughout_agree_with_the_uncertainties_package() -> None:
    length = 1000.0
    bias = ufloat(0.0, 1.5)  # every void end lies outward by the same unknown amount
    share = (100.0 + bias + 0.4 * (100.0 + 2 * bias)) / length
    parts = dict(budget_of(overlap_px=length, common_u=1.5))
    assert parts["segment_ends"] == pytest.approx(share.std_dev, rel=1e-9)


def test_the_scale_is_listed_but_a_share_does_not_feel_it() -> None:
    budget = budget_of()
    assert combined(budget) == combined((*budget, ("scale", 0.5)))


def test_voids_too_short_to_see_at_the_ends_widen_the_spread() -> None:
    seen = dict(budget_of(overlap_px=900.0))["segment_ends"]
    unseen = dict(budget_of(overlap_px=900.0, stub=9.0))["segment_ends"]
    assert seen == 0
    assert unseen == pytest.approx(math.sqrt(2) * 0.01 / math.sqrt(12))


def test_every_named_part_is_there_and_combines_in_squares() -> None:
    budget = budget_of(ends_u=2.0, boundary_u=1.0)
    assert [name for name, _ in budget] == ["ends", "line", "segment_ends", "class_doubt", "pixel"]
    assert combined(budget) == pytest.approx(math.sqrt(sum(u * u for _, u in budget)))


def test_the_helper_gives_the_share_with_twice_its_spread() -> None:
    result = unbrazed_share(200, 1000)
    x, y = ufloat(200, 1.0), ufloat(1000, 1.0)
    assert result.value == 0.2
    assert result.u == pytest.approx((x / y).std_dev)
    assert result.plus_minus == pytest.approx(0.00204, abs=5e-6)
    assert result.unit == "-"


@pytest.mark.parametrize(
    ("part", "whole"), [(5, 3), (-1, 10), (0, 0), (1, float("nan")), (1, float("inf"))]
)
def test_lengths_that_describe_no_joint_are_refused(part: float, whole: float) -> None:
    with pytest.raises(OverlapOutOfRange, match="MEAS-007"):
        unbrazed_share(part, whole)
