"""From which day a record serves an employer: certified, not withdrawn, accepted, present.

A record supports no joint until the responsible person of the employer that tested
has signed it; work between braze and signature is held. A withdrawal ends it from
its own day; work since the event that it names is held for examination. Another
employer is served from the day of its signature (NFPA 99, for that code's work
only), or when its representative was present at a joint session (ASME BPVC IX, QG-106.3).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Subject

from .acceptance import Asked, judge_route, judge_signed
from .asking import Question
from .continuity import RENEWED, Clock, Reckoned, judge_unbroken, standing_on
from .paperstanding import FORMER
from .qualified import CASE, Attested, Qualification
from .responsibility import Firm, judge_simultaneous
from .rulebook import Adopted
from .rulings import met, not_met

SUPPORTS, WITHDRAWN = "record.supports", "record.withdrawn"
TOGETHER, ATTESTS = "responsibility.simultaneous", "responsibility.simultaneous_attests"


def judge_service(
    held: Qualification,
    day: date,
    *,
    employer: str,
    clock: Clock,
    reckoned: Sequence[Reckoned],
    adopted: Adopted,
) -> Iterator[Finding]:
    """Yield whether a qualification serves an employer on a day, clocks aside.

    Parameters
    ----------
    held : Qualification
        The qualification.
    day : date
        The civil day.
    employer : str
        Whom it is to serve.
    clock : Clock
        What its clocks run on.
    reckoned : sequence of Reckoned
        The clocks as reckoned.
    adopted : Adopted
        The basis.
    """
    if adopted.has(SUPPORTS):
        yield judge_certified(held, day, adopted=adopted)
        yield from _renewed_by(clock, reckoned, day, adopted)
    if held.withdrawn is not None and adopted.has(WITHDRAWN):
        yield judge_withdrawn(held, day, adopted=adopted)
    if held.together and adopted.has(TOGETHER):
        yield from _took_part(held, employer, adopted)
    if employer not in (held.employer, *(a.employer for a in held.together)):
        yield from _accepted(held, day, employer, clock, reckoned, adopted)


def judge_certified(held: Qualification, day: date, *, adopted: Adopted) -> Finding:
    """Judge whether the employer's responsible person had signed a record by a day.

    Parameters
    ----------
    held : Qualification
        The record.
    day : date
        The civil day.
    adopted : Adopted
        The basis.
    """
    ask = Question(SUPPORTS, Subject("record", held.id), adopted, also=("record.certified",))
    if held.source == CASE:
        return ask.needs(Message("force.case_only", record=held.id))
    return _signed(ask, held.id, held.certified_on, day)


def _signed(ask: Question, record: str, signed: date | None, day: date) -> Finding:
    if signed is None:
        return ask.hold(Message("force.not_certified", record=record))
    on = signed.isoformat()
    if day < signed:
        told = Message("force.before_certified", record=record, on=on, day=day.isoformat())
        return ask.hold(told, observed=day.isoformat())
    return ask.answer(lambda _: met("force.certified", record=record, on=on, saw=on))


def _renewed_by(
    clock: Clock, reckoned: Sequence[Reckoned], day: date, adopted: Adopted
) -> Iterator[Finding]:
    """Yield whether the record of the renewal that opened an interval was signed by a day."""
    spans = (standing_on(r.proved, day) for r in reckoned)
    opened = {s.since for s in spans if s is not None and s.opened == RENEWED}
    for renewal in clock.renewed:
        if renewal.on in opened:
            ask = Question(SUPPORTS, Subject("record", renewal.record), adopted)
            yield _signed(ask, renewal.record, renewal.certified_on, day)
            opened.remove(renewal.on)


def judge_withdrawn(held: Qualification, day: date, *, adopted: Adopted) -> Finding:
    """Judge what a withdrawn record still supports on a day.

    Parameters
    ----------
    held : Qualification
        A record that was withdrawn.
    day : date
        The civil day.
    adopted : Adopted
        The basis.
    """
    ask = Question(WITHDRAWN, Subject("record", held.id), adopted)
    gone = held.withdrawn
    if gone is None:
        raise ValueError(f"{held.id} was not withdrawn")
    shown = {"record": held.id, "on": gone.on.isoformat()}
    if day >= gone.on:
        return ask.answer(lambda _: not_met("force.withdrawn", reason=gone.reason, **shown))
    if gone.since is not None and day >= gone.since:
        return ask.hold(
            Message("force.since_event", event=gone.since.isoformat(), **shown),
            observed=day.isoformat(),
        )
    return ask.answer(lambda _: met("force.withdrawn_later", day=day.isoformat(), **shown))


def _took_part(held: Qualification, employer: str, adopted: Adopted) -> Iterator[Finding]:
    """Yield whether an employer of a joint session did its own part in it."""
    part = next((a for a in held.together if a.employer == employer), None)
    if part is None:
        return
    said = {a.compared for a in held.together}
    compared = "no" if "no" in said else "" if "" in said else "yes"
    firms = [Firm(a.employer, a.present, a.variables) for a in held.together]
    yield judge_simultaneous(firms, compared=compared, adopted=adopted)[employer]
    if adopted.has(ATTESTS) and part.present == "yes":
        yield judge_attested(part, adopted=adopted)


def judge_attested(part: Attested, *, adopted: Adopted) -> Finding:
    """Judge whether a representative signed for everything that each has to (memory).

    Parameters
    ----------
    part : Attested
        An employer of a joint session.
    adopted : Adopted
        The basis.
    """
    ask = Question(ATTESTS, Subject("organization", part.employer), adopted)
    missing = [w for r in adopted.all(ATTESTS) for w in (r.value or ()) if w not in part.attested]
    shown = {"firm": part.employer, "representative": part.representative}
    if missing:
        names = ", ".join(w.replace("-", " ") for w in dict.fromkeys(missing))
        return ask.needs(Message("force.not_attested", missing=names, **shown))
    return ask.answer(lambda _: met("force.attested", **shown))


def _accepted(
    held: Qualification,
    day: date,
    employer: str,
    clock: Clock,
    reckoned: Sequence[Reckoned],
    adopted: Adopted,
) -> Iterator[Finding]:
    signed = next((a for a in held.accepted if a.employer == employer), None)
    asked = Asked(
        held.id,
        held.person,
        held.employer,
        employer,
        signed.on if signed else day,
        day,
        held.control,
    )
    route = judge_route(asked, adopted=adopted)
    yield route
    if held.control and adopted.has("responsibility.common_control"):
        return
    if signed is None:
        rule = FORMER if adopted.has(FORMER) else "responsibility.own_tests"
        ask = Question(rule, Subject("record", held.id), adopted)
        shown = {"record": held.id, "employer": employer}
        yield ask.answer(lambda _: not_met("force.not_accepted", **shown))
    elif adopted.has(FORMER):
        yield judge_signed(asked, adopted=adopted)
        if day >= signed.on:
            yield judge_unbroken(clock, signed.on, adopted=adopted, reckoned=reckoned)
