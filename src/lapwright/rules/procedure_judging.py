"""Judge what concerns a case as a whole: procedure, base standard, documented topics."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from lapwright.core.evidence import Coupon, Evidence, Joint, Procedure
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, Why, combine

from .adoption import judge_adopted_first
from .following import judge_following
from .procedure import judge_base_standard, judge_flux, judge_topics
from .ranges import judge_floor
from .responsibility import judge_procedure_qualified
from .roles import judge_roles
from .rulebook import Adopted

BASE_CODES = ("asme-bpvc-ix", "aws-b2.2")


def judge_case_procedure(evidence: Evidence, *, adopted: Adopted) -> Verdict:
    """Judge roles, procedure, base standard and documented topics of a case.

    Parameters
    ----------
    evidence : Evidence
        The case.
    adopted : Adopted
        The adopted editions.
    """
    findings = list(judge_roles(evidence, adopted=adopted))
    findings += judge_adopted_first(evidence, adopted=adopted)
    procedure = evidence.procedure
    pqrs = [p.id for p in procedure.pqrs] if procedure else []
    findings.append(
        judge_procedure_qualified(procedure.id if procedure else "", pqrs, adopted=adopted)
    )
    if adopted.has("base.standards"):
        findings += [
            judge_base_standard(evidence.case, e.code, adopted=adopted)
            for e in adopted.editions
            if e.code in BASE_CODES
        ]
    if procedure and adopted.has("bps.topics"):
        findings.append(
            judge_topics(
                "bps.topics", Subject("procedure", procedure.id), procedure.topics, adopted=adopted
            )
        )
    for coupon in evidence.coupons:
        findings += _coupon(coupon, procedure, adopted)
        findings += judge_following(evidence, coupon, adopted=adopted)
    return combine(findings)


def _coupon(coupon: Coupon, procedure: Procedure | None, adopted: Adopted) -> Iterator[Finding]:
    if procedure and procedure.pqrs and adopted.has("procedure.flux"):
        yield judge_flux(
            procedure.id, qualified=procedure.pqrs[0].flux, used=coupon.flux, adopted=adopted
        )
    for joint in coupon.joints:
        if procedure and adopted.has("overlap.procedure_floor"):
            overlaps = [p.overlap for p in procedure.pqrs if p.overlap is not None]
            yield judge_floor(Subject("joint", joint.id), overlaps, joint.overlap, adopted=adopted)
        if adopted.has("record.topics"):
            yield _documented(joint, documented(coupon, joint), adopted)


def _documented(joint: Joint, filled: Mapping[str, str], adopted: Adopted) -> Finding:
    """Judge the papers; an incomplete one holds the work and does not undo the braze."""
    paper = judge_topics("record.topics", Subject("joint", joint.id), filled, adopted=adopted)
    if paper.outcome is not Outcome.NOT_MET:
        return paper
    return replace(paper, outcome=Outcome.UNDETERMINED, why=Why.HOLD, computed=None)


def documented(coupon: Coupon, joint: Joint) -> Mapping[str, str]:
    """Return the topics that NFPA 99 wants on the record, with what the case says of each."""
    opened = [e for e in joint.examinations if e.stage == "opened"]
    purge = coupon.purge
    gas, flow = purge.get("gas", ""), purge.get("flow", "")
    return {
        "filler": coupon.filler,
        "base-metals": f"{coupon.tube.alloy}, {coupon.fitting.alloy}",
        "cleaning": ", ".join(coupon.cleaning.get("with", ())),
        "clearance": joint.clearance.text if joint.clearance else "",
        "overlap": joint.overlap.text if joint.overlap else "",
        "purge-gas-and-flow": f"{gas}, {flow}" if gas and flow else "",
        "no-internal-oxidation": opened[-1].items.get("oxide", "") if opened else "",
    }
