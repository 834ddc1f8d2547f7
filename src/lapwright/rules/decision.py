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

from .asking import Question, Ruling
from .coupon_judging import judge_coupon, p_numbers_of, tube_od
from .errors import EditionUnknown
from .joint_judging import JointResult, judge_joint
from .procedure_judging import judge_case_procedure
from .ranges import TestedJoint
from .retest import (
    AfterTraining,
    Immediate,
    Piece,
    judge_after_training,
    judge_immediate,
    stand_after,
)
from .rulebook import Adopted, Confirmation, Edition, load_edition
from .specimens import SpecimenSet, Taken, judge_specimens
from .thickness import CouponWalls


@dataclass(frozen=True)
class PositionResult:
    """The decision for one flow position with the joints that count for it."""

    position: str
    verdict: Verdict
    joints: tuple[str, ...]


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
        """Letters of the flow positions that passed."""
        return tuple(p.position for p in self.positions if p.verdict.outcome is Outcome.MET)


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
    positions = _positions(evidence, coupons, joints, adopted)
    summary = combine([*case.findings, *(_summary(p, adopted) for p in positions)])
    passed = {
        p.position: set(p.joints)
        for p in positions
        if p.verdict.outcome is Outcome.MET and case.outcome is Outcome.MET
    }
    tests = tuple(
        _tested(c, j, r)
        for c in evidence.coupons
        for j in c.joints
        for r in joints
        if r.joint == j.id and j.id in passed.get(r.position, set())
    )
    return Judgement(
        evidence, adopted, case, tuple(coupons.items()), joints, positions, summary, tests
    )


def _positions(
    evidence: Evidence,
    coupons: dict[str, Verdict],
    joints: tuple[JointResult, ...],
    adopted: Adopted,
) -> tuple[PositionResult, ...]:
    letters = sorted({j.position for j in joints if j.position})
    found = [_position(evidence, letter, coupons, joints, adopted) for letter in letters]
    lost = [j for j in joints if not j.position]
    if lost:
        verdict = combine([f for j in lost for f in j.verdict.findings])
        found.append(PositionResult("", verdict, tuple(j.joint for j in lost)))
    return tuple(found)


def _position(
    evidence: Evidence,
    letter: str,
    coupons: dict[str, Verdict],
    joints: tuple[JointResult, ...],
    adopted: Adopted,
) -> PositionResult:
    rounds: dict[str, list[JointResult]] = {}
    by_id = {c.id: c for c in evidence.coupons}
    for joint in joints:
        if joint.position == letter:
            rounds.setdefault(by_id[joint.coupon].round, []).append(joint)
    first = rounds.get("first", [])
    verdict = _round(evidence, letter, first, coupons, adopted)
    if verdict.outcome is Outcome.NOT_MET and len(rounds) > 1:
        again = _retests(evidence, letter, rounds, coupons, adopted)
        stands = stand_after(letter, _stand_in(letter, verdict), tuple(f for f, _ in again))
        kept = [j for f, group in again if f is stands for j in group]
        if kept:
            counted = combine([stands, *(f for j in kept for f in j.verdict.findings)])
            return PositionResult(
                letter,
                counted if stands.outcome is Outcome.MET else combine([stands]),
                tuple(j.joint for j in kept),
            )
    return PositionResult(letter, verdict, tuple(j.joint for j in first))


def _round(
    evidence: Evidence,
    letter: str,
    group: list[JointResult],
    coupons: dict[str, Verdict],
    adopted: Adopted,
) -> Verdict:
    findings = [f for j in group for f in j.verdict.findings]
    findings += [f for c in {j.coupon for j in group} for f in coupons[c].findings]
    findings.append(_specimens(evidence, letter, group, adopted))
    return combine(findings)


def _specimens(
    evidence: Evidence, letter: str, group: list[JointResult], adopted: Adopted
) -> Finding:
    by_id = {j.id: (c, j) for c in evidence.coupons for j in c.joints}
    taken, od = [], None
    for result in group:
        coupon, joint = by_id[result.joint]
        od = tube_od(coupon)
        if joint.faces or joint.specimens:
            place = joint.section.place if joint.section else None
            taken.append(Taken(joint.id, coupon.id, joint.id, place))
    choice = evidence.basis.option("sockets_of_one_coupling") if evidence.basis else ""
    return judge_specimens(
        SpecimenSet(letter, od, tuple(taken)), adopted=adopted, sockets_choice=choice
    )


def _retests(
    evidence: Evidence,
    letter: str,
    rounds: dict[str, list[JointResult]],
    coupons: dict[str, Verdict],
    adopted: Adopted,
) -> list[tuple[Finding, list[JointResult]]]:
    by_id = {c.id: c for c in evidence.coupons}
    failed_on = max(by_id[j.coupon].brazed_on for j in rounds.get("first", []))
    training = max((t.on for t in evidence.trainings if t.on >= failed_on), default=None)
    basis = evidence.basis
    found = []
    for kind in ("immediate", "after-training"):
        group = rounds.get(kind, [])
        if not group:
            continue
        ids = list(dict.fromkeys(j.coupon for j in group))
        brazed = max(by_id[i].brazed_on for i in ids)
        if kind == "immediate":
            pieces = tuple(Piece(i, _piece(i, group, coupons)) for i in ids)
            found.append(
                (
                    judge_immediate(
                        Immediate(
                            letter,
                            failed_on,
                            brazed,
                            pieces,
                            tuple(ids),
                            tube_od(by_id[ids[0]]),
                            training,
                        ),
                        adopted=adopted,
                        pieces_choice=basis.option("immediate_retest_pieces") if basis else "",
                    ),
                    group,
                )
            )
        else:
            whole = _round(evidence, letter, group, coupons, adopted)
            found.append(
                (
                    judge_after_training(
                        AfterTraining(letter, training, brazed, whole.outcome), adopted=adopted
                    ),
                    group,
                )
            )
    return found


def _piece(coupon: str, group: list[JointResult], coupons: dict[str, Verdict]) -> Outcome | None:
    verdict = combine(
        [
            *(f for j in group if j.coupon == coupon for f in j.verdict.findings),
            *coupons[coupon].findings,
        ]
    )
    return None if verdict.outcome is Outcome.UNDETERMINED else verdict.outcome


def _stand_in(letter: str, verdict: Verdict) -> Finding:
    """Return the first test of a position as one finding, for `stand_after`."""
    failing = next(f for f in verdict.findings if f.outcome is Outcome.NOT_MET)
    return Finding(
        "position.first_test",
        Subject("position", letter),
        Outcome.NOT_MET,
        failing.message,
        cites=failing.cites,
        computed=Outcome.NOT_MET,
    )


def _summary(position: PositionResult, adopted: Adopted) -> Finding:
    """Return a position's decision as one finding of the case."""
    ask = Question(
        "position.brazer_variable", Subject("position", position.position or "?"), adopted
    )
    shown = {"position": position.position or "?", "joints": ", ".join(position.joints)}
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
    kind = f"{coupon.tube.size} {coupon.tube.kind} {coupon.fitting.standard}"
    if coupon.fitting.modified not in ("", "none"):
        kind += f" {coupon.fitting.modified}"
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
        overlap=joint.overlap,
        walls=CouponWalls(
            joint.tube_wall or coupon.tube.wall,
            joint.fitting_wall or coupon.fitting.wall,
            coupon.tube.kind,
        ),
        coupon_kind=kind,
    )
