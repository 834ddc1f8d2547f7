"""Paper records: enter one with its masked scan, check it, list and show what it is worth.

A record made elsewhere enters the ledger as typed text beside its scan. Numbers
of governments are masked in both before anything is stored. It counts by the
house rules of `lapwright.rules.paperstanding`: held until another person has
compared it with the scan and, where it came through the brazer, until the
employer that tested confirms it. Its clocks run from the braze date.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

from lapwright.core.acts import check_mark
from lapwright.core.outcomes import Verdict, combine
from lapwright.core.paperfold import AGREES, DIFFERS, PaperRecord, fold_papers
from lapwright.core.quantities import length
from lapwright.core.times import parse_date
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log
from lapwright.reference.strictyaml import read_yaml
from lapwright.rules.paperstanding import judge_paper
from lapwright.rules.rulebook import Adopted, load_edition

from . import schema
from .errors import (
    CaseContradiction,
    PaperOther,
    PaperOwnCheck,
    PaperTwice,
    PaperUnknown,
)
from .govnumbers import masked_everywhere, refuse_number
from .ledgerwriting import write
from .mending import Change, Mended, correct_entry
from .paperconfirming import confirmed_with, new_person, with_role
from .people import enrol
from .programmeacts import (
    STREAM,
    Writing,
    dates_refused,
    entries_seen,
    programme_act,
    stated,
    zone_on,
)
from .scans import Region, masked_scans, read_scan, regions_of

HOUSE = ("programme 1",)


@dataclass(frozen=True)
class PaperToEnter:
    """A paper's YAML with the scans of its pages and further regions to mask."""

    path: Path
    scans: tuple[Path, ...]
    masks: tuple[Region, ...] = ()


@dataclass(frozen=True)
class PaperLook:
    """A check to file: by whom, on which day, with which outcome.

    ``employer`` and ``evidence`` make it the confirmation of the employer that tested;
    the evidence is masked like any scan. With ``name`` and ``role`` who files the
    confirmation is enrolled first, where no case lists them.
    """

    paper: str
    by: str
    on: date
    outcome: str
    remark: str = ""
    employer: str = ""
    evidence: Path | None = None
    masks: tuple[Region, ...] = ()
    no_number: str = ""
    name: str = ""
    role: str = ""


def read_paper(path: Path) -> dict[str, Any]:
    """Return a paper record's document, checked, with government numbers masked.

    Raises
    ------
    LapwrightError
        CASE-002 for a key that does not fit, CASE-007 for a contradiction, PAPER-001 for a
        number in an id or a mark, PAPER-010 for dates in the wrong order, REF codes for
        unreadable YAML.
    """
    where = path.name
    doc = schema.check(read_yaml(path), "paper", where=where)
    for key in ("paper", "person", "number", "mark"):
        refuse_number(doc.get(key, ""), where=f"{where}: {key}")
    if doc.get("mark"):
        check_mark(doc["mark"], where=f"{where}: mark")
    refuse_number(doc["typed"]["by"], where=f"{where}: typed.by")
    hidden = masked_everywhere(doc)
    assert isinstance(hidden, dict)
    _dates(hidden, where)
    _contradictions(hidden, where)
    return hidden


def _contradictions(doc: Mapping[str, Any], where: str) -> None:
    for key in ("tube_wall", "fitting_wall", "diameter"):
        span = doc.get("ranges", {}).get(key)
        if span and length(span["low"]) > length(span["high"]):
            raise _contradiction(
                f"{span['low']} to {span['high']}", "low before high", f"{where}: ranges.{key}"
            )


def _contradiction(got: str, expected: str, where: str) -> CaseContradiction:
    return CaseContradiction(
        "two figures that contradict each other",
        got=got,
        where=where,
        expected=expected,
        do="Type what the paper says; where it is wrong itself, leave the figure out and say so.",
    )


def _dates(doc: Mapping[str, Any], where: str) -> None:
    brazed = sorted(parse_date(d, where=f"{where}: brazed") for d in doc.get("brazed", ()))
    steps = [("brazed", d) for d in brazed]
    for key in ("tested", "signed"):
        if doc.get(key):
            steps.append((key, parse_date(doc[key], where=f"{where}: {key}")))
    for key, part in (("provenance.received", "received"), ("typed.on", "on")):
        top = key.split(".")[0]
        steps.append((key, parse_date(doc[top][part], where=f"{where}: {key}")))
    for (one, before), (other, after) in pairwise(steps):
        if after < before:
            raise dates_refused(f"{other} {after}", f"{one} {before} or later", where)


