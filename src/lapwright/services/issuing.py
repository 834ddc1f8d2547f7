"""Issue the signed record of a case.

``RecordIssued`` (number, payload digest) → typeset → sign → ``RecordSigned``
(file digest). An open case yields no record. Issuing the same case again gives
the same record, byte for byte, from the installation's own store; a case that
has changed since gets the next revision, and the earlier one stays.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright import __version__
from lapwright.core.acts import Act, canonical_json
from lapwright.ledger.keys import Keys, open_keys
from lapwright.ledger.tree import tree_head

from .atomic import make_folder, write_bytes
from .errors import CaseHasLater
from .history import replaces
from .issuable import must_be_decided
from .judging import JudgedCase, judge_case
from .recorddata import (
    ISSUE_FILE,
    RULES_FILE,
    acts_of,
    overlay_digests,
    overlays_of,
    record_bytes,
    record_data,
    rules_bytes,
)
from .text import catalogue, word

if TYPE_CHECKING:
    from lapwright.documents.sheets import Attachment

PDF = "record.pdf"


@dataclass(frozen=True)
class Issued:
    """An issued record: where it lies, its number and digests, new or given again.

    ``as_of`` is the day that the record prints, ``asked`` the day asked about now.
    """

    path: Path
    number: str
    revision: str
    payload_sha256: str
    file_sha256: str
    again: str
    as_of: str
    asked: str

    def as_dict(self) -> dict[str, str]:
        """Return the JSON document."""
        return {
            "path": str(self.path),
            "number": self.number,
            "revision": self.revision,
            "payload_sha256": self.payload_sha256,
            "file_sha256": self.file_sha256,
            "issued": "again" if self.again == "yes" else "new",
            "as_of": self.as_of,
        }

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        yield word(
            "issue.again" if self.again == "yes" else "issue.new",
            number=self.number,
            revision=self.revision,
            path=str(self.path),
        )
        if self.as_of != self.asked:
            yield word("issue.as_of", as_of=self.as_of, asked=self.asked)
        yield word("issue.digest", sha=self.file_sha256)
        yield word("record.awaiting")


def issue_case(
    folder: Path,
    *,
    as_of: date,
    out: Path,
    home: Path,
    at: datetime,
    progress: Callable[[str], None] | None = None,
) -> Issued:
    """Issue the record of a case folder.

    Parameters
    ----------
    folder : Path
        The case folder.
    as_of : date
        The civil day asked about.
    out : Path
        Folder to write the record to.
    home : Path
        Folder of keys and issued records of this installation.
    at : datetime
        The present moment, UTC.
    progress : callable, optional
        Told before each photograph is measured.

    Raises
    ------
    CaseOpen, PapersNotMet, NothingQualified
        If the case is open, its papers are not met, or nothing passed.
    CaseHasLater
        If the case holds something later than ``as_of``, or ``as_of`` lies in the future.
    OutputRefused
        If a folder cannot be written.
    """
    _must_not_be_future(as_of, at)
    make_folder(home)
    keys = open_keys(home / "keys", made_at=at)
    case = judge_case(folder, as_of=as_of, secret=keys.salt, progress=progress)
    return issue_judged(case, out=out, home=home, keys=keys, at=at)


def issue_judged(case: JudgedCase, *, out: Path, home: Path, keys: Keys, at: datetime) -> Issued:
    """Issue the record of a judged case; see `issue_case`.

    Parameters
    ----------
    case : JudgedCase
        The case, judged with the salt of ``keys`` as its secret.
    out, home : Path
        Folder to write to; folder of keys and issued records.
    keys : Keys
        The programme's keys.
    at : datetime
        The present moment, UTC.
    """
    _must_hold_nothing_later(case)
    must_be_decided(case)
    make_folder(out)
    number = f"{case.loaded.id}-{case.judged.judgement.evidence.mark}"
    stored, revision, again = _store(case, number, home, keys, at)
    pdf = (stored / PDF).read_bytes()
    target = out / f"{number}-r{revision}.pdf"
    write_bytes(target, pdf)
    issue = json.loads((stored / ISSUE_FILE).read_text("utf-8"))
    data = json.loads((stored / "record.json").read_text("utf-8"))
    return Issued(
        target,
        number,
        revision,
        issue["payload_sha256"],
        hashlib.sha256(pdf).hexdigest(),
        again,
        data["decision"]["as_of"],
        case.judged.judgement.evidence.as_of.isoformat(),
    )


def _must_not_be_future(as_of: date, at: datetime) -> None:
    # The civil day of the place may be ahead of UTC by up to 14 hours.
    latest = (at + timedelta(hours=14)).date()
    if as_of > latest:
        raise CaseHasLater(
            "the day asked about lies in the future",
            where="--as-of",
            got=as_of.isoformat(),
            expected=f"{latest.isoformat()} or earlier",
            do="Issue as of today, or as of the last entry of the case.",
        )


def _must_hold_nothing_later(case: JudgedCase) -> None:
    """Refuse a day before the last entry: a record would pass over what is known."""
    as_of = case.judged.judgement.evidence.as_of
    last = max(a.happened_on for a in case.loaded.acts)
    if last > as_of:
        later = sorted({a.type for a in case.loaded.acts if a.happened_on > as_of})
        raise CaseHasLater(
            f"the case holds entries after the day asked about ({', '.join(later)})",
            where=case.loaded.id,
            got=as_of.isoformat(),
            expected=f"{last.isoformat()} or later",
            do=f"Issue as of the last entry, {last.isoformat()}, or later.",
        )


def _store(
    case: JudgedCase, number: str, home: Path, keys: Keys, at: datetime
) -> tuple[Path, str, str]:
    """Return the stored record's folder, its revision, and whether it was there before."""
    shelf = home / "issued" / number
    revisions = sorted(
        (int(p.name[1:]) for p in shelf.glob("r*") if p.name[1:].isdigit()), reverse=True
    )
    latest = revisions[0] if revisions else 0
    before: dict[str, Any] = {}
    if latest:
        kept = json.loads((shelf / f"r{latest}" / "record.json").read_text("utf-8"))
        data = record_data(case, number=number, revision=str(latest))
        data["decision"]["as_of"] = kept["decision"]["as_of"]  # a later day alone is no change
        sha = hashlib.sha256(record_bytes(kept)).hexdigest()
        kept.pop("overlays", None)  # drawn from photographs, which the acts name by digest
        kept.pop("replaces", None)
        if record_bytes(data) == record_bytes(kept):
            return shelf / f"r{latest}", str(latest), "yes"
        before = replaces(kept, case.loaded, data["acts"]) | {"payload_sha256": sha}
    revision = str(latest + 1)
    parts = make_record(case, number=number, revision=revision, keys=keys, at=at, before=before)
    make_folder(shelf)
    staged = Path(tempfile.mkdtemp(prefix=".new-", dir=shelf))
    try:
        for name, content in parts.items():
            write_bytes(staged / name, content)
        os.chmod(staged, 0o755)
        staged.rename(shelf / f"r{revision}")
    finally:
        shutil.rmtree(staged, ignore_errors=True)
    return shelf / f"r{revision}", revision, "no"


