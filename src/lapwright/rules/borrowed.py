"""Whether an employer may use a procedure that another competent group or agency qualified.

NFPA 99 (memory): the procedure and its record meet the code, the employer gets copies
that it signs and dates, and it has at least one brazer tested on each such procedure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Subject

from .asking import Question
from .rulebook import Adopted
from .rulings import met, not_met

RULE = "procedure.borrowed"


@dataclass(frozen=True)
class Borrowed:
    """A procedure of others: ``meets_code`` is ``yes`` or ``no``; ``tested`` are own brazers."""

    procedure: str
    employer: str
    meets_code: str
    signed_on: date | None
    tested: Sequence[str]


def judge_borrowed(given: Borrowed, *, adopted: Adopted) -> Finding:
    """Judge whether an employer may use a borrowed procedure.

    Parameters
    ----------
    given : Borrowed
        The procedure, the signature, and the employer's brazers tested on it.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(RULE, Subject("procedure", given.procedure), adopted)
    unclear = ask.unclear("meets_code", given.meets_code, ("yes", "no"))
    if unclear is not None:
        return unclear
    shown = {"procedure": given.procedure, "employer": given.employer}
    if given.meets_code == "no":
        return ask.answer(lambda _: not_met("borrowed.not_the_code", procedure=given.procedure))
    if given.signed_on is None:
        return ask.needs(Message("borrowed.unsigned", **shown))
    if not given.tested:
        return ask.answer(lambda _: not_met("borrowed.untested", **shown))
    on, tested = given.signed_on.isoformat(), ", ".join(given.tested)
    return ask.answer(lambda _: met("borrowed.usable", on=on, tested=tested, **shown))
