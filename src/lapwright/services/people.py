"""People of the ledger: enrolled with a salted commitment, and forgotten when they ask for it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from lapwright.core.acts import Act, commitment
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log

from .errors import PersonOther, PersonUnknown, ReasonMissing
from .programme import STREAM, Programme, enrolments, removed_on
from .register import Revision, states
from .salts import salt_of
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
    log.append([act], first=keep)


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


@dataclass(frozen=True)
class Forgotten:
    """A name that was removed, and the issued records whose files still show it."""

    person: str
    on: str
    shown: tuple[str, ...]

    def as_dict(self) -> dict[str, object]:
        """Return the JSON document."""
        return {"person": self.person, "removed_on": self.on, "still_shown": list(self.shown)}

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        yield word("forget.done", person=self.person, on=self.on)
        if self.shown:
            yield word("forget.shown", records=", ".join(self.shown))


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
    PersonUnknown, ReasonMissing
    """
    log = programme.log
    must_be_enrolled(log, person)
    must_be_enrolled(log, by)
    must_have_reason(reason, person)
    names = dict.fromkeys(a.body["name_commitment"] for a in enrolments(log, person))
    for name in names:
        if removed_on(log, name) is None:
            body = {"name_commitment": name, "person": person, "reason": reason, "by": by}
            log.append([Act("NameRemoved", body, at.date(), by, at, stream=STREAM)])
        log.remove_side(name)
    days = [d for n in names if (d := removed_on(log, n)) is not None]
    every = (r for state in states(log) for r in state.revisions)
    shown = tuple(r.name for r in every if _shows(programme.files, r, person))
    return Forgotten(person, min(days).isoformat(), shown)


def _shows(files: FileStore, revision: Revision, person: str) -> str:
    """Say ``yes`` where the record's own data, as issued, hold the person's name."""
    data = json.loads(files.get(revision.act.body["payload_sha256"]))
    return "yes" if person in data["names"] else ""


def must_have_reason(reason: str, where: str) -> None:
    """Refuse an empty reason.

    Raises
    ------
    ReasonMissing
    """
    if not reason.strip():
        raise ReasonMissing(
            "no reason",
            got=repr(reason),
            where=where,
            expected="one sentence",
            do="Say why with --reason; the entry keeps it.",
        )
