"""Checks of records from former employers: kind of paper, way, clocks, day of the signature."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.core.outcomes import combine
from lapwright.core.times import parse_date
from lapwright.rules.acceptance import (
    Asked,
    judge_clock,
    judge_joint_day,
    judge_route,
    judge_signed,
)
from lapwright.rules.continuity import Clock, Use
from lapwright.rules.paperstanding import Provenance, judge_document, judge_provenance
from lapwright.rules.rulebook import Adopted


def document(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """What is offered: a test record or a card."""
    return judge_document("R1", given["document"], adopted=adopted)


def provenance(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """How the record came here, and whether the employer that tested has confirmed it."""
    told = Provenance("R1", "Quillon Pipeworks", given["way"], given.get("answer", ""), "letter")
    return judge_provenance(told, adopted=adopted)


def route(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """By which way the record may serve the present company."""
    return judge_route(_asked(given), adopted=adopted)


def signed(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """The days asked about against the day of the signature."""
    days = {day: {"as_of": day, **given} for day in given["days"]}
    return {day: judge_signed(_asked(one), adopted=adopted) for day, one in days.items()}


def joint(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A joint made before or after the signature, the acceptance standing."""
    asked = _asked(given)
    stands = combine([judge_signed(asked, adopted=adopted)])
    made = parse_date(given["made"])
    return judge_joint_day(asked, "J1", made, stands=stands, adopted=adopted)


def clock(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Unbroken use up to the day of the signature."""
    uses = tuple(
        Use(
            parse_date(u["on"]),
            "TB",
            u.get("procedure", "P1"),
            "osgood",
            parse_date(u.get("written", u["on"])),
        )
        for u in given["uses"]
    )
    brazed = (parse_date(given["brazed"]),)
    found = judge_clock(_asked(given), Clock("wren", brazed, "TB", ("P1",), uses), adopted=adopted)
    return {"finding": found[0], "flagged": [f.message.id for f in found[1:]]}


def _asked(given: Mapping[str, Any]) -> Asked:
    on = given.get("signed", "2025-05-02")
    return Asked(
        "R1",
        "wren",
        "Quillon Pipeworks",
        "Quillon North",
        parse_date(on),
        parse_date(given.get("as_of", on)),
        given.get("control_document", ""),
    )


CHECKS = {
    f"acceptance.{f.__name__}": f for f in (document, provenance, route, signed, joint, clock)
}
