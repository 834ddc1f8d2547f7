"""Hold a case whose roles run into each other (common practice, no source).

The brazer supervises, certifies, adopts and confirms nothing of the own test;
the employer's representative and responsible person are the employer's; looks
and readings are by named examiners; session and coupon name one supervisor.
"""

from __future__ import annotations

from collections.abc import Iterator

from lapwright.core.evidence import Evidence
from lapwright.core.messages import Message
from lapwright.core.names import same_name
from lapwright.core.outcomes import Finding, Outcome, Subject

from .asking import Question, Ruling
from .rulebook import Adopted

RULE = "roles.kept_apart"


def judge_roles(evidence: Evidence, *, adopted: Adopted) -> Iterator[Finding]:
    """Yield findings on who holds which role in a case.

    Parameters
    ----------
    evidence : Evidence
        The case.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    if not adopted.has(RULE):
        return
    ask = Question(RULE, Subject("case", evidence.case), adopted)
    faults = [
        *_brazer(evidence),
        *_employer(evidence),
        *_examiners(evidence),
        *_supervisor(evidence),
    ]
    yield from (ask.hold(fault) for fault in faults)
    if not faults:
        yield ask.answer(lambda _: Ruling(Outcome.MET, Message("roles.apart")))


def _brazer(evidence: Evidence) -> Iterator[Message]:
    held = dict(evidence.roles)
    basis = evidence.basis
    if basis is not None:
        held["adopter of the basis"] = (basis.adopted_by,)
        held["confirmer of figures"] = tuple(t.by for t in basis.ticks)
        held["adopter of a range table"] = tuple(t.adopted_by for t in basis.range_tables)
    for role, people in held.items():
        if evidence.brazer in people:
            yield Message("roles.brazer_too", role=role.replace("_", " "))


def _employer(evidence: Evidence) -> Iterator[Message]:
    for role in ("employer_representative", "certifier"):
        for person in evidence.roles.get(role, ()):
            found = evidence.people.get(person)
            employer = found.employer if found else ""
            if not same_name(employer, evidence.employer):
                yield Message(
                    "roles.other_employer",
                    person=person,
                    role=role.replace("_", " "),
                    employer=employer,
                    expected=evidence.employer,
                )


def _examiners(evidence: Evidence) -> Iterator[Message]:
    looked = [e.by for j in evidence.joints for e in j.examinations]
    readings = [r for f in evidence.faces for r in f.readings]
    read = [p for r in readings for p in (r.reader, r.accepted_by, r.ends_accepted_by) if p]
    named = evidence.roles.get("examiners", ())
    for person in dict.fromkeys((*looked, *read)):
        if person not in named:
            yield Message("roles.no_examiner", person=person)


def _supervisor(evidence: Evidence) -> Iterator[Message]:
    expected = evidence.role("supervisor")
    for coupon in evidence.coupons:
        if coupon.supervisor and coupon.supervisor != expected:
            yield Message(
                "roles.two_supervisors",
                coupon=coupon.id,
                got=coupon.supervisor,
                expected=expected,
            )
