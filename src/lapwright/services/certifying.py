"""The employer certifies a record, and later employers accept it: by key or in ink.

By key, the signature is appended to the latest PDF, which is kept as a new
file. In ink, the scanned page is kept by its digest and the act names the PDF
that it belongs to. Either way the ledger then holds who, when, and which file:
that digest is what shows a file cut back to an earlier signature.

Longer than the house's size: both signings share every check but the last.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.names import same_name
from lapwright.core.records import BY_KEY, BY_SCAN

from .atomic import make_folder
from .comparisonheld import Parties, must_fit
from .errors import (
    CertifiedAlready,
    DayRefused,
    NotARecord,
    NotCertified,
    RecordIsWithdrawn,
    RecordNotLatest,
    SignerRefused,
)
from .handedout import hand_out, signed_before
from .hands import Hand
from .ledgerwriting import write
from .people import must_be_enrolled
from .programme import Programme, name_in
from .register import (
    RecordState,
    Revision,
    must_be_known,
    record_act,
    record_stream,
)
from .signaturewords import fingerprint
from .signerkeys import key_digest, must_be_own_key
from .signernames import KEY, holder_of, name_in_act
from .text import word


@dataclass(frozen=True)
class Signing:
    """How somebody signs: a key, or a scanned page signed in ink on a day.

    ``at`` is the present moment (UTC): that of the signature by key, and of the entry.
    """

    by: str
    on: date
    at: datetime
    hand: Hand | None = None
    scan: bytes = b""


@dataclass(frozen=True)
class Signed:
    """A signature that was filed: on which revision, by whom, and the new PDF if there is one.

    ``holder`` is the name in the certificate where it is another one.
    """

    revision: Revision
    act: Act
    name: str
    path: Path | None
    holder: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document."""
        return {
            "record": self.revision.record,
            "revision": self.revision.revision,
            "act": self.act.type,
            "on": self.act.happened_on.isoformat(),
            "by": self.act.body["by"],
            "way": self.act.body["way"],
            "file_sha256": self.act.body["file_sha256"],
            "path": str(self.path) if self.path else "",
            "certificate_name": self.act.body.get(KEY, ""),
        }

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        done = "certified" if self.act.type == "RecordCertified" else "accepted"
        yield word(
            f"record.done.{done}",
            record=self.revision.name,
            name=self.name,
            on=self.act.happened_on.isoformat(),
            way=word(f"record.way.{self.act.body['way']}"),
        )
        if self.holder:
            yield word("record.done.holder", holder=self.holder, name=self.name)
        if self.path is not None:
            yield word("record.done.file", path=str(self.path), sha=self.act.body["file_sha256"])
            yield word("record.done.replace", record=self.revision.name)


def certify_record(
    asked: str, programme: Programme, signing: Signing, *, out: Path | None
) -> Signed:
    """File the certification of a record by its employer's responsible person.

    Parameters
    ----------
    asked : str
        The record's number, or its latest PDF file.
    programme : Programme
        The ledger, its files, the keys.
    signing : Signing
        Who, when, with what.
    out : Path, optional
        Folder for the signed PDF; needed with a key.

    Raises
    ------
    RecordUnknown, RecordNotLatest, RecordIsWithdrawn, CertifiedAlready
        If this record cannot be certified.
    SignerRefused, DayRefused, KeyOfAnother
        If this person, that day, or that key cannot certify it.
    """
    state, revision = must_be_open(asked, programme)
    if again := signed_before([revision.certified], signing):
        return _told(programme, revision, signing, again, out)
    if revision.certified is not None:
        raise _already(programme, revision, revision.certified)
    session = _session(programme, revision)
    _must_be_certifier(signing.by, session, revision)
    _check_day(signing, revision)
    use = _Use(str(session["employer"]))
    act = _sign((state, revision), programme, signing, use, out=out)
    return _told(programme, revision, signing, act, out)


def accept_record(
    asked: str,
    programme: Programme,
    signing: Signing,
    *,
    employer: str,
    comparison: bytes,
    out: Path | None,
) -> Signed:
    """File the acceptance of a certified record by a later employer.

    Parameters
    ----------
    asked : str
        The record's number, or its latest PDF file.
    programme : Programme
        The ledger, its files, the keys.
    signing : Signing
        The later employer's responsible person, when, with what.
    employer : str
        The later employer.
    comparison : bytes
        The comparison of the two employers' procedures on which this rests, as
        `lapwright.services.comparesheet.write_comparison` made it.
    out : Path, optional
        Folder for the signed PDF; needed with a key.

    Raises
    ------
    NotCertified
        If the first employer has not certified it.
    CertifiedAlready
        If this employer has accepted it before, or is the one that certified it.
    ComparisonRefused
        If the comparison is none, or is of another record, other employers or another day.
    KeyOfAnother
        If the key has signed for somebody else.
    """
    found = must_be_acceptable(asked, programme, signing, employer=employer, comparison=comparison)
    revision = found[1]
    again = signed_before(_accepted_by(revision, employer), signing)
    if again:
        return _told(programme, revision, signing, again, out)
    must_be_enrolled(programme.log, signing.by)
    act = _sign(found, programme, signing, _Use(employer, comparison), out=out)
    return _told(programme, revision, signing, act, out)


