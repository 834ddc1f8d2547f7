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
    1.96 x sqrt 2, ISO 5725-6, from memory).

The probability of conformance Phi((limit - y)/u) is given in any case.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from statistics import NormalDist

from lapwright.core.evidence import Reading
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why

from .asking import Question, Ruling
from .errors import ReadingUnknown
from .independence import same_stretch
from .rulebook import Adopted

SECOND = "second-reading"
DECISION_RULES = ("simple", "guarded", SECOND)
RULE = "section.max_unbrazed_share"
NO_ENDS = "ends not given"  # a photograph filed without its two points


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
    checked_methods: Sequence[str] = (),
) -> FaceResult:
    """Judge one face from its filed readings.

    Parameters
    ----------
    face : str
        Id of the face.
    readings : sequence of Reading
        Every filed reading of the face, in the order of filing.
    adopted : Adopted
        The adopted editions.
    decision_rule : str
        ``simple``, ``guarded`` or ``second-reading``; named in the basis.
    s_reproducibility : Decimal, optional
        Reproducibility standard deviation s_R of the programme's readers, [-].
    checked_methods : sequence of str, optional
        Methods whose readings count unaided because the shop checked them.

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
    usable = _usable(readings, checked_methods)
    if not usable:
        return _open(face, ask.open(*_why_unusable(face, readings)))
    factor = _repeat_factor(adopted)
    return _DECIDE[decision_rule](_Asked(ask, face, min(limits), s_reproducibility, factor), usable)


def _repeat_factor(adopted: Adopted) -> Decimal:
    """Return the factor on s_R over which two readings differ too much (ISO 5725-6)."""
    rules = [r for r in adopted.all("reading.repeat_factor") if r.value is not None]
    return Decimal(rules[0].value) if rules else Decimal("2.8")


@dataclass(frozen=True)
class _Value:
    share: Decimal
    u: Decimal
    low: Decimal
    high: Decimal
    reader: str
    blind: str


def _usable(readings: Sequence[Reading], checked: Sequence[str]) -> list[_Value]:
    """Return one value per reading that counts, in the order of their days.

    Readings by one person, or of one stretch of one photograph, are one reading
    with the larger share, so that reading again or accepting twice never helps.
    """
    groups: list[list[Reading]] = []
    for r in sorted(readings, key=lambda r: r.on):
        counts = r.way == "loupe" or r.accepted_by or (r.method in checked and not r.needs_reader)
        if r.refused or r.share is None or r.u is None or not counts:
            continue
        alike = [g for g in groups if any(_one_reading(r, other) for other in g)]
        merged = [r, *(other for g in alike for other in g)]
        if alike:
            groups[groups.index(alike[0])] = merged
            groups = [g for g in groups if g not in alike[1:]]
        else:
            groups.append(merged)
    return [_value(max(group, key=lambda r: r.share or Decimal(0))) for group in groups]


def _one_reading(one: Reading, two: Reading) -> object:
    """Whether two filings are one person's, or rest on one stretch of one photograph."""
    people = {one.reader, one.accepted_by} & {two.reader, two.accepted_by} - {""}
    return people or same_stretch(one, two)


def _value(r: Reading) -> _Value:
    assert r.share is not None  # the caller kept only what was measured
    assert r.u is not None
    low = r.low if r.low is not None else r.share - 2 * r.u
    high = r.high if r.high is not None else r.share + 2 * r.u
    return _Value(r.share, r.u, low, high, r.accepted_by or r.reader, r.blind)


def _why_unusable(face: str, readings: Sequence[Reading]) -> tuple[Why, Message]:
    if not readings:
        return Why.NEEDS_DATA, Message("face.unread", face=face)
    if all(r.refused == NO_ENDS for r in readings):
        return Why.NEEDS_DATA, Message("face.no_ends", face=face)
    refused = [r.refused for r in readings if r.refused]
    if refused:
        return Why.HOLD, Message("face.refused", face=face, code=", ".join(sorted(set(refused))))
    return Why.HOLD, Message("face.not_accepted", face=face)


