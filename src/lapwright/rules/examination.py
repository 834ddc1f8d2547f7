"""Looking at a coupon before and after it is opened; one finding for each matter.

The bore is judged through the ends before sawing and on the opened halves
before polishing (house rule); no oxide may be inside (NFPA 99, brazer's test);
visual items ASME BPVC IX, QB-141.6 and AWS B2.2, 4.2.2. Erosion of base metal,
any, is not met: a measured depth may raise it, never clear it. Rolled tube
ends and over-grinding are matters of their own. Excess filler is the
examiner's decision with reason and photograph; a limit counts only where the
basis adopts one. What is cut, ground and viewed stands in `preparation`.

Longer than the house's size: one look a stretch, each with its own finding.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .rulebook import Adopted, Rule

SEEN = ("yes", "no")
OXIDE = ("none", "discoloured", "oxide")
ITEM = ("acceptable", "remark", "not-acceptable", "not-applicable")
FAR_SIDE = "filler-through-to-far-side"  # the only item looked at "where it applies"
DECISIONS = ("acceptable", "not-acceptable")
ROUNDING_METALS = ("aluminium", "copper", "magnesium")


@dataclass(frozen=True)
class BoreLook:
    """What the bore showed, at both stages, and when each look was made.

    ``ends_stage`` is ``before-sawing`` or ``after-sawing``; ``halves_stage``
    ``before-polishing`` or ``after-polishing``; findings are words of `OXIDE`.
    """

    joint: str
    ends: str = ""
    ends_stage: str = ""
    halves: str = ""
    halves_stage: str = ""


@dataclass(frozen=True)
class VisualLook:
    """The visual examination: each item of the rule with a word of `ITEM`."""

    joint: str
    items: Mapping[str, str] = field(default_factory=dict)
    remark: str = ""


@dataclass(frozen=True)
class Erosion:
    """Whether base metal was melted or eroded, and the depth if anyone measured it."""

    joint: str
    seen: str = ""
    depth: Quantity | None = None


@dataclass(frozen=True)
class ExcessFiller:
    """Filler outside (runs, drips) or inside (fillet, droplets) the joint.

    ``where`` is ``outside`` or ``inside``; ``decision`` the examiner's word of
    `DECISIONS`, with ``reason`` and ``photo``.
    """

    joint: str
    where: str
    seen: str = ""
    size: Quantity | None = None
    decision: str = ""
    reason: str = ""
    photo: str = ""


@dataclass(frozen=True)
class CornerRounding:
    """A corner of base metal rounded by melting, on a metal of `ROUNDING_METALS` or another."""

    joint: str
    seen: str = ""
    metal: str = ""


def judge_bore_order(look: BoreLook, *, adopted: Adopted) -> Finding:
    """Judge whether the bore was looked at in time, at both stages.

    A look that came too late is held, not charged to the brazer: sawing and
    polishing can bring or take away what was to be seen.

    Parameters
    ----------
    look : BoreLook
        The two looks.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("bore.before_sawing", Subject("joint", look.joint), adopted)
    fault = ask.unclear(
        "bore.before_sawing", look.ends_stage, ("before-sawing", "after-sawing")
    ) or ask.unclear("bore.opened", look.halves_stage, ("before-polishing", "after-polishing"))
    if fault is not None:
        return fault
    late = [s for s in (look.ends_stage, look.halves_stage) if s.startswith("after-")]
    if late:
        return ask.hold(
            Message("bore.late", joint=look.joint, stages=", ".join(late)), observed=", ".join(late)
        )
    return ask.answer(lambda _: Ruling(Outcome.MET, Message("bore.in_time", joint=look.joint)))


def judge_oxide(look: BoreLook, *, adopted: Adopted) -> Finding:
    """Judge the absence of oxide inside the finished coupon (NFPA 99, brazer's test).

    Parameters
    ----------
    look : BoreLook
        Both looks; the worse one answers, a blank one is asked for.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("bore.no_oxide", Subject("joint", look.joint), adopted)
    seen = (look.ends, look.halves)
    if "oxide" in seen:
        return ask.answer(
            lambda _: Ruling(
                Outcome.NOT_MET, Message("bore.oxide", joint=look.joint), observed="oxide"
            )
        )
    fault = ask.unclear("bore.before_sawing.items.oxide", look.ends, OXIDE)
    fault = fault or ask.unclear("bore.opened.items.oxide", look.halves, OXIDE)
    if fault is not None:
        return fault
    if "discoloured" in seen:
        return ask.hold(Message("bore.discoloured", joint=look.joint), observed="discoloured")
    return ask.answer(
        lambda _: Ruling(Outcome.MET, Message("bore.clean", joint=look.joint), observed="none")
    )


def judge_visual(look: VisualLook, *, adopted: Adopted) -> Finding:
    """Judge the visual items that each adopted edition names; no figure is given there.

    Parameters
    ----------
    look : VisualLook
        Item -> word; an uneven fillet is a remark, a gap in the ring is not acceptable.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("visual.items", Subject("joint", look.joint), adopted)
    return ask.answer(lambda rule: _visual(rule, look))


