"""Range qualified: what one passed test joint lets its brazer do.

A job joint is covered when joints that passed together cover every variable of
it at once; several such groups add up (positions C and D together serve B, C, D).
Variables: process, manual or machine, P-number, F-number, product form, joint
type, flow position, thickness, overlap (ASME BPVC IX, QB-351.1 list from
memory; QB-401 to QB-410). Overlap compares like with like: a measured coupon
with a measured job cup, else the coupon's smallest credible overlap with the
job's largest credible cup depth; a table minimum alone can refuse a joint but
never cover it, because real cups are deeper.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import floor

from lapwright.core.evidence import Joint
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, Why, combine
from lapwright.core.quantities import Quantity, length

from .asking import Question, Ruling
from .positions import Tested, judge_position
from .rulebook import Adopted, Rule
from .thickness import CouponWalls, JobWalls, judge_thickness

DEMANDS = (  # rule id, field, message id
    ("variable.process", "process"),
    ("variable.machine", "manner"),
    ("variable.f_number", "f_number"),
    ("variable.product_form", "form"),
    ("variable.joint_type", "joint_type"),
)


@dataclass(frozen=True)
class TestedJoint:
    """A passed joint of a coupon with the values that were used."""

    coupon: str
    joint: str
    position: str
    process: str
    manner: str
    p_numbers: tuple[str, str]
    f_number: str
    form: str
    joint_type: str
    flux: str
    overlap: Quantity | None
    walls: CouponWalls
    coupon_kind: str = ""
    special_angle: Quantity | None = None
    looked_on: date | None = None  # first look at the coupon; a later range table widens nothing

    __test__ = False  # the name is the trade's; not a test class


@dataclass(frozen=True)
class JobJoint:
    """A joint asked about: sizes, walls, cup depth limits and variables.

    ``cup_low`` and ``cup_high`` bound the credible cup depth; a measured cup has
    both equal; ``cup_high`` is ``None`` when nothing bounds it from above.
    """

    id: str
    position: str
    p_numbers: tuple[str, str]
    f_number: str
    walls: JobWalls
    cup_low: Quantity | None
    cup_high: Quantity | None
    process: str = "TB"
    manner: str = "manual"
    form: str = "rod"
    joint_type: str = "socket"
    flux: str = "none"


def smallest_overlap(joint: Joint) -> Quantity | None:
    """Return the smallest overlap measured on a joint: typed for it, or seen on one of its faces.

    A face's figure is given in the unit of the joint's, rounded down (to 0.001 in
    or 0.01 mm), so that a typed figure never widens a range beyond what was seen.
    """
    typed = joint.overlap
    if typed is None:
        return None
    seen = [r.overlap for f in joint.faces for r in f.readings if r.overlap is not None]
    least = min([typed, *seen])
    if least == typed:
        return typed
    exact, step = (least.inches, 1000) if typed.unit == "in" else (least.base, 100)
    return length(f"{Decimal(floor(exact * step)) / step} {'in' if typed.unit == 'in' else 'mm'}")


def overlap_ceiling(overlap: Quantity, rule: Rule) -> Quantity:
    """Return the longest overlap that a coupon overlap serves (QB-408.1: over 25 % more fails)."""
    return overlap.times(1 + Fraction(Decimal(rule.value)))


def judge_overlap(
    subject: Subject,
    tested: Quantity | None,
    job_low: Quantity | None,
    job_high: Quantity | None,
    *,
    adopted: Adopted,
) -> Finding:
    """Judge a job overlap against the coupon's, like with like.

    Parameters
    ----------
    subject : Subject
        The joint or size asked about.
    tested : Quantity or None
        Measured overlap of the coupon, or its smallest credible one.
    job_low, job_high : Quantity or None
        Credible bounds of the job's cup depth.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("overlap.max_increase", subject, adopted)
    if tested is None or (job_low is None and job_high is None):
        return ask.needs(Message("overlap.needs"))
    coupon: Quantity = tested

    def judge(rule: Rule) -> Ruling:
        ceiling = overlap_ceiling(coupon, rule)
        limit = f"≤ {ceiling.text}"
        if job_low is not None and job_low > ceiling:
            return Ruling(
                Outcome.NOT_MET,
                Message(
                    "overlap.not_met", job=job_low.text, ceiling=ceiling.text, coupon=coupon.text
                ),
                observed=job_low.text,
                limit=limit,
            )
        if job_high is not None and job_high <= ceiling:
            return Ruling(
                Outcome.MET,
                Message("overlap.met", job=job_high.text, ceiling=ceiling.text, coupon=coupon.text),
                observed=job_high.text,
                limit=limit,
            )
        shown = (job_high or job_low or coupon).text
        return Ruling(
            Outcome.UNDETERMINED,
            Message("overlap.measure_cup", ceiling=ceiling.text, job=shown),
            Why.NEEDS_DATA,
            observed=shown,
            limit=limit,
        )

    return ask.answer(judge)


