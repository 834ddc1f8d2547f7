"""A judged case as one JSON document and as lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Verdict, Why
from lapwright.rules.coupon_judging import table_cites
from lapwright.rules.decision import Judgement
from lapwright.rules.faces import FaceResult

from .judging import JudgedCase
from .rangelist import range_rows, variable_rows
from .text import outcome_word, say, say_of, word

FACE_RULE = "section.max_unbrazed_share"
SHAPES = {Outcome.MET: "●", Outcome.NOT_MET: "□", Outcome.UNDETERMINED: "△"}


def case_document(case: JudgedCase) -> dict[str, Any]:
    """Return the judged case as plain JSON."""
    judged = case.judged
    return decision_document(judged.judgement) | {
        "range": {"variables": variable_rows(judged), "sizes": range_rows(judged)},
        "later_entries": str(later_entries(case)),
    }


def later_entries(case: JudgedCase) -> int:
    """Return how many entries of the folder happened after the day asked about."""
    as_of = case.judged.judgement.evidence.as_of
    return sum(1 for act in case.loaded.acts if act.happened_on > as_of)


def decision_document(judgement: Judgement) -> dict[str, Any]:
    """Return the decision without the range: outcome, positions, joints, faces, findings."""
    evidence = judgement.evidence
    basis = evidence.basis
    return {
        "case": evidence.case,
        "as_of": evidence.as_of.isoformat(),
        **verdict_document(judgement.verdict),
        "decision_rule": basis.decision_rule if basis else "",
        "editions": [f"{e.code} {e.edition}" for e in judgement.adopted.editions],
        "positions": [
            {
                "position": p.position,
                "coupon_kind": p.kind,
                "joints": list(p.joints),
                **verdict_document(p.verdict),
            }
            for p in judgement.positions
        ],
        "joints": [
            {
                "joint": j.joint,
                "coupon": j.coupon,
                "position": j.position,
                **verdict_document(j.verdict),
            }
            for j in judgement.joints
        ],
        "faces": [face_document(f, j.joint) for j in judgement.joints for f in j.faces],
        "findings": [finding_document(f) for f in judgement.findings],
        "unconfirmed": unconfirmed(judgement),
    }


def verdict_document(verdict: Verdict) -> dict[str, str]:
    """Return an outcome with its reason as text."""
    return {
        "outcome": verdict.outcome.value,
        "why": verdict.why.value if verdict.why else "",
        "act_on": verdict.act_on.value if verdict.act_on is not None else "",
        "once_confirmed": verdict.before_confirmation.value,
    }


def finding_document(finding: Finding) -> dict[str, Any]:
    """Return one finding with its citation and sentence."""
    return {
        "rule": finding.rule,
        "subject": str(finding.subject),
        "outcome": finding.outcome.value,
        "why": finding.why.value if finding.why else "",
        "act_on": finding.act_on.value if finding.act_on is not None else "",
        "once_confirmed": finding.before_confirmation.value,
        "observed": finding.observed,
        "limit": finding.limit,
        "says": say(finding.message),
        "cites": [str(c) for c in finding.cites],
        "known": sorted({c.basis.value for c in finding.cites}),
    }


def face_document(face: FaceResult, joint: str) -> dict[str, Any]:
    """Return one face's result with figures as decimal text."""
    return {
        "face": face.face,
        "joint": joint,
        "outcome": face.finding.outcome.value,
        "why": face.finding.why.value if face.finding.why else "",
        "unbrazed_share": f"{face.share:.5f}" if face.share is not None else "",
        "u": f"{face.u:.5f}" if face.u is not None else "",
        "interval95": [f"{v:.5f}" for v in (face.low, face.high) if v is not None],
        "conformance": f"{face.conformance:.4f}" if face.conformance is not None else "",
        "readers": list(face.readers),
        "due": face.due,
        "says": say(face.finding.message),
    }


def unconfirmed(judgement: Judgement) -> list[str]:
    """Return the citations from memory that nobody has confirmed, each once."""
    rules = {f"{f.rule}: {c}" for f in judgement.findings for c in f.unconfirmed}
    rows = {
        f"table row: {c}"
        for coupon in judgement.evidence.coupons
        for c in table_cites(coupon)
        if c.needs_confirming
    }
    return sorted(rules | rows)


