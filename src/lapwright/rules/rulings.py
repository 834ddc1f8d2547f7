"""Short makers of rulings, and the words that a log may use.

``saw`` and ``bound`` become the ruling's observed value and limit; every other
keyword fills the message.
"""

from __future__ import annotations

from lapwright.core.messages import Message
from lapwright.core.outcomes import Outcome, Why

from .asking import Ruling


def met(message: str, *, saw: str = "", bound: str = "", **params: str) -> Ruling:
    """Return a ruling that the demand is met; ``params`` fill the message."""
    return Ruling(Outcome.MET, Message(message, **params), observed=saw, limit=bound)


def not_met(message: str, *, saw: str = "", bound: str = "", **params: str) -> Ruling:
    """Return a ruling that the demand is not met; ``params`` fill the message."""
    return Ruling(Outcome.NOT_MET, Message(message, **params), observed=saw, limit=bound)


def held(message: str, *, saw: str = "", bound: str = "", **params: str) -> Ruling:
    """Return a ruling that a person must decide; ``params`` fill the message."""
    return Ruling(
        Outcome.UNDETERMINED, Message(message, **params), why=Why.HOLD, observed=saw, limit=bound
    )


def needed(message: str, *, saw: str = "", bound: str = "", **params: str) -> Ruling:
    """Return a ruling that waits for data; ``params`` fill the message."""
    return Ruling(
        Outcome.UNDETERMINED,
        Message(message, **params),
        why=Why.NEEDS_DATA,
        observed=saw,
        limit=bound,
    )


def word(text: str) -> str:
    """Return a log entry as one word: lower case, spaces as hyphens; nothing is guessed.

    Examples
    --------
    >>> word(" Steel wool ")
    'steel-wool'
    """
    return "-".join(text.lower().split())
