"""Checks of the face vectors: one face's readings under a named decision rule."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from lapwright.core.evidence import Reading
from lapwright.core.quantities import length
from lapwright.rules.faces import conformance_probability, judge_face
from lapwright.rules.rulebook import Adopted

_BLANK = Reading(
    act="",
    reader="one",
    on=date(2026, 1, 5),
    way="loupe",
    share=None,
    u=None,
    low=None,
    high=None,
    unsure=None,
    overlap=None,
    needs_reader="",
    accepted_by="",
    refused="",
    method="",
    instrument="",
    blind="yes",
    segments=(),
    photo_sha256="",
)


def share(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """One face read once, from lengths, without uncertainty, simple acceptance."""
    overlap = length(given["overlap"]).base
    ratio = sum(length(v).base for v in given["voids"]) / overlap
    value = Decimal(ratio.numerator) / Decimal(ratio.denominator)
    reading = replace(_BLANK, share=value, u=Decimal(0), low=value, high=value)
    result = judge_face("F", [reading], adopted=adopted, decision_rule="simple")
    return {"finding": result.finding, "share": f"{float(value) * 100:.2f}"}


def faces(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Several faces of one joint, each judged alone."""
    from lapwright.core.outcomes import combine

    findings = []
    for number, percent in enumerate(given["percents"]):
        value = Decimal(percent) / 100
        reading = replace(_BLANK, share=value, u=Decimal(0), low=value, high=value)
        findings.append(
            judge_face(f"F{number}", [reading], adopted=adopted, decision_rule="simple").finding
        )
    return combine(findings)


def readings(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """One or more readings ``{reader, percent, u}`` under a decision rule."""
    filed = []
    for row in given["readings"]:
        value, u = Decimal(row["percent"]) / 100, Decimal(row["u"]) / 100
        filed.append(
            replace(
                _BLANK,
                reader=row["reader"],
                share=value,
                u=u,
                low=value - 2 * u,
                high=value + 2 * u,
            )
        )
    s_r = given.get("s_r")
    result = judge_face(
        "F",
        filed,
        adopted=adopted,
        decision_rule=given["rule"],
        s_reproducibility=Decimal(s_r) / 100 if s_r else None,
    )
    found: dict[str, Any] = {"finding": result.finding, "due": result.due}
    if result.share is not None:
        found["acted"] = f"{float(result.share) * 100:.1f}"
        found["pc"] = f"{result.conformance:.3f}"
    return found


def probability(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Conformance probability at the limit."""
    pc = conformance_probability(
        Decimal(given["percent"]) / 100, Decimal(given["u"]) / 100, Decimal(given["limit"]) / 100
    )
    return {"pc": f"{pc:.3f}"}


def crack(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """One face with a share and a crack."""
    from lapwright.core.outcomes import combine
    from lapwright.rules.preparation import Crack, judge_crack

    value = Decimal(given["percent"]) / 100
    reading = replace(_BLANK, share=value, u=Decimal(0), low=value, high=value)
    result = judge_face("F", [reading], adopted=adopted, decision_rule="simple")
    return combine([result.finding, judge_crack(Crack("F", given["crack"]), adopted=adopted)])


def unnamed(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A judgement asked for without naming its decision rule."""
    from lapwright.rules.errors import ReadingUnknown

    try:
        judge_face("F", [_BLANK], adopted=adopted, decision_rule=given["rule"])
    except ReadingUnknown as refusal:
        return {"refused": refusal.code}
    return {"refused": ""}


def editions(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """The same reading under each adopted edition alone: two answers, each with its edition."""
    value = Decimal(given["percent"]) / 100
    reading = replace(_BLANK, share=value, u=Decimal(0), low=value, high=value)
    found = {}
    for edition in adopted.editions:
        alone = Adopted((edition,), adopted.on, adopted.confirmations)
        finding = judge_face("F", [reading], adopted=alone, decision_rule="simple").finding
        found[edition.edition] = f"{finding.outcome.value} {finding.cites[0].title}"
    return found


def cup(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A solder-depth cup changed to braze depth."""
    from lapwright.rules.cups import ChangedCup, judge_changed_cup

    return judge_changed_cup(
        ChangedCup("K", given["change"], given.get("clear", "")), adopted=adopted
    )


CHECKS = {
    "faces.crack": crack,
    "faces.unnamed": unnamed,
    "faces.editions": editions,
    "cups.cup": cup,
    "faces.share": share,
    "faces.faces": faces,
    "faces.readings": readings,
    "faces.probability": probability,
}
