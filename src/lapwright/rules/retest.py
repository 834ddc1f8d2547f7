"""Retests: at once, or after training; and how many pieces a session needs.

ASME BPVC IX, QB-321.1: two consecutive coupons for each position failed, all
passing; QB-321.2: after further training or practice one complete test for
each position failed. "Immediate" is read as without training between, not as
the same day (house rule). Whether an immediate retest on small tube takes two
or four pieces is in no text we have read: the basis chooses.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .errors import ReadingUnknown
from .rulebook import Adopted, Rule
from .specimens import is_small_tube

PIECES_CHOICES = ("", "2", "4")
MEANINGS = ("no-training-between", "same-day")


@dataclass(frozen=True)
class Piece:
    """One retest coupon with the outcome of its examination; None while it is open."""

    id: str
    outcome: Outcome | None


@dataclass(frozen=True)
class Immediate:
    """An immediate retest of one position.

    ``brazed`` are the coupons brazed in the retest, in order; ``offered`` the
    ids of those put forward; ``training_on`` any training between failure and retest.
    """

    position: str
    failed_on: date | None
    retested_on: date | None
    brazed: tuple[Piece, ...]
    offered: tuple[str, ...]
    tube_od: Quantity | None
    training_on: date | None = None


@dataclass(frozen=True)
class AfterTraining:
    """One complete retest of one position after training; ``outcome`` None while open."""

    position: str
    training_on: date | None
    retested_on: date | None
    outcome: Outcome | None


@dataclass(frozen=True)
class Sequel:
    """When a failed test and its retest happened.

    ``failed_at`` and ``again_at`` are the starts of the last failing braze and of the first
    braze of the retest, None where nobody wrote the hour; ``found_on`` is the day on which
    the last failure could be known (its hour is never filed, so a retest begun that day is
    held); ``begun_on`` the day of the training, else of the retest.
    """

    position: str
    failed_on: date
    again_on: date
    failed_at: datetime | None
    again_at: datetime | None
    found_on: date
    begun_on: date


@dataclass(frozen=True)
class Pieces:
    """Coupons of a session; the retest reserve under both readings."""

    coupons: int
    with_spares: int
    reserve_if_piece: int
    reserve_if_test: int


def judge_immediate(
    retest: Immediate,
    *,
    adopted: Adopted,
    pieces_choice: str = "",
    meaning: str = "no-training-between",
) -> Finding:
    """Judge an immediate retest of one failed position (QB-321.1).

    Parameters
    ----------
    retest : Immediate
        What was brazed and offered.
    adopted : Adopted
        The adopted editions with the programme's rules.
    pieces_choice : str, optional
        ``2`` or ``4`` pieces on small tube, as the basis chose; empty while it
        has not: two good pieces are then held.
    meaning : str, optional
        ``no-training-between`` or ``same-day``, as the basis chose.

    Raises
    ------
    ReadingUnknown
        For another choice.
    """
    _known("pieces of an immediate retest", pieces_choice, PIECES_CHOICES)
    _known("meaning of immediate", meaning, MEANINGS)
    ask = Question(
        "retest.immediate_count",
        Subject("position", retest.position),
        adopted,
        ("retest.consecutive", "retest.immediate_meaning"),
    )
    fault = ask.lacks(
        failed_on=retest.failed_on,
        retested_on=retest.retested_on,
        brazed=retest.brazed,
        offered=retest.offered,
        tube_od=retest.tube_od,
    )
    fault = fault or _not_immediate(retest, ask, meaning)
    if fault is not None:
        return fault
    if retest.offered != tuple(p.id for p in retest.brazed):
        shown = Message(
            "retest.not_consecutive",
            position=retest.position,
            brazed=", ".join(p.id for p in retest.brazed),
            offered=", ".join(retest.offered),
        )
        return ask.answer(lambda _: Ruling(Outcome.NOT_MET, shown))
    assert retest.tube_od is not None  # asked for above
    small = is_small_tube(retest.tube_od, adopted)
    full = replace(ask, also=(*ask.also, "retest.immediate_pieces")) if small == "yes" else ask
    return full.answer(lambda rule: _count(rule, retest, small, pieces_choice))


def judge_sequel(sequel: Sequel, *, adopted: Adopted) -> Finding | None:
    """Judge whether a retest came after the failure that it repeats (house rule).

    Parameters
    ----------
    sequel : Sequel
        The days and hours of both.
    adopted : Adopted
        The adopted editions with the programme's rules.

    Returns
    -------
    Finding or None
        ``None`` when it did, or when no edition asks.
    """
    if not adopted.has("retest.in_order"):
        return None
    ask = Question("retest.in_order", Subject("position", sequel.position), adopted)
    failed, again = sequel.failed_at, sequel.again_at
    if sequel.again_on == sequel.failed_on and (failed is None or again is None):
        return ask.missing("started")
    early = sequel.again_on < sequel.failed_on
    if early or (failed is not None and again is not None and again < failed):
        shown = {
            "failed": failed.isoformat() if failed else sequel.failed_on.isoformat(),
            "retested": again.isoformat() if again else sequel.again_on.isoformat(),
        }
        return ask.needs(Message("retest.dates", position=sequel.position, **shown))
    if sequel.begun_on < sequel.found_on or sequel.again_on <= sequel.found_on:
        days = {"begun": sequel.begun_on.isoformat(), "found": sequel.found_on.isoformat()}
        return ask.hold(Message("retest.before_found", position=sequel.position, **days))
    return None


def hold_late_immediate(position: str, *, adopted: Adopted) -> Finding:
    """Return the hold on an immediate retest that is filed after one that followed training.

    Parameters
    ----------
    position : str
        Letter of the position.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    ask = Question("retest.in_order", Subject("position", position), adopted)
    return ask.hold(Message("retest.immediate_late", position=position))


