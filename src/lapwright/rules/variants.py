"""One demand in two wordings: both are asked, and where they differ both are shown."""

from __future__ import annotations

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Why, settled

from .asking import Question


def both_wordings(ask: Question, first: Finding, second: Finding | None) -> Finding:
    """Return the first finding, or a conflict that acts on the stricter where the two differ.

    Parameters
    ----------
    ask : Question
        The question, for its rule and subject.
    first : Finding
        Answer of the code's own wording.
    second : Finding or None
        Answer of the other source's wording; ``None`` when no edition carries one.
    """
    if second is None or second.before_confirmation is first.before_confirmation:
        return first
    shown = "; ".join(
        f"{finding.cites[0]}: {finding.before_confirmation.value}"
        for finding in (first, second)
        if finding.cites
    )
    return settled(
        ask.rule,
        ask.subject,
        Outcome.UNDETERMINED,
        Message("rules.differ", subject=str(ask.subject), answers=shown),
        cites=(*first.cites, *second.cites),
        why=Why.CONFLICT,
        observed=first.observed,
        limit=first.limit,
        act_on=Outcome.NOT_MET,
    )