def judge_unmelted_filler(joint: str, seen: str, *, adopted: Adopted) -> Finding:
    """Judge filler left unmelted: not met on a coupon wherever an edition names it.

    Parameters
    ----------
    joint : str
        Id of the joint.
    seen : str
        ``yes`` or ``no``.
    adopted : Adopted
        The adopted editions (AWS B2.2 by its sister specification; NFPA 99,
        conditions of a finished joint, no. 3).
    """
    rule = "visual.filler" if adopted.has("visual.filler") else "production.conditions"
    ask = Question(rule, Subject("joint", joint), adopted)
    return _yes_is_not_met(
        ask,
        "visual.items.unmelted-filler",
        seen,
        Message("filler.unmelted", joint=joint),
        Message("filler.melted", joint=joint),
    )


def judge_visual_order(
    joint: str, on: date, cut_on: date, *, adopted: Adopted
) -> Iterator[Finding]:
    """Yield a hold where a joint was looked at from outside after it was cut (house rule).

    Parameters
    ----------
    joint : str
        Id of the joint.
    on, cut_on : date
        Days of the look and of the cut.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    if on > cut_on:
        ask = Question("visual.before_sawing", Subject("joint", joint), adopted)
        told = Message("visual.late", joint=joint, on=on.isoformat(), cut=cut_on.isoformat())
        yield ask.hold(told, observed=on.isoformat())


def judge_erosion(erosion: Erosion, *, adopted: Adopted) -> Finding:
    """Judge erosion of base metal: any is not met for the position of the joint.

    Parameters
    ----------
    erosion : Erosion
        What was seen; a depth above zero counts as seen, a depth of zero clears nothing.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    ask = Question("erosion.any", Subject("joint", erosion.joint), adopted)
    deep = erosion.depth is not None and erosion.depth.value > 0
    depth = erosion.depth.text if erosion.depth is not None else "-"
    seen = "yes" if deep else erosion.seen
    return _yes_is_not_met(
        ask,
        "visual.items.erosion",
        seen,
        Message("erosion.seen", joint=erosion.joint, depth=depth),
        Message("erosion.none", joint=erosion.joint),
        observed=depth,
    )


def judge_tube_end(joint: str, rolled: str, *, adopted: Adopted) -> Finding:
    """Judge a tube end rolled inwards by the cutter; it is not erosion.

    Parameters
    ----------
    joint : str
        Id of the joint.
    rolled : str
        ``yes`` or ``no``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("cleaning.cut", Subject("joint", joint), adopted)
    fault = ask.unclear("visual.items.rolled-end", rolled, SEEN)
    if fault is not None:
        return fault
    if rolled == "yes":
        return ask.hold(Message("end.rolled", joint=joint), observed="rolled")
    return ask.answer(lambda _: Ruling(Outcome.MET, Message("end.sound", joint=joint)))


def judge_excess_filler(
    excess: ExcessFiller, *, adopted: Adopted, limit: Quantity | None = None
) -> Finding:
    """Judge filler in excess outside or inside the joint (house rule).

    Parameters
    ----------
    excess : ExcessFiller
        What was seen and what the examiner decided.
    adopted : Adopted
        The adopted editions with the programme's rules.
    limit : Quantity, optional
        Largest run or droplet, only where the basis adopts one.
    """
    ask = Question("excess.filler", Subject("joint", excess.joint), adopted)
    fault = ask.unclear("where", excess.where, ("outside", "inside")) or ask.unclear(
        _excess_key(excess), excess.seen, SEEN
    )
    if fault is not None:
        return fault
    if excess.seen == "no":
        return ask.answer(
            lambda _: Ruling(
                Outcome.MET,
                Message("excess.none", joint=excess.joint, where=excess.where),
                observed="none",
            )
        )
    return _by_limit(excess, ask, limit) if limit is not None else _by_examiner(excess, ask)


def _excess_key(excess: ExcessFiller) -> str:
    """Return the key of the case file under which excess filler is noted."""
    look = "bore.opened" if excess.where == "inside" else "visual"
    return f"{look}.items.excess-{excess.where}"


def judge_corner_rounding(corner: CornerRounding, *, adopted: Adopted) -> Finding:
    """Judge a corner rounded by melting: AWS B2.2 allows it, NFPA 99 does not.

    AWS B2.2, 4.2.2 excepts corners of aluminium, copper and magnesium alloys
    from its ban on melted base metal; NFPA 99 has melted base metal replaced on
    a production joint. Where both are adopted, both answers are shown.

    Parameters
    ----------
    corner : CornerRounding
        What was seen and on which metal.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(
        "visual.corner_rounding",
        Subject("joint", corner.joint),
        adopted,
        ("production.conditions",),
    )
    fault = ask.unclear("visual.items.corner-rounding", corner.seen, SEEN)
    if fault is None and corner.seen == "yes":
        fault = ask.lacks(**{"visual.items.corner-metal": corner.metal})
    return fault or ask.answer(lambda rule: _rounding(rule, corner), across=ask.also)