def enter_paper(
    given: PaperToEnter, log: Log, files: FileStore, *, writing: Writing
) -> PaperRecord:
    """File a paper record with its masked scan and return it.

    Parameters
    ----------
    given : PaperToEnter
        The YAML and the scans.
    log : Log
        The ledger.
    files : FileStore
        Where the masked scan is kept; the original is never put there.
    writing : Writing
        Who writes, and when.

    Raises
    ------
    LapwrightError
        PAPER-001 to PAPER-006 and PAPER-010; nothing is written then.
    """
    doc = read_paper(given.path)
    seen = entries_seen(log)
    known = _papers(log, date.max)
    typed_on = parse_date(doc["typed"]["on"])
    if typed_on > writing.latest_day:
        raise dates_refused(
            f"typed.on {typed_on}", f"{writing.latest_day} or earlier", given.path.name
        )
    regions = (*regions_of(doc.get("scan", {}).get("masks", ())), *given.masks)
    pages = [(path.name, read_scan(path)) for path in given.scans]
    scans = masked_scans(pages, regions, no_number=doc.get("scan", {}).get("no_number", ""))
    if doc["paper"] in known:
        raise _twice(f"paper {doc['paper']}", doc["paper"])
    digests = tuple(hashlib.sha256(scan.data).hexdigest() for scan in scans)
    same = [p.id for p in known.values() if set(p.files) & set(digests)]
    if same:
        raise _twice(f"the scan of {same[0]}", doc["paper"])
    for scan in scans:
        files.put(scan.data)
    no_number = doc.get("scan", {}).get("no_number", "")
    body = _body(doc, {"masked": [r.text for r in regions], "no_number": no_number})
    act = programme_act("PaperRecordEntered", body, typed_on, writing, files=digests)
    (entry,) = write(log, [act], expect={STREAM: seen})
    return fold_papers([entry.act], as_of=typed_on)[doc["paper"]]


def _body(doc: Mapping[str, Any], scanned: Mapping[str, Any]) -> dict[str, Any]:
    typed = {k: v for k, v in doc.items() if k not in ("schema", "typed", "scan")}
    return {**typed, "typed_by": doc["typed"]["by"], **scanned}


def correct_paper(paper_id: str, path: Path, log: Log, *, reason: str, writing: Writing) -> Mended:
    """File what a paper record should have been typed as; the scan stays as it was filed.

    Another person compares it with its scan anew: who compared the old text has not seen this
    one. What the employer that tested confirmed stays confirmed.

    Parameters
    ----------
    paper_id : str
        The paper.
    path : Path
        Its whole YAML as it should be.
    log : Log
        The ledger.
    reason : str
        Why, in one sentence, without names.
    writing : Writing
        Who writes, and when.

    Raises
    ------
    PaperUnknown, PaperOther, PaperDatesRefused
        For a paper that is not there, another's YAML, or dates in the wrong order.
    LapwrightError
        What `read_paper` and `lapwright.services.mending.correct_entry` refuse.
    """
    doc = read_paper(path)
    paper = paper_on(log, paper_id, as_of=date.max)
    if doc["paper"] != paper.id:
        raise PaperOther(
            "the YAML of another paper",
            got=doc["paper"],
            where=path.name,
            expected=paper.id,
            do="Correct the id; a paper under a wrong id is voided and entered again.",
        )
    typed_on = parse_date(doc["typed"]["on"])
    if typed_on > writing.latest_day:
        raise dates_refused(f"typed.on {typed_on}", f"{writing.latest_day} or earlier", path.name)
    scanned = {k: paper.body[k] for k in ("masked", "no_number") if k in paper.body}
    change = Change(_body(doc, scanned), happened_on=typed_on)
    return correct_entry(log, paper.act, change, reason=reason, writing=writing)