def make_record(
    case: JudgedCase,
    *,
    number: str,
    revision: str,
    keys: Keys,
    at: datetime,
    before: Mapping[str, Any] | None = None,
) -> dict[str, bytes]:
    """Return the files of a new record: signed PDF, complete data, rule rows, issue note.

    Parameters
    ----------
    case : JudgedCase
        The decided case.
    number, revision : str
        Record number and revision.
    keys : Keys
        The programme's keys.
    at : datetime
        Moment of issue, UTC.
    before : mapping, optional
        What it says of the revision that it replaces; see `history.replaces`.
    """
    overlays = overlays_of(case)
    data = record_data(case, number=number, revision=revision)
    if before:
        data["replaces"] = before
    data["overlays"] = overlay_digests(overlays)
    return seal_record(data, json.loads(rules_bytes(case.judged)), overlays, keys=keys, at=at)


def seal_record(
    data: Mapping[str, Any],
    rules: Mapping[str, Any],
    overlays: Mapping[str, bytes],
    *,
    keys: Keys,
    at: datetime,
) -> dict[str, bytes]:
    """Typeset and sign complete data as they are given; nothing is judged here.

    Parameters
    ----------
    data, rules : mapping
        Complete data and rule rows.
    overlays : mapping
        Face id to PNG bytes.
    keys : Keys
        The programme's keys.
    at : datetime
        Moment of issue, UTC.
    """
    from lapwright.documents.sign import sign_record

    issue = _issue_note(data, keys, at)
    pdf = sign_record(
        typeset(data, rules, issue, overlays),
        key=keys.signing_key,
        certificate=keys.certificate,
        signed_at=at,
        reason=word("record.sign.programme.meaning"),
        name=word("record.sign.programme.who"),
    )
    signed = Act(
        "RecordSigned",
        {"record": _record_name(data), "file_sha256": hashlib.sha256(pdf).hexdigest()},
        at.date(),
        "programme",
        at,
    )
    return {
        PDF: pdf,
        "record.json": record_bytes(data),
        RULES_FILE: canonical_json(rules),
        ISSUE_FILE: canonical_json(issue),
        "signed.json": signed.to_bytes(),
    }