def judge_floor(
    subject: Subject,
    pqr_overlaps: Sequence[Quantity],
    job_low: Quantity | None,
    *,
    adopted: Adopted,
) -> Finding:
    """Judge a job overlap against the procedure's floor: no shorter than its PQR coupon.

    ASME BPVC IX 2015, QB-408.4. With several PQRs the shortest overlap is the floor.
    """
    ask = Question("overlap.procedure_floor", subject, adopted)
    if not pqr_overlaps or job_low is None:
        return ask.needs(Message("overlap.floor_needs"))
    floor, asked = min(pqr_overlaps), job_low
    if asked >= floor:
        told = Message("overlap.floor_met", job=asked.text, floor=floor.text)
        return ask.answer(
            lambda _: Ruling(Outcome.MET, told, observed=asked.text, limit=f"≥ {floor.text}")
        )
    told = Message("overlap.floor_not_met", job=asked.text, floor=floor.text)
    return ask.answer(
        lambda _: Ruling(Outcome.NOT_MET, told, observed=asked.text, limit=f"≥ {floor.text}")
    )


def judge_cup_floor(
    subject: Subject,
    pqr_overlaps: Sequence[Quantity],
    job_low: Quantity | None,
    job_high: Quantity | None,
    *,
    adopted: Adopted,
) -> Finding:
    """Judge a job cup known by bounds against the procedure's floor, like with like.

    A table's least depth alone never rules a size out, because real cups are
    deeper: with the floor between the bounds, or no upper one, the cup is to be
    measured.
    """
    if not pqr_overlaps or job_low is None or job_low >= min(pqr_overlaps):
        return judge_floor(subject, pqr_overlaps, job_low, adopted=adopted)
    if job_high is not None and job_high < min(pqr_overlaps):
        return judge_floor(subject, pqr_overlaps, job_high, adopted=adopted)
    ask, least = Question("overlap.procedure_floor", subject, adopted), min(pqr_overlaps)
    told = Message("overlap.floor_measure_cup", job=job_low.text, floor=least.text)
    return replace(ask.needs(told, observed=job_low.text), limit=f"≥ {least.text}")


def judge_p_numbers(
    subject: Subject, tests: Sequence[TestedJoint], job: JobJoint, *, adopted: Adopted
) -> Finding:
    """Judge the base metals; two metals each qualified alone serve the pair (QB-402.2)."""
    ask = Question("variable.p_number", subject, adopted)
    if not all(job.p_numbers):
        return ask.needs(Message("p_number.needs"))
    asked = tuple(sorted(job.p_numbers))
    # metals tested with another filler or process lend nothing to this one
    close = [t for t in tests if (t.f_number, t.process) == (job.f_number, job.process)]
    same = [t for t in close or tests if tuple(sorted(t.p_numbers)) == asked]
    alike = [
        t
        for t in tests
        if (t.f_number, t.flux, t.process) == (job.f_number, job.flux, job.process)
        and t.p_numbers[0] == t.p_numbers[1]
    ]
    alone = {t.p_numbers[0] for t in alike}
    shown = ", ".join(sorted({"-".join(t.p_numbers) for t in tests}))
    pair = "-".join(job.p_numbers)
    if same or set(asked) <= alone:
        told = Message("p_number.met", tested=shown, asked=pair)
        return ask.answer(lambda _: Ruling(Outcome.MET, told, observed=shown, limit=pair))
    told = Message("p_number.not_met", tested=shown, asked=pair)
    return ask.answer(lambda _: Ruling(Outcome.NOT_MET, told, observed=shown, limit=pair))


def judge_demand(
    rule_id: str, subject: Subject, tested: str, asked: str, *, adopted: Adopted
) -> Finding:
    """Judge a variable where any change asks for a new test."""
    ask = Question(rule_id, subject, adopted)
    name = rule_id.removeprefix("variable.")
    if not tested or not asked:
        return ask.needs(Message("variable.needs", name=name))
    if tested == asked:
        told = Message("variable.met", name=name, asked=asked)
        return ask.answer(lambda _: Ruling(Outcome.MET, told, observed=tested, limit=asked))
    told = Message("variable.not_met", name=name, tested=tested, asked=asked)
    return ask.answer(lambda _: Ruling(Outcome.NOT_MET, told, observed=tested, limit=asked))


