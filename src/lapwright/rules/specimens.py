"""Coupons and specimens: the coupon's metal, how many specimens, from where.

ASME BPVC IX: coupon metal QB-302 and QB-310; two specimens for each position
QB-452.1; small tube, where each of two coupons gives one specimen, QB-463.2.
Whether the two sockets of one coupling are one coupon or two is in no text we
have read: the answer is held until the basis chooses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .errors import ReadingUnknown
from .rulebook import Adopted, Rule

SOCKETS_CHOICES = ("", "undecided", "one", "two")


@dataclass(frozen=True)
class CouponMetal:
    """P-Numbers of a coupon's members and those to be joined in production."""

    coupon: str
    p_numbers: tuple[str, ...]
    production: tuple[str, ...]


@dataclass(frozen=True)
class Taken:
    """One specimen: the coupon and socket it was cut from, and its place on the round.

    ``place`` is the angle on the circumference; only large tube needs it.
    """

    id: str
    coupon: str
    socket: str = ""
    place: Quantity | None = None


@dataclass(frozen=True)
class SpecimenSet:
    """The specimens of one flow position and one tube outside diameter."""

    position: str
    tube_od: Quantity | None
    specimens: tuple[Taken, ...]


@dataclass(frozen=True)
class HalfSection:
    """One half of a socket joint slit lengthwise, with the faces read on it."""

    joint: str
    half: str
    faces: tuple[str, ...]


def judge_coupon_metal(coupon: CouponMetal, *, adopted: Adopted) -> Finding:
    """Judge whether the coupon is of the metal to be joined (QB-302, QB-310).

    Parameters
    ----------
    coupon : CouponMetal
        P-Numbers of the coupon and of production.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("coupon.metal", Subject("coupon", coupon.coupon), adopted)
    fault = ask.lacks(**{"alloy": coupon.p_numbers, "pqr.p_numbers": coupon.production})
    if fault is not None:
        return fault
    real, wanted = ", ".join(coupon.p_numbers), ", ".join(coupon.production)
    fits = set(coupon.p_numbers) <= set(coupon.production)
    message = (
        Message("coupon.metal_met", coupon=coupon.coupon, real=real)
        if fits
        else Message("coupon.metal_not_met", coupon=coupon.coupon, real=real, wanted=wanted)
    )
    return ask.answer(
        lambda _: Ruling(
            Outcome.MET if fits else Outcome.NOT_MET, message, observed=real, limit=wanted
        )
    )


def is_small_tube(tube_od: Quantity, adopted: Adopted) -> str:
    """Return ``yes``, ``no`` or empty: whether the small-tube rule applies (QB-463.2).

    Parameters
    ----------
    tube_od : Quantity
        Outside diameter of the tube.
    adopted : Adopted
        The adopted editions; empty is returned where none states the limit.
    """
    limits = [r.value for r in adopted.all("specimens.small_tube_od") if r.value is not None]
    if not limits:
        return ""
    small = any(tube_od <= Quantity.parse(limit, "length") for limit in limits)
    return "yes" if small else "no"


def judge_specimens(taken: SpecimenSet, *, adopted: Adopted, sockets_choice: str = "") -> Finding:
    """Judge the number and origin of the specimens of one position.

    Parameters
    ----------
    taken : SpecimenSet
        The specimens of the position.
    adopted : Adopted
        The adopted editions.
    sockets_choice : str, optional
        How the basis counts the two sockets of one coupling: ``one`` coupon or
        ``two``; empty or ``undecided`` while it has not chosen.

    Raises
    ------
    ReadingUnknown
        For another choice.
    """
    if sockets_choice not in SOCKETS_CHOICES:
        raise ReadingUnknown(
            "no such way to count sockets",
            got=sockets_choice,
            expected="one or two, or nothing while undecided",
            do="Choose one of them in the basis.",
        )
    ask = Question(
        "specimens.per_position",
        Subject("position", taken.position),
        adopted,
        ("specimens.small_tube_od",),
    )
    fault = ask.lacks(tube_od=taken.tube_od, specimens=taken.specimens)
    if fault is not None or taken.tube_od is None:
        return fault or ask.missing("tube_od")
    small = is_small_tube(taken.tube_od, adopted)
    if not small:
        return ask.no_text()
    if small == "no":
        return _large(taken, ask)
    also = (*ask.also, "specimens.sockets_of_one_coupling")
    by_coupon = replace(ask, rule="specimens.small_tube_coupons", also=ask.also)
    counted = by_coupon if _coupons(taken.specimens) > 1 else replace(by_coupon, also=also)
    return counted.answer(lambda rule: _small(rule, taken, sockets_choice))


def judge_half_section(half: HalfSection, *, adopted: Adopted) -> Finding:
    """Judge whether both faces of a half-section were read, each for itself (QB-463.2).

    Parameters
    ----------
    half : HalfSection
        The half and its faces.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(
        "specimens.half_section_faces",
        Subject("joint", half.joint),
        adopted,
        ("section.faces_alone",),
    )

    def judge(rule: Rule) -> Ruling:
        complete = len(set(half.faces)) == int(rule.value)
        read = ", ".join(half.faces) or "-"
        message = (
            Message("specimens.half_met", joint=half.joint, half=half.half, faces=read)
            if complete
            else Message(
                "specimens.half_not_met",
                joint=half.joint,
                half=half.half,
                faces=read,
                needed=rule.value,
            )
        )
        return Ruling(
            Outcome.MET if complete else Outcome.NOT_MET,
            message,
            observed=str(len(set(half.faces))),
            limit=rule.value,
        )

    return ask.answer(judge)