def hold_filed_first(
    position: str, coupon: str, *, brazed_on: date, found_on: date, adopted: Adopted
) -> Finding:
    """Return the hold on a coupon filed in the first round and brazed after a known failure.

    Parameters
    ----------
    position, coupon : str
        Letter of the position and id of the coupon.
    brazed_on, found_on : date
        Day of its braze, and the earlier day on which the position was found to have failed.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    ask = Question("retest.in_order", Subject("position", position), adopted)
    days = {"brazed": brazed_on.isoformat(), "found": found_on.isoformat()}
    return ask.hold(Message("retest.filed_first", position=position, coupon=coupon, **days))


def judge_after_training(retest: AfterTraining, *, adopted: Adopted) -> Finding:
    """Judge one complete retest after further training or practice (QB-321.2).

    Parameters
    ----------
    retest : AfterTraining
        Training, retest and its outcome.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("retest.after_training", Subject("position", retest.position), adopted)
    if retest.training_on is None:
        return ask.needs(Message("retest.no_training", position=retest.position))
    if retest.retested_on is None:
        return ask.missing("retested_on")
    if retest.training_on >= retest.retested_on:
        return _training_order(retest, ask)
    if retest.outcome not in (Outcome.MET, Outcome.NOT_MET):
        return ask.missing("outcome")
    passed = retest.outcome is Outcome.MET
    message = (
        Message("retest.trained_met", position=retest.position)
        if passed
        else Message("retest.trained_not_met", position=retest.position)
    )
    return ask.answer(lambda _: Ruling(Outcome.MET if passed else Outcome.NOT_MET, message))


def stand_after(position: str, first: Finding, retests: tuple[Finding, ...]) -> Finding:
    """Return the finding that stands for a position after its own retests.

    A position that passed keeps standing whatever happens to another one; a
    failed one stands on its last retest, and each retest is of that position alone.

    Parameters
    ----------
    position : str
        Letter of the position.
    first : Finding
        The finding of its first test.
    retests : tuple of Finding
        Findings of its retests, oldest first.

    Raises
    ------
    ValueError
        If a retest is about another position.
    """
    stray = [f.subject.id for f in retests if f.subject.id != position]
    if stray:
        raise ValueError(f"retests of {stray} do not answer for position {position}")
    if first.outcome is Outcome.MET or not retests:
        return first
    return retests[-1]


