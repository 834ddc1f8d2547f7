"""Judge the unbrazed share of one face under the basis's named decision rule.

The limit is the adopted one (ASME BPVC IX, QB-181 and QB-182; AWS B2.2, 4.2.5):
the summed unbrazed length over the overlap of the same face, each face alone,
never averaged. Three decision rules exist and one is named in every basis:

``simple``
    value <= limit (JCGM 106, 8.2.1: simple acceptance).
``guarded``
    upper end of the 95 % interval <= limit (JCGM 106, 8.3.2: guarded acceptance).
``second-reading``
    if the limit lies inside the 95 % interval, a second blind reading by another
    person is due; a difference over 2.8 s_R asks for a third and the median
    answers; else the larger of the two answers (common practice; the factor is
    1.96 x sqrt 2, ISO 5725-6, from memory). Two readers agree no better than each
    of them reads, so s_R counts as at least sqrt((u1^2 + u2^2) / 2).

A person's reading, by loupe or accepted, is one of many readers': its 95 % interval
reaches at least 1.96 s_R to either side where s_R is filed. Where none is, a loupe
reading's holds the instrument's resolution alone, and the finding says so.

The probability of conformance Phi((limit - y)/u) is given in any case; where the
interval reaches farther towards the limit than u tells, u is its end less y over 1.96.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import permutations
from statistics import NormalDist

from lapwright.core.evidence import MethodCheck, Reading
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why

from .asking import Question, Ruling
from .errors import ReadingUnknown
from .facevalues import Value, left_open, usable, value_of
from .methodcheck import why_a_proposal
from .rulebook import Adopted

SECOND = "second-reading"
DECISION_RULES = ("simple", "guarded", SECOND)
RULE = "section.max_unbrazed_share"
REPEAT = "reading.repeat_factor"
NO_ENDS = "ends not given"  # a photograph filed without its two points, or with one of them
NO_PLAIN_JOINT = ("MEAS-021", "MEAS-022")  # none or several where the ends were looked for


@dataclass(frozen=True)
class FaceResult:
    """The judgement of one face with the value that was acted on.

    ``share``, ``u``, ``low`` and ``high`` (the 95 % interval that decides) are
    fractions; ``conformance`` is a probability;
    ``due`` is ``second`` or ``third`` when another reading must come first.
    """

    face: str
    finding: Finding
    share: Decimal | None
    u: Decimal | None
    conformance: float | None
    readers: tuple[str, ...]
    due: str = ""
    low: Decimal | None = None
    high: Decimal | None = None


def conformance_probability(share: Decimal, u: Decimal, limit: Decimal) -> float:
    """Probability that the true share is at most the limit (JCGM 106, clause 7.3).

    Parameters
    ----------
    share : Decimal
        Measured unbrazed share, [-].
    u : Decimal
        Its standard uncertainty, [-].
    limit : Decimal
        Upper limit, [-].

    Examples
    --------
    >>> round(conformance_probability(Decimal("0.192"), Decimal("0.006"), Decimal("0.200")), 3)
    0.909
    """
    if u == 0:
        return 1.0 if share <= limit else 0.0
    return NormalDist().cdf(float((limit - share) / u))


def judge_face(
    face: str,
    readings: Sequence[Reading],
    *,
    adopted: Adopted,
    decision_rule: str,
    s_reproducibility: Decimal | None = None,
    method_checks: Sequence[MethodCheck] = (),
) -> FaceResult:
    """Judge one face from its filed readings.

    Parameters
    ----------
    face : str
        Id of the face.
    readings : sequence of Reading
        Every filed reading of the face, in any order.
    adopted : Adopted
        The adopted editions.
    decision_rule : str
        ``simple``, ``guarded`` or ``second-reading``; named in the basis.
    s_reproducibility : Decimal, optional
        Reproducibility standard deviation s_R of the programme's readers, [-].
    method_checks : sequence of MethodCheck, optional
        The shop's method checks; a program's reading counts unaided only under one
        that holds for it (`lapwright.rules.methodcheck`).

    Raises
    ------
    ReadingUnknown
        For a decision rule that does not exist.
    """
    if decision_rule not in DECISION_RULES:
        raise ReadingUnknown(
            "no such decision rule",
            got=decision_rule,
            expected=", ".join(DECISION_RULES),
            do="Name one of them in the basis.",
        )
    ask = Question(RULE, Subject("face", face), adopted)
    limits = [Decimal(r.value) for r in adopted.all(RULE) if r.value is not None]
    if not limits:
        return _open(face, ask.no_text())
    counted = [v.among_readers(s_reproducibility) for v in usable(readings, method_checks)]
    if not counted:
        return _open(face, ask.open(*_why_unusable(face, readings, method_checks)))
    factor = _repeat_factor(adopted)
    asked = _Asked(ask, face, min(limits), s_reproducibility, factor)
    result = _DECIDE[decision_rule](asked, counted)
    result = _unaided(asked, result, counted)
    proposed = [value_of([r]) for r in readings if left_open(r, asked.limit, method_checks)]
    return _unaccepted(asked, result, proposed)


def _repeat_factor(adopted: Adopted) -> Decimal:
    """Return the factor on s_R over which two readings differ too much (ISO 5725-6)."""
    rules = [r for r in adopted.all(REPEAT) if r.value is not None]
    return Decimal(rules[0].value) if rules else Decimal("2.8")


def _why_unusable(
    face: str, readings: Sequence[Reading], checks: Sequence[MethodCheck]
) -> tuple[Why, Message]:
    if not readings:
        return Why.NEEDS_DATA, Message("face.unread", face=face)
    if all(r.refused == NO_ENDS for r in readings):
        return Why.NEEDS_DATA, Message("face.no_ends", face=face)
    refused = [r.refused for r in readings if r.refused]
    if len(refused) == len(readings) and {*refused} <= {NO_ENDS, *NO_PLAIN_JOINT}:
        codes = ", ".join(sorted({*refused} - {NO_ENDS}))
        return Why.NEEDS_DATA, Message("face.ends_not_found", face=face, code=codes)
    if refused:
        return Why.HOLD, Message("face.refused", face=face, code=", ".join(sorted(set(refused))))
    return Why.HOLD, why_a_proposal(face, readings[0], checks=checks)


@dataclass(frozen=True)
class _Asked:
    """The question put to the readings of one face; the limit is the strictest adopted one."""

    ask: Question
    face: str
    limit: Decimal
    s_r: Decimal | None
    factor: Decimal

    def words(self, v: Value) -> dict[str, str]:
        places = 2 if abs(v.share - self.limit) < Decimal("0.001") else 1
        pc = conformance_probability(v.share, v.doubt(self.limit), self.limit)
        return {
            "face": self.face,
            "share": percent(v.share, places),
            "low": percent(max(v.low, Decimal(0))),
            "high": percent(min(v.high, Decimal(1))),
            "limit": percent(self.limit),
            "pc": f"{pc:.3f}",
        }

    def decided(self, chosen: Value, values: list[Value], by: Decimal, rule: str) -> FaceResult:
        """Close the face: ``by`` is the figure compared with the limit."""
        shown = self.words(chosen)
        told = {**shown, "rule": rule, "readings": str(len(values))}
        outcome = Outcome.MET if by <= self.limit else Outcome.NOT_MET
        message = self._answer(chosen, outcome, told)
        observed, limit = self.figures(shown)
        finding = self.ask.answer(
            lambda _: Ruling(outcome, message, observed=observed, limit=limit)
        )
        return self.result(finding, chosen, tuple(v.reader for v in values))

    def _answer(self, chosen: Value, outcome: Outcome, told: dict[str, str]) -> Message:
        """Say the outcome, and whether the interval holds but the loupe's resolution."""
        step = self._step_only(chosen)
        if outcome is Outcome.MET:
            return Message("face.met_step", **told) if step else Message("face.met", **told)
        if chosen.share <= self.limit:
            guarded = Message("face.guarded_not_met", **told)
            return Message("face.guarded_not_met_step", **told) if step else guarded
        return Message("face.not_met_step", **told) if step else Message("face.not_met", **told)

    def _step_only(self, chosen: Value) -> bool:
        return self.s_r is None and chosen.way == "loupe"

    def due(self, chosen: Value, which: str) -> FaceResult:
        """Keep the face open until another reading."""
        shown = self.words(chosen)
        if which == "third":
            message = Message("face.due_third", **shown)
        elif self._step_only(chosen):
            message = Message("face.due_second_step", **shown)
        else:
            message = Message("face.due_second", **shown)
        observed, limit = self.figures(shown)
        finding = replace(self.ask.hold(message, observed=observed), limit=limit)
        return replace(self.result(finding, chosen, (chosen.reader,)), due=which)

    def told_spread(self, result: FaceResult, own: Decimal, s_r: Decimal) -> FaceResult:
        """Say in the finding that the readings' own spread was larger than the stated s_R."""
        if own <= s_r:
            return result
        finding = result.finding
        shown = {**dict(finding.message.params), "own": percent(own, 2), "s_r": percent(s_r, 2)}
        if result.due:
            message = Message("face.due_third_own_u", **shown)
        elif finding.before_confirmation is Outcome.MET:
            message = Message("face.met_own_u", **shown)
        else:
            message = Message("face.not_met_own_u", **shown)
        cites = replace(self.ask, also=(*self.ask.also, REPEAT)).cites()
        return replace(result, finding=replace(finding, message=message, cites=cites))

    def figures(self, shown: dict[str, str]) -> tuple[str, str]:
        between = f"{shown['low']} to {shown['high']} %"
        return f"{shown['share']} % ({between})", f"≤ {shown['limit']} %"

    def result(self, finding: Finding, chosen: Value, readers: tuple[str, ...]) -> FaceResult:
        pc = conformance_probability(chosen.share, chosen.doubt(self.limit), self.limit)
        return FaceResult(
            self.face,
            finding,
            chosen.share,
            chosen.u,
            pc,
            readers,
            low=max(chosen.low, Decimal(0)),
            high=min(chosen.high, Decimal(1)),
        )


