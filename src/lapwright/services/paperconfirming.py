"""The confirmation of the employer that tested: what it brings, and who may file it.

A record that came through its brazer is held until that employer confirms it. So the
confirmation brings something other than the brazer's own scan, and an enrolled person
files it who is not that brazer and not enrolled as a brazer only.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from lapwright.core.errors import LapwrightError
from lapwright.core.paperfold import AGREES, PaperCheck, PaperRecord
from lapwright.core.standing import standing
from lapwright.ledger.gather import gather
from lapwright.ledger.log import Log
from lapwright.rules.paperstanding import BRAZER, is_brazer

from .errors import PaperConfirmationOwn, PaperConfirmationRefused, PaperConfirmationScan
from .people import NewPerson, must_be_enrolled
from .programmeacts import stated
from .scans import MaskedScan, masked_scans, parse_region, read_scan

if TYPE_CHECKING:
    from .paperrecords import PaperLook


def confirmed_with(
    look: PaperLook, paper: PaperRecord, log: Log, *, every: Iterable[PaperRecord]
) -> tuple[MaskedScan, ...]:
    """Return what a confirmation brings, as it may be stored; nothing for any other check.

    Parameters
    ----------
    look : PaperLook
        The check.
    paper : PaperRecord
        The record.
    log : Log
        The ledger, which knows who is enrolled.
    every : iterable of PaperRecord
        All papers of the ledger.

    Raises
    ------
    PaperConfirmationRefused, PaperConfirmationOwn, PaperConfirmationScan, PersonUnknown
        And what masking it refuses.
    """
    if not look.employer and look.evidence is None:
        return ()
    if look.employer != paper.employer or look.evidence is None:
        raise PaperConfirmationRefused(
            "not a confirmation by the employer that tested",
            got=look.employer or "no employer",
            where=paper.id,
            expected=f"{paper.employer}, and a file of what it sent",
            do="Name the employer that tested with --employer and its letter with --evidence.",
        )
    if look.outcome == AGREES:
        _may_file(look, paper, log)
    page = (look.evidence.name, read_scan(look.evidence))
    made = masked_scans([page], look.masks, no_number=look.no_number)
    digests = {_sha256(scan.data) for scan in made} | set(_copies(page, paper))
    known = [p.id for p in every if digests & set(p.files)]
    if known and look.outcome == AGREES:
        raise PaperConfirmationScan(
            "the confirmation is the scan of a paper that is in the ledger",
            got=f"{look.evidence.name}, the scan of {known[0]}",
            where=paper.id,
            expected=f"something that {paper.employer} itself has sent",
            do="Ask that employer, and file its letter or its own copy.",
        )
    return made


def new_person(look: PaperLook) -> NewPerson:
    """Return who is enrolled with a confirmation.

    Raises
    ------
    TextEmpty
        If the role is not stated.
    """
    return NewPerson(look.by, look.name, stated(look.role, "the role (--role)"), "")


def with_role(check: PaperCheck, paper: PaperRecord, log: Log, known_by: date | None) -> PaperCheck:
    """Return a confirmation with the role of who filed it, as enrolled.

    Who somebody is does not hang on the day asked about, only on what was known. Somebody of
    the brazer's own name counts as the brazer, whatever role is filed.
    """
    if not check.employer:
        return check
    found = _roles(log, check.by, known_by=known_by)
    if found and _same(_name(log, check.by), _name(log, paper.person)):
        return replace(check, role=BRAZER)
    return replace(check, role=next((r for r in found if not is_brazer(r)), "".join(found[:1])))


def _may_file(look: PaperLook, paper: PaperRecord, log: Log) -> None:
    """Refuse a confirmation by the brazer, a brazer only, or somebody nobody knows."""
    if look.name:
        roles, name = [new_person(look).role], look.name
    else:
        must_be_enrolled(log, look.by)
        roles, name = _roles(log, look.by), _name(log, look.by)
    own = _same(name, _name(log, paper.person))
    if own or not any(r for r in roles if not is_brazer(r)):
        raise PaperConfirmationOwn(
            "a confirmation is filed by somebody else than a brazer",
            got=f"{look.by}, {'of the name of ' + paper.person if own else ', '.join(roles)}",
            where=paper.id,
            expected="an enrolled person in another role than brazer",
            do="Let an examiner, the lead or the employer's office file what was sent.",
        )


def _roles(log: Log, person: str, *, known_by: date | None = None) -> list[str]:
    acts = (e.act for e in gather(log, f"person:{person}"))
    stood = (s.act for s in standing(acts, as_of=date.max, known_by=known_by))
    return [
        a.body["role"] for a in stood if a.type == "PersonEnrolled" and a.body["person"] == person
    ]


def _name(log: Log, person: str) -> str:
    """Return a person's name where the ledger still holds it."""
    for entry in gather(log, f"person:{person}"):
        act = entry.act
        if act.type == "PersonEnrolled" and act.body["person"] == person:
            name = log.side(act.body["name_commitment"])
            if name:
                return name
    return ""


def _same(one: str, other: str) -> str:
    alike = sorted(one.casefold().split()) == sorted(other.casefold().split())
    return one if alike else ""


def _copies(page: tuple[str, bytes], paper: PaperRecord) -> Iterator[str]:
    """Yield what the page would be called, masked as each page of the paper was."""
    regions = [parse_region(text) for text in paper.body.get("masked", ())]
    for number in range(1, len(paper.files) + 1):
        own = [replace(r, page=1) for r in regions if r.page == number]
        try:
            yield from (_sha256(s.data) for s in masked_scans([page], own, no_number="yes"))
        except LapwrightError:  # its regions do not fit: another picture
            continue


def _sha256(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
