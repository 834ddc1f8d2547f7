"""Checks of the range vectors: a coupon, a job joint, covered or not and why."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.core.outcomes import Subject, combine
from lapwright.core.quantities import Quantity, length
from lapwright.reference.fillers import filler
from lapwright.reference.fittings import cup
from lapwright.reference.metals import p_number
from lapwright.reference.tube import tube
from lapwright.rules.procedure import overlap_window
from lapwright.rules.ranges import (
    JobJoint,
    TestedJoint,
    judge_cover,
    judge_demand,
    judge_floor,
    judge_overlap,
    limiting,
    overlap_ceiling,
)
from lapwright.rules.rulebook import Adopted
from lapwright.rules.thickness import CouponWalls, JobWalls, judge_thickness, range_of_wall

from .later import clock

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


def filler_change(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Look two fillers up and judge the change of F-number."""
    tested, asked = (filler(given[k]).f_number or "" for k in ("tested", "asked"))
    found = judge_demand("variable.f_number", JOINT, tested, asked, adopted=adopted)
    return {"finding": found, "tested": tested, "asked": asked}


def variable(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Say whether a change is one of the brazer's variables, and which the editions judge."""
    free = adopted.first("variable.not_brazer")
    lists = ("variable.list", "variable.not_brazer", "variable.operator")
    held = {i for e in adopted.editions for i in e.rules if i.startswith("variable.")} - {*lists}
    brazer = "no variable" if given["variable"] in free.value else "a variable"
    rule = f"variable.{given['variable'].replace('-', '_')}"
    if rule in held:
        found = judge_demand(rule, JOINT, given["tested"], given["asked"], adopted=adopted)
        brazer = found.outcome.value
    judged = sorted(i.removeprefix("variable.") for i in held)
    return {"brazer": brazer, "where": free.cite.where, "judged": judged}


def whole(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Judge a whole job joint: tables looked up, brazer, procedure's window, clocks as held."""
    job = given["job"]
    walls = [
        tube("ASTM B819", given[k] if k == "coupon" else job["size"], type_="L").wall_nominal
        for k in ("coupon", "job")
    ]
    numbers = ["107", p_number(job.get("alloy", "C12200")).p_number]
    coupon = {
        "overlap": given["overlap"],
        "f_number": filler(given["filler"]).f_number,
        "tube": walls[0].text,
    }
    asked = {
        "position": job["position"],
        "cup": job["cup"],
        "fitting": job["fitting"],
        "tube": walls[1].text,
        "f_number": filler(job["filler"]).f_number,
        "flux": job.get("flux", "none"),
        "p_numbers": numbers,
    }
    brazer = cover(
        adopted, {"tests": [coupon | {"position": p} for p in given["positions"]], "job": asked}
    )
    pqr = [length(given["pqr"]["overlap"])]
    floor = judge_floor(JOINT, pqr, length(job["cup"]), adopted=adopted)
    window_ = overlap_window(pqr, length(given["overlap"]), adopted=adopted)
    bands = [
        range_of_wall(length(w), adopted.first("thickness.bands")) for w in given["pqr"]["walls"]
    ]
    own = range_of_wall(walls[0], adopted.first("thickness.bands"))
    clocks = clock(adopted, {"uses": [{"on": given["tested_on"]}], "days": [given["joint_on"]]})
    return {
        "finding": combine([*brazer["finding"].findings, floor]),
        "limiting": brazer["limiting"],
        "tube": walls[1].inches,
        "low": own.low.inches,
        "high": own.high.inches,
        "floor": window_.floor.inches,
        "ceiling": window_.ceiling.inches,
        "pqr_low": min(b.low.inches for b in bands),
        "pqr_high": max(b.high.inches for b in bands),
        "p_numbers": numbers,
        **{code: clocks[f"{code} {given['joint_on']}"] for code in ("asme-bpvc-ix", "nfpa-99")},
    }


def by_table(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Judge a job size against a coupon size, cups and tubes as the tables hold them."""
    cups = [cup(given["standard"], given[k]) for k in ("coupon", "job")]
    walls = [tube("ASTM B819", given[k], type_="L").wall_nominal.text for k in ("coupon", "job")]
    rows = [c.depth_min for c in cups]
    found = cover(
        adopted,
        {
            "test": {"tube": walls[0], "overlap": rows[0].text},
            "job": {"cup": rows[1].text, "tube": walls[1], "fitting": given["fitting"]},
            "readings": given["readings"],
        },
    )
    ceiling = overlap_ceiling(rows[0], adopted.first("overlap.max_increase"))
    recalled = [c.citation.needs_confirming for c in cups]
    return found | {
        "coupon_cup": rows[0].inches,
        "job_cup": rows[1].inches,
        "margin": ceiling.inches - rows[1].inches,
        "recalled": "yes" if all(recalled) else "no",
    }


CHECKS = {
    "ranges.filler": filler_change,
    "ranges.variable": variable,
    "ranges.whole": whole,
    "ranges.by_table": by_table,
    "ranges.cover": cover,
    "ranges.overlap": overlap,
    "ranges.window": window,
    "ranges.walls": walls,
    "ranges.band": band,
    "ranges.demand": demand,
}