def must_be_acceptable(
    asked: str, programme: Programme, signing: Signing, *, employer: str, comparison: bytes
) -> tuple[RecordState, Revision]:
    """Return the record that a later employer may accept; see `accept_record`.

    Whether the signer is enrolled is not asked, and nothing is written.

    Parameters
    ----------
    asked : str
        The record's number, or its latest PDF file.
    programme : Programme
        The ledger, its files, the keys.
    signing : Signing
        Who signs for the later employer, when, with what.
    employer : str
        The later employer.
    comparison : bytes
        The comparison of both procedures.
    """
    state, revision = must_be_open(asked, programme)
    if revision.certified is None:
        raise NotCertified(
            "a record that its own employer has not certified",
            got=revision.name,
            expected="a certified record",
            do="Have it certified first: 'lapwright record certify'.",
        )
    own = _accepted_by(revision, employer)
    if signed_before(own, signing):
        return state, revision
    session = _session(programme, revision)
    if same_name(employer, session["employer"]):
        raise _already(programme, revision, revision.certified)
    for before in own:
        raise _already(programme, revision, before)
    _must_not_be_brazer(signing.by, revision)
    _check_day(signing, revision)
    must_fit(comparison, Parties(revision, str(session["employer"]), employer, signing.on))
    if signing.hand is not None:
        must_be_own_key(programme.log, signing.by, signing.hand.certificate)
    return state, revision


def _accepted_by(revision: Revision, employer: str) -> list[Act]:
    """Return the acceptances of one employer, however its name was typed."""
    return [a for a in revision.accepted if same_name(a.body["employer"], employer)]


def _told(
    programme: Programme, revision: Revision, signing: Signing, act: Act, out: Path | None
) -> Signed:
    """Hand the signed file out and return what was filed, now or before."""
    path = hand_out(programme.files, act, revision, out)
    hand = signing.hand
    holder = holder_of(hand.certificate) if hand and KEY in act.body else ""
    return Signed(revision, act, name_in(programme.log, signing.by), path, holder)


def must_be_open(asked: str, programme: Programme) -> tuple[RecordState, Revision]:
    """Return the latest revision of a record, which is signed and not withdrawn.

    Raises
    ------
    RecordUnknown, RecordNotLatest, RecordIsWithdrawn
        If the ledger holds none, a later one, or withdrew it.
    """
    path = Path(asked)
    number, sha256 = _named(path) if path.is_file() else (asked, "")
    state, revision = must_be_known(programme.log, number)
    if revision.withdrawn is not None:
        raise RecordIsWithdrawn(
            f"the record was withdrawn on {revision.withdrawn.happened_on}",
            got=revision.withdrawn.body["reason"],
            where=revision.name,
            expected="a record that stands",
            do="Issue the next revision.",
        )
    latest = state.revisions[-1]
    known = revision.files and (not sha256 or sha256 == revision.files[-1])
    if latest.revision != revision.revision or not known:
        raise RecordNotLatest(
            "not the latest file of this record",
            got=sha256[:16] or revision.name,
            where=asked,
            expected=f"{latest.name}, SHA-256 {(latest.files or ('not signed yet',))[-1][:16]}",
            do="Give the record's number: the ledger holds its latest file.",
        )
    return state, revision


def _named(path: Path) -> tuple[str, str]:
    """Return the number with its revision that a file claims, and the file's SHA-256."""
    from .recordfile import inspected, parts_of, read_file

    data = read_file(path)
    parts = parts_of(inspected(data, str(path)), str(path)).data
    try:
        return f"{parts['number']}-r{parts['revision']}", hashlib.sha256(data).hexdigest()
    except KeyError as fault:
        raise NotARecord(
            "a record without its number",
            got=str(path),
            expected="number and revision in its data",
            do="Ask the issuer for the record as it was issued.",
        ) from fault


