"""Mechanical tests and which test may stand in for which.

Peel ASME BPVC IX, QB-172, and AWS B2.2, 4.2.3 to 4.2.7; tension QB-153; guided
bend QB-163; substitution QB-141.4; workmanship coupons QB-141.5 and QB-182.
NFPA 99 fixes visual examination and sectioning for a medical-gas brazer, so
a peel test does not serve there whatever the base standard says.

Longer than the house's size: one test method a stretch, read side by side.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, Why, combine
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .rulebook import Adopted, Rule

SEEN = ("yes", "no")
BREAKS = ("braze", "base-metal")
TESTS = ("section", "peel", "tension", "bend", "visual")


@dataclass(frozen=True)
class Peel:
    """A peeled specimen: shares of discontinuity and what else was seen.

    ``parted`` says whether it came apart wholly in the braze; shares are
    fractions of the faying surface and of the lap.
    """

    specimen: str
    parted: str = ""
    area_share: Decimal | None = None
    line_share: Decimal | None = None
    through_path: str = ""
    filler_at_edges: str = ""


@dataclass(frozen=True)
class Tension:
    """A tension specimen; ``minimum`` is the base metal's, in the condition ``temper``."""

    specimen: str
    strength: Quantity | None
    minimum: Quantity | None
    temper: str = ""
    broke_in: str = ""
    form: str = ""
    tube_od: Quantity | None = None


@dataclass(frozen=True)
class Bend:
    """A guided bend; ``corner_crack`` counts only where ``corner_from_flaw`` is ``yes``."""

    specimen: str
    joint_type: str = ""
    joint_within_bend: str = ""
    longest_opening: Quantity | None = None
    corner_crack: Quantity | None = None
    corner_from_flaw: str = ""


@dataclass(frozen=True)
class ChosenTest:
    """The test taken, the product it was taken on, and why peel was impractical (if said)."""

    test: str
    product: str = "tube"
    tube_od: Quantity | None = None
    impractical: str = ""


@dataclass(frozen=True)
class Workmanship:
    """A workmanship coupon's shape and the shape of joint it is offered for."""

    coupon: str
    shape: str = ""
    asked: str = ""


def judge_peel(peel: Peel, *, adopted: Adopted) -> Verdict:
    """Judge a peeled specimen: area, worst line, through path, filler at the edges.

    Only rules that an adopted edition states are asked. A specimen that did
    not part wholly cannot be read: repeat it or take a section.

    Parameters
    ----------
    peel : Peel
        What was measured and seen.
    adopted : Adopted
        The adopted editions.
    """
    subject = Subject("specimen", peel.specimen)
    parted = Question("peel.separation", subject, adopted)
    fault = parted.unclear("parted", peel.parted, SEEN)
    if fault is not None:
        return combine([fault])
    if peel.parted == "no":
        return combine([parted.needs(Message("peel.not_parted", specimen=peel.specimen))])
    asked: dict[str, Callable[[Question], Finding]] = {
        "peel.max_area_share": lambda ask: _share(ask, peel.area_share),
        "peel.max_line_share": lambda ask: _share(ask, peel.line_share),
        "peel.through_path": lambda ask: _seen(ask, peel.through_path),
        "peel.edges": lambda ask: _seen(ask, peel.filler_at_edges),
    }
    findings = [
        judge(Question(rule, subject, adopted))
        for rule, judge in asked.items()
        if adopted.has(rule)
    ]
    return combine(findings or [parted.no_text()])


def judge_tension(tension: Tension, *, adopted: Adopted) -> Finding:
    """Judge a tension specimen against the annealed minimum of its base metal (QB-153).

    Parameters
    ----------
    tension : Tension
        Strength, minimum, place of the break.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("tension.min_strength", Subject("specimen", tension.specimen), adopted)
    if tension.strength is None or tension.minimum is None:
        return ask.missing("strength" if tension.strength is None else "minimum")
    fault = ask.lacks(temper=tension.temper) or ask.unclear("broke_in", tension.broke_in, BREAKS)
    if fault is not None:
        return fault
    if tension.temper != "annealed":
        return ask.needs(
            Message("tension.temper", specimen=tension.specimen, temper=tension.temper),
            observed=tension.temper,
        )
    strength, minimum = tension.strength, tension.minimum
    if tension.broke_in == "braze":
        return ask.answer(lambda _: _strong(tension.specimen, strength, minimum, "1"))
    lower = replace(ask, rule="tension.base_metal_break_factor", also=(ask.rule,))
    return lower.answer(lambda rule: _strong(tension.specimen, strength, minimum, rule.value))


def judge_tension_form(tension: Tension, *, adopted: Adopted) -> Finding:
    """Judge whether a full-section specimen fits the tube's size (Fig. QB-462.1(e)).

    Parameters
    ----------
    tension : Tension
        ``form`` is ``full-section`` or ``reduced-section``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("tension.full_section_od", Subject("specimen", tension.specimen), adopted)
    fault = ask.unclear("form", tension.form, ("full-section", "reduced-section"))
    if fault is not None:
        return fault
    if tension.form == "full-section" and tension.tube_od is None:
        return ask.missing("tube_od")
    od = tension.tube_od

    def judge(rule: Rule) -> Ruling:
        too_large = (
            tension.form == "full-section"
            and od is not None
            and od > Quantity.parse(rule.value, "length")
        )
        shown = {"specimen": tension.specimen, "form": tension.form, "limit": rule.value}
        message = (
            Message("tension.form_not_met", **shown)
            if too_large
            else Message("tension.form_met", **shown)
        )
        return Ruling(
            Outcome.NOT_MET if too_large else Outcome.MET,
            message,
            observed=od.text if od else tension.form,
            limit=f"<= {rule.value}",
        )

    return ask.answer(judge)


