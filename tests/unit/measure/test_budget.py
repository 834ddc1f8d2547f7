"""The budget of a share. Witnesses: `uncertainties` and numerical differences."""

from __future__ import annotations

import math

import pytest
from uncertainties import ufloat

from lapwright.measure.budget import class_doubt, combined, share_budget
from lapwright.measure.errors import OverlapOutOfRange
from lapwright.measure.segments import both_countings, expected_share, unsure_share
from lapwright.measure.values import Segment, unbrazed_share

SEGMENTS = (
    Segment(0.0, 0.1, "unbrazed", 1.0),
    Segment(0.1, 0.5, "brazed", 0.0),
    Segment(0.5, 0.6, "unsure", 0.4),
    Segment(0.6, 1.0, "brazed", 0.0),
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
    budget = share_budget(SEGMENTS, overlap_px=length, ends_u_px=3.0, boundary_u_px=2.0, line_u=0.0)
    kept = combined(budget, without=("scale", "class_doubt", "pixel"))
    assert share.nominal_value == pytest.approx(0.14)
    assert kept == pytest.approx(share.std_dev, rel=1e-9)


def test_the_scale_is_listed_but_a_share_does_not_feel_it() -> None:
    budget = share_budget(
        SEGMENTS, overlap_px=900.0, ends_u_px=2.0, boundary_u_px=1.0, line_u=0.001
    )
    assert combined(budget) == combined((*budget, ("scale", 0.5)))


def test_voids_too_short_to_see_at_the_ends_widen_the_spread() -> None:
    parts = {"overlap_px": 900.0, "ends_u_px": 2.0, "boundary_u_px": 0.0, "line_u": 0.0}
    seen = dict(share_budget(SEGMENTS, **parts))["segment_ends"]
    unseen = dict(share_budget(SEGMENTS, stub_px=9.0, **parts))["segment_ends"]
    assert seen == 0
    assert unseen == pytest.approx(math.sqrt(2) * 0.01 / math.sqrt(12))


def test_every_named_part_is_there() -> None:
    budget = share_budget(
        SEGMENTS, overlap_px=900.0, ends_u_px=2.0, boundary_u_px=1.0, line_u=0.001
    )
    assert [name for name, _ in budget] == ["ends", "line", "segment_ends", "class_doubt", "pixel"]


def test_class_doubt_is_the_spread_of_a_yes_or_no() -> None:
    assert class_doubt(SEGMENTS) == pytest.approx(0.1 * math.sqrt(0.4 * 0.6))


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