def _visual(rule: Rule, look: VisualLook) -> Ruling:
    words = {item: look.items.get(item, "") for item in rule.value}
    bad = [i for i, w in words.items() if w == "not-acceptable"]
    blank = [
        i for i, w in words.items() if w not in ITEM or (w == "not-applicable" and i != FAR_SIDE)
    ]
    noted = [i for i, w in words.items() if w == "remark"]
    limit = ", ".join(rule.value)
    if bad:
        return Ruling(
            Outcome.NOT_MET,
            Message("visual.not_met", joint=look.joint, items=", ".join(bad)),
            observed=", ".join(bad),
            limit=limit,
        )
    if blank:
        return Ruling(
            Outcome.UNDETERMINED,
            Message("visual.blank", joint=look.joint, items=", ".join(blank)),
            Why.NEEDS_DATA,
            limit=limit,
        )
    if noted:
        return Ruling(
            Outcome.MET,
            Message(
                "visual.remark", joint=look.joint, items=", ".join(noted), remark=look.remark or "-"
            ),
            observed=", ".join(noted),
            limit=limit,
        )
    return Ruling(Outcome.MET, Message("visual.met", joint=look.joint), limit=limit)


def _yes_is_not_met(
    ask: Question, key: str, seen: str, bad: Message, good: Message, *, observed: str = ""
) -> Finding:
    fault = ask.unclear(key, seen, SEEN)
    if fault is not None:
        return fault
    found = seen == "yes"
    return ask.answer(
        lambda _: Ruling(
            Outcome.NOT_MET if found else Outcome.MET,
            bad if found else good,
            observed=observed or seen,
        )
    )


def _by_limit(excess: ExcessFiller, ask: Question, limit: Quantity) -> Finding:
    if excess.size is None:
        return ask.missing(f"{_excess_key(excess)}-size")
    size, within = excess.size, excess.size <= limit
    shown = {"joint": excess.joint, "where": excess.where, "size": size.text, "limit": limit.text}
    message = Message("excess.within", **shown) if within else Message("excess.over", **shown)
    return ask.answer(
        lambda _: Ruling(
            Outcome.MET if within else Outcome.NOT_MET,
            message,
            observed=size.text,
            limit=f"<= {limit.text}",
        )
    )


def _by_examiner(excess: ExcessFiller, ask: Question) -> Finding:
    key = _excess_key(excess)
    if not excess.decision:
        return ask.hold(Message("excess.decide", joint=excess.joint, where=excess.where))
    fault = ask.unclear(f"{key}-decision", excess.decision, DECISIONS) or ask.lacks(
        **{f"{key}-reason": excess.reason, f"{key.split('.items')[0]}.photo": excess.photo}
    )
    if fault is not None:
        return fault
    good = excess.decision == "acceptable"
    shown = {"joint": excess.joint, "where": excess.where, "reason": excess.reason}
    message = Message("excess.accepted", **shown) if good else Message("excess.refused", **shown)
    return ask.answer(
        lambda _: Ruling(
            Outcome.MET if good else Outcome.NOT_MET, message, observed=excess.decision
        )
    )


def _rounding(rule: Rule, corner: CornerRounding) -> Ruling:
    if corner.seen == "no":
        return Ruling(Outcome.MET, Message("corner.none", joint=corner.joint))
    shown = {"joint": corner.joint, "metal": corner.metal}
    if rule.id == "visual.corner_rounding" and corner.metal in ROUNDING_METALS:
        return Ruling(Outcome.MET, Message("corner.allowed", **shown), observed="rounded")
    return Ruling(Outcome.NOT_MET, Message("corner.melted", **shown), observed="rounded")
