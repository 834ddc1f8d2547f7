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
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright import __version__
from lapwright.core.acts import Act, canonical_json
from lapwright.core.outcomes import Outcome, Verdict, Why
from lapwright.ledger.keys import Keys, open_keys
from lapwright.ledger.tree import tree_head

from .atomic import make_folder, write_bytes
from .errors import CaseOpen, NothingQualified
from .judging import JudgedCase, judge_case
from .recorddata import ISSUE_FILE, RULES_FILE, record_bytes, record_data, rules_bytes
from .text import outcome_word, say, word

if TYPE_CHECKING:
    from lapwright.documents.sheets import Attachment

PDF = "record.pdf"
OVERLAY_PX = 760  # legible at the printed width, and a record stays small


@dataclass(frozen=True)
class Issued:
    """An issued record: where it lies, its number and digests, new or given again."""

    path: Path
    number: str
    revision: str
    payload_sha256: str
    file_sha256: str
    again: str

    def as_dict(self) -> dict[str, str]:
        """Return the JSON document."""
        return {
            "path": str(self.path),
            "number": self.number,
            "revision": self.revision,
            "payload_sha256": self.payload_sha256,
            "file_sha256": self.file_sha256,
            "issued": "again" if self.again == "yes" else "new",
        }

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        yield word(
            "issue.again" if self.again == "yes" else "issue.new",
            number=self.number,
            revision=self.revision,
            path=str(self.path),
        )
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
    CaseOpen, NothingQualified
        If the case is open, or nothing passed.
    OutputRefused
        If a folder cannot be written.
    """
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
    _must_be_decided(case)
    make_folder(out)
    number = f"{case.loaded.id}-{case.judged.judgement.evidence.mark}"
    stored, revision, again = _store(case, number, home, keys, at)
    pdf = (stored / PDF).read_bytes()
    target = out / f"{number}-r{revision}.pdf"
    write_bytes(target, pdf)
    issue = json.loads((stored / ISSUE_FILE).read_text("utf-8"))
    return Issued(
        target, number, revision, issue["payload_sha256"], hashlib.sha256(pdf).hexdigest(), again
    )


def _must_be_decided(case: JudgedCase) -> None:
    """Refuse a case with an open position, or with papers that are not met."""
    judgement = case.judged.judgement
    waiting = [p.verdict for p in judgement.positions if p.verdict.outcome is Outcome.UNDETERMINED]
    if waiting or judgement.case.outcome is not Outcome.MET:
        raise _still_open(case, [judgement.case, *waiting])
    if not judgement.qualified:
        raise NothingQualified(
            "no flow position passed, so there is nothing to record",
            where=case.loaded.id,
            got=outcome_word(judgement.verdict.outcome),
            expected="at least one flow position met",
            do="See 'lapwright judge' for the findings; a retest is a new round in the same case.",
        )


def _still_open(case: JudgedCase, verdicts: list[Verdict]) -> CaseOpen:
    """Return the refusal with the finding that most needs a person, or the booklet to confirm."""
    rows = [f for v in verdicts for f in v.findings if f.outcome is not Outcome.MET]
    real = [f for f in rows if f.why is not Why.UNCONFIRMED]
    if real:
        do = say(real[0].message)
    else:
        day = case.judged.judgement.evidence.as_of.isoformat()
        do = word("issue.confirm", case=case.loaded.id, day=day)
    worst = real[0] if real else rows[0]
    return CaseOpen(
        "not everything is decided and met, so no record is issued",
        where=case.loaded.id,
        got=f"{outcome_word(worst.outcome, worst.why)}, {len(rows)} in all",
        expected="papers met and every flow position decided",
        do=do,
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
    if latest:
        kept = json.loads((shelf / f"r{latest}" / "record.json").read_text("utf-8"))
        data = record_data(case, number=number, revision=str(latest))
        data["decision"]["as_of"] = kept["decision"]["as_of"]  # a later day alone is no change
        if record_bytes(data) == record_bytes(kept):
            return shelf / f"r{latest}", str(latest), "yes"
    revision = str(latest + 1)
    parts = make_record(case, number=number, revision=revision, keys=keys, at=at)
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
    case: JudgedCase, *, number: str, revision: str, keys: Keys, at: datetime
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
    """
    from lapwright.documents.sign import sign_record

    data = record_data(case, number=number, revision=revision)
    payload = record_bytes(data)
    rules = rules_bytes(case.judged)
    issue = _issue_note(case, number, revision, payload, keys, at)
    unsigned = typeset(data, json.loads(rules), issue, overlays_of(case))
    pdf = sign_record(
        unsigned,
        key=keys.signing_key,
        certificate=keys.certificate,
        signed_at=at,
        reason=word("record.sign.programme.meaning"),
        name=word("record.sign.programme.who"),
    )
    signed = Act(
        "RecordSigned",
        {"record": f"{number}-r{revision}", "file_sha256": hashlib.sha256(pdf).hexdigest()},
        at.date(),
        "programme",
        at,
    )
    return {
        PDF: pdf,
        "record.json": payload,
        RULES_FILE: rules,
        ISSUE_FILE: canonical_json(issue),
        "signed.json": signed.to_bytes(),
    }


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
        for face, png in overlays.items()
    ]


def _issue_note(
    case: JudgedCase, number: str, revision: str, payload: bytes, keys: Keys, at: datetime
) -> dict[str, Any]:
    from lapwright.documents.token import claims_of, make_token

    digest = hashlib.sha256(payload).hexdigest()
    issued = Act(
        "RecordIssued",
        {"record": f"{number}-r{revision}", "payload_sha256": digest},
        at.date(),
        "programme",
        at,
    )
    leaves = [a.to_bytes() for a in case.loaded.acts] + [issued.to_bytes()]
    head = tree_head(leaves)
    claims = claims_of(number, revision, payload_sha256=digest, key_id=keys.key_id)
    return {
        "issued_at": at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "payload_sha256": digest,
        "act": json.loads(issued.to_bytes()),
        "token": make_token(claims, keys.token_key),
        "tree_head": {"size": str(head.size), "root": head.root_sha256.hex()},
        "made_by": made_by(),
    }


def made_by() -> dict[str, str]:
    """Return the versions that the printed pages depend on."""
    from lapwright.documents.typeset import print_version

    return {"lapwright": __version__, "print": print_version()}


def overlays_of(case: JudgedCase) -> dict[str, bytes]:
    """Return face id -> small overlay for every face that was measured on a photograph."""
    from lapwright.measure.image import open_photo
    from lapwright.measure.overlay import draw_overlay
    from lapwright.measure.shrink import shrink_png

    found = {}
    for face, (digest, measured) in case.loaded.files.measured.items():
        _, photo = case.loaded.files.kept[digest]
        found[face] = shrink_png(draw_overlay(open_photo(photo), measured), width_px=OVERLAY_PX)
    return found