def _simple(asked: _Asked, values: list[Value]) -> FaceResult:
    chosen = max(values, key=lambda v: v.share)
    return asked.decided(chosen, values, chosen.share, "simple")


def _guarded(asked: _Asked, values: list[Value]) -> FaceResult:
    alone = all(v.unaided for v in values)
    values = values if alone else [v.by_itself() for v in values]
    chosen = max(values, key=lambda v: v.high)
    straddles = chosen.low <= asked.limit < chosen.high
    if straddles and (alone or len(values) == 1):
        return asked.due(chosen, "second")
    return asked.decided(chosen, values, chosen.high, "guarded")


def _second(asked: _Asked, values: list[Value]) -> FaceResult:
    """Decide in the order of the days; where the order within a day matters, a person says."""
    results = [_in_order(asked, order) for order in _orders(values)]
    outcomes = {r.finding.before_confirmation for r in results}
    if len(outcomes) == 1:
        return max(results, key=lambda r: len(r.readers))
    clear = [r for r in results if len(r.readers) == 1 and not r.due]
    failed = [r for r in clear if r.finding.before_confirmation is Outcome.NOT_MET]
    if failed:
        return failed[0]
    waiting = Message("face.order", face=asked.face)
    return replace(
        max(results, key=lambda r: r.share or Decimal(0)), finding=asked.ask.hold(waiting)
    )


