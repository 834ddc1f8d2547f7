"""What a doubt suspends: the variables of the doubtful work, from its event until it is settled.

ASME BPVC IX, QB-322(b), and NFPA 99: a specific reason to question the ability
suspends the qualifications that support the doubtful work; others stay. A doubt
names a person, a process, a procedure or a record, and may name variables (a
position, an F-number). Work since the event is held; an appropriate new test
restores the rest from its own day (QB-322, memory), and what lies between stays
held. A doubt that a person has cleared with a reason holds nothing any longer.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from lapwright.core.evidence import Doubt
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Subject

from .asking import Question
from .qualified import History, Qualification, Test
from .rulebook import Adopted
from .rulings import met

RULE, SCOPE, RESTORED = "doubt.reason", "doubt.scope", "renewal.after_doubt"


def suspends(doubt: Doubt, qualification: Qualification) -> tuple[str, ...]:
    """Return the positions of a qualification that a doubt is about; empty when none.

    A qualification without a known position answers with one empty text.

    Parameters
    ----------
    doubt : Doubt
        ``about`` names ``person:``, ``process:``, ``procedure:`` or ``record:``.
    qualification : Qualification
        What may be suspended.
    """
    kind, _, name = doubt.about.partition(":")
    own: dict[str, tuple[str, ...]] = {
        "person": (qualification.person,),
        "process": (qualification.process,),
        "procedure": qualification.procedures,
        "record": (qualification.id,),
    }
    if name not in own.get(kind, ()):
        return ()
    tests = [t for t in qualification.tests if _fits(doubt, t)]
    return tuple(dict.fromkeys(t.variables.position for t in tests))


def _fits(doubt: Doubt, test: Test) -> object:
    """Return whether a test shows the variables that a doubt names; an unknown one may be it."""
    shown = {**vars(test.variables), "procedure": test.procedure}
    return all(shown.get(key, "") in ("", wanted) for key, wanted in doubt.scope.items())


def restored_on(doubt: Doubt, history: History) -> date | None:
    """Return the day of the first certified new test of what a doubt is about, or None.

    A doubt that names no variables has no appropriate test by itself: a person clears it.

    Parameters
    ----------
    doubt : Doubt
        The doubt.
    history : History
        The person's tests.
    """
    days = [
        t.on
        for q, t in history.tests
        if doubt.scope
        and t.on > doubt.found_on
        and q.certified_on is not None
        and t.variables.position in suspends(doubt, q)
    ]
    return min(days, default=None)


def holds(doubt: Doubt, history: History, day: date) -> object:
    """Return whether a doubt holds work of a day: from its event, up to the new test."""
    again = restored_on(doubt, history)
    begun = min(doubt.since or doubt.found_on, doubt.found_on)
    return doubt.cleared_on is None and day >= begun and (again is None or day < again)


def reached_positions(history: History, qualification: Qualification, day: date) -> tuple[str, ...]:
    """Return the flow positions of a qualification that are suspended on a day."""
    found = [
        letter
        for doubt in history.doubts
        if holds(doubt, history, day)
        for letter in suspends(doubt, qualification)
    ]
    return tuple(sorted(set(found)))


def judge_suspended(
    history: History,
    qualification: Qualification,
    day: date,
    *,
    position: str = "",
    adopted: Adopted,
) -> Iterator[Finding]:
    """Yield a hold for each doubt that reaches a qualification on a day, and what was settled.

    Parameters
    ----------
    history : History
        The person's doubts and tests.
    qualification : Qualification
        What may be suspended.
    day : date
        The civil day.
    position : str, optional
        Letter of a flow position; without one, a doubt counts that reaches all of them.
    adopted : Adopted
        The adopted editions.
    """
    if not adopted.has(RULE):
        return
    for doubt in history.doubts:
        about = suspends(doubt, qualification)
        left = set(qualification.positions) - set(about)
        if about and (position in about if position else not left):
            yield _finding(doubt, history, about, day, adopted)


def _finding(
    doubt: Doubt, history: History, about: Iterable[str], day: date, adopted: Adopted
) -> Finding:
    again = restored_on(doubt, history)
    also = (SCOPE, RESTORED) if again is not None else (SCOPE,)
    ask = Question(RULE, Subject("person", history.person), adopted, also=also)
    begun = min(doubt.since or doubt.found_on, doubt.found_on)
    shown = {
        "doubt": doubt.id[:16],
        "found": doubt.found_on.isoformat(),
        "since": begun.isoformat(),
        "positions": ", ".join(p for p in about if p) or "–",
    }
    if doubt.cleared_on is not None:
        ended = {"by": doubt.cleared_by, "on": doubt.cleared_on.isoformat()}
        return ask.answer(
            lambda _: met("doubt.cleared", reason=doubt.cleared_reason, **ended, **shown)
        )
    if not doubt.reason.strip():
        return ask.needs(Message("doubt.no_reason", **shown))
    if day < begun:
        return ask.answer(lambda _: met("doubt.later", **shown, saw=day.isoformat()))
    if again is not None and day >= again:
        return ask.answer(lambda _: met("doubt.restored", on=again.isoformat(), **shown))
    return ask.hold(
        Message("doubt.suspended", reason=doubt.reason, **shown), observed=day.isoformat()
    )
