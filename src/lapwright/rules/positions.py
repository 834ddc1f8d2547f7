"""Flow positions: of a joint, from how it stood, and which one covers which.

The flow position belongs to the joint, never to the coupon: a coupling brazed
with its axis upright has one downflow cup and one upflow cup. It follows from
the axis angle to the horizontal, the way the cup opens and the side the filler
is fed from (ASME BPVC IX, QB-120 to QB-124 and Fig. QB-461.1); the words
"flat" and "horizontal" on a sheet are never translated. Tolerances: QB-121 to
QB-124 and Fig. QB-461.2; cover: QB-303; position as a variable: QB-407.1.

Longer than the house's size: letters, tolerances and cover lean on each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling, held_until_confirmed
from .rulebook import Adopted, Rule

LETTERS = ("A", "B", "C", "D")
CUPS = ("up", "down", "side")
FEEDS = ("above", "below", "side")
NOMINAL_DEG = {"A": 0, "B": 90, "C": 90, "D": 0}
# Cup and feed of an upright socket joint: filler falls into an open cup, or climbs into it.
_UPRIGHT = {("up", "above"): "B", ("down", "below"): "C"}


@dataclass(frozen=True)
class Stand:
    """How a joint stood while it was brazed.

    ``axis_angle`` is the angle of the tube axis (plate: of the joint plane) to
    the horizontal, 0 to 90 deg; ``cup`` one of `CUPS`; ``feed`` one of `FEEDS`;
    ``planned`` the letter, or the word, that stands on the sheet.
    """

    joint: str
    axis_angle: Quantity | None
    cup: str = ""
    feed: str = ""
    planned: str = ""
    product: str = "tube"


@dataclass(frozen=True)
class FlowPosition:
    """The letter of a joint's flow position (empty while open) and the finding."""

    joint: str
    position: str
    finding: Finding


@dataclass(frozen=True)
class Tested:
    """A flow position that was tested, or is asked for, on a product form."""

    position: str
    product: str = "tube"


@dataclass(frozen=True)
class FaceOfJoint:
    """A prepared face and the joint it was cut from; empty when nobody wrote it down."""

    face: str
    joint: str


def flow_position(stand: Stand, *, adopted: Adopted) -> FlowPosition:
    """Return the flow position of one joint from how it stood.

    Parameters
    ----------
    stand : Stand
        Axis angle, cup, feed and the word on the sheet.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("position.letters", Subject("joint", stand.joint), adopted)
    fault = _word_fault(stand, ask) or _angle_fault(stand, ask)
    if fault is not None:
        return FlowPosition(stand.joint, "", fault)
    letter, open_finding = _letter(stand, ask)
    if open_finding is not None:
        return FlowPosition(stand.joint, "", open_finding)
    finding = ask.answer(
        lambda rule: Ruling(
            Outcome.MET,
            Message("position.is", joint=stand.joint, position=letter, name=_name(rule, letter)),
            observed=_observed(stand),
        )
    )
    return FlowPosition(stand.joint, letter, finding)


def judge_planned(stand: Stand, *, adopted: Adopted) -> Finding:
    """Compare the position a joint really had with the one planned for it.

    Parameters
    ----------
    stand : Stand
        How the joint stood, with ``planned``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("position.letters", Subject("joint", stand.joint), adopted)
    real = flow_position(stand, adopted=adopted)
    if not real.position:
        return real.finding
    if not stand.planned:
        return ask.missing("position")
    same = real.position == stand.planned
    outcome = Outcome.MET if same else Outcome.NOT_MET
    message = (
        Message("position.as_planned", joint=stand.joint, position=real.position)
        if same
        else Message(
            "position.not_as_planned",
            joint=stand.joint,
            position=real.position,
            planned=stand.planned,
        )
    )
    return ask.answer(
        lambda _: Ruling(outcome, message, observed=real.position, limit=stand.planned)
    )


