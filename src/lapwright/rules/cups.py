"""Solder-depth cups changed to braze depth: shortened, or dimpled as a depth stop.

Allowed where the adopted edition allows it (NFPA 99, named from the 2012
edition on, from memory); the overlap stays at or above the procedure's floor,
which `ranges.judge_floor` answers; a dimple lies outside every cut face; such
a coupon is a kind of its own, so that an adopted range table of plain cups
never answers for it.
"""

from __future__ import annotations

from dataclasses import dataclass

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject

from .asking import Question, Ruling
from .rulebook import Adopted

CHANGES = ("none", "shortened", "dimpled")
YES_NO = ("yes", "no")


@dataclass(frozen=True)
class ChangedCup:
    """A cup as used: ``change`` a word of `CHANGES`, ``dimple_clear`` of every cut face."""

    coupon: str
    change: str
    dimple_clear: str = ""


def judge_changed_cup(cup: ChangedCup, *, adopted: Adopted) -> Finding:
    """Judge a cup that was changed to braze depth.

    Parameters
    ----------
    cup : ChangedCup
        What was done to it.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("cups.modified", Subject("coupon", cup.coupon), adopted, ("modified_cup",))
    fault = ask.unclear("change", cup.change, CHANGES)
    if fault is None and cup.change == "dimpled":
        fault = ask.unclear("dimple_clear", cup.dimple_clear, YES_NO)
    if fault is not None:
        return fault
    shown = {"coupon": cup.coupon, "change": cup.change}
    if cup.change == "none":
        return ask.answer(lambda _: Ruling(Outcome.MET, Message("cup.plain", coupon=cup.coupon)))
    if cup.dimple_clear == "no":
        return ask.hold(Message("cup.dimple_cut", coupon=cup.coupon))
    return ask.answer(
        lambda rule: (
            Ruling(Outcome.MET, Message("cup.allowed", **shown), observed=cup.change)
            if cup.change in rule.value
            else Ruling(Outcome.NOT_MET, Message("cup.not_allowed", **shown), observed=cup.change)
        )
    )
