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


CHECKS = {
    "faces.share": share,
    "faces.faces": faces,
    "faces.readings": readings,
    "faces.probability": probability,
}
