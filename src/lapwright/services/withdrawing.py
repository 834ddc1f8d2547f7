"""Withdraw a record: the number and every file stay, and from that day it supports nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from .errors import RecordIsWithdrawn
from .ledgerwriting import write
from .people import kept_reason, must_be_enrolled
from .programme import Programme, name_in
from .register import Revision, must_be_known, record_act, record_stream
from .text import word


@dataclass(frozen=True)
class Withdrawn:
    """A withdrawal: which revision, by whom, when, why."""

    revision: Revision
    name: str
    on: str
    reason: str

    def as_dict(self) -> dict[str, str]:
        """Return the JSON document."""
        return {
            "record": self.revision.record,
            "revision": self.revision.revision,
            "withdrawn_on": self.on,
            "reason": self.reason,
        }

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        yield word(
            "record.done.withdrawn",
            record=self.revision.name,
            name=self.name,
            on=self.on,
            reason=self.reason,
        )
        yield word("record.done.tell")


def withdraw_record(
    asked: str, programme: Programme, *, by: str, reason: str, at: datetime
) -> Withdrawn:
    """File the withdrawal of a record's revision (the latest one without ``-rN``).

    Parameters
    ----------
    asked : str
        The record's number.
    programme : Programme
        The ledger, its files, the keys.
    by : str
        Who withdraws it.
    reason : str
        Why, in one sentence.
    at : datetime
        The present moment, UTC.

    Raises
    ------
    RecordUnknown, RecordIsWithdrawn, PersonUnknown, ReasonMissing, ReasonHoldsName
    """
    state, revision = must_be_known(programme.log, asked)
    if revision.withdrawn is not None:
        raise RecordIsWithdrawn(
            f"the record was withdrawn on {revision.withdrawn.happened_on} already",
            got=revision.withdrawn.body["reason"],
            where=revision.name,
            expected="a record that stands",
            do="Nothing more is needed.",
        )
    must_be_enrolled(programme.log, by)
    person = revision.act.body["person"]
    reason = kept_reason(programme.log, reason, where=revision.name, person=person)
    act = record_act("RecordWithdrawn", revision, {"by": by, "reason": reason}, by=by, at=at)
    write(programme.log, [act], expect={record_stream(state.number): state.count})
    return Withdrawn(revision, name_in(programme.log, by), act.happened_on.isoformat(), reason)
