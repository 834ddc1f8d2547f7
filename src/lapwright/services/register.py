"""The register of records: numbers taken without a gap, and the state of each record on a day.

Every revision takes the next number of the stream ``register`` in the same
append that files ``RecordIssued`` in ``record/<number>``, so that two who issue
at once cannot share a number or leave one out. A number that came to nothing
stays as an entry. States are those of `lapwright.core.records`, with the entries that
they come from.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.core.fold import PROGRAMME, case_stream
from lapwright.core.records import RecordState as RevisionState
from lapwright.core.records import record_states
from lapwright.core.standing import programme_zone
from lapwright.ledger.log import Entry, Log

from .errors import RecordUnknown

REGISTER = "register"


@dataclass(frozen=True)
class Revision:
    """One revision of a record: the entry that issued it, and its state on the day asked about.

    The acts ``signed``, ``certified`` and ``withdrawn`` are None where they do not stand.
    """

    issued: Entry
    state: RevisionState

    @property
    def act(self) -> Act:
        """The act that issued it."""
        return self.issued.act

    @property
    def record(self) -> str:
        """Number of the record, without the revision."""
        return self.state.number

    @property
    def revision(self) -> str:
        """Number of the revision, from 1."""
        return self.state.revision

    @property
    def name(self) -> str:
        """``TLH-01-QP7K-r1``."""
        return self.state.name

    @property
    def files(self) -> tuple[str, ...]:
        """SHA-256 of its PDF files, from the programme's signature to the latest one."""
        return self.state.files

    @property
    def signed(self) -> Act | None:
        """The programme's signature."""
        return self._last("RecordSigned")

    @property
    def certified(self) -> Act | None:
        """The signature of the employer's responsible person."""
        return self._last("RecordCertified")

    @property
    def withdrawn(self) -> Act | None:
        """Its withdrawal; of several the earliest."""
        found = [a for a in self.state.acts if a.type == "RecordWithdrawn"]
        return min(found, key=lambda a: a.happened_on, default=None)

    @property
    def accepted(self) -> tuple[Act, ...]:
        """The acceptances of later employers."""
        return tuple(a for a in self.state.acts if a.type == "RecordAccepted")

    def _last(self, type_: str) -> Act | None:
        return next((a for a in reversed(self.state.acts) if a.type == type_), None)


@dataclass(frozen=True)
class RecordState:
    """A record on a day: its revisions, oldest first, and how many entries its stream holds."""

    number: str
    revisions: tuple[Revision, ...]
    count: int

    @property
    def latest(self) -> Revision | None:
        """The latest revision, or None."""
        return self.revisions[-1] if self.revisions else None

    def revision(self, asked: str) -> Revision | None:
        """Return the revision with this number, or None."""
        return next((r for r in self.revisions if r.revision == asked), None)


def record_stream(number: str) -> str:
    """Return the stream of a record's acts."""
    return f"record/{number}"


def record_state(
    log: Log, number: str, *, as_of: date | None = None, known_by: date | None = None
) -> RecordState:
    """Return the state of a record.

    Parameters
    ----------
    log : Log
        The ledger.
    number : str
        The record's number, without revision.
    as_of : date, optional
        Only what happened by this day counts; otherwise everything.
    known_by : date, optional
        Only what was written by the end of this day, in the programme's zone, counts.
    """
    held = [(e, e.act) for e in log.entries(stream=record_stream(number))]
    entries = {act.sha256: entry for entry, act in held}
    acts = [act for _, act in held]
    cases = {case_stream(a.body["case"]) for a in acts if a.type == "RecordIssued"}
    zone = zone_of(log, cases, known_by) if known_by else ""
    found = record_states(acts, as_of=as_of or date.max, known_by=known_by, zone=zone)
    revisions = (Revision(entries[state.issue], state) for state in found)
    return RecordState(number, tuple(sorted(revisions, key=lambda r: int(r.revision))), len(acts))


