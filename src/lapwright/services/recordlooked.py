"""Look a record of this program up in a ledger: its state on a day, and the doubts that stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from lapwright.core.evidence import Doubt
from lapwright.core.fold import fold
from lapwright.core.outcomes import Outcome
from lapwright.core.records import RecordState, record_states
from lapwright.ledger.gather import gather
from lapwright.ledger.log import Log
from lapwright.rules.doubted import RULE as DOUBTED
from lapwright.rules.recordstate import Looked

from .casestream import read_judged
from .doubts import about, open_doubts
from .judging import judge_acts
from .register import record_stream


@dataclass(frozen=True)
class RecordFile:
    """A record's PDF: number and revision as it states them, and the digest of the file."""

    number: str
    revision: str
    sha256: str
    file: str


def look_up(log: Log, file: RecordFile, *, as_of: date) -> Looked:
    """Return what a ledger holds of the record in a file, by a day.

    Parameters
    ----------
    log : Log
        The ledger.
    file : RecordFile
        The record's PDF.
    as_of : date
        The civil day asked about.
    """
    name = f"{file.number}-r{file.revision}"
    state, today = (
        next((s for s in _states(log, file.number, day) if s.revision == file.revision), None)
        for day in (as_of, date.max)
    )
    if today is None:
        return Looked(name)
    other = "" if file.sha256 in today.files else file.file
    return Looked(name, state, today, other, _doubts(log, today, as_of))


def look_up_case(log: Log, case: str, person: str, *, as_of: date) -> tuple[Looked, ...]:
    """Return what a ledger holds by a day of the records that were issued of a case.

    Of each record the revision counts that no later signed one replaces.

    Parameters
    ----------
    log : Log
        The ledger.
    case, person : str
        Ids of the case and of its brazer.
    as_of : date
        The civil day asked about.
    """
    issued = (e.act for e in gather(log, f"person:{person}") if b'"RecordIssued"' in e.raw)
    named = (a.body for a in issued if a.type == "RecordIssued" and a.body.get("case") == case)
    numbers = dict.fromkeys(str(body["record"]) for body in named)
    return tuple(found for n in numbers if (found := _of_case(log, n, as_of)) is not None)


def _of_case(log: Log, number: str, as_of: date) -> Looked | None:
    state, every = _last(_states(log, number, as_of)), _states(log, number, date.max)
    wanted = state or _last(every)
    today = next((s for s in every if wanted and s.revision == wanted.revision), None)
    if today is None:
        return None
    return Looked(today.name, state, today, "", _doubts(log, today, as_of))


def _states(log: Log, number: str, as_of: date) -> tuple[RecordState, ...]:
    acts = (e.act for e in log.entries(stream=record_stream(number)))
    return record_states(acts, as_of=as_of)


def _last(found: tuple[RecordState, ...]) -> RecordState | None:
    standing = [s for s in found if not s.replaced_by]
    return standing[-1] if standing else None


def _doubts(log: Log, state: RecordState, as_of: date) -> tuple[Doubt, ...]:
    """Return the open doubts of person, record and case, and of instruments that reach it."""
    subjects = (
        f"person:{state.person}",
        f"record:{state.number}",
        f"record:{state.name}",
        f"case:{state.case}",
    )
    stands = open_doubts(about(log, subjects, as_of))
    named = [doubt for subject in subjects for doubt in stands.get(subject, ())]
    return (*named, *_of_instruments(log, state.case, as_of))


def _of_instruments(log: Log, case: str, as_of: date) -> Iterator[Doubt]:
    acts = read_judged(log, case, as_of=as_of).judged
    doubts = [d for d in fold(acts, as_of=as_of).doubts if d.cleared_on is None] if acts else []
    if not doubts:
        return
    findings = judge_acts(acts, as_of=as_of).judgement.findings
    held = {
        f.subject.id for f in findings if f.rule == DOUBTED and f.outcome is Outcome.UNDETERMINED
    }
    yield from (d for d in doubts if d.about.removeprefix("instrument:") in held)