def check_paper(
    look: PaperLook, log: Log, files: FileStore, *, writing: Writing, secret: bytes = b""
) -> PaperRecord:
    """File a check of a paper record, or the confirmation of the employer that tested.

    Parameters
    ----------
    look : PaperLook
        The check.
    log : Log
        The ledger.
    files : FileStore
        Where the employer's answer is kept.
    writing : Writing
        Who writes, and when.
    secret : bytes, optional
        Installation secret of the name commitments, where ``look`` names somebody to enrol.

    Raises
    ------
    PaperUnknown, PaperOwnCheck, PaperConfirmationRefused, PaperDatesRefused, TextEmpty
        And what `lapwright.services.paperconfirming` and masking the evidence refuse.
    """
    paper = paper_on(log, look.paper, as_of=look.on)
    stated(look.by, "who checked")
    if look.outcome not in (AGREES, DIFFERS):
        raise ValueError(look.outcome)
    if look.outcome == DIFFERS:
        stated(look.remark, "what differs (--remark)")
    if look.by.casefold() in [person.casefold() for person in paper.writers]:
        raise PaperOwnCheck(
            "a record is checked by another person",
            got=look.by,
            where=paper.id,
            expected=f"nobody who typed or corrected it, nor its brazer: not "
            f"{', '.join(paper.writers)}",
            do="Let somebody else compare it with the scan.",
        )
    if look.on > writing.latest_day:
        raise dates_refused(f"checked on {look.on}", f"{writing.latest_day} or earlier", paper.id)
    sent = confirmed_with(look, paper, log, every=_papers(log, date.max).values())
    seen = entries_seen(log)
    if sent and look.name:
        enrol(log, new_person(look), secret=secret, by=look.by, at=writing.at)
        seen = entries_seen(log)
    body = {
        "paper": look.paper,
        "by": look.by,
        "outcome": look.outcome,
        "remark": masked_everywhere(look.remark),
        "employer": look.employer,
        "person": paper.person,
    }
    digests = tuple(files.put(scan.data) for scan in sent)
    act = programme_act("PaperRecordChecked", body, look.on, writing, files=digests)
    write(log, [act], expect={STREAM: seen})
    return paper_on(log, look.paper, as_of=look.on)


def papers_on(log: Log, *, as_of: date, known_by: date | None = None) -> tuple[PaperRecord, ...]:
    """Return every paper record that stands on a day, by id.

    Parameters
    ----------
    log : Log
        The ledger.
    as_of : date
        The civil day asked about.
    known_by : date, optional
        Only acts written by the end of this day count.
    """
    found = _papers(log, as_of, known_by)
    return tuple(found[key] for key in sorted(found))


def paper_on(log: Log, paper: str, *, as_of: date, known_by: date | None = None) -> PaperRecord:
    """Return one paper record as it stands on a day.

    Raises
    ------
    PaperUnknown
        If the ledger holds none of that id on that day.
    """
    found = _papers(log, as_of, known_by)
    if paper not in found:
        raise PaperUnknown(
            "no such paper record",
            got=paper,
            expected=", ".join(sorted(found)) or "none entered by then",
            where=f"as of {as_of}",
            do="Correct the id; 'lapwright paper list' shows all.",
        )
    return found[paper]


def _papers(log: Log, as_of: date, known_by: date | None = None) -> dict[str, PaperRecord]:
    acts = (e.act for e in log.entries(stream=STREAM))
    found = fold_papers(acts, as_of=as_of, known_by=known_by, zone=zone_on(log, known_by))
    return {
        key: replace(paper, checks=tuple(with_role(c, paper, log, known_by) for c in paper.checks))
        for key, paper in found.items()
    }


def house_rules(as_of: date, editions: Sequence[str] = ()) -> Adopted:
    """Return the programme's own rules with further editions, nothing confirmed.

    Parameters
    ----------
    as_of : date
        The civil day asked about.
    editions : sequence of str, optional
        ``code edition`` names.
    """
    names = dict.fromkeys((*editions, *HOUSE))
    return Adopted(tuple(load_edition(*name.split()) for name in names), as_of)


def worth(paper: PaperRecord, *, adopted: Adopted) -> Verdict:
    """Return what a paper record is worth by itself, with every finding."""
    return combine(judge_paper(paper, adopted=adopted))


def _twice(got: str, where: str) -> PaperTwice:
    return PaperTwice(
        "this paper is in the ledger already",
        got=got,
        where=where,
        expected="a record that was not entered yet",
        do="Look at it with 'lapwright paper show'; 'lapwright paper correct' mends what was "
        "typed wrongly.",
    )