@dataclass(frozen=True)
class _Asked:
    """The question put to the readings of one face; the limit is the strictest adopted one."""

    ask: Question
    face: str
    limit: Decimal
    s_r: Decimal | None
    factor: Decimal

    def words(self, v: _Value) -> dict[str, str]:
        places = 2 if abs(v.share - self.limit) < Decimal("0.001") else 1
        pc = conformance_probability(v.share, v.u, self.limit)
        return {
            "face": self.face,
            "share": percent(v.share, places),
            "low": percent(max(v.low, Decimal(0))),
            "high": percent(min(v.high, Decimal(1))),
            "limit": percent(self.limit),
            "pc": f"{pc:.3f}",
        }

    def decided(self, chosen: _Value, values: list[_Value], by: Decimal, rule: str) -> FaceResult:
        """Close the face: ``by`` is the figure compared with the limit."""
        shown = self.words(chosen)
        told = {**shown, "rule": rule, "readings": str(len(values))}
        if by <= self.limit:
            outcome, message = Outcome.MET, Message("face.met", **told)
        else:
            outcome, message = Outcome.NOT_MET, Message("face.not_met", **told)
        if outcome is Outcome.NOT_MET and chosen.share <= self.limit:
            message = Message("face.guarded_not_met", **told)
        observed, limit = self.figures(shown)
        finding = self.ask.answer(
            lambda _: Ruling(outcome, message, observed=observed, limit=limit)
        )
        return self.result(finding, chosen, tuple(v.reader for v in values))

    def due(self, chosen: _Value, which: str) -> FaceResult:
        """Keep the face open until another reading."""
        shown = self.words(chosen)
        message = (
            Message("face.due_second", **shown)
            if which == "second"
            else Message("face.due_third", **shown)
        )
        observed, limit = self.figures(shown)
        finding = replace(self.ask.hold(message, observed=observed), limit=limit)
        return replace(self.result(finding, chosen, (chosen.reader,)), due=which)

    def figures(self, shown: dict[str, str]) -> tuple[str, str]:
        between = f"{shown['low']} to {shown['high']} %"
        return f"{shown['share']} % ({between})", f"≤ {shown['limit']} %"

    def result(self, finding: Finding, chosen: _Value, readers: tuple[str, ...]) -> FaceResult:
        pc = conformance_probability(chosen.share, chosen.u, self.limit)
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


def _simple(asked: _Asked, values: list[_Value]) -> FaceResult:
    chosen = max(values, key=lambda v: v.share)
    return asked.decided(chosen, values, chosen.share, "simple")


def _guarded(asked: _Asked, values: list[_Value]) -> FaceResult:
    chosen = max(values, key=lambda v: v.high)
    straddles = chosen.low <= asked.limit < chosen.high
    if straddles and len(values) == 1:
        return asked.due(chosen, "second")
    return asked.decided(chosen, values, chosen.high, "guarded")


def _second(asked: _Asked, values: list[_Value]) -> FaceResult:
    """Go through the readings in their order; one that was not due helps nobody."""
    first, *more = values
    if not first.low <= asked.limit < first.high:
        return _unasked(asked, asked.decided(first, [first], first.share, SECOND), more)
    if not more:
        return asked.due(first, "second")
    if any(v.blind != "yes" for v in more):
        return _open(asked.face, asked.ask.hold(Message("face.second_not_blind", face=asked.face)))
    if asked.s_r is None:
        return _open(asked.face, asked.ask.needs(Message("face.no_s_r", face=asked.face)))
    pair = sorted(values[:2], key=lambda v: v.share)
    if pair[1].share - pair[0].share <= asked.factor * asked.s_r:
        return _unasked(asked, asked.decided(pair[1], pair, pair[1].share, SECOND), more[1:])
    if len(values) == 2:
        return asked.due(pair[1], "third")
    median = sorted(values[:3], key=lambda v: v.share)[1]
    return _unasked(asked, asked.decided(median, values[:3], median.share, SECOND), more[2:])


def _unasked(asked: _Asked, result: FaceResult, extra: list[_Value]) -> FaceResult:
    """Keep an answer against readings that were not due; a worse one is held for a person."""
    worse = [v for v in extra if v.share > asked.limit]
    if not worse or result.finding.before_confirmation is Outcome.NOT_MET:
        return result
    told = Message("face.extra_worse", **asked.words(max(worse, key=lambda v: v.share)))
    return replace(result, finding=asked.ask.hold(told, observed=result.finding.observed))


_DECIDE = {"simple": _simple, "guarded": _guarded, SECOND: _second}


def percent(share: Decimal, places: int = 1) -> str:
    """Return a share as text in percent, rounded for display only."""
    return f"{float(share) * 100:.{places}f}"


def _open(face: str, finding: Finding) -> FaceResult:
    return FaceResult(face, finding, None, None, None, ())
