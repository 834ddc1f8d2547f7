"""Where a removed name survives: issued records, signed files and scans that are kept as evidence.

Files are named by their SHA-256 in entries that nothing can change, and a signature holds only
over the very bytes. So a name in them cannot be taken out; what can be said is where it stands.
Pictures are not read: a scan filed with an entry about the person may show the name.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from lapwright.core.acts import Act
from lapwright.core.records import BY_KEY
from lapwright.ledger.errors import FileGone
from lapwright.ledger.files import FileStore

from .programme import Programme
from .register import Revision, states
from .text import word

# Scans and papers of people; a photograph of a face shows nobody's name.
_PAPERS = ("PaperRecordEntered", "PaperRecordChecked", "CredentialNoted")
_PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"II*\0", b"MM\0*")


@dataclass(frozen=True)
class Survivor:
    """A kept file in which a name survives, or may: its SHA-256, whose it is, and how."""

    sha256: str
    where: str
    how: str

    @property
    def file(self) -> str:
        """Its place in the data folder."""
        return f"files/{self.sha256[:2]}/{self.sha256}"

    def as_dict(self) -> dict[str, str]:
        """Return the JSON document."""
        return {"file": self.file, "where": self.where, "how": self.how}

    def line(self) -> str:
        """Return it as a line for a terminal."""
        return f"{self.file}  {self.where}: {word(f'forget.how.{self.how}')}"


@dataclass
class _Found:
    """Files found so far, each once, and the names to look for."""

    files: FileStore
    person: str
    names: set[str]
    survivors: dict[str, Survivor] = field(default_factory=dict)
    records: dict[str, str] = field(default_factory=dict)

    def add(self, sha256: str, where: str, how: str) -> None:
        """Note a file, unless it was noted."""
        self.survivors.setdefault(sha256, Survivor(sha256, where, how))


def still_shown(
    programme: Programme, person: str, names: Sequence[str]
) -> tuple[tuple[str, ...], tuple[Survivor, ...]]:
    """Return the records and the kept files in which a person's name survives.

    Parameters
    ----------
    programme : Programme
        The ledger and its files.
    person : str
        The person's id.
    names : sequence of str
        The names as the ledger held them; those that issued records hold are added.
    """
    found = _Found(programme.files, person, set(names))
    every = [r for state in states(programme.log) for r in state.revisions]
    for revision in every:
        _look_at(revision, found)
    of_record = {sha: r.name for r in every for sha in (*r.act.files, *r.files, *_beside(r))}
    for entry in programme.log.entries():
        if b'"files"' in entry.raw:
            _look_in(entry.act, of_record, found)
    shown = [r.name for r in every if r.name in found.records]
    return tuple(shown), tuple(found.survivors.values())


def _later(revision: Revision) -> list[Act]:
    return [a for a in (revision.certified, *revision.accepted) if a is not None]


def _beside(revision: Revision) -> Iterator[str]:
    for act in _later(revision):
        yield from act.files


def _look_at(revision: Revision, found: _Found) -> None:
    """Note what a revision shows: its data and pages, or the signature of the person."""
    data = json.loads(found.files.get(revision.act.body["payload_sha256"]))
    scans = [a.body["scan_sha256"] for a in _later(revision) if "scan_sha256" in a.body]
    name = data["names"].get(found.person, {}).get("name", "")
    if name:
        found.names.add(name)
        found.records[revision.name] = "data"
        found.add(revision.act.body["payload_sha256"], revision.name, "data")
        for sha in revision.files:
            found.add(sha, revision.name, "page")
        for sha in scans:
            found.add(sha, revision.name, "scan")
    for act in (a for a in _later(revision) if a.body["by"] == found.person):
        found.records.setdefault(revision.name, "signature")
        if act.body["way"] == BY_KEY:
            place = revision.files.index(act.body["file_sha256"])
            for sha in revision.files[place:]:
                found.add(sha, revision.name, "signature")
        else:
            found.add(act.body["scan_sha256"], revision.name, "scan")


def _look_in(act: Act, of_record: dict[str, str], found: _Found) -> None:
    """Note the files of an act that hold a name, and scans filed about the person."""
    whose = str(act.body.get("paper") or act.stream.partition("/")[2] or act.type)
    about = found.person in (act.body.get(k) for k in ("person", "by", "typed_by"))
    for sha in act.files:
        where = of_record.get(sha, whose)
        if act.type in _PAPERS and about:
            found.add(sha, where, "scan")
        elif sha not in found.survivors and (how := _holds(sha, found)):
            found.add(sha, where, how)
            if sha in of_record:
                found.records.setdefault(where, how)


def _holds(sha256: str, found: _Found) -> str:
    """Say how a file holds one of the names, or nothing; pictures are not read."""
    try:
        with (found.files.folder / sha256[:2] / sha256).open("rb") as kept:
            if kept.read(4).startswith(_PICTURES):
                return ""
        data = found.files.get(sha256)
    except (OSError, FileGone):  # 'lapwright verify' of an export names what is gone
        return ""
    if data.startswith(b"%PDF-"):
        return _pdf_holds(data, found.names)
    return "text" if _in(data, found.names) else ""


def _in(data: bytes, names: Iterable[str]) -> str:
    held = (n.encode(way) in data for n in names for way in ("utf-8", "utf-16-be"))
    return "yes" if any(held) else ""


def _pdf_holds(data: bytes, names: Iterable[str]) -> str:
    """Look at signatures, certificates and attachments; the print itself is packed."""
    from lapwright.documents.opened import open_pdf

    wanted = list(names)
    try:
        opened = open_pdf(data, moment=None)
    except Exception:  # a scan may be any PDF
        return "text" if _in(data, wanted) else ""
    for judged in opened.signatures:
        seen = judged.seen
        told = f"{seen.name} {seen.reason} {seen.certificate.subject.rfc4514_string()}"
        words = set(re.findall(r"\w+", told.casefold()))
        if any(set(re.findall(r"\w+", name.casefold())) <= words for name in wanted):
            return "signature"
    attached = any(_in(a.data, wanted) for a in opened.attachments)
    return "text" if attached or _in(data, wanted) else ""
