"""Decide each flow position, for each set of essential variables by itself, round by round.

Specimens are counted per coupon thickness and position (ASME BPVC IX, QB-452.1)
and never across essential variables: a 3/4 in coupon, or one brazed with another
process, filler or form, never makes up for a missing one, and its failure never
pulls the other down. A failed position stands on its last retest; each retest
is of that position and kind alone (QB-321).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from lapwright.core.evidence import Coupon, Evidence, Joint
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, Why, combine
from lapwright.reference.fillers import filler

from .asking import Question
from .coupon_judging import tube_od
from .joint_judging import JointResult
from .retest import (
    AfterTraining,
    Immediate,
    Piece,
    Sequel,
    hold_filed_first,
    hold_late_immediate,
    judge_after_training,
    judge_immediate,
    judge_sequel,
    stand_after,
)
from .rulebook import Adopted
from .specimens import SpecimenSet, Taken, judge_specimens


@dataclass(frozen=True)
class PositionResult:
    """The decision for one flow position and coupon kind, with the joints that count for it."""

    position: str
    kind: str
    verdict: Verdict
    joints: tuple[str, ...]


def kind_of(coupon: Coupon) -> str:
    """Return the kind of a coupon: tube size and type, fitting standard, any changed cup."""
    kind = f"{coupon.tube.size} {coupon.tube.kind} {coupon.fitting.standard}"
    changed = coupon.fitting.modified
    return kind if changed in ("", "none") else f"{kind} {changed}"


def variables_of(coupon: Coupon) -> str:
    """Return the kind of a coupon with its essential variables, as one line of text."""
    f_number = filler(coupon.filler).f_number or coupon.filler
    return (
        f"{kind_of(coupon)}, {coupon.process} {coupon.manner} {coupon.joint_type}, "
        f"F-{f_number} {coupon.form}, flux {coupon.flux}"
    )


def perhaps_alike(one: Coupon, other: Coupon) -> list[str]:
    """Return the variables left unfiled of two coupons that agree in all others, else nothing.

    Parameters
    ----------
    one, other : Coupon
        Two coupons; a variable that neither or only one of them states tells no difference.
    """
    unfiled = []
    for name in ("process", "manner", "joint_type", "filler", "form", "flux"):
        here, there = getattr(one, name), getattr(other, name)
        if not (here and there):
            unfiled.append(name)
        elif variables_of(replace(one, **{name: there})) != variables_of(one):
            return []
    return unfiled if kind_of(one) == kind_of(other) else []


@dataclass(frozen=True)
class Rounds:
    """The judged joints of a case, to be decided position by position."""

    evidence: Evidence
    coupons: Mapping[str, Verdict]
    joints: tuple[JointResult, ...]
    adopted: Adopted

    def decide(self) -> tuple[PositionResult, ...]:
        """Return a decision for each position and coupon kind, and one for joints without."""
        kinds = {c.id: variables_of(c) for c in self.evidence.coupons}
        groups: dict[tuple[str, str], list[JointResult]] = {}
        for joint in self.joints:
            groups.setdefault((joint.position, kinds[joint.coupon]), []).append(joint)
        return tuple(
            self._position(letter, kind, group, self._elsewhere(letter, group, groups))
            if letter
            else _lost(kind, group)
            for (letter, kind), group in sorted(groups.items())
        )

    def _elsewhere(
        self,
        letter: str,
        group: list[JointResult],
        groups: Mapping[tuple[str, str], list[JointResult]],
    ) -> list[str]:
        """Return the joints that may belong to a group too: place or a variable is not known."""
        mine = self._coupon(group[0].coupon)
        found = []
        for (where, _), others in groups.items():
            other = self._coupon(others[0].coupon)
            same = variables_of(other) == variables_of(mine)
            if where in ("", letter) and (same or perhaps_alike(mine, other)):
                found += [j for j in _ids(others) if j not in _ids(group)]
        return found

    def _position(
        self, letter: str, kind: str, joints: list[JointResult], lost: Collection[str]
    ) -> PositionResult:
        rounds: dict[str, list[JointResult]] = {}
        for joint in joints:
            rounds.setdefault(self._coupon(joint.coupon).round, []).append(joint)
        first = rounds.get("first", [])
        verdict = self._round(letter, first, lost)
        if verdict.outcome is Outcome.NOT_MET and len(rounds) > 1:
            again = self._retests(letter, rounds, lost)
            stands = stand_after(letter, _stand_in(letter, verdict), tuple(f for f, _ in again))
            for finding, group in again:
                if finding is stands:
                    looked = [f for j in group for f in j.verdict.findings]
                    counted = looked if stands.outcome is Outcome.MET else []
                    return PositionResult(letter, kind, combine([stands, *counted]), _ids(group))
        return PositionResult(letter, kind, verdict, _ids(first))

    def _round(self, letter: str, group: list[JointResult], lost: Collection[str] = ()) -> Verdict:
        findings = [f for j in group for f in j.verdict.findings]
        for coupon in dict.fromkeys(j.coupon for j in group):
            findings += self.coupons[coupon].findings
        counted = self._specimens(letter, group)
        if lost and counted.outcome is Outcome.NOT_MET:
            # a joint whose position or variables are not known may belong here: not final
            counted = replace(counted, outcome=Outcome.UNDETERMINED, why=Why.NEEDS_DATA)
        return combine([*findings, *self._not_opened(group), counted])

    def _not_opened(self, group: list[JointResult]) -> list[Finding]:
        """Ask for the joints that were brazed for this round and neither read nor tested."""
        rule = "specimens.every_joint"
        left = [j.id for j in map(self._joint, _ids(group)) if not (j.faces or j.specimens)]
        asks = [Question(rule, Subject("joint", id_), self.adopted) for id_ in left]
        told = [ask.needs(Message("specimens.not_opened", joint=ask.subject.id)) for ask in asks]
        return told if self.adopted.has(rule) else []

    def _specimens(self, letter: str, group: list[JointResult]) -> Finding:
        taken, od = [], None
        for result in group:
            coupon, joint = self._coupon(result.coupon), self._joint(result.joint)
            od = tube_od(coupon)
            if joint.faces or joint.specimens:
                place = joint.section.place if joint.section else None
                taken.append(Taken(joint.id, coupon.id, joint.id, place))
        return judge_specimens(
            SpecimenSet(letter, od, tuple(taken)),
            adopted=self.adopted,
            sockets_choice=self._option("sockets_of_one_coupling"),
        )

    def _retests(
        self, letter: str, rounds: Mapping[str, list[JointResult]], lost: Collection[str]
    ) -> list[tuple[Finding, list[JointResult]]]:
        failed_on = self._brazed(rounds["first"])[-1]
        given = sorted(t.on for t in self.evidence.trainings if t.on >= failed_on)
        found = []
        if group := rounds.get("immediate"):
            ids = list(dict.fromkeys(j.coupon for j in group))
            brazed = max(self._coupon(i).brazed_on for i in ids)
            between = [day for day in given if day <= brazed]
            retest = Immediate(
                letter,
                failed_on,
                brazed,
                tuple(Piece(i, self._piece(i, group)) for i in ids),
                tuple(ids),
                tube_od(self._coupon(ids[0])),
                between[0] if between else None,
            )
            choice = self._option("immediate_retest_pieces")
            judged = judge_immediate(retest, adopted=self.adopted, pieces_choice=choice)
            late = self._late(letter, rounds)
            order = self._sequel(letter, rounds["first"], group)
            found.append((late or _unless_failed(judged, order), group))
        if group := rounds.get("after-training"):
            brazed = max(self._coupon(j.coupon).brazed_on for j in group)
            whole = self._round(letter, group, lost).outcome
            before = [day for day in given if day < brazed]
            training = before[-1] if before else next(iter(given), None)
            after = AfterTraining(letter, training, brazed, whole)
            judged = judge_after_training(after, adopted=self.adopted)
            order = self._sequel(letter, rounds["first"], group, training)
            order = order or self._after_immediate(letter, rounds, training)
            found.append((_unless_failed(judged, order), group))
        return sorted(found, key=lambda f: self._brazed(f[1])[-1])

    def _late(self, letter: str, rounds: Mapping[str, list[JointResult]]) -> Finding | None:
        """Hold an immediate retest brazed on or after the day of the one after training."""
        trained = rounds.get("after-training")
        if not trained or not self.adopted.has("retest.in_order"):
            return None
        if self._brazed(rounds["immediate"])[-1] < self._brazed(trained)[0]:
            return None
        return hold_late_immediate(letter, adopted=self.adopted)

    def _sequel(
        self,
        letter: str,
        first: list[JointResult],
        again: list[JointResult],
        training: date | None = None,
    ) -> Finding | None:
        """Return what is out of order between a failed round and its retest."""
        if filed := self._filed_first(letter, first):
            return filed
        begun = self._brazed(again)[0]
        days = Sequel(
            letter,
            self._brazed(first)[-1],
            begun,
            self._started(first)[-1],
            self._started(again)[0],
            self._found_on(first),
            training or begun,
        )
        return judge_sequel(days, adopted=self.adopted)

    def _after_immediate(
        self, letter: str, rounds: Mapping[str, list[JointResult]], training: date | None
    ) -> Finding | None:
        """Return what is out of order between a failed immediate retest and the next one."""
        earlier = rounds.get("immediate", [])
        if not any(j.verdict.outcome is Outcome.NOT_MET for j in earlier):
            return None
        return self._sequel(letter, earlier, rounds["after-training"], training)

    def _filed_first(self, letter: str, group: list[JointResult]) -> Finding | None:
        """Hold a piece of the first round that was brazed after the position's failure was found.

        A later round's pieces never ask: only the failures of their own round are looked at.
        """
        known = min(self._failures_found(group), default=None)
        pieces = (self._coupon(j.coupon) for j in group)
        late = [c for c in pieces if c.round == "first" and known and c.brazed_on > known]
        if known is None or not late or not self.adopted.has("retest.in_order"):
            return None
        return hold_filed_first(
            letter,
            late[0].id,
            brazed_on=late[0].brazed_on,
            found_on=known,
            adopted=self.adopted,
        )

    def _brazed(self, group: list[JointResult]) -> list[date]:
        return sorted(self._coupon(j.coupon).brazed_on for j in group)

    def _started(self, group: list[JointResult]) -> list[datetime | None]:
        """Return the starts of a round in order; one None when an hour is missing."""
        at = [self._coupon(j.coupon).started for j in group]
        known = [t for t in at if t is not None]
        return [None] if len(known) < len(at) else [*sorted(known)]

    def _found_on(self, first: list[JointResult]) -> date:
        """Return the day by which every failure of a round could be known."""
        return max(self._failures_found(first), default=self._brazed(first)[-1])

    def _failures_found(self, group: list[JointResult]) -> list[date]:
        """Return, for each failed joint of a round, the first day its failure could be known."""
        failed = [self._seen_on(j) for j in group if j.verdict.outcome is Outcome.NOT_MET]
        return [min(days) for days in failed if days]

    def _seen_on(self, failed: JointResult) -> list[date]:
        """Return the days of what showed a joint's failure: readings, or any look or test."""
        joint = self._joint(failed.joint)
        bad = {r.face for r in failed.faces if r.finding.outcome is Outcome.NOT_MET}
        by_face = {r.finding for r in failed.faces}
        days = [r.on for f in joint.faces if f.id in bad for r in f.readings]
        other = [f for f in failed.verdict.findings if f.outcome is Outcome.NOT_MET]
        if any(f not in by_face for f in other):
            looks = [*(e.on for e in joint.examinations), *(t.on for t in joint.specimens)]
            days += [*looks, *(f.prepared_on for f in joint.faces)]
        return days

    def _piece(self, coupon: str, group: list[JointResult]) -> Outcome | None:
        """Return a retest coupon's outcome; None while open or while a joint was not opened."""
        mine = [j for j in group if j.coupon == coupon]
        own = [f for j in mine for f in j.verdict.findings]
        verdict = combine([*own, *self.coupons[coupon].findings])
        opened = [self._joint(j.joint) for j in mine]
        if verdict.outcome is Outcome.MET and not all(j.faces or j.specimens for j in opened):
            return None
        return None if verdict.outcome is Outcome.UNDETERMINED else verdict.outcome

    def _coupon(self, id_: str) -> Coupon:
        return next(c for c in self.evidence.coupons if c.id == id_)

    def _joint(self, id_: str) -> Joint:
        return next(j for j in self.evidence.joints if j.id == id_)

    def _option(self, name: str) -> str:
        basis = self.evidence.basis
        return basis.option(name) if basis else ""


def _ids(group: list[JointResult]) -> tuple[str, ...]:
    return tuple(j.joint for j in group)


def _unless_failed(judged: Finding, order: Finding | None) -> Finding:
    """Return what is out of order with a retest; a retest that failed stays failed."""
    return judged if order is None or judged.outcome is Outcome.NOT_MET else order


def _lost(kind: str, group: list[JointResult]) -> PositionResult:
    """Return the joints whose flow position is not known; they answer for none."""
    verdict = combine([f for j in group for f in j.verdict.findings])
    return PositionResult("", kind, verdict, _ids(group))


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
