"""Hold a basis that was adopted when a result could be known (common practice, no source).

Whoever has seen a reading can choose the decision rule, or the range table,
that it passes. So the basis is adopted before anyone has looked at a joint.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from lapwright.core.evidence import Evidence, Joint
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject

from .asking import Question, Ruling
from .rulebook import Adopted

RULE = "basis.adopted_first"


def first_look(joints: Iterable[Joint]) -> date | None:
    """Return the first day on which any of the joints was looked at, read or tested.

    Parameters
    ----------
    joints : iterable of Joint
        The joints.
    """
    return min((day for j in joints for day in _days(j)), default=None)


def judge_adopted_first(evidence: Evidence, *, adopted: Adopted) -> Iterator[Finding]:
    """Yield whether the basis was adopted before the first look.

    Parameters
    ----------
    evidence : Evidence
        The case.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    basis, looked = evidence.basis, first_look(evidence.joints)
    if basis is None or looked is None or not adopted.has(RULE):
        return
    ask = Question(RULE, Subject("case", evidence.case), adopted)
    on = basis.adopted_on
    shown = {"on": on.isoformat(), "looked": looked.isoformat()}
    if on >= looked:
        yield ask.hold(Message("basis.late", **shown), observed=on.isoformat())
        return
    told = Message("basis.first", **shown)
    yield ask.answer(lambda _: Ruling(Outcome.MET, told, observed=on.isoformat()))


def _days(joint: Joint) -> Iterator[date]:
    yield from (e.on for e in joint.examinations)
    yield from (t.on for t in joint.specimens)
    yield from (r.on for f in joint.faces for r in f.readings)