def zone_of(log: Log, streams: Iterable[str], known_by: date) -> str:
    """Return the time zone in which a day of knowledge ends: the programme's, or that of cases.

    Parameters
    ----------
    log : Log
        The ledger.
    streams : iterable of str
        Streams whose basis counts where the programme names none.
    known_by : date
        The day.
    """
    asked = dict.fromkeys((PROGRAMME, *sorted(streams)))
    return programme_zone((e.act for s in asked for e in log.entries(stream=s)), known_by)


def numbers(log: Log) -> Iterator[str]:
    """Yield the number of every record, in the order of the register, each once."""
    yield from dict.fromkeys(e.act.body["record"] for e in log.entries(stream=REGISTER))


def states(
    log: Log, *, as_of: date | None = None, known_by: date | None = None
) -> tuple[RecordState, ...]:
    """Return the state of every record that had been issued; see `record_state`."""
    found = (record_state(log, n, as_of=as_of, known_by=known_by) for n in numbers(log))
    return tuple(s for s in found if s.revisions)


def must_be_known(log: Log, asked: str) -> tuple[RecordState, Revision]:
    """Return the record that a number names, and its revision (the latest without ``-rN``).

    Raises
    ------
    RecordUnknown
        If the ledger holds none.
    """
    number, _, revision = asked.rpartition("-r")
    for name, wanted in ((asked, ""), (number, revision)):
        state = record_state(log, name) if name else None
        found = state.revision(wanted) if state and wanted else state.latest if state else None
        if state is not None and found is not None:
            return state, found
    raise RecordUnknown(
        "no such record in the ledger",
        got=asked,
        expected=", ".join(list(numbers(log))[-5:]) or "a record issued before",
        do="'lapwright record list' shows all; 'lapwright issue' makes one.",
    )


def numbers_taken(log: Log) -> int:
    """Return how many numbers have been taken."""
    return sum(1 for _ in log.entries(stream=REGISTER))


def take_number(
    log: Log,
    state: RecordState,
    body: Mapping[str, Any],
    *,
    files: Iterable[str],
    at: datetime,
) -> Entry:
    """Append ``NumberTaken`` and ``RecordIssued`` together; return the latter's entry.

    Parameters
    ----------
    log : Log
        The ledger.
    state : RecordState
        The record as last seen; its next revision is issued.
    body : mapping
        Payload digest, person, case, and whatever else the act states.
    files : iterable of str
        SHA-256 of the files that the record is made from.
    at : datetime
        The present moment, UTC.

    Raises
    ------
    StreamMoved
        If somebody else took a number, or wrote to the record, meanwhile.
    """
    taken = numbers_taken(log)
    revision = str(int(state.latest.revision) + 1 if state.latest else 1)
    named = {"record": state.number, "revision": revision, "register": str(taken + 1)}
    acts = (
        _act("NumberTaken", named, at, stream=REGISTER),
        _act(
            "RecordIssued", {**body, **named}, at, stream=record_stream(state.number), files=files
        ),
    )
    expect = {REGISTER: taken, record_stream(state.number): state.count}
    return log.append(acts, expect=expect)[1]


def record_act(
    type_: str, revision: Revision, body: Mapping[str, Any], *, by: str, at: datetime
) -> Act:
    """Return an act on a revision, in the stream of its record, that happened at ``at``."""
    named = {"record": revision.record, "revision": revision.revision}
    return _act(type_, {**named, **body}, at, stream=record_stream(revision.record), by=by)


def _act(
    type_: str,
    body: Mapping[str, Any],
    at: datetime,
    *,
    stream: str,
    files: Iterable[str] = (),
    by: str = "programme",
) -> Act:
    return Act(
        type_,
        body,
        at.date(),
        by,
        at,
        files=tuple(files),
        version=ACT_TYPES[type_][0],
        stream=stream,
    )
