"""How a joint was cut, ground and viewed, and cracks on what was seen.

The cut plane is fixed before anyone has looked (a diametral cut meets an open
sector only by chance; common practice). A coarse finish suits a loupe, but in
a photograph its scratches can match the gap: prepare again or read by loupe.
Magnification and cracks: ASME BPVC IX, QB-181 and QB-182; AWS B2.2, 4.2.5.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .rulebook import Adopted, Rule

SEEN = ("yes", "no")
READ_BY = ("photograph", "loupe")


@dataclass(frozen=True)
class CutPlane:
    """The plane of a cut: where, when it was fixed, and when the joint was first looked at.

    ``before_looking`` is ``yes`` or ``no``, as the person who fixed it states.
    """

    joint: str
    plane: str = ""
    fixed_on: date | None = None
    before_looking: str = ""
    first_look_on: date | None = None


@dataclass(frozen=True)
class Finish:
    """The finish of a face: last grit as written, how it is read, whether ground too far.

    ``over_ground`` is ``yes`` or ``no``; ``read_by`` one of `READ_BY`.
    """

    face: str
    grit: str = ""
    read_by: str = ""
    over_ground: str = ""


@dataclass(frozen=True)
class Repreparation:
    """A face prepared again: the stated reason, whether a result was the reason.

    ``earlier_kept`` and ``because_of_result`` are ``yes`` or ``no``.
    """

    face: str
    reason: str = ""
    because_of_result: str = ""
    earlier_kept: str = ""


@dataclass(frozen=True)
class Crack:
    """Whether a crack was seen on a face, and its length if measured."""

    face: str
    seen: str = ""
    length: Quantity | None = None


def judge_cut_plane(cut: CutPlane, *, adopted: Adopted) -> Finding:
    """Judge whether the cut plane was fixed before anyone had seen the joint.

    Parameters
    ----------
    cut : CutPlane
        The plane and its dates.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    ask = Question("cut.plane_fixed_first", Subject("joint", cut.joint), adopted)
    fault = ask.lacks(**{"cut.plane": cut.plane}) or ask.unclear(
        "cut.fixed_before_looking", cut.before_looking, SEEN
    )
    if fault is not None:
        return fault
    if cut.before_looking == "no":
        return ask.hold(Message("cut.chosen_by_looks", joint=cut.joint, plane=cut.plane))
    if cut.fixed_on is None:
        return ask.missing("cut.fixed_on")
    if cut.first_look_on is not None and cut.fixed_on > cut.first_look_on:
        return ask.hold(
            Message(
                "cut.dates_disagree",
                joint=cut.joint,
                fixed=cut.fixed_on.isoformat(),
                looked=cut.first_look_on.isoformat(),
            )
        )
    return ask.answer(
        lambda _: Ruling(
            Outcome.MET,
            Message("cut.fixed_first", joint=cut.joint, plane=cut.plane),
            observed=cut.plane,
        )
    )


def judge_finish(finish: Finish, *, adopted: Adopted) -> Finding:
    """Judge whether a face can be read as it was prepared (house rule).

    Parameters
    ----------
    finish : Finish
        Grit, way of reading, over-grinding.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    ask = Question("finish.grit_photo", Subject("face", finish.face), adopted)
    if finish.over_ground == "yes":
        return ask.needs(Message("finish.over_ground", face=finish.face), observed="over-ground")
    fault = ask.unclear("over_ground", finish.over_ground, SEEN) or ask.unclear(
        "read_by", finish.read_by, READ_BY
    )
    if fault is not None:
        return fault
    if finish.read_by == "loupe":
        return ask.answer(
            lambda _: Ruling(
                Outcome.MET, Message("finish.loupe", face=finish.face), observed=finish.grit
            )
        )
    if not (finish.grit.isascii() and finish.grit.isdigit()):
        return ask.missing("grit")
    return ask.answer(lambda rule: _grit(rule, finish))


def judge_repreparation(again: Repreparation, *, adopted: Adopted) -> Finding:
    """Judge preparing a face again: a reasoned act, earlier readings kept, never for a result.

    Parameters
    ----------
    again : Repreparation
        The act as filed.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    ask = Question("finish.reprepare", Subject("face", again.face), adopted)
    fault = (
        ask.lacks(reason=again.reason)
        or ask.unclear("because_of_result", again.because_of_result, SEEN)
        or ask.unclear("earlier_kept", again.earlier_kept, SEEN)
    )
    if fault is not None:
        return fault
    fair = (again.because_of_result, again.earlier_kept) == ("no", "yes")
    shown = {"face": again.face, "reason": again.reason}
    message = Message("reprepare.met", **shown) if fair else Message("reprepare.not_met", **shown)
    return ask.answer(
        lambda _: Ruling(Outcome.MET if fair else Outcome.NOT_MET, message, observed=again.reason)
    )


def judge_magnification(face: str, magnification: str, *, adopted: Adopted) -> Finding:
    """Judge the magnification at which a face was viewed (QB-181; AWS B2.2, 4.2.5).

    Parameters
    ----------
    face : str
        Id of the face.
    magnification : str
        As written, e.g. ``"4"`` or ``"10"``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("section.min_magnification", Subject("face", face), adopted)
    try:
        power = Decimal(magnification)
    except InvalidOperation:
        power = Decimal("NaN")
    if not power.is_finite():
        return ask.missing("magnification")

    def judge(rule: Rule) -> Ruling:
        enough = power >= Decimal(rule.value)
        shown = {"face": face, "power": magnification, "least": rule.value}
        message = Message("view.met", **shown) if enough else Message("view.not_met", **shown)
        return Ruling(
            Outcome.MET if enough else Outcome.NOT_MET,
            message,
            observed=f"{magnification}x",
            limit=f">= {rule.value}x",
        )

    return ask.answer(judge)


def judge_crack(crack: Crack, *, adopted: Adopted) -> Finding:
    """Judge a crack on a face: held under ASME BPVC IX, not met under AWS B2.2.

    A crack of any length counts; where both are adopted the conflict is shown.

    Parameters
    ----------
    crack : Crack
        What was seen.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("section.crack", Subject("face", crack.face), adopted)
    long = crack.length is not None and crack.length.value > 0
    seen = "yes" if long else crack.seen
    fault = ask.unclear("crack", seen, SEEN)
    if fault is not None:
        return fault
    length = crack.length.text if crack.length is not None else "-"
    return ask.answer(lambda rule: _crack(rule, crack.face, seen, length))


def _grit(rule: Rule, finish: Finish) -> Ruling:
    coarse = int(finish.grit) <= int(rule.value)
    shown = {"face": finish.face, "grit": finish.grit, "coarse": rule.value}
    if coarse:
        return Ruling(
            Outcome.UNDETERMINED,
            Message("finish.coarse", **shown),
            Why.NEEDS_DATA,
            observed=finish.grit,
            limit=f"> {rule.value}",
        )
    return Ruling(
        Outcome.MET, Message("finish.fine", **shown), observed=finish.grit, limit=f"> {rule.value}"
    )


def _crack(rule: Rule, face: str, seen: str, length: str) -> Ruling:
    if seen == "no":
        return Ruling(Outcome.MET, Message("crack.none", face=face), observed="none")
    if rule.value == "refused":
        return Ruling(
            Outcome.NOT_MET, Message("crack.refused", face=face, length=length), observed=length
        )
    return Ruling(
        Outcome.UNDETERMINED,
        Message("crack.hold", face=face, length=length),
        Why.HOLD,
        observed=length,
    )
