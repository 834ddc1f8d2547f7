"""Acts of the programme itself, outside any case: paper records, instruments, credentials."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.core.fold import PROGRAMME
from lapwright.core.standing import Standing, standing
from lapwright.ledger.log import Log

from .errors import PaperDatesRefused, TextEmpty

STREAM = PROGRAMME


@dataclass(frozen=True)
class Writing:
    """Who writes an act, and when."""

    by: str
    at: datetime

    @property
    def latest_day(self) -> date:
        """The latest civil day that has begun anywhere; nothing can have happened after it."""
        return (self.at + timedelta(hours=14)).date()


def programme_act(
    type_: str, body: Mapping[str, Any], on: date, writing: Writing, *, files: tuple[str, ...] = ()
) -> Act:
    """Return an act of the programme's own stream.

    Parameters
    ----------
    type_ : str
        Kind of act.
    body : mapping
        Its body; empty texts are left out.
    on : date
        Civil day on which it happened.
    writing : Writing
        Who writes it, and when.
    files : tuple of str, optional
        SHA-256 of the files it names.
    """
    kept = {key: value for key, value in body.items() if value not in ("", (), [], {})}
    version = ACT_TYPES[type_][0]
    return Act(type_, kept, on, writing.by, writing.at, files=files, version=version, stream=STREAM)


def acts_standing(log: Log, *, as_of: date, known_by: date | None = None) -> tuple[Standing, ...]:
    """Return the programme's acts that stand on a day, corrections applied."""
    acts = (e.act for e in log.entries(stream=STREAM))
    return standing(acts, as_of=as_of, known_by=known_by)


def stated(text: str, name: str) -> str:
    """Return a text that has to be stated, or refuse an empty one.

    Raises
    ------
    TextEmpty
        If it is empty or blank.
    """
    if text.strip():
        return text.strip()
    raise TextEmpty(
        f"{name} is not stated",
        got="nothing",
        expected="some text",
        do=f"State {name}: an entry without it says nothing later.",
    )


def entries_seen(log: Log) -> int:
    """Return how many entries the programme's stream holds, to write behind exactly those."""
    return sum(1 for _ in log.entries(stream=STREAM))


def dates_refused(got: str, expected: str, where: str = "") -> PaperDatesRefused:
    """Return the refusal of two dates in the wrong order."""
    return PaperDatesRefused(
        "two dates in the wrong order",
        got=got,
        where=where,
        expected=expected,
        do="Correct the one that is wrong, as it stands on the paper or the certificate.",
    )