def judge_tolerance(stand: Stand, *, adopted: Adopted) -> Finding:
    """Judge how far a test joint stood from its nominal position.

    Up to the flat-flow tolerance every reading agrees. Between it and the
    column tolerance of Fig. QB-461.2 the answer is held until that figure is
    confirmed; above it the position is not met.

    Parameters
    ----------
    stand : Stand
        How the joint stood; ``planned`` if it has a letter, else what it really was.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("position.tolerance", Subject("joint", stand.joint), adopted)
    fault = _angle_fault(stand, ask)
    if fault is not None:
        return fault
    real = None if stand.planned in LETTERS else flow_position(stand, adopted=adopted)
    if real is not None and not real.position:
        return real.finding
    letter = stand.planned if real is None else real.position
    flat = replace(ask, rule="position.tolerance_flat")
    near = flat.answer(lambda rule: _within(rule, stand, letter))
    if letter == "A" or Outcome.NOT_MET not in (near.computed, near.act_on):
        return near
    return held_until_confirmed(ask.answer(lambda rule: _within(rule, stand, letter)))


def judge_kept_apart(
    coupon: str, stands: Sequence[Stand], faces: Sequence[FaceOfJoint], *, adopted: Adopted
) -> Finding:
    """Judge whether the readings of an upright coupon are kept apart by joint.

    Parameters
    ----------
    coupon : str
        Id of the coupon.
    stands : sequence of Stand
        How each of its joints stood.
    faces : sequence of FaceOfJoint
        Its faces and the joint each belongs to.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("position.letters", Subject("coupon", coupon), adopted)
    fault = ask.lacks(joints=tuple(stands), faces=tuple(faces))
    if fault is not None:
        return fault
    joints = {s.joint for s in stands}
    stray = [f.face for f in faces if f.joint not in joints]
    lying = all(s.axis_angle is not None and s.axis_angle.base < 45 for s in stands)
    if stray and not lying:
        return ask.needs(Message("position.faces_not_apart", coupon=coupon, faces=", ".join(stray)))
    return ask.answer(lambda _: Ruling(Outcome.MET, Message("position.faces_apart", coupon=coupon)))


def judge_opposite_cups(
    coupon: str, stands: Sequence[Stand], *, adopted: Adopted
) -> Finding | None:
    """Hold an upright fitting whose cups are said to open the same way in one braze.

    Parameters
    ----------
    coupon : str
        Id of the coupon: one fitting, brazed once.
    stands : sequence of Stand
        How each of its joints stood.
    adopted : Adopted
        The adopted editions.

    Returns
    -------
    Finding or None
        ``None`` when at most one joint stood upright.
    """
    ask = Question("position.letters", Subject("coupon", coupon), adopted)
    upright = [s for s in stands if s.axis_angle is not None and s.axis_angle.base > 45]
    ways = [s.cup for s in upright if s.cup in ("up", "down")]
    if len(upright) < 2:
        return None
    joints = ", ".join(s.joint for s in upright)
    alike = [way for way in dict.fromkeys(ways) if ways.count(way) > 1]
    if alike:
        told = Message("position.cups_alike", coupon=coupon, joints=joints, way=alike[0])
        return ask.hold(told, observed=", ".join(ways))
    told = Message("position.cups_apart", coupon=coupon, joints=joints)
    return ask.answer(lambda _: Ruling(Outcome.MET, told, observed=", ".join(ways)))


def positions_covered(
    tested: Iterable[str], *, adopted: Adopted, product: str = "tube"
) -> dict[str, str]:
    """Return every position that the tested ones cover on the same product form.

    Parameters
    ----------
    tested : iterable of str
        Letters of the positions tested and passed.
    adopted : Adopted
        The adopted editions; only what all that state the rule give counts, and
        an edition whose text is unread gives nothing.
    product : str, optional
        ``tube`` or ``plate``.

    Returns
    -------
    dict of str to str
        Covered letter -> the tested letters that give it, e.g. ``{"B": "C, D"}``.
    """
    letters = sorted(set(tested))
    each = [_covered_by(rule, letters) for rule in adopted.all(_COVER_RULE[product])]
    if not each:
        return {}
    shared = set.intersection(*(set(c) for c in each))
    return {letter: ", ".join(each[0][letter]) for letter in sorted(shared)}


def judge_position(
    asked: Tested, tested: Sequence[Tested], *, subject: Subject, adopted: Adopted
) -> Finding:
    """Judge whether the tested positions cover the one asked for.

    A position beyond them needs a new test (QB-407.1), whatever the procedure
    allows. Plate tests never serve tube; a downflow test serves downflow only.

    Parameters
    ----------
    asked : Tested
        Position and product form of the production joint.
    tested : sequence of Tested
        What was tested and passed.
    subject : Subject
        The joint, or the person, that the finding is about.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(_COVER_RULE[asked.product], subject, adopted, ("position.brazer_variable",))
    fault = ask.unclear("position", asked.position, LETTERS)
    if fault is not None:
        return fault
    shown = ", ".join(f"{t.position} ({t.product})" for t in tested) or "-"
    finding = ask.answer(lambda rule: _cover(rule, asked, _of(asked.product, tested), shown))
    if asked.product == "tube" or finding.computed is not Outcome.NOT_MET:
        return finding
    by_tube = replace(ask, rule="position.tube_covers_plate")
    return by_tube.answer(lambda rule: _cover(rule, asked, _of("tube", tested), shown))


def judge_special(
    qualified: Quantity | None, production: Quantity | None, *, subject: Subject, adopted: Adopted
) -> Finding:
    """Judge a production angle against a test in a special orientation (QB-303.4).

    Parameters
    ----------
    qualified, production : Quantity or None
        Angle of the braze plane in the test and in production, [deg].
    subject : Subject
        What the finding is about.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("position.tolerance_special", subject, adopted)
    if qualified is None or production is None:
        return ask.missing("qualified" if qualified is None else "production")
    apart = abs(qualified.base - production.base)

    def judge(rule: Rule) -> Ruling:
        near = apart <= Quantity.parse(rule.value, "angle").base
        message = (
            Message("position.special_met", off=str(apart), limit=rule.value)
            if near
            else Message("position.special_not_met", off=str(apart), limit=rule.value)
        )
        return Ruling(
            Outcome.MET if near else Outcome.NOT_MET,
            message,
            observed=f"{apart} deg",
            limit=f"<= {rule.value}",
        )

    return ask.answer(judge)


