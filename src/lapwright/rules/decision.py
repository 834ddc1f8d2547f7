"""Decide a case: coupons and joints → flow positions → the brazer, from evidence alone.

Each flow position answers for itself; a failed one never pulls a passed one
down (ASME BPVC IX, QB-321). Retests stand for the position they repeat. The
case is open while any position is open, met when every tested position is met,
and not met when one of them failed; `qualified` lists what passed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lapwright.core.evidence import Coupon, Evidence, Joint, RuleTick
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, Why, combine
from lapwright.reference.fillers import filler

from .adoption import first_look
from .asking import Question, Ruling
from .coupon_judging import judge_coupon, p_numbers_of
from .errors import EditionUnknown
from .joint_judging import JointResult, judge_joint
from .procedure_judging import judge_case_procedure
from .ranges import TestedJoint, smallest_overlap
from .rounds import PositionResult, Rounds, kind_of
from .rulebook import Adopted, Confirmation, Edition, load_edition
from .thickness import CouponWalls


@dataclass(frozen=True)
class Judgement:
    """Everything decided of one case on one day, under the adopted editions."""

    evidence: Evidence
    adopted: Adopted
    case: Verdict
    coupons: tuple[tuple[str, Verdict], ...]
    joints: tuple[JointResult, ...]
    positions: tuple[PositionResult, ...]
    verdict: Verdict
    tests: tuple[TestedJoint, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Every finding of the case, each once."""
        rows = [*self.case.findings]
        rows += [f for _, v in self.coupons for f in v.findings]
        rows += [f for j in self.joints for f in j.verdict.findings]
        rows += [f for p in self.positions for f in p.verdict.findings]
        return tuple(dict.fromkeys(rows))

    @property
    def qualified(self) -> tuple[str, ...]:
        """Letters of the flow positions that passed, each once."""
        met = (p.position for p in self.positions if p.verdict.outcome is Outcome.MET)
        return tuple(dict.fromkeys(met))


def adopt(evidence: Evidence, editions: Sequence[Edition] | None = None) -> Adopted:
    """Return the editions that a case's basis adopts, with its confirmations.

    Parameters
    ----------
    evidence : Evidence
        The case; its basis names code and edition, there is no default.
    editions : sequence of Edition, optional
        Editions made from a record's own rule rows; shipped files otherwise.
    """
    basis = evidence.basis
    if basis is None or not basis.editions:
        raise EditionUnknown(
            "no edition is adopted",
            got="no basis",
            expected="a basis that names code and edition",
            do="Add 'basis.editions' to the case.",
        )
    names = [*basis.editions, *(() if "programme 1" in basis.editions else ("programme 1",))]
    loaded = (
        tuple(load_edition(*name.split()) for name in names)
        if editions is None
        else tuple(editions)
    )
    ticks = tuple(_confirmation(t) for t in basis.ticks)
    return Adopted(loaded, evidence.as_of, ticks)


def _confirmation(tick: RuleTick) -> Confirmation:
    code, edition, rule = tick.rule.split("/")
    return Confirmation(code, edition, rule, tick.figure, tick.by, tick.on)


def judge_evidence(evidence: Evidence, *, adopted: Adopted) -> Judgement:
    """Decide a case from its evidence.

    Parameters
    ----------
    evidence : Evidence
        What is known on the day.
    adopted : Adopted
        The adopted editions.
    """
    case = judge_case_procedure(evidence, adopted=adopted)
    coupons = {c.id: judge_coupon(evidence, c, adopted=adopted) for c in evidence.coupons}
    joints = tuple(
        judge_joint(evidence, c, j, adopted=adopted) for c in evidence.coupons for j in c.joints
    )
    positions = Rounds(evidence, coupons, joints, adopted).decide()
    summary = _together(case, [_summary(p, adopted) for p in positions])
    passed = {
        j
        for p in positions
        for j in p.joints
        if p.verdict.outcome is Outcome.MET and case.outcome is Outcome.MET
    }
    tests = tuple(
        _tested(c, j, r)
        for c in evidence.coupons
        for j in c.joints
        for r in joints
        if r.joint == j.id and j.id in passed
    )
    return Judgement(
        evidence, adopted, case, tuple(coupons.items()), joints, positions, summary, tests
    )


def _together(case: Verdict, positions: list[Finding]) -> Verdict:
    """Combine papers and positions; a case is open while any position is open."""
    whole = combine([*case.findings, *positions])
    if whole.outcome is not Outcome.NOT_MET or case.outcome is Outcome.NOT_MET:
        return whole
    waiting = combine([f for f in positions if f.outcome is Outcome.UNDETERMINED])
    if not waiting.findings:
        return whole
    return replace(whole, outcome=Outcome.UNDETERMINED, why=waiting.why, act_on=Outcome.NOT_MET)


def _summary(position: PositionResult, adopted: Adopted) -> Finding:
    """Return a position's decision as one finding of the case."""
    ask = Question(
        "position.brazer_variable", Subject("position", position.position or "?"), adopted
    )
    shown = {
        "position": position.position or "?",
        "kind": position.kind,
        "joints": ", ".join(position.joints),
    }
    verdict = position.verdict
    if verdict.outcome is Outcome.UNDETERMINED:
        waiting = ask.open(verdict.why or Why.NEEDS_DATA, Message("decision.open", **shown))
        return replace(waiting, computed=verdict.before_confirmation, act_on=verdict.act_on)
    if verdict.outcome is Outcome.MET:
        return ask.answer(lambda _: Ruling(Outcome.MET, Message("decision.met", **shown)))
    return ask.answer(lambda _: Ruling(Outcome.NOT_MET, Message("decision.not_met", **shown)))


def _tested(coupon: Coupon, joint: Joint, result: JointResult) -> TestedJoint:
    p = p_numbers_of(coupon)
    row = filler(coupon.filler)
    return TestedJoint(
        coupon=coupon.id,
        joint=joint.id,
        position=result.position,
        process=coupon.process,
        manner=coupon.manner,
        p_numbers=(p[0], p[1]),
        f_number=row.f_number or "",
        form=coupon.form,
        joint_type=coupon.joint_type,
        flux=coupon.flux,
        overlap=smallest_overlap(joint),
        walls=CouponWalls(
            joint.tube_wall or coupon.tube.wall,
            joint.fitting_wall or coupon.fitting.wall,
            coupon.tube.kind,
        ),
        coupon_kind=kind_of(coupon),
        looked_on=first_look(coupon.joints),
    )
