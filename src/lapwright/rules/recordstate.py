"""What a ledger says of a record of this program on the day asked about.

A PDF or a case folder shows a test as it was judged. Whether the record was
withdrawn, replaced or never certified since, and whether an instrument or the brazer
is doubted, stands in the ledger of the programme that issued it and nowhere else.
Where nobody looked there, the answer says so; the confirmation of the employer that
tested then speaks for it (house rule, as for a paper that came through the brazer).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from lapwright.core.evidence import Doubt
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.records import RecordSays, RecordState

RULE = "ledger.record"


@dataclass(frozen=True)
class Looked:
    """One record as a ledger holds it on a day.

    ``state`` is ``None`` where it was not issued by then, ``today`` as the ledger holds it
    whatever the day asked about, ``None`` where it holds none of that name; ``other_file``
    names the file at hand where it is none of the record's; ``doubts`` are those that stand.
    """

    record: str
    state: RecordState | None = None
    today: RecordState | None = None
    other_file: str = ""
    doubts: tuple[Doubt, ...] = ()


def judge_not_looked_up(record: str, *, employer: str, confirmed: str, ledger: str) -> Finding:
    """Say that nobody could look up whether a record still stands.

    Parameters
    ----------
    record : str
        The record, or the case where no record is known.
    employer : str
        The employer that tested.
    confirmed : str
        How and when it confirmed its record; empty where nobody told.
    ledger : str
        Empty where no ledger was named, else any text: the one named holds no such record.
    """
    where = "elsewhere" if ledger else "nowhere"
    shown = {"record": record, "employer": employer}
    subject = Subject("record", record)
    if confirmed:
        told = Message(f"recordstate.{where}_confirmed", confirmed=confirmed, **shown)
        return Finding(RULE, subject, Outcome.MET, told)
    told = Message(f"recordstate.{where}", **shown)
    return Finding(RULE, subject, Outcome.UNDETERMINED, told, why=Why.HOLD)


def judge_record_state(looked: Looked, on: date) -> Iterator[Finding]:
    """Yield what a ledger says of a record that it holds.

    Withdrawn is Not met. Replaced by a later revision, not certified, another file than the
    record's, or under an open doubt: a person decides. So it is where the ledger knows of a
    withdrawal after the day asked about, or of the record only later: nothing that is known
    is passed over.

    Parameters
    ----------
    looked : Looked
        The record as the ledger holds it, with its state.
    on : date
        The civil day asked about.
    """
    today = looked.today
    if today is None:
        return
    state = looked.state or today
    subject = Subject("record", state.name)
    shown = {"record": state.name, "on": on.isoformat()}
    if looked.state is not None:
        yield _says(state, on)
    else:
        told = Message("recordstate.not_issued", issued=state.issued_on.isoformat(), **shown)
        yield Finding(RULE, subject, Outcome.UNDETERMINED, told, why=Why.HOLD)
    out = today.withdrawn
    if out is not None and out.on > on:
        day, reason = out.on.isoformat(), out.reason.rstrip(".")
        told = Message("recordstate.withdrawn_since", by=out.by, day=day, reason=reason, **shown)
        yield Finding(RULE, subject, Outcome.UNDETERMINED, told, why=Why.HOLD)
    if looked.other_file:
        told = Message("recordstate.other_file", record=state.name, file=looked.other_file)
        yield Finding(RULE, subject, Outcome.UNDETERMINED, told, why=Why.HOLD)
    for doubt in looked.doubts:
        told = Message(
            "recordstate.doubted",
            record=state.name,
            about=doubt.about.replace(":", " "),
            found=doubt.found_on.isoformat(),
            by=doubt.by,
            reason=doubt.reason.rstrip("."),
        )
        yield Finding(RULE, subject, Outcome.UNDETERMINED, told, why=Why.HOLD)


def _says(state: RecordState, on: date) -> Finding:
    shown = {"record": state.name, "on": on.isoformat()}
    subject = Subject("record", state.name)
    says, done, out = state.says, state.certified, state.withdrawn
    if says is RecordSays.WITHDRAWN and out is not None:
        day, reason = out.on.isoformat(), out.reason.rstrip(".")
        told = Message("recordstate.withdrawn", by=out.by, day=day, reason=reason, **shown)
        return Finding(RULE, subject, Outcome.NOT_MET, told, observed=day)
    if says is RecordSays.CERTIFIED and done is not None:
        day = done.on.isoformat()
        told = Message("recordstate.certified", by=done.by, day=day, **shown)
        return Finding(RULE, subject, Outcome.MET, told, observed=day)
    if says is RecordSays.REPLACED:
        told = Message("recordstate.replaced", later=state.replaced_by, **shown)
    else:
        told = Message("recordstate.uncertified", **shown)
    return Finding(RULE, subject, Outcome.UNDETERMINED, told, why=Why.HOLD)