def _orders(values: list[Value]) -> Iterator[list[Value]]:
    """Yield every order that the days allow; only the first three places can matter."""
    for head in permutations(range(len(values)), min(3, len(values))):
        order = [*head, *(i for i in range(len(values)) if i not in head)]
        days = [values[i].on for i in order]
        if days == sorted(days):
            yield [values[i] for i in order]


def _in_order(asked: _Asked, values: list[Value]) -> FaceResult:
    """Go through the readings in their order; one that was not due helps nobody.

    A reading at the limit asks for the others wherever it stands in the order.
    """
    first, *more = values = _limit_first(asked, values)
    if not _straddles(asked, first):
        return _unasked(asked, asked.decided(first, [first], first.share, SECOND), more)
    if not more:
        return asked.due(first, "second")
    if _not_blind(values):
        return _open(asked.face, asked.ask.hold(Message("face.second_not_blind", face=asked.face)))
    if asked.s_r is None:
        return _open(asked.face, asked.ask.needs(Message("face.no_s_r", face=asked.face)))
    pair = sorted(values[:2], key=lambda v: v.share)
    own = _own_spread(pair)
    if pair[1].share - pair[0].share <= asked.factor * max(asked.s_r, own):
        larger = asked.decided(pair[1], pair, pair[1].share, SECOND)
        return _unasked(asked, asked.told_spread(larger, own, asked.s_r), more[1:])
    if len(values) == 2:
        return asked.told_spread(asked.due(pair[1], "third"), own, asked.s_r)
    median = sorted(values[:3], key=lambda v: v.share)[1]
    answer = asked.decided(median, values[:3], median.share, SECOND)
    return _unasked(asked, asked.told_spread(answer, own, asked.s_r), more[2:])


