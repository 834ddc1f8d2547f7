"""Attest a use: somebody saw a person braze with a procedure on a day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.ledger.log import Log

from .errors import BrazerUnknown, UseRefused
from .govnumbers import masked, refuse_number
from .programmeacts import Writing, stated


@dataclass(frozen=True)
class UseSeen:
    """Who brazed with what, when; ``joints`` are their ids as on the joint log."""

    person: str
    process: str
    procedure: str
    on: date
    joints: tuple[str, ...] = ()
    job: str = ""


def use_stream(person: str) -> str:
    """Return the stream of a person's uses: apart from the programme's, which every case reads."""
    return f"use/{person}"


def attest_use(seen: UseSeen, log: Log, *, writing: Writing) -> Act:
    """File a use that somebody has seen.

    Parameters
    ----------
    seen : UseSeen
        The use.
    log : Log
        The ledger.
    writing : Writing
        The witness, who writes it, and when.

    Raises
    ------
    UseRefused
        In the future, or attested by the brazer.
    BrazerUnknown
        If the ledger speaks of nobody of this id.
    TextEmpty
        If person, process, procedure or witness is empty.
    """
    person, witness = stated(seen.person, "the person"), stated(writing.by, "the witness")
    refuse_number(person, where="person")
    if witness.casefold() == person.casefold():
        raise UseRefused(
            "a use attested by the brazer",
            got=witness,
            where=person,
            expected="another person who saw it",
            do="Let whoever saw the brazing attest it.",
        )
    if seen.on > writing.latest_day:
        raise UseRefused(
            "a use in the future",
            got=seen.on.isoformat(),
            where=person,
            expected=f"{writing.latest_day} or earlier",
            do="Correct the day on which it was brazed.",
        )
    if next(iter(log.about(f"person:{person}")), None) is None:
        raise BrazerUnknown(
            "nobody of this id in the ledger",
            got=person,
            expected="a brazer with a record or a paper",
            do="Correct the id; it is written as on the record.",
        )
    body = {
        "person": person,
        "process": stated(seen.process, "the process"),
        "procedure": stated(seen.procedure, "the procedure"),
        "by": witness,
        "joints": [masked(j) for j in seen.joints],
        "job": masked(seen.job),
    }
    kept = {k: v for k, v in body.items() if v}
    version = ACT_TYPES["UseAttested"][0]
    act = Act(
        "UseAttested", kept, seen.on, witness, writing.at, version=version,
        stream=use_stream(person),
    )  # fmt: skip
    log.append([act])
    return act