def judge_against(
    test: TestedJoint,
    job: JobJoint,
    *,
    tests: Sequence[TestedJoint],
    readings: Sequence[str],
    adopted: Adopted,
) -> Verdict:
    """Judge every variable of a job joint against one passed test joint."""
    subject = Subject("joint", job.id)
    findings = [
        judge_demand(rule_id, subject, getattr(test, attr), getattr(job, attr), adopted=adopted)
        for rule_id, attr in DEMANDS
    ]
    findings.append(judge_p_numbers(subject, tests, job, adopted=adopted))
    findings.append(
        judge_position(
            Tested(job.position), [Tested(test.position)], subject=subject, adopted=adopted
        )
    )
    findings.append(
        judge_thickness(subject, test.walls, job.walls, readings=readings, adopted=adopted)
    )
    findings.append(
        judge_overlap(subject, test.overlap, job.cup_low, job.cup_high, adopted=adopted)
    )
    return combine(findings)


def needed_together(tests: Sequence[TestedJoint]) -> tuple[tuple[TestedJoint, ...], ...]:
    """Return the passed joints in groups: one flow position, coupon kind and set of variables.

    The joints of a group passed together and none of them alone, so that the
    range is what all of them serve.
    """
    groups: dict[tuple[object, ...], list[TestedJoint]] = {}
    for t in tests:
        kind = t.coupon_kind or t.coupon
        groups.setdefault((t.position, kind, *variables_of_test(t)), []).append(t)
    return tuple(tuple(g) for g in groups.values())


def variables_of_test(test: TestedJoint) -> tuple[str, ...]:
    """Return process, manner, joint type, F-number, form and flux, the variables of one set."""
    t = test
    return (t.process, t.manner, t.joint_type, t.f_number, t.form, t.flux)


def least_overlap(group: Sequence[TestedJoint]) -> Quantity | None:
    """Return the smallest known overlap of joints that passed together (like with like)."""
    return min((t.overlap for t in group if t.overlap is not None), default=None)


def judge_together(
    group: Sequence[TestedJoint],
    job: JobJoint,
    *,
    tests: Sequence[TestedJoint],
    readings: Sequence[str],
    adopted: Adopted,
) -> Verdict:
    """Judge a job joint against joints that passed together: each of them has to serve it.

    The smallest overlap of the group stands for all; a joint whose overlap was
    not filed leaves the answer open, and an answer that is sure without it stands.
    """
    least = least_overlap(group)
    alike = dict.fromkeys(
        replace(t, coupon="", joint="", overlap=least if t.overlap is not None else None)
        for t in group
    )
    found = [
        f
        for t in alike
        for f in judge_against(t, job, tests=tests, readings=readings, adopted=adopted).findings
    ]
    return combine(dict.fromkeys(found))


def judge_cover(
    tests: Sequence[TestedJoint], job: JobJoint, *, readings: Sequence[str], adopted: Adopted
) -> Verdict:
    """Judge a job joint against all passed joints; the best group of them answers.

    A group are the joints that passed together. Best is Met, then open, then
    Not met; among equals the one with the fewest failing variables, so that the
    reason given is the nearest one.
    """
    if not tests:
        ask = Question("position.covers", Subject("joint", job.id), adopted)
        return combine([ask.needs(Message("range.no_test"))])
    verdicts = [
        judge_together(group, job, tests=tests, readings=readings, adopted=adopted)
        for group in needed_together(tests)
    ]
    return nearest(verdicts)


def nearest(verdicts: Sequence[Verdict]) -> Verdict:
    """Return the verdict that comes nearest to Met; at least one is given."""
    return min(verdicts, key=_badness)


def limiting(verdict: Verdict) -> Finding:
    """Return the finding that decides a verdict.

    Failing; else failing once its rule is confirmed, which no missing figure
    could mend; else open; else unconfirmed.
    """

    def rank(finding: Finding) -> int:
        if finding.outcome is Outcome.NOT_MET:
            return 0
        if finding.outcome is Outcome.MET:
            return 4
        if finding.before_confirmation is Outcome.NOT_MET:
            return 1
        return 3 if finding.why is Why.UNCONFIRMED else 2

    best = min(verdict.findings, key=rank)
    return best if rank(best) < 4 else verdict.findings[-1]


def _badness(verdict: Verdict) -> tuple[int, int, int]:
    order = {Outcome.MET: 0, Outcome.UNDETERMINED: 1, Outcome.NOT_MET: 2}
    failing = sum(1 for f in verdict.findings if f.before_confirmation is Outcome.NOT_MET)
    stricter = sum(1 for f in verdict.findings if f.act_on is Outcome.NOT_MET)
    return order[verdict.before_confirmation], failing + stricter, len(verdict.findings)
