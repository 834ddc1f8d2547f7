"""A programme at work: its log, its files, its keys; and what the log says of a person's name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from lapwright.core.acts import Act
from lapwright.core.fold import PROGRAMME
from lapwright.core.records import names_removed
from lapwright.ledger.errors import SideOther
from lapwright.ledger.files import FileStore
from lapwright.ledger.keys import Keys, open_keys
from lapwright.ledger.log import Log

from .errors import DataMissing
from .text import word

STREAM = PROGRAMME
KEYS = "keys"


@dataclass(frozen=True)
class Programme:
    """The log of acts, the files that they name, and the programme's keys."""

    log: Log
    files: FileStore
    keys: Keys


def open_programme(data: Path, *, log: Log, files: FileStore, at: datetime) -> Programme:
    """Return the programme of a data folder; the first call makes its keys.

    Parameters
    ----------
    data : Path
        Folder of the ledger and the keys.
    log, files : Log, FileStore
        As opened there.
    at : datetime
        The present moment, UTC.
    """
    return Programme(log, files, open_keys(data / KEYS, made_at=at))


def must_exist(data: Path) -> Path:
    """Return a data folder that a programme has made, or refuse: asking makes no ledger.

    Raises
    ------
    DataMissing
    """
    # a ledger that was restored without its keys has files or a database only
    if not any((data / name).is_dir() for name in (KEYS, "files")) and not any(
        data.glob("*.sqlite3")
    ):
        raise DataMissing(
            "no ledger there",
            got=str(data),
            expected="a folder that 'lapwright issue' has made",
            do="Name the data folder with --data or LAPWRIGHT_DATA.",
        )
    return data


def enrolments(log: Log, person: str) -> Iterator[Act]:
    """Yield every act that enrolled a person, oldest first."""
    for entry in log.about(f"person:{person}"):
        act = entry.act
        if act.type == "PersonEnrolled" and act.body["person"] == person:
            yield act


def removed_on(log: Log, commitment: str) -> date | None:
    """Return the day on which the name behind a commitment was removed, or None."""
    return names_removed(e.act for e in log.about(f"name:{commitment}")).get(commitment)


def removed_names(log: Log, commitments: Mapping[str, str]) -> dict[str, str]:
    """Return person -> day for those whose name was removed, of person -> commitment."""
    days = {person: removed_on(log, name) for person, name in commitments.items()}
    return {person: day.isoformat() for person, day in days.items() if day is not None}


def name_in(log: Log, person: str) -> str:
    """Return a person's name, ``removed on …`` where it was removed, else the id.

    A name that does not open its commitment is not shown; that is said instead.
    """
    for act in reversed(list(enrolments(log, person))):
        commitment = act.body["name_commitment"]
        day = removed_on(log, commitment)
        if day is not None:
            return word("name.removed", person=person, on=day.isoformat())
        try:
            name = log.side(commitment)
        except SideOther:
            return word("name.other", person=person)
        if name is not None:
            return name
    return person