def pieces_needed(
    brazers: int, positions: int, *, adopted: Adopted, tube_od: Quantity, spare_percent: int = 20
) -> Pieces:
    """Return how many coupons a session needs, with spares and both retest reserves.

    Parameters
    ----------
    brazers, positions : int
        How many of each.
    adopted : Adopted
        The adopted editions.
    tube_od : Quantity
        Outside diameter of the coupon tube.
    spare_percent : int, optional
        Spares on top; 20 is common practice, no source.

    Examples
    --------
    Two brazers, two positions, small tube: 8 coupons, 10 with spares, and a
    reserve of 8 more, or of 16 where every retest takes two pieces.
    """
    small = is_small_tube(tube_od, adopted) == "yes"
    each = int(adopted.first("specimens.small_tube_coupons").value) if small else 1
    again = int(adopted.first("retest.immediate_count").value)
    tests = brazers * positions
    coupons = tests * each
    spare = -(-coupons * (100 + spare_percent) // 100)  # rounded up
    return Pieces(coupons, spare, tests * again, tests * again * each)


def _known(what: str, got: str, known: tuple[str, ...]) -> None:
    if got not in known:
        raise ReadingUnknown(
            f"no such {what}",
            got=got,
            do="Choose one of them in the basis.",
            expected=", ".join(k for k in known if k),
        )


def _not_immediate(retest: Immediate, ask: Question, meaning: str) -> Finding | None:
    assert retest.failed_on is not None  # asked for by the caller
    assert retest.retested_on is not None
    shown = {
        "position": retest.position,
        "failed": retest.failed_on.isoformat(),
        "retested": retest.retested_on.isoformat(),
    }
    if retest.retested_on < retest.failed_on:
        return ask.needs(Message("retest.dates", **shown))
    trained = retest.training_on
    if trained is not None and retest.failed_on <= trained <= retest.retested_on:
        message = Message(
            "retest.training_between", position=retest.position, training=trained.isoformat()
        )
        return ask.answer(lambda _: Ruling(Outcome.NOT_MET, message))
    if meaning == "same-day" and retest.retested_on != retest.failed_on:
        return ask.answer(
            lambda _: Ruling(Outcome.NOT_MET, Message("retest.not_same_day", **shown))
        )
    return None


def _count(rule: Rule, retest: Immediate, small: str, choice: str) -> Ruling:
    outcomes = [p.outcome for p in retest.brazed]
    needed = int(rule.value)
    most = int(choice) if choice and small == "yes" else needed
    failed = [p.id for p in retest.brazed if p.outcome is Outcome.NOT_MET]
    shown = {"position": retest.position, "count": str(len(outcomes)), "needed": str(most)}
    if failed:
        return Ruling(
            Outcome.NOT_MET,
            Message("retest.piece_failed", position=retest.position, pieces=", ".join(failed)),
        )
    if any(o is not Outcome.MET for o in outcomes):
        return Ruling(
            Outcome.UNDETERMINED,
            Message("retest.piece_open", position=retest.position),
            Why.NEEDS_DATA,
        )
    if len(outcomes) < most:
        return Ruling(
            Outcome.UNDETERMINED,
            Message("retest.too_few", **shown),
            Why.NEEDS_DATA,
            observed=shown["count"],
            limit=shown["needed"],
        )
    if small == "yes" and not choice and len(outcomes) < 2 * needed:
        return Ruling(
            Outcome.UNDETERMINED,
            Message("retest.two_or_four", **shown),
            Why.HOLD,
            observed=shown["count"],
            limit=f"{needed} or {2 * needed}",
        )
    return Ruling(
        Outcome.MET, Message("retest.met", **shown), observed=shown["count"], limit=shown["needed"]
    )


def _training_order(retest: AfterTraining, ask: Question) -> Finding:
    assert retest.training_on is not None  # asked for by the caller
    assert retest.retested_on is not None
    shown = {
        "position": retest.position,
        "training": retest.training_on.isoformat(),
        "retested": retest.retested_on.isoformat(),
    }
    if retest.training_on == retest.retested_on:
        return ask.hold(Message("retest.training_same_day", **shown))
    return ask.answer(lambda _: Ruling(Outcome.NOT_MET, Message("retest.training_late", **shown)))