def _already(programme: Programme, revision: Revision, act: Act) -> CertifiedAlready:
    return CertifiedAlready(
        "this employer has signed already",
        got=f"{name_in(programme.log, act.body['by'])}, {act.happened_on}",
        where=revision.name,
        expected="one signature of each employer",
        do="If only its file is missing, give the same command again with the same key or scan, "
        "or issue the case again; if the signature was wrong, withdraw the record and issue the "
        "next revision.",
    )


def _session(programme: Programme, revision: Revision) -> Mapping[str, Any]:
    data = json.loads(programme.files.get(revision.act.body["payload_sha256"]))
    session: Mapping[str, Any] = next(
        a["body"] for a in data["acts"] if a["type"] == "SessionOpened"
    )
    return session


def _must_be_certifier(person: str, session: Mapping[str, Any], revision: Revision) -> None:
    _must_not_be_brazer(person, revision)
    named = session["roles"].get("certifier", [])
    if person not in named:
        raise SignerRefused(
            "not the employer's responsible person of this case",
            got=person,
            where=revision.name,
            expected=", ".join(named) or "a person under 'roles.certifier' of the case",
            do="Name the responsible person under 'roles.certifier' and issue again.",
        )


def _must_not_be_brazer(person: str, revision: Revision) -> None:
    if person == revision.act.body["person"]:
        raise SignerRefused(
            "the brazer whose record it is",
            got=person,
            where=revision.name,
            expected="another person",
            do="Nobody certifies or accepts an own record.",
        )


def _check_day(signing: Signing, revision: Revision) -> None:
    on, first = signing.on, revision.act.happened_on
    last = (signing.at.astimezone(UTC) + timedelta(hours=14)).date()
    # The civil day of the place may be behind UTC by up to 12 hours.
    if not first - timedelta(days=1) <= on <= last:
        raise DayRefused(
            "a day on which this record could not be signed",
            got=on.isoformat(),
            where=revision.name,
            expected=f"{first} to {last}",
            do="Give the day that stands beside the signature.",
        )


@dataclass(frozen=True)
class _Use:
    """For which employer the signature stands; with a comparison it is an acceptance."""

    employer: str
    comparison: bytes = b""

    @property
    def type(self) -> str:
        return "RecordAccepted" if self.comparison else "RecordCertified"

    @property
    def role(self) -> str:
        return "acceptance" if self.comparison else "certifier"


def _sign(
    found: tuple[RecordState, Revision],
    programme: Programme,
    signing: Signing,
    use: _Use,
    *,
    out: Path | None,
) -> Act:
    """Keep the signed PDF or the scan and file the act; see at once whether ``out`` is a folder."""
    state, revision = found
    if signing.hand is not None:
        must_be_own_key(programme.log, signing.by, signing.hand.certificate)
    if out is not None:
        make_folder(out)
    before = revision.files[-1]
    body: dict[str, Any] = {"by": signing.by, "employer": use.employer, "file_sha256": before}
    files = []
    if signing.hand is not None:
        pdf = countersigned(programme, before, signing, use)
        body |= {
            "way": BY_KEY,
            "before_sha256": before,
            "file_sha256": programme.files.put(pdf),
            "certificate_sha256": fingerprint(signing.hand.certificate),
            **name_in_act(signing.hand.certificate, name_in(programme.log, signing.by)),
            "key_sha256": key_digest(signing.hand.certificate),
        }
        files.append(body["file_sha256"])
    else:
        body |= {"way": BY_SCAN, "scan_sha256": programme.files.put(signing.scan)}
        files.append(body["scan_sha256"])
    if use.comparison:
        body["comparison_sha256"] = programme.files.put(use.comparison)
        files.append(body["comparison_sha256"])
    act = record_act(use.type, revision, body, by=signing.by, at=signing.at)
    act = replace(act, happened_on=signing.on, files=tuple(files))
    (entry,) = write(programme.log, [act], expect={record_stream(state.number): state.count})
    return entry.act


def countersigned(programme: Programme, before: str, signing: Signing, use: _Use) -> bytes:
    """Return the latest PDF with one more signature; the same signing gives the same bytes."""
    from lapwright.documents.sign import (
        ACCEPTANCE,
        CERTIFICATION,
        SignatureWords,
        countersign_record,
    )

    hand = signing.hand
    if hand is None:
        raise ValueError("a signature in ink adds nothing to the PDF")
    return countersign_record(
        programme.files.get(before),
        key=hand.key,
        certificate=hand.certificate,
        signed_at=signing.at,
        words=SignatureWords(
            word(f"record.sign.{use.role}.meaning"),
            word("record.sign.for", name=name_in(programme.log, signing.by), employer=use.employer),
            CERTIFICATION if use.role == "certifier" else ACCEPTANCE,
        ),
    )
