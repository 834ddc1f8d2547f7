"""Thickness: which walls a coupon qualifies, under the readings of a basis.

ASME BPVC IX, QB-452: with T the wall of the coupon as brazed, under 1/8 in the
range is 0.5 T to 2 T, and so on by bands (from memory; the thin band agrees with
a published procedure and with ISO 13585). The text does not settle which wall
counts on a tube-in-cup joint, so nine readings exist; a basis enables some of
them, all enabled ones are shown, and the strictest is acted on:

S1 tube only, nominal wall · S2 tube only, minimum wall of the tube standard ·
S3 both members against the coupon tube, fitting wall measured or adopted ·
S4 as S3 with type M tube as the fitting's stand-in · S5 each member against its
own coupon member · S6 as S3 with type L tube as stand-in · S7 cast joint wall ·
S8, S9 as S3, S4, only for coupons of type K tube.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.quantities import Quantity, length

from .asking import Question, Ruling
from .errors import ReadingUnknown
from .rulebook import Adopted, Rule

READINGS = ("S1", "S2", "S3", "S4", "S5", "S6", "S7", "S8", "S9")
RULE = "thickness.bands"


@dataclass(frozen=True)
class CouponWalls:
    """Walls of the coupon as brazed, and the type letter of its tube."""

    tube: Quantity | None
    fitting: Quantity | None
    tube_type: str


@dataclass(frozen=True)
class JobWalls:
    """Walls of a job joint.

    ``fitting`` is measured or from an adopted range table, else ``None``;
    ``stand_ins`` maps M, L and cast to hypothetical fitting walls from tables.
    """

    tube: Quantity | None
    tube_minimum: Quantity | None = None
    fitting: Quantity | None = None
    stand_ins: Mapping[str, Quantity] = field(default_factory=dict)


@dataclass(frozen=True)
class WallRange:
    """Lowest and highest wall qualified, both included."""

    low: Quantity
    high: Quantity

    def holds(self, wall: Quantity) -> Outcome:
        """Answer whether a wall lies in the range, ends included."""
        return Outcome.MET if self.low <= wall <= self.high else Outcome.NOT_MET


def range_of_wall(wall: Quantity, rule: Rule) -> WallRange:
    """Return the range that a coupon wall qualifies.

    Examples
    --------
    A type L coupon of 1-1/2 in (wall 0.060 in) gives 0.030 to 0.120 in.
    """
    for band in rule.value:
        top = band.get("up_to", "")
        if (
            not top
            or wall < length(top)
            or (band.get("up_to_operator") == "<=" and wall == length(top))
        ):
            low = length(band["low"]) if band.get("low") else wall.times(band["low_factor"])
            return WallRange(low, wall.times(band["high_factor"]))
    raise ReadingUnknown(
        "the bands do not reach this wall",
        got=wall.text,
        where=rule.key,
        expected="a last band without 'up_to'",
        do="Correct the rule's bands.",
    )


def judge_thickness(
    subject: Subject,
    coupon: CouponWalls,
    job: JobWalls,
    *,
    readings: Sequence[str],
    adopted: Adopted,
) -> Finding:
    """Judge a job joint's walls against a coupon under every enabled reading.

    Parameters
    ----------
    subject : Subject
        The joint or size asked about.
    coupon : CouponWalls
        Walls of the coupon.
    job : JobWalls
        Walls of the job joint.
    readings : sequence of str
        Enabled readings, S1 to S9.
    adopted : Adopted
        The adopted editions; the first that states the bands is used.

    Raises
    ------
    ReadingUnknown
        For a reading that does not exist, or none at all.
    """
    unknown = [r for r in readings if r not in READINGS]
    if unknown or not readings:
        raise ReadingUnknown(
            "no such thickness reading",
            got=", ".join(unknown) or "none",
            expected=", ".join(READINGS),
            do="Name one or more in the basis.",
        )
    ask = Question(RULE, subject, adopted)
    known = [r for r in adopted.all(RULE) if r.value is not None]
    if not known:
        return ask.no_text()
    return _combine(ask, {r: _answer(r, coupon, job, known[0]) for r in readings})


def fitting_range(
    coupon: CouponWalls, readings: Sequence[str], rule: Rule
) -> WallRange | Outcome | None:
    """Return the range of a job's fitting wall: what every enabled reading allows.

    ``None`` where no enabled reading asks for the fitting; ``Outcome.UNDETERMINED``
    where one asks for a coupon wall that was not filed.
    """
    asked = [r for r in readings if r not in ("S8", "S9") or coupon.tube_type == "K"]
    walls = [coupon.fitting if r == "S5" else coupon.tube for r in asked if r not in ("S1", "S2")]
    if not walls:
        return None
    spans = [range_of_wall(w, rule) for w in walls if w is not None]
    return overlap_of_ranges(spans) if len(spans) == len(walls) else Outcome.UNDETERMINED


def overlap_of_ranges(spans: Sequence[WallRange]) -> WallRange:
    """Return what several ranges have in common; at least one is given."""
    return WallRange(max(s.low for s in spans), min(s.high for s in spans))


@dataclass(frozen=True)
class _Answer:
    outcome: Outcome
    text: str


def _answer(reading: str, coupon: CouponWalls, job: JobWalls, rule: Rule) -> _Answer | None:
    """Answer under one reading; ``None`` when the reading does not apply to this coupon."""
    if reading in ("S8", "S9"):
        if coupon.tube_type != "K":
            return None
        reading = {"S8": "S3", "S9": "S4"}[reading]
    if coupon.tube is None:
        return _Answer(Outcome.UNDETERMINED, "coupon tube wall")
    by_tube = range_of_wall(coupon.tube, rule)
    if reading == "S5":
        if coupon.fitting is None:
            return _Answer(Outcome.UNDETERMINED, "coupon fitting wall")
        return _members(
            [
                (by_tube, job.tube, "tube wall"),
                (range_of_wall(coupon.fitting, rule), job.fitting, "fitting wall"),
            ]
        )
    tube = job.tube_minimum if reading == "S2" else job.tube
    pairs = [(by_tube, tube, "tube wall")]
    if reading in ("S3", "S4", "S6", "S7"):
        fitting = (
            job.fitting
            if reading == "S3"
            else job.stand_ins.get({"S4": "M", "S6": "L", "S7": "cast"}[reading])
        )
        pairs.append((by_tube, fitting, "fitting wall"))
    return _members(pairs)


def _members(pairs: list[tuple[WallRange, Quantity | None, str]]) -> _Answer:
    outcomes = []
    for span, wall, what in pairs:
        if wall is not None and span.holds(wall) is Outcome.NOT_MET:
            return _Answer(
                Outcome.NOT_MET, f"{what} {wall.text} outside {span.low.text} to {span.high.text}"
            )
        outcomes.append((wall, what))
    missing = [what for wall, what in outcomes if wall is None]
    if missing:
        return _Answer(Outcome.UNDETERMINED, ", ".join(missing))
    span = pairs[0][0]
    return _Answer(Outcome.MET, f"{span.low.text} to {span.high.text}")


def _combine(ask: Question, answers: Mapping[str, _Answer | None]) -> Finding:
    apply = {r: a for r, a in answers.items() if a is not None}
    if not apply:
        return ask.needs(Message("thickness.none_applies"))
    shown = "; ".join(f"{r}: {_WORD[a.outcome]} ({a.text})" for r, a in apply.items())
    kinds = {a.outcome for a in apply.values()}
    if kinds == {Outcome.MET}:
        within = Message("thickness.met", readings=shown)
        return ask.answer(lambda _: Ruling(Outcome.MET, within, observed=shown))
    if kinds == {Outcome.NOT_MET}:
        outside = Message("thickness.not_met", readings=shown)
        return ask.answer(lambda _: Ruling(Outcome.NOT_MET, outside, observed=shown))
    if Outcome.NOT_MET not in kinds:
        return ask.needs(Message("thickness.needs", readings=shown), observed=shown)
    # readings differ, or one refuses while another lacks data: act on the strictest
    why = Why.CONFLICT if Outcome.MET in kinds else Why.NEEDS_DATA
    differ = ask.open(why, Message("thickness.conflict", readings=shown), observed=shown)
    return replace(differ, act_on=Outcome.NOT_MET)


_WORD = {Outcome.MET: "within", Outcome.NOT_MET: "outside", Outcome.UNDETERMINED: "needs"}