_COVER_RULE = {"tube": "position.covers", "plate": "position.plate_covers"}


def _word_fault(stand: Stand, ask: Question) -> Finding | None:
    if not stand.planned or stand.planned in LETTERS:
        return None
    return ask.hold(
        Message("position.word", joint=stand.joint, word=stand.planned, letters=", ".join(LETTERS)),
        observed=stand.planned,
    )


def _angle_fault(stand: Stand, ask: Question) -> Finding | None:
    if stand.axis_angle is None:
        return ask.missing("axis_angle")
    if 0 <= stand.axis_angle.base <= 90:
        return None
    return ask.needs(
        Message("position.angle_range", joint=stand.joint, angle=stand.axis_angle.text),
        observed=stand.axis_angle.text,
    )


def _letter(stand: Stand, ask: Question) -> tuple[str, Finding | None]:
    """Return the letter of a joint whose angle is known, or why it stays open."""
    assert stand.axis_angle is not None  # _angle_fault came first
    angle = stand.axis_angle.base
    if stand.product == "plate":
        return stand.planned, None if stand.planned else ask.missing("position")
    if angle < 45 and stand.cup in ("", "side"):
        return "D", None
    if angle > 45:
        fault = ask.unclear("cup", stand.cup, CUPS) or ask.unclear("feed", stand.feed, FEEDS)
        if fault is not None:
            return "", fault
        if (stand.cup, stand.feed) in _UPRIGHT:
            return _UPRIGHT[stand.cup, stand.feed], None
    return "", ask.hold(
        Message(
            "position.contradiction",
            joint=stand.joint,
            angle=stand.axis_angle.text,
            cup=stand.cup or "-",
            feed=stand.feed or "-",
        ),
        observed=_observed(stand),
    )


def _observed(stand: Stand) -> str:
    angle = stand.axis_angle.text if stand.axis_angle else "-"
    return f"{angle}, cup {stand.cup or '-'}, fed from {stand.feed or '-'}"


def _name(rule: Rule, letter: str) -> str:
    return str(rule.value[letter])


def _within(rule: Rule, stand: Stand, letter: str) -> Ruling:
    assert stand.axis_angle is not None  # _angle_fault came first
    off = abs(stand.axis_angle.base - NOMINAL_DEG[letter])
    near = off <= Quantity.parse(rule.value, "angle").base
    shown = {"joint": stand.joint, "off": str(off), "position": letter, "limit": rule.value}
    message = (
        Message("position.tilt_met", **shown) if near else Message("position.tilt_not_met", **shown)
    )
    return Ruling(
        Outcome.MET if near else Outcome.NOT_MET,
        message,
        observed=f"{off} deg",
        limit=f"<= {rule.value}",
    )


def _of(product: str, tested: Sequence[Tested]) -> list[str]:
    return sorted({t.position for t in tested if t.product == product})


def _covered_by(rule: Rule, tested: Sequence[str]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for letter in tested:
        for covered in (rule.value or {}).get(letter, []):
            found.setdefault(covered, []).append(letter)
    return found


def _cover(rule: Rule, asked: Tested, tested: Sequence[str], shown: str) -> Ruling:
    by = _covered_by(rule, tested).get(asked.position)
    if by:
        message = Message("position.covered", position=asked.position, by=", ".join(by))
        return Ruling(Outcome.MET, message, observed=asked.position, limit=shown)
    message = Message(
        "position.not_covered", position=asked.position, product=asked.product, tested=shown
    )
    return Ruling(Outcome.NOT_MET, message, observed=asked.position, limit=shown)
