"""Hold a test that does not follow the procedure it names.

The test follows one of the organization's qualified procedures (ASME BPVC IX,
QB-301.2, QG-106.2). So the procedure is signed before the braze by someone else
than the brazer, and process, manner, flux, filler, form, flow position and
clearance are what procedure and records say. A difference is held: a person
must find out whether the papers or the braze are mistaken.
"""

from __future__ import annotations

from collections.abc import Iterator

from lapwright.core.evidence import Coupon, Evidence, Joint, Procedure
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.reference.fillers import filler

from .asking import Question, Ruling
from .positions import Stand, flow_position
from .rulebook import Adopted

RULE = "procedure.qualified_first"
_Difference = tuple[str, str, str]


def judge_following(evidence: Evidence, coupon: Coupon, *, adopted: Adopted) -> Iterator[Finding]:
    """Yield findings on a coupon against the procedure of its case.

    Parameters
    ----------
    evidence : Evidence
        The case with its procedure.
    coupon : Coupon
        The coupon.
    adopted : Adopted
        The adopted editions.
    """
    procedure = evidence.procedure
    if procedure is None or not adopted.has(RULE):
        return
    ask = Question(RULE, Subject("coupon", coupon.id), adopted)
    unsigned = ask.lacks(**{"procedure.signed.by": procedure.signed_by})
    if unsigned is not None:
        yield unsigned
        return
    unfiled = [key for key, got, expected in _written(procedure, coupon) if expected and not got]
    yield from (ask.missing(key) for key in unfiled)
    differ = [
        *_signed(procedure, coupon, evidence.brazer),
        *_variables(procedure, coupon),
        *_joints(procedure, coupon, adopted),
    ]
    for what, got, expected in differ:
        shown = {"coupon": coupon.id, "what": what, "got": got, "expected": expected}
        yield ask.hold(Message("following.differs", **shown), observed=got)
    if not differ and not unfiled:
        yield ask.answer(
            lambda _: Ruling(
                Outcome.MET,
                Message("following.as_written", coupon=coupon.id, procedure=procedure.id),
            )
        )


def _signed(procedure: Procedure, coupon: Coupon, brazer: str) -> Iterator[_Difference]:
    on = procedure.signed_on
    if on is not None and on > coupon.brazed_on:
        yield "signature of the procedure", on.isoformat(), f"{coupon.brazed_on} or earlier"
    if procedure.signed_by in (brazer, coupon.brazed_by):
        yield "signature of the procedure", procedure.signed_by, "another person than the brazer"


def _written(procedure: Procedure, coupon: Coupon) -> tuple[_Difference, ...]:
    """Return key, filed and written word of what a procedure fixes for a braze."""
    return (
        ("brazed.process", coupon.process, procedure.process),
        ("brazed.manner", coupon.manner, procedure.manner),
        ("brazed.flux", coupon.flux, procedure.flux),
    )


def _variables(procedure: Procedure, coupon: Coupon) -> Iterator[_Difference]:
    for key, got, expected in _written(procedure, coupon):
        if expected and got and got != expected:
            yield key.removeprefix("brazed."), got, expected
    f_number = filler(coupon.filler).f_number or ""
    fits = [p for p in procedure.pqrs if (p.f_number, p.form) == (f_number, coupon.form)]
    if procedure.pqrs and not fits:
        known = "; ".join(sorted({f"F-{p.f_number} {p.form}" for p in procedure.pqrs}))
        yield "filler and form", f"F-{f_number} {coupon.form}", known


def _joints(procedure: Procedure, coupon: Coupon, adopted: Adopted) -> Iterator[_Difference]:
    for joint in coupon.joints:
        letter = _letter(joint, adopted)
        if procedure.positions and letter and letter not in procedure.positions:
            yield f"flow position of {joint.id}", letter, ", ".join(procedure.positions)
        window, gap = procedure.clearance, joint.clearance
        if window is not None and gap is not None and not window[0] <= gap <= window[1]:
            yield f"clearance of {joint.id}", gap.text, f"{window[0].text} to {window[1].text}"


def _letter(joint: Joint, adopted: Adopted) -> str:
    stand = Stand(joint.id, joint.axis_angle, joint.cup, joint.feed, joint.position)
    return flow_position(stand, adopted=adopted).position
