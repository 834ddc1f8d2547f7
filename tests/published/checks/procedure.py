"""Checks of the procedure vectors: proof, procedure record, window, walls, topics, AWS papers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, settled
from lapwright.core.quantities import Quantity, length
from lapwright.rules import awsb22, procedure, responsibility
from lapwright.rules.mechanical import ChosenTest, judge_test_form
from lapwright.rules.positions import positions_covered
from lapwright.rules.rulebook import Adopted

JOINT = Subject("joint", "J1")
_PAPERS = {
    "record.fields": Subject("record", "R1"),
    "bps.topics": Subject("procedure", "P1"),
    "record.topics": Subject("record", "R1"),
}


def proof(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Whose skill a test proves."""
    return responsibility.judge_proof(given["person"], given["brazed_by"], adopted=adopted)


def qualified_first(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """The procedure that a test followed."""
    return responsibility.judge_procedure_qualified(
        "P1", given["pqrs"], for_pqr=given.get("for_pqr", "no"), adopted=adopted
    )


def pqr_brazer(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """The brazer of the procedure coupon, with the positions that the coupon gives."""
    found = responsibility.judge_pqr_brazer(
        "J", brazed_by=given["brazed_by"], results=given["results"], adopted=adopted
    )
    positions = positions_covered(given.get("positions", ()), adopted=adopted)
    return {"finding": found, "positions": sorted(positions)}


def window(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """The overlaps that procedure and brazer allow together, in inches."""
    found = procedure.overlap_window(
        [length(o) for o in given["pqr"]], length(given["bpq"]), adopted=adopted
    )
    return {"floor": found.floor.inches, "ceiling": found.ceiling.inches}


def walls(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Unequal walls under a procedure."""

    def pair(key: str) -> tuple[Quantity | None, Quantity | None]:
        one, two = (length(w) if w else None for w in given[key])
        return one, two

    return procedure.judge_unequal_walls(JOINT, pair("pqr"), pair("joint"), adopted=adopted)


def flux(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Flux of procedure coupon and joint."""
    return procedure.judge_flux("P1", **given, adopted=adopted)


def base_standard(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """The standard a record was made under."""
    return procedure.judge_base_standard("R1", given["standard"], adopted=adopted)


def form(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """The form of the brazer's test."""
    return judge_test_form(
        ChosenTest(given["test"]), subject=Subject("record", "R1"), adopted=adopted
    )


def topics(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """The topics of a procedure or record."""
    return _topics(adopted, given)


def medical(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A record that passed its base standard, asked for medical work."""
    base = settled(
        "record.fields",
        Subject("record", "R1"),
        Outcome.MET,
        Message("record.complete", record="R1"),
    )
    paper = _topics(adopted, {"paper": "record.topics", **given})
    return {
        "finding": procedure.stands_for_medical_work("R1", base, paper, adopted=adopted),
        "base": base.outcome,
        "paper": paper.before_confirmation,
    }


def two_papers(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """One record under its base standard and under the medical-gas code."""
    base = _topics(adopted, {"paper": given["base"], "blank": []})
    return {"base": base.outcome, "finding": _topics(adopted, given)}


def _topics(adopted: Adopted, given: Mapping[str, Any]) -> Finding:
    paper = given["paper"]
    rule = adopted.first(paper)
    filled = {topic: "stated" for topic in rule.value if topic not in given["blank"]}
    return procedure.judge_topics(paper, _PAPERS[paper], filled, adopted=adopted)


def disposal(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A record thrown away."""
    return awsb22.judge_disposal("R1", **given, adopted=adopted)


def route(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Route of an AWS brazer."""
    return awsb22.judge_route(
        "R1",
        given["route"],
        medical=given["medical"],
        contract_allows=given["contract_allows"],
        adopted=adopted,
    )


def metal_field(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """What stands in the P-Number field."""
    return awsb22.judge_metal_field("R1", given["p_number"], adopted=adopted)


def undercut(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Depth of an undercut."""
    return awsb22.judge_undercut("J1", length(given["depth"]), adopted=adopted)


def aws_range(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A range question under AWS."""
    return awsb22.judge_range(given["rule"], JOINT, given["asked"], adopted=adopted)


CHECKS = {
    f"procedure.{f.__name__}": f
    for f in (
        proof,
        two_papers,
        qualified_first,
        pqr_brazer,
        window,
        walls,
        flux,
        base_standard,
        form,
        topics,
        medical,
        disposal,
        route,
        metal_field,
        undercut,
        aws_range,
    )
}
