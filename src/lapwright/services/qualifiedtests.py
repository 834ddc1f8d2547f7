"""The passed tests of a judged case as text rows, and the qualifications made from them.

``RecordIssued`` holds these rows, so that what is in force is found without opening a
record's data; they repeat what the record's data say, whose digest the same act holds.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from lapwright.core.evidence import Coupon
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, settled
from lapwright.core.paperfold import PaperRecord
from lapwright.core.times import parse_date
from lapwright.rules.coupon_judging import p_numbers_of
from lapwright.rules.decision import Judgement
from lapwright.rules.paperstanding import judge_paper
from lapwright.rules.qualified import CASE, PAPER, Qualification, Test, Variables, apart
from lapwright.rules.rounds import kind_of
from lapwright.rules.rulebook import Adopted

Row = Mapping[str, str]


def tests_of(judgement: Judgement) -> list[dict[str, str]]:
    """Return one row a joint that counts for a passed position, in the order of the street.

    Parameters
    ----------
    judgement : Judgement
        The judged case. A position that only waits for the confirmation of rules is in;
        whether a record may be issued is decided elsewhere.
    """
    from lapwright.reference.fillers import filler

    evidence = judgement.evidence
    letters = {
        joint: p.position
        for p in judgement.positions
        for joint in p.joints
        if p.verdict.before_confirmation is Outcome.MET
    }
    procedure = evidence.procedure.id if evidence.procedure else ""
    rows = []
    for coupon in evidence.coupons:
        for joint in coupon.joints:
            if joint.id in letters:
                f_number = filler(coupon.filler).f_number or ""
                rows.append(_row(coupon, letters[joint.id], procedure, f_number))
    return [dict(r) for r in dict.fromkeys(tuple(sorted(r.items())) for r in rows)]


def _row(coupon: Coupon, position: str, procedure: str, f_number: str) -> dict[str, str]:
    return {
        "coupon": coupon.id,
        "on": coupon.brazed_on.isoformat(),
        "procedure": procedure,
        "witness": coupon.supervisor,
        "process": coupon.process,
        "manner": coupon.manner,
        "p_numbers": "/".join(p_numbers_of(coupon)),
        "f_number": f_number,
        "form": coupon.form,
        "joint_type": coupon.joint_type,
        "position": position,
        "kind": kind_of(coupon),
    }


def test_of(row: Row) -> Test:
    """Return the test that a row of `tests_of` tells."""
    names = Variables.__dataclass_fields__
    variables = Variables(**{k: v for k, v in row.items() if k in names})
    return Test(
        row["coupon"],
        parse_date(row["on"]),
        row["procedure"],
        variables,
        row.get("witness", ""),
    )


def of_case(judgement: Judgement) -> tuple[Qualification, ...]:
    """Return the qualifications of a judged case folder; none where nothing passed.

    Parameters
    ----------
    judgement : Judgement
        The case. Its decision stands among the findings of every day.
    """
    evidence = judgement.evidence
    rows = tests_of(judgement)
    if not rows:
        return ()
    tests = tuple(test_of(r) for r in rows)
    whole = Qualification(
        id=evidence.case,
        person=evidence.brazer,
        employer=evidence.employer,
        process=tests[0].variables.process,
        procedures=tuple(dict.fromkeys(t.procedure for t in tests)),
        tests=tests,
        source=CASE,
        standing=tuple(_decided(judgement)),
    )
    return apart(whole)


def _decided(judgement: Judgement) -> Iterable[Finding]:
    """Yield the decision on papers and positions where it is not simply met."""
    case = judgement.evidence.case
    passed = [
        p.verdict for p in judgement.positions if p.verdict.before_confirmation is Outcome.MET
    ]
    for verdict in (judgement.case, *passed):
        if verdict.outcome is not Outcome.MET:
            yield _as_finding(case, verdict)


def _as_finding(case: str, verdict: Verdict) -> Finding:
    leaned = [f for f in verdict.findings if f.outcome is not Outcome.MET]
    return settled(
        "case.decided",
        Subject("case", case),
        verdict.before_confirmation,
        Message("force.case_decided", case=case, number=str(len(leaned))),
        cites=tuple(dict.fromkeys(c for f in leaned for c in f.cites)),
        why=verdict.why if verdict.before_confirmation is Outcome.UNDETERMINED else None,
        act_on=verdict.act_on,
    )


def of_paper(paper: PaperRecord, *, adopted: Adopted) -> Qualification:
    """Return the qualification of a record from paper, with what the paper is worth.

    Every brazing day that it names stands for every position that it names: paper
    seldom says which coupon was brazed when, so the last day starts the clocks.

    Parameters
    ----------
    paper : PaperRecord
        With at least one brazing day.
    adopted : Adopted
        The basis under which it is judged.
    """
    said: Mapping[str, Any] = paper.body.get("variables", {})
    procedure = str(paper.body.get("procedure", {}).get("bps", ""))
    tube = said.get("tube", {})
    kind = f"{tube.get('size', '')} {tube.get('type', '')}".strip()
    names = ("process", "manner", "f_number", "form", "joint_type")
    common = {k: str(said.get(k, "")) for k in names}
    numbers = "/".join(said.get("p_numbers", ()))
    day = max(paper.brazed)
    tests = tuple(
        Test(
            paper.id,
            day,
            procedure,
            Variables(**common, p_numbers=numbers, position=letter, kind=kind),
        )
        for letter in said.get("positions", ()) or ("",)
    )
    signed = paper.body.get("signed", "") if paper.body.get("signed_for_employer") == "yes" else ""
    return Qualification(
        id=paper.id,
        person=paper.person,
        employer=paper.employer,
        process=common["process"],
        procedures=(procedure,) if procedure else (),
        tests=tests,
        certified_on=parse_date(signed) if signed else None,
        source=PAPER,
        standing=tuple(judge_paper(paper, adopted=adopted)),
    )