def judge_bend(bend: Bend, *, adopted: Adopted) -> Finding:
    """Judge a guided bend (QB-163): the right joint, wholly bent, no long opening.

    Parameters
    ----------
    bend : Bend
        What was bent and what opened.
    adopted : Adopted
        The adopted editions.
    """
    subject = Subject("specimen", bend.specimen)
    kinds = Question("bend.joint_types", subject, adopted)
    fault = kinds.lacks(joint_type=bend.joint_type)
    fits = fault or kinds.answer(lambda rule: _bendable(rule, bend))
    if fits.computed is not Outcome.MET:
        return fits
    ask = Question("bend.max_opening", subject, adopted, ("bend.corner_cracks",))
    fault = ask.unclear("joint_within_bend", bend.joint_within_bend, SEEN)
    if fault is not None or bend.longest_opening is None:
        return fault or ask.missing("longest_opening")
    if bend.joint_within_bend == "no":
        return ask.needs(Message("bend.outside", specimen=bend.specimen))
    counted = [bend.longest_opening]
    if bend.corner_crack is not None:
        fault = ask.unclear("corner_from_flaw", bend.corner_from_flaw, SEEN)
        if fault is not None:
            return fault
        counted += [bend.corner_crack] if bend.corner_from_flaw == "yes" else []
    longest = max(counted)
    return ask.answer(lambda rule: _opening(rule, bend.specimen, longest))


def judge_test_form(chosen: ChosenTest, *, subject: Subject, adopted: Adopted) -> Verdict:
    """Judge whether the test taken is one that the adopted editions accept.

    Parameters
    ----------
    chosen : ChosenTest
        The test, product form and size.
    subject : Subject
        The coupon or the plan the finding is about.
    adopted : Adopted
        The adopted editions: NFPA 99 fixes the form; the base standard says what
        may stand in for what.
    """
    form = Question("test.form", subject, adopted)
    fault = form.unclear("test", chosen.test, TESTS)
    if fault is not None:
        return combine([fault])
    base = Question("peel.substitution", subject, adopted)
    fixed = bool(adopted.has("test.form"))
    findings = [form.answer(lambda rule: _form(rule, chosen))] if fixed else []
    if adopted.has("peel.substitution"):
        findings.append(base.answer(lambda rule: _stands_in(rule, chosen, fixed, adopted)))
    return combine(findings or [base.no_text()])