def _coupons(specimens: Sequence[Taken]) -> int:
    return len({s.coupon for s in specimens})


def _small(rule: Rule, taken: SpecimenSet, choice: str) -> Ruling:
    """One specimen from each of two coupons, or whatever the basis counts as two."""
    needed = int(rule.value)
    coupons = _coupons(taken.specimens)
    sockets = len({(s.coupon, s.socket) for s in taken.specimens})
    counted = sockets if choice == "two" else coupons
    shown = {"position": taken.position, "coupons": str(counted), "needed": rule.value}
    observed = f"{coupons} coupons, {sockets} sockets"
    if counted >= needed:
        return Ruling(
            Outcome.MET,
            Message("specimens.small_met", **shown),
            observed=observed,
            limit=rule.value,
        )
    if choice in ("one", "two"):
        return Ruling(
            Outcome.NOT_MET,
            Message("specimens.small_not_met", **shown),
            observed=observed,
            limit=rule.value,
        )
    return _held(Message("specimens.sockets_open", **shown), observed, rule.value)


def _large(taken: SpecimenSet, ask: Question) -> Finding:
    count = len(taken.specimens)

    def judge(rule: Rule) -> Ruling:
        enough = count >= int(rule.value)
        shown = {"position": taken.position, "count": str(count), "needed": rule.value}
        message = (
            Message("specimens.count_met", **shown)
            if enough
            else Message("specimens.count_not_met", **shown)
        )
        return Ruling(
            Outcome.MET if enough else Outcome.NOT_MET,
            message,
            observed=str(count),
            limit=rule.value,
        )

    counted = ask.answer(judge)
    if counted.computed is not Outcome.MET or taken.position not in ("B", "C"):
        return counted
    return _places(
        taken, replace(ask, rule="specimens.large_tube_apart", also=(ask.rule, *ask.also))
    )


def _places(taken: SpecimenSet, ask: Question) -> Finding:
    """In vertical flow the first place is free and the second lies opposite."""
    places = [s.place for s in taken.specimens if s.place is not None]
    if len(places) < len(taken.specimens):
        return ask.missing("cut.place")
    at = [p.base % 360 for p in places]
    observed = ", ".join(p.text for p in places)

    def judge(rule: Rule) -> Ruling:
        apart = Quantity.parse(rule.value, "angle").base
        opposite = any(abs(a - b) == apart for a in at for b in at)
        if opposite:
            return Ruling(
                Outcome.MET,
                Message(
                    "specimens.places_met",
                    position=taken.position,
                    places=observed,
                    apart=rule.value,
                ),
                observed=observed,
                limit=rule.value,
            )
        return _held(
            Message(
                "specimens.places_open", position=taken.position, places=observed, apart=rule.value
            ),
            observed,
            rule.value,
        )

    return ask.answer(judge)


def _held(message: Message, observed: str, limit: str) -> Ruling:
    return Ruling(Outcome.UNDETERMINED, message, Why.HOLD, observed=observed, limit=limit)
