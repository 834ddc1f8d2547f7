"""Checks of the range vectors: a coupon, a job joint, covered or not and why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.core.outcomes import Subject
from lapwright.core.quantities import Quantity, length
from lapwright.rules.ranges import (
    JobJoint,
    TestedJoint,
    judge_cover,
    judge_demand,
    judge_floor,
    judge_overlap,
    limiting,
)
from lapwright.rules.rulebook import Adopted
from lapwright.rules.thickness import CouponWalls, JobWalls, judge_thickness, range_of_wall

JOINT = Subject("joint", "J")


def _q(text: str | None) -> Quantity | None:
    return length(text) if text else None


def _test(given: Mapping[str, Any], number: int = 0) -> TestedJoint:
    return TestedJoint(
        coupon=f"K{number}",
        joint=f"K{number}-1",
        position=given.get("position", "D"),
        process=given.get("process", "TB"),
        manner=given.get("manner", "manual"),
        p_numbers=tuple(given.get("p_numbers", ["107", "107"])),  # type: ignore[arg-type]
        f_number=given.get("f_number", "103"),
        form=given.get("form", "rod"),
        joint_type=given.get("joint_type", "socket"),
        flux=given.get("flux", "none"),
        overlap=_q(given.get("overlap", "1.00 in")),
        walls=CouponWalls(
            _q(given.get("tube", "0.060 in")), _q(given.get("fitting")), given.get("type", "L")
        ),
    )


def _job(given: Mapping[str, Any]) -> JobJoint:
    cup = _q(given.get("cup", "1.00 in"))
    return JobJoint(
        id="J",
        position=given.get("position", "D"),
        p_numbers=tuple(given.get("p_numbers", ["107", "107"])),  # type: ignore[arg-type]
        f_number=given.get("f_number", "103"),
        process=given.get("process", "TB"),
        manner=given.get("manner", "manual"),
        form=given.get("form", "rod"),
        joint_type=given.get("joint_type", "socket"),
        flux=given.get("flux", "none"),
        walls=JobWalls(
            _q(given.get("tube", "0.060 in")),
            _q(given.get("tube_minimum")),
            _q(given.get("fitting", "0.060 in")),
        ),
        cup_low=cup,
        cup_high=cup if given.get("cup_is", "measured") == "measured" else None,
    )


def cover(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Judge a job joint against one or more passed joints."""
    rows = given["tests"] if "tests" in given else [given.get("test", {})]
    verdict = judge_cover(
        [_test(r, n) for n, r in enumerate(rows)],
        _job(given.get("job", {})),
        readings=given.get("readings", ["S1", "S3"]),
        adopted=adopted,
    )
    return {"finding": verdict, "limiting": limiting(verdict).rule}


def overlap(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Judge an overlap against the coupon's."""
    low = length(given["job"])
    high = low if given.get("known", "measured") == "measured" else None
    return judge_overlap(JOINT, length(given["coupon"]), low, high, adopted=adopted)


def window(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Judge an overlap against the procedure's floor and the brazer's ceiling."""
    job = length(given["job"])
    floor = judge_floor(JOINT, [length(p) for p in given["pqr"]], job, adopted=adopted)
    ceiling = judge_overlap(JOINT, length(given["bpq"]), job, job, adopted=adopted)
    return {"procedure": floor.outcome.value, "brazer": ceiling.outcome.value}


def walls(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Judge walls under the enabled readings."""
    job = given["job"]
    coupon = CouponWalls(
        _q(given["coupon"].get("tube")),
        _q(given["coupon"].get("fitting")),
        given["coupon"].get("type", "L"),
    )
    stand_ins = {k: length(v) for k, v in job.get("stand_ins", {}).items()}
    asked = JobWalls(
        _q(job.get("tube")), _q(job.get("tube_minimum")), _q(job.get("fitting")), stand_ins
    )
    return judge_thickness(JOINT, coupon, asked, readings=given["readings"], adopted=adopted)


def band(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Give the wall range of a coupon wall."""
    span = range_of_wall(length(given["wall"]), adopted.first("thickness.bands"))
    return {"low": span.low.text.split()[0], "high": span.high.text.split()[0]}


def demand(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Judge a variable that allows no change."""
    return judge_demand(given["rule"], JOINT, given["tested"], given["asked"], adopted=adopted)


CHECKS = {
    "ranges.cover": cover,
    "ranges.overlap": overlap,
    "ranges.window": window,
    "ranges.walls": walls,
    "ranges.band": band,
    "ranges.demand": demand,
}
