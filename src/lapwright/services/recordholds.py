"""What holds an issued record: doubts that stand on instruments of its case.

A record says what was known when it was issued. An instrument found out of tolerance
since then makes its figures doubtful, however the record is signed: until a person clears
the doubt or the case is issued again without those figures, nobody may rely on it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from lapwright.core.acts import Act
from lapwright.core.bodies import day_or_none
from lapwright.core.evidence import Doubt
from lapwright.core.fold import case_stream
from lapwright.core.standing import standing
from lapwright.core.subjects import subjects_of
from lapwright.ledger.log import Log
from lapwright.rules.doubted import reaches

from .doubts import about, all_doubts, figures
from .register import Revision
from .text import word

_FILINGS = ("InstrumentFiled", "DoubtRaised", "DoubtCleared")


def doubts_on(
    log: Log, revision: Revision, *, as_of: date, known_by: date | None = None
) -> tuple[Doubt, ...]:
    """Return the doubts that stand on a day and reach a figure of a record, oldest first.

    Parameters
    ----------
    log : Log
        The ledger.
    revision : Revision
        The revision of the record; what its case held when it was issued is looked at.
    as_of : date
        The civil day asked about.
    known_by : date, optional
        Only doubts written by the end of this day, in the programme's zone, count.
    """
    stream = case_stream(revision.act.body["case"])
    named = {s for e in log.entries(stream=stream) for s in subjects_of(e.act)}
    instruments = tuple(sorted(s for s in named if s.startswith("instrument:")))
    stood = [
        s
        for s in about(log, instruments, as_of, known_by)
        if s.act.type in _FILINGS and s.act.stream in ("", "programme", stream)
    ]
    waiting = [d for d in all_doubts(stood).values() if d.cleared_on is None]
    if not waiting:
        return ()
    uses = _issued_on(log, revision, stream)
    filed = [s.act for s in stood if s.act.type == "InstrumentFiled"]
    return tuple(d for d in waiting if any(_reached(d, uses, filed)))


def _issued_on(log: Log, revision: Revision, stream: str) -> list[Act]:
    """Return the acts of the case as they stood when the record was issued."""
    before = (e.act for e in log.entries(stream=stream) if e.seq < revision.issued.seq)
    return [s.act for s in standing(before, as_of=date.max) if s.act.type not in _FILINGS]


def _reached(doubt: Doubt, uses: Sequence[Act], filed: Sequence[Act]) -> Iterator[str]:
    name = doubt.about.removeprefix("instrument:")
    dated = [a.body for a in filed if a.body["instrument"] == name]
    again = [day for b in dated if (day := day_or_none(b.get("calibrated_on", ""))) is not None]
    for act in (a for a in uses if doubt.about in subjects_of(a)):
        for _, part in figures(act, name):
            after = day_or_none(part.get("after_calibration", ""))
            yield reaches(doubt, name, act.happened_on, calibrated=again, after=after)


def doubt_told(doubt: Doubt) -> dict[str, str]:
    """Return a doubt as texts, for a sentence or for JSON.

    Parameters
    ----------
    doubt : Doubt
        The doubt.
    """
    return {
        "doubt": doubt.id,
        "instrument": doubt.about.removeprefix("instrument:"),
        "since": doubt.since.isoformat() if doubt.since else word("record.doubt.beginning"),
        "found": doubt.found_on.isoformat(),
        "reason": doubt.reason.rstrip(" ."),
    }
