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
from dataclasses import dataclass
from decimal import Decimal
from statistics import NormalDist

from lapwright.core.evidence import Reading
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why, settled

from .errors import ReadingUnknown
from .rulebook import Adopted, Rule

DECISION_RULES = ("simple", "guarded", "second-reading")
RULE = "section.max_unbrazed_share"


@dataclass(frozen=True)
class FaceResult:
    """The judgement of one face with the value that was acted on.

    ``share`` and ``u`` are fractions; ``conformance`` is a probability;
    ``due`` is ``second`` or ``third`` when another reading must come first.
    """

    face: str
    finding: Finding
    share: Decimal | None
    u: Decimal | None
    conformance: float | None
    readers: tuple[str, ...]
    due: str = ""


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
    rules = adopted.all(RULE)
    strictest = _strictest(rules)
    if strictest is None:
        return _open(face, Why.UNREAD, Message("face.no_limit", face=face), rules)
    usable = _usable(readings, checked_methods)
    if not usable:
        return _open(face, *_why_unusable(face, readings), rules)
    limit = Decimal(strictest.value)
    return _DECIDE[decision_rule](face, usable, limit, rules, s_reproducibility)


@dataclass(frozen=True)
class _Value:
    share: Decimal
    u: Decimal
    low: Decimal
    high: Decimal
    reader: str
    blind: str


def _usable(readings: Sequence[Reading], checked: Sequence[str]) -> list[_Value]:
    """Return one value per reader: their largest, so that re-reading never helps."""
    best: dict[str, _Value] = {}
    for r in readings:
        counts = r.way == "loupe" or r.accepted_by or (r.method in checked and not r.needs_reader)
        if r.refused or r.share is None or r.u is None or not counts:
            continue
        low = r.low if r.low is not None else r.share - 2 * r.u
        high = r.high if r.high is not None else r.share + 2 * r.u
        reader = r.accepted_by or r.reader
        value = _Value(r.share, r.u, low, high, reader, r.blind)
        if reader not in best or best[reader].share < value.share:
            best[reader] = value
    return list(best.values())


def _why_unusable(face: str, readings: Sequence[Reading]) -> tuple[Why, Message]:
    if not readings:
        return Why.NEEDS_DATA, Message("face.unread", face=face)
    refused = [r.refused for r in readings if r.refused]
    if refused:
        return Why.HOLD, Message("face.refused", face=face, code=", ".join(sorted(set(refused))))
    return Why.HOLD, Message("face.not_accepted", face=face)


def _strictest(rules: Sequence[Rule]) -> Rule | None:
    known = [r for r in rules if r.value is not None]
    return min(known, key=lambda r: Decimal(r.value)) if known else None


def _simple(
    face: str, values: list[_Value], limit: Decimal, rules: Sequence[Rule], s_r: Decimal | None
) -> FaceResult:
    chosen = max(values, key=lambda v: v.share)
    return _closed(face, chosen, chosen.share <= limit, limit, rules, values, "simple")


def _guarded(
    face: str, values: list[_Value], limit: Decimal, rules: Sequence[Rule], s_r: Decimal | None
) -> FaceResult:
    chosen = max(values, key=lambda v: v.share)
    if chosen.high <= limit:
        return _closed(face, chosen, True, limit, rules, values, "guarded")
    if chosen.low > limit or len(values) > 1:
        return _closed(face, chosen, False, limit, rules, values, "guarded")
    return _due(face, chosen, limit, rules, "second")


def _second(
    face: str, values: list[_Value], limit: Decimal, rules: Sequence[Rule], s_r: Decimal | None
) -> FaceResult:
    first = values[0]
    if len(values) == 1:
        if first.low <= limit < first.high:
            return _due(face, first, limit, rules, "second")
        return _closed(face, first, first.share <= limit, limit, rules, values, "second-reading")
    if any(v.blind != "yes" for v in values[1:]):
        return _open(face, Why.HOLD, Message("face.second_not_blind", face=face), rules)
    if s_r is None:
        return _open(face, Why.NEEDS_DATA, Message("face.no_s_r", face=face), rules)
    if len(values) == 2:
        a, b = values
        if abs(a.share - b.share) > Decimal("2.8") * s_r:
            return _due(face, max(values, key=lambda v: v.share), limit, rules, "third")
        chosen = max(values, key=lambda v: v.share)
    else:
        chosen = sorted(values[:3], key=lambda v: v.share)[1]
    return _closed(face, chosen, chosen.share <= limit, limit, rules, values, "second-reading")


_DECIDE = {"simple": _simple, "guarded": _guarded, "second-reading": _second}


def percent(share: Decimal, places: int = 1) -> str:
    """Return a share as text in percent, rounded for display only."""
    return f"{float(share) * 100:.{places}f}"


def _closed(
    face: str,
    v: _Value,
    passed: bool,
    limit: Decimal,
    rules: Sequence[Rule],
    values: list[_Value],
    how: str,
) -> FaceResult:
    pc = conformance_probability(v.share, v.u, limit)
    computed = Outcome.MET if passed else Outcome.NOT_MET
    message = Message(
        "face.met" if passed else "face.not_met",
        face=face,
        share=percent(v.share),
        u95=percent(2 * v.u),
        limit=percent(limit),
        rule=how,
        pc=f"{pc:.3f}",
        readings=str(len(values)),
    )
    finding = settled(
        RULE,
        Subject("face", face),
        computed,
        message,
        cites=tuple(r.cite for r in rules),
        observed=f"{percent(v.share)} % ± {percent(2 * v.u)}",
        limit=f"≤ {percent(limit)} %",
    )
    return FaceResult(face, finding, v.share, v.u, pc, tuple(x.reader for x in values))


def _due(face: str, v: _Value, limit: Decimal, rules: Sequence[Rule], which: str) -> FaceResult:
    pc = conformance_probability(v.share, v.u, limit)
    message = Message(
        f"face.due_{which}",
        face=face,
        share=percent(v.share),
        u95=percent(2 * v.u),
        limit=percent(limit),
        pc=f"{pc:.3f}",
    )
    finding = settled(
        RULE,
        Subject("face", face),
        Outcome.UNDETERMINED,
        message,
        why=Why.HOLD,
        cites=tuple(r.cite for r in rules),
        observed=f"{percent(v.share)} % ± {percent(2 * v.u)}",
        limit=f"≤ {percent(limit)} %",
    )
    return FaceResult(face, finding, v.share, v.u, pc, (v.reader,), which)


def _open(face: str, why: Why, message: Message, rules: Sequence[Rule]) -> FaceResult:
    finding = settled(
        RULE,
        Subject("face", face),
        Outcome.UNDETERMINED,
        message,
        why=why,
        cites=tuple(r.cite for r in rules),
    )
    return FaceResult(face, finding, None, None, None, ())