def case_lines(case: JudgedCase) -> Iterator[str]:
    """Yield a judged case as lines for a terminal."""
    judgement = case.judged.judgement
    evidence = judgement.evidence
    name = case.loaded.names.get(evidence.brazer, evidence.brazer)
    yield word(
        "case.head",
        case=evidence.case,
        name=name,
        mark=evidence.mark,
        as_of=evidence.as_of.isoformat(),
    )
    yield f"{SHAPES[judgement.verdict.outcome]} {_words(judgement.verdict)}{_only_part(judgement)}"
    yield ""
    for position in judgement.positions:
        yield (
            f"  {SHAPES[position.verdict.outcome]} {word('case.position')} "
            f"{position.position or '?'}  {position.kind}  ({', '.join(position.joints)})  "
            f"{_words(position.verdict)}"
        )
    yield ""
    for joint in judgement.joints:
        for face in joint.faces:
            yield f"  {SHAPES[face.finding.outcome]} {say(face.finding.message)}"
    yield from _rest_lines(judgement, case.loaded.names)
    open_rules = unconfirmed(judgement)
    if open_rules:
        yield ""
        yield word("case.unconfirmed", count=str(len(open_rules)))
    yield from _range_lines(case)
    if later_entries(case):
        yield ""
        yield word("case.later", count=str(later_entries(case)), as_of=evidence.as_of.isoformat())
    yield ""
    yield word("caution.governs")


def _rest_lines(judgement: Judgement, names: Mapping[str, str]) -> Iterator[str]:
    """Yield what is not met or open beside the faces, alike findings on one line."""
    groups: dict[tuple[str, Outcome, str], list[Finding]] = {}  # rule, outcome, words
    for finding in judgement.findings:
        if finding.outcome is not Outcome.MET and finding.rule != FACE_RULE:
            key = (finding.rule, finding.outcome, _told(finding))
            groups.setdefault(key, []).append(finding)
    if groups:
        yield ""
    for (_, outcome, told), found in groups.items():
        others = word("case.and_others", count=str(len(found) - 1)) if len(found) > 1 else ""
        first = replace(found[0], message=named(found[0].message, names))
        yield f"  {SHAPES[outcome]} {say_of(first)}{others}"
        yield f"      {told} · {_cited(found[0])}"


def _told(finding: Finding) -> str:
    """Return a finding's outcome in words; one that waits for a tick says what it would be."""
    told = outcome_word(finding.outcome, finding.why)
    if finding.why is not Why.UNCONFIRMED:
        return told
    would = outcome_word(finding.before_confirmation, Why.UNCONFIRMED)
    return f"{told} ({word('case.once_confirmed', outcome=would)})"


PEOPLE = ("person", "brazer", "brazed_by", "supervisor", "seen_by", "by", "got", "expected")


def named(message: Message, names: Mapping[str, str]) -> Message:
    """Return a message with the names of people, where they are known, in place of their ids.

    Names stand on the screen only: hashed bodies and a record's data hold the ids.
    """
    shown = {k: names.get(v, v) if k in PEOPLE else v for k, v in message.params}
    return Message(message.id, **shown)


def _range_lines(case: JudgedCase) -> Iterator[str]:
    rows = range_rows(case.judged)
    if not rows:
        return
    yield ""
    yield word(
        "case.range",
        covered=str(sum(1 for r in rows if r["outcome"] == "met")),
        waiting=str(sum(1 for r in rows if r["outcome"] == "undetermined")),
        out=str(sum(1 for r in rows if r["outcome"] == "not-met")),
    )


def _words(verdict: Verdict) -> str:
    text = outcome_word(verdict.outcome, verdict.why)
    if verdict.outcome is Outcome.UNDETERMINED and verdict.act_on is not None:
        text += f" ({word('case.act_on', outcome=outcome_word(verdict.act_on))})"
    return text


def _only_part(judgement: Judgement) -> str:
    """Say which positions passed where others failed, as the record's headline does."""
    if judgement.verdict.outcome is not Outcome.NOT_MET or not judgement.qualified:
        return ""
    if judgement.case.outcome is not Outcome.MET:
        return word("case.papers", outcome=_words(judgement.case))
    rows = [
        {"position": p.position, "outcome": p.verdict.outcome.value} for p in judgement.positions
    ]
    return f": {in_part(', '.join(judgement.qualified), rows)}"


def in_part(qualified: str, positions: Iterable[Mapping[str, Any]]) -> str:
    """Return the headline of a case in which some flow positions passed and others failed.

    Parameters
    ----------
    qualified : str
        Letters of the positions that passed.
    positions : iterable of mapping
        Rows with ``position`` and ``outcome``.
    """
    failed = dict.fromkeys(p["position"] for p in positions if p["outcome"] == "not-met")
    return word(
        "record.in_part",
        positions=qualified,
        count=str(len(qualified.split(", "))),
        failed=", ".join(failed),
    )


def _cited(finding: Finding) -> str:
    return "; ".join(str(c) for c in finding.cites[:2]) or word("case.no_source")