def _own_spread(pair: list[Value]) -> Decimal:
    """Return the least s_R that two readings of these standard uncertainties allow, [-].

    Their difference has u = sqrt(u1^2 + u2^2) (JCGM 100, 5.1.2), that of two
    readers sqrt(2) s_R; s_R holds the readings' own spread and more.
    """
    return (sum((v.u**2 for v in pair), Decimal(0)) / 2).sqrt()


def _straddles(asked: _Asked, v: Value) -> bool:
    """Whether the limit lies inside the interval of a reading."""
    return v.low <= asked.limit < v.high


def _limit_first(asked: _Asked, values: list[Value]) -> list[Value]:
    """Put a reading at the limit before one that passed clearly; over it `_unasked` holds."""
    if values[0].high > asked.limit or any(v.share > asked.limit for v in values):
        return values
    return sorted(values, key=lambda v: not _straddles(asked, v))


def _not_blind(values: list[Value]) -> list[Value]:
    """Return the readings not filed as blind, but for one that is known to be the first."""
    day = min(v.on for v in values)
    begun = [v for v in values if v.on == day]
    known = begun if len(begun) == 1 else []
    return [v for v in values if v.blind != "yes" and v not in known]


def _unasked(asked: _Asked, result: FaceResult, extra: list[Value]) -> FaceResult:
    """Keep an answer against readings that were not due; a worse one is held for a person."""
    worse = [v for v in extra if v.share > asked.limit]
    if not worse or result.finding.before_confirmation is Outcome.NOT_MET:
        return result
    told = Message("face.extra_worse", **asked.words(max(worse, key=lambda v: v.share)))
    return replace(result, finding=asked.ask.hold(told, observed=result.finding.observed))


def _unaccepted(asked: _Asked, result: FaceResult, proposed: list[Value]) -> FaceResult:
    """Hold a pass beside a reading by the program that nobody accepted and that may fail."""
    if not proposed or result.finding.before_confirmation is not Outcome.MET:
        return result
    told = Message("face.unaccepted", **asked.words(max(proposed, key=lambda v: v.share)))
    return replace(result, finding=asked.ask.hold(told, observed=result.finding.observed))


def _unaided(asked: _Asked, result: FaceResult, counted: list[Value]) -> FaceResult:
    """Hold a pass by the program alone whose method check reaches over the limit."""
    worst = max(counted, key=lambda v: v.high)
    passed = result.finding.before_confirmation is Outcome.MET
    if not passed or worst.high <= asked.limit or not all(v.unaided for v in counted):
        return result
    told = Message("face.check_reaches", **asked.words(worst))
    return replace(result, finding=asked.ask.hold(told, observed=result.finding.observed))


_DECIDE = {"simple": _simple, "guarded": _guarded, SECOND: _second}


def percent(share: Decimal, places: int = 1) -> str:
    """Return a share as text in percent, rounded for display only."""
    return f"{float(share) * 100:.{places}f}"


def _open(face: str, finding: Finding) -> FaceResult:
    return FaceResult(face, finding, None, None, None, ())
