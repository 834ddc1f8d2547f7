"""People of the ledger: enrolled with a salted commitment, and forgotten when they ask for it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from lapwright.core.acts import Act, commitment
from lapwright.ledger.log import Log

from .errors import PersonOther, PersonUnknown, ReasonHoldsName, ReasonMissing
from .govnumbers import masked
from .ledgerwriting import write
from .programme import STREAM, Programme, enrolments, removed_on
from .salts import salt_of
from .survivingnames import Survivor, still_shown
from .text import word


@dataclass(frozen=True)
class NewPerson:
    """Somebody who stands in no case folder: id, name, role, employer."""

    person: str
    name: str
    role: str
    employer: str


def enrol(log: Log, new: NewPerson, *, secret: bytes, by: str, at: datetime) -> None:
    """Enrol a person in the stream of the programme; the same person twice changes nothing.

    Raises
    ------
    PersonOther
        If the id stands for another name.
    """
    salt = salt_of(secret, new.person)
    digest = commitment(new.name, salt)

    def keep() -> None:
        held = {a.body["name_commitment"] for a in enrolments(log, new.person)}
        if held - {digest}:
            raise PersonOther(
                "a person's id that stands for another name in the ledger",
                got=new.person,
                expected="the name that was filed",
                do="Give another person another id.",
            )
        if removed_on(log, digest) is None:
            log.put_side(digest, new.name, salt)

    if next(enrolments(log, new.person), None) is not None:
        keep()
        return
    body = {
        "person": new.person,
        "role": new.role,
        "employer": new.employer,
        "name_commitment": digest,
    }
    act = Act("PersonEnrolled", body, at.date(), by, at, stream=STREAM)
    write(log, [act], first=keep)


def must_be_enrolled(log: Log, person: str) -> None:
    """Refuse an id that stands for nobody.

    Raises
    ------
    PersonUnknown
    """
    if next(enrolments(log, person), None) is None:
        raise PersonUnknown(
            "nobody of this id in the ledger",
            got=person,
            expected="the id of an enrolled person",
            do="Correct the id; a person whom no case lists is enrolled with --name.",
        )


def must_stand_for_somebody(log: Log, *people: str) -> None:
    """Refuse ids that stand for nobody, in a ledger that has enrolled people.

    A new ledger may take its instruments in before its first case: nobody is enrolled
    then, and an id cannot be compared with anything.

    Parameters
    ----------
    log : Log
        The ledger.
    people : str
        Ids that somebody has typed.

    Raises
    ------
    PersonUnknown
    """
    if any(b'"PersonEnrolled"' in entry.raw for entry in log.entries()):
        for person in people:
            must_be_enrolled(log, person)


@dataclass(frozen=True)
class Forgotten:
    """A name that was removed, and the records and kept files in which it survives."""

    person: str
    on: str
    shown: tuple[str, ...]
    files: tuple[Survivor, ...] = ()

    def as_dict(self) -> dict[str, object]:
        """Return the JSON document."""
        return {
            "person": self.person,
            "removed_on": self.on,
            "still_shown": list(self.shown),
            "files": [s.as_dict() for s in self.files],
        }

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        yield word("forget.done", person=self.person, on=self.on)
        if self.shown:
            yield word("forget.shown", records=", ".join(self.shown))
        if self.files:
            yield word("forget.files")
        yield from (f"  {s.line()}" for s in self.files)
        yield word("forget.copies")


def forget(programme: Programme, person: str, *, reason: str, by: str, at: datetime) -> Forgotten:
    """Remove a person's name: the act says why, the chain stays whole.

    Cut off between the act and the removal, it is finished by asking again.

    Parameters
    ----------
    programme : Programme
        The ledger, its files, the keys.
    person : str
        The person's id, which stays.
    reason : str
        Why, without the name.
    by : str
        Who removes it.
    at : datetime
        The present moment, UTC.

    Raises
    ------
    PersonUnknown, ReasonMissing, ReasonHoldsName
    """
    log = programme.log
    must_be_enrolled(log, person)
    must_be_enrolled(log, by)
    reason = kept_reason(log, reason, where=person, person=person)
    known = names_of(log, person)
    names = dict.fromkeys(a.body["name_commitment"] for a in enrolments(log, person))
    for name in names:
        if removed_on(log, name) is None:
            body = {"name_commitment": name, "person": person, "reason": reason, "by": by}
            write(log, [Act("NameRemoved", body, at.date(), by, at, stream=STREAM)])
        log.remove_side(name)
    days = [d for n in names if (d := removed_on(log, n)) is not None]
    shown, files = still_shown(programme, person, known)
    return Forgotten(person, min(days).isoformat(), shown, files)


def kept_reason(log: Log, reason: str, *, where: str, person: str = "") -> str:
    """Return a reason as it may be kept for good: government numbers masked, no name in it.

    Parameters
    ----------
    log : Log
        The ledger, with the names that it holds.
    reason : str
        As it was given.
    where : str
        What it is about, for messages.
    person : str, optional
        Whose entry it is: no part of this person's name may stand in it; of anybody else's
        name, not the whole.

    Raises
    ------
    ReasonMissing
        If it is empty.
    ReasonHoldsName
        If it holds the name of a person of the ledger.
    """
    if not reason.strip():
        raise ReasonMissing(
            "no reason",
            got=repr(reason),
            where=where,
            expected="one sentence",
            do="Say why with --reason; the entry keeps it.",
        )
    own = names_of(log, person) if person else ()
    words = _words(reason)
    held = [n for n in own if any(len(w) > 2 and w in words for w in _words(n))]
    whole = [r.value for r in log.side_records().values() if set(_words(r.value)) <= set(words)]
    if held or any(len(_words(name)) > 1 for name in whole):
        raise ReasonHoldsName(
            "the reason holds a person's name",
            got="a name",  # not repeated: no log shall hold it either
            where=where,
            expected="a sentence without names: the entry can never be changed",
            do="Leave the name out, or write the person's id.",
        )
    return masked(reason.strip())


def _words(text: str) -> list[str]:
    return re.findall(r"\w+", text.casefold())


def names_of(log: Log, person: str) -> tuple[str, ...]:
    """Return every name that the ledger still holds of a person.

    Parameters
    ----------
    log : Log
        The ledger.
    person : str
        The person's id.
    """
    found = (log.side(a.body["name_commitment"]) for a in enrolments(log, person))
    return tuple(dict.fromkeys(name for name in found if name))