def _record_name(data: Mapping[str, Any]) -> str:
    return f"{data['number']}-r{data['revision']}"


def typeset(
    data: Mapping[str, Any],
    rules: Mapping[str, Any],
    issue: Mapping[str, Any],
    overlays: Mapping[str, bytes],
) -> bytes:
    """Typeset a record from its attached data; equal input gives equal bytes.

    Parameters
    ----------
    data, rules, issue : mapping
        Complete data, rule rows, issue note.
    overlays : mapping
        Face id to PNG bytes.
    """
    from lapwright.core.times import parse_instant
    from lapwright.documents.record import typeset_record

    from .recordsheet import record_sheet

    payload = record_bytes(data)
    sheet = record_sheet(data, rules, issue, overlays, hashlib.sha256(payload).hexdigest())
    return typeset_record(
        sheet,
        attachments=_attachments(payload, rules, issue, overlays),
        issued_at=parse_instant(issue["issued_at"]),
    )


def _attachments(
    payload: bytes,
    rules: Mapping[str, Any],
    issue: Mapping[str, Any],
    overlays: Mapping[str, bytes],
) -> list[Attachment]:
    from lapwright.documents.sheets import Attachment

    json_type = "application/json"
    files = [
        Attachment("record.json", payload, json_type, word("record.file.data")),
        Attachment(RULES_FILE, canonical_json(rules), json_type, word("record.file.rules")),
        Attachment(ISSUE_FILE, canonical_json(issue), json_type, word("record.file.issue")),
    ]
    return files + [
        Attachment(
            f"overlay-{face}.png", png, "image/png", word("overlay.alt", face=face), "supplement"
        )
        for face, png in sorted(
            overlays.items()
        )  # as they are read back, whatever the case's order
    ]


def _issue_note(data: Mapping[str, Any], keys: Keys, at: datetime) -> dict[str, Any]:
    from lapwright.documents.token import claims_of, make_token

    digest = hashlib.sha256(record_bytes(data)).hexdigest()
    issued = Act(
        "RecordIssued",
        {"record": _record_name(data), "payload_sha256": digest},
        at.date(),
        "programme",
        at,
    )
    head = tree_head([a.to_bytes() for a in acts_of(data)] + [issued.to_bytes()])
    claims = claims_of(data["number"], data["revision"], payload_sha256=digest, key_id=keys.key_id)
    return {
        "issued_at": at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "payload_sha256": digest,
        "act": json.loads(issued.to_bytes()),
        "token": make_token(claims, keys.token_key),
        "tree_head": {"size": str(head.size), "root": head.root_sha256.hex()},
        "made_by": made_by(),
    }


def made_by() -> dict[str, str]:
    """Return the versions that the printed pages depend on: program, typesetter, sentences."""
    from lapwright.documents.typeset import print_version

    texts = hashlib.sha256(canonical_json(catalogue())).hexdigest()[:16]
    return {"lapwright": __version__, "print": print_version(), "texts": texts}