def judge_workmanship(coupon: Workmanship, *, adopted: Adopted) -> Finding:
    """Judge whether a workmanship coupon's shape answers for the joint asked (QB-141.5).

    Its faces are judged like those of any section.

    Parameters
    ----------
    coupon : Workmanship
        Shape of the coupon and of the joint.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("workmanship.shape", Subject("coupon", coupon.coupon), adopted)
    fault = ask.lacks(shape=coupon.shape, asked=coupon.asked)
    if fault is not None:
        return fault
    shown = {"coupon": coupon.coupon, "shape": coupon.shape, "asked": coupon.asked}
    if coupon.shape != coupon.asked:
        other = replace(ask, also=("workmanship.other_shape",))
        return other.hold(Message("workmanship.other", **shown), observed=coupon.shape)

    def judge(rule: Rule) -> Ruling:
        if rule.value == "nearest-shape":
            return Ruling(Outcome.MET, Message("workmanship.met", **shown), observed=coupon.shape)
        return Ruling(
            Outcome.UNDETERMINED,
            Message("workmanship.if_allowed", **shown),
            Why.HOLD,
            observed=coupon.shape,
        )

    return ask.answer(judge)


def _share(ask: Question, share: Decimal | None) -> Finding:
    if share is None:
        return ask.missing(ask.rule.removeprefix("peel.max_"))

    def judge(rule: Rule) -> Ruling:
        within = share <= Decimal(rule.value)
        shown = {
            "specimen": ask.subject.id,
            "share": _percent(share),
            "limit": _percent(Decimal(rule.value)),
        }
        area = ask.rule == "peel.max_area_share"
        message = Message(
            f"peel.{'area' if area else 'line'}_{'met' if within else 'not_met'}", **shown
        )
        return Ruling(
            Outcome.MET if within else Outcome.NOT_MET,
            message,
            observed=f"{_percent(share)} %",
            limit=f"<= {shown['limit']} %",
        )

    return ask.answer(judge)


def _seen(ask: Question, word: str) -> Finding:
    """A through path is refused where seen; filler at the edges where it is missing."""
    field, bad = (
        ("through_path", "yes") if ask.rule == "peel.through_path" else ("filler_at_edges", "no")
    )
    fault = ask.unclear(field, word, SEEN)
    if fault is not None:
        return fault
    refused = word == bad
    message = Message(f"peel.{field}_{word}", specimen=ask.subject.id)
    return ask.answer(
        lambda _: Ruling(Outcome.NOT_MET if refused else Outcome.MET, message, observed=word)
    )


def _strong(specimen: str, strength: Quantity, minimum: Quantity, factor: str) -> Ruling:
    limit = minimum.times(factor)
    strong = strength.base >= Fraction(factor) * minimum.base
    shown = {"specimen": specimen, "strength": strength.text, "limit": limit.text}
    message = Message("tension.met", **shown) if strong else Message("tension.not_met", **shown)
    return Ruling(
        Outcome.MET if strong else Outcome.NOT_MET,
        message,
        observed=strength.text,
        limit=f">= {limit.text}",
    )


def _bendable(rule: Rule, bend: Bend) -> Ruling:
    fits = bend.joint_type in rule.value
    shown = {
        "specimen": bend.specimen,
        "joint_type": bend.joint_type,
        "kinds": ", ".join(rule.value),
    }
    message = Message("bend.right_test", **shown) if fits else Message("bend.wrong_test", **shown)
    return Ruling(
        Outcome.MET if fits else Outcome.NOT_MET,
        message,
        observed=bend.joint_type,
        limit=shown["kinds"],
    )


def _opening(rule: Rule, specimen: str, longest: Quantity) -> Ruling:
    within = longest <= Quantity.parse(rule.value, "length")
    shown = {"specimen": specimen, "longest": longest.text, "limit": rule.value}
    message = Message("bend.met", **shown) if within else Message("bend.not_met", **shown)
    return Ruling(
        Outcome.MET if within else Outcome.NOT_MET,
        message,
        observed=longest.text,
        limit=f"<= {rule.value}",
    )


def _form(rule: Rule, chosen: ChosenTest) -> Ruling:
    wanted = ", ".join(rule.value)
    if chosen.test == "tension":
        return Ruling(
            Outcome.UNDETERMINED,
            Message("form.tension_unread", wanted=wanted),
            Why.UNREAD,
            observed=chosen.test,
            limit=wanted,
        )
    # Visual examination alone is the first half of the form, not the form.
    serves = chosen.test != "visual" and chosen.test in rule.value
    message = (
        Message("form.met", test=chosen.test, wanted=wanted)
        if serves
        else Message("form.not_met", test=chosen.test, wanted=wanted)
    )
    return Ruling(
        Outcome.MET if serves else Outcome.NOT_MET, message, observed=chosen.test, limit=wanted
    )


def _stands_in(rule: Rule, chosen: ChosenTest, fixed: bool, adopted: Adopted) -> Ruling:
    """What the base standard says of the test taken; its own form is peel (IX) or macroetch."""
    if chosen.test not in ("section", "peel"):
        return Ruling(
            Outcome.UNDETERMINED,
            Message("form.other", test=chosen.test),
            Why.HOLD,
            observed=chosen.test,
        )
    accepted = Ruling(Outcome.MET, Message("form.accepted", test=chosen.test), observed=chosen.test)
    if isinstance(rule.value, str):
        if chosen.test == "peel" or fixed or chosen.impractical:
            return accepted
        return Ruling(Outcome.UNDETERMINED, Message("form.why_not_peel"), Why.NEEDS_DATA)
    if chosen.test == "section" or chosen.product == "plate":
        return accepted
    return _large_enough(chosen, accepted, adopted)


def _large_enough(chosen: ChosenTest, accepted: Ruling, adopted: Adopted) -> Ruling:
    limit = adopted.first("peel.min_tube_od").value
    if chosen.tube_od is None:
        return Ruling(Outcome.UNDETERMINED, Message("form.no_od", limit=limit), Why.NEEDS_DATA)
    if chosen.tube_od > Quantity.parse(limit, "length"):
        return accepted
    return Ruling(
        Outcome.NOT_MET,
        Message("form.small_tube", od=chosen.tube_od.text, limit=limit),
        observed=chosen.tube_od.text,
        limit=f"> {limit}",
    )


def _percent(share: Decimal) -> str:
    return f"{share * 100:f}"
