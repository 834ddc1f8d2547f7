"""The register of records: numbers taken without a gap, and the state of each record on a day.

Every revision takes the next number of the stream ``register`` in the same
append that files ``RecordIssued`` in ``record/<number>``, so that two who issue
at once cannot share a number or leave one out. A number that came to nothing
stays as an entry. States are computed from the entries and kept nowhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.core.standing import programme_zone, standing
from lapwright.ledger.log import Entry, Log

from .errors import RecordUnknown
from .ledgerwriting import write

REGISTER = "register"
BY_KEY, BY_SCAN = "key", "scan"


@dataclass(frozen=True)
class Revision:
    """One revision of a record with everything that was done to it.

    ``issued`` is None where the day asked about lies before it. The acts
    ``signed``, ``certified`` and ``withdrawn`` are None where they do not stand.
    """

    record: str
    issued: Entry
    signed: Act | None = None
    certified: Act | None = None
    accepted: tuple[Act, ...] = ()
    withdrawn: Act | None = None

    @property
    def act(self) -> Act:
        """The act that issued it."""
        return self.issued.act

    @property
    def revision(self) -> str:
        """Number of the revision, from 1."""
        return str(self.act.body["revision"])

    @property
    def name(self) -> str:
        """``TLH-01-QP7K-r1``."""
        return f"{self.record}-r{self.revision}"

    @property
    def files(self) -> tuple[str, ...]:
        """SHA-256 of its PDF files, from the programme's signature to the latest one."""
        later = [self.certified, *self.accepted]
        signed = [self.signed.body["file_sha256"]] if self.signed else []
        return (
            *signed,
            *(a.body["file_sha256"] for a in later if a and a.body["way"] == BY_KEY),
        )


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
    zone = _zone(log, acts, known_by) if known_by else ""
    made = _Revisions(number)
    for found in standing(acts, as_of=as_of or date.max, known_by=known_by, zone=zone):
        made.take(entries[found.sha256], found.act)
    return RecordState(number, made.frozen(), len(acts))


def _zone(log: Log, acts: Iterable[Act], known_by: date) -> str:
    """Return the time zone of the programme, or of the basis of the record's cases."""
    cases = {a.body["case"] for a in acts if a.type == "RecordIssued"}
    streams = ["programme", *(f"case/{case}" for case in sorted(cases))]
    held = sorted((e for s in streams for e in log.entries(stream=s)), key=lambda e: e.seq)
    return programme_zone((e.act for e in held), known_by)


@dataclass
class _Revisions:
    """Revisions in the making, by their number."""

    record: str
    issued: dict[str, Entry] = field(default_factory=dict)
    done: dict[str, dict[str, Act]] = field(default_factory=dict)
    accepted: dict[str, list[Act]] = field(default_factory=dict)

    def take(self, entry: Entry, act: Act) -> None:
        """Add one entry of the record's stream."""
        revision = str(act.body.get("revision", ""))
        if act.type == "RecordIssued":
            self.issued[revision] = entry
        elif act.type == "RecordAccepted":
            self.accepted.setdefault(revision, []).append(act)
        else:
            self.done.setdefault(revision, {})[act.type] = act

    def frozen(self) -> tuple[Revision, ...]:
        """Return the revisions, oldest first."""
        return tuple(self._revision(r) for r in sorted(self.issued, key=int))

    def _revision(self, number: str) -> Revision:
        done = self.done.get(number, {})
        return Revision(
            self.record,
            self.issued[number],
            done.get("RecordSigned"),
            done.get("RecordCertified"),
            tuple(self.accepted.get(number, ())),
            done.get("RecordWithdrawn"),
        )


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
    return write(log, acts, expect=expect)[1]


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
