"""The register on a page: every record, or one in full, as of a day and as known by a day."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.outcomes import Outcome
from lapwright.core.records import RecordSays
from lapwright.ledger.log import Log

from .casereport import SHAPES
from .errors import RecordUnknown
from .programme import name_in
from .register import RecordState, Revision, must_be_known, record_state, states
from .text import word


@dataclass(frozen=True)
class Asked:
    """The day asked about, and the day by whose end an entry must have been written."""

    as_of: date
    known_by: date | None = None

    def as_dict(self) -> dict[str, str]:
        """Return the two days as text."""
        return {
            "as_of": self.as_of.isoformat(),
            "known_by": self.known_by.isoformat() if self.known_by else "",
        }


_SAYS = {
    RecordSays.WITHDRAWN: "withdrawn",
    RecordSays.REPLACED: "superseded",
    RecordSays.UNSIGNED: "unsigned",
    RecordSays.CERTIFIED: "certified",
    RecordSays.AWAITING: "issued",
}


def standing_of(revision: Revision) -> str:
    """Return where a revision stands: withdrawn, superseded, unsigned, certified or issued."""
    return _SAYS[revision.state.says]


def list_document(log: Log, asked: Asked) -> dict[str, Any]:
    """Return every record as of a day, as plain JSON."""
    found = states(log, as_of=asked.as_of, known_by=asked.known_by)
    return {**asked.as_dict(), "records": [_row(log, state) for state in found]}


def _row(log: Log, state: RecordState) -> dict[str, str]:
    latest = state.revisions[-1]
    return {
        "record": state.number,
        "revision": latest.revision,
        "register": latest.act.body["register"],
        "person": latest.act.body["person"],
        "name": name_in(log, latest.act.body["person"]),
        "case": latest.act.body["case"],
        "issued_on": latest.act.happened_on.isoformat(),
        "state": standing_of(latest),
    }


_OUTCOMES = {"certified": Outcome.MET, "issued": Outcome.UNDETERMINED}


def _shape(state: str) -> str:
    return SHAPES[_OUTCOMES.get(state, Outcome.NOT_MET)]


def list_lines(document: dict[str, Any]) -> Iterator[str]:
    """Yield the list for a terminal."""
    yield head_line("record.list.head", document, count=str(len(document["records"])))
    for row in document["records"]:
        yield (
            f"  {_shape(row['state'])} {row['register']:>4}  {row['record']}-r{row['revision']}  "
            f"{row['name']}  {row['issued_on']}  {word('record.state.' + row['state'])}"
        )


def head_line(message: str, document: Mapping[str, Any], **told: str) -> str:
    """Return the first line of a list, with the days asked about."""
    head = word(message, as_of=document["as_of"], **told)
    if document["known_by"]:
        head += word("record.known_by", known_by=document["known_by"])
    return head


def show_document(log: Log, number: str, asked: Asked) -> dict[str, Any]:
    """Return one record with all its revisions as of a day, as plain JSON.

    Raises
    ------
    RecordUnknown
        If it had not been issued by then.
    """
    known, _ = must_be_known(log, number)
    state = record_state(log, known.number, as_of=asked.as_of, known_by=asked.known_by)
    if not state.revisions:
        raise RecordUnknown(
            "the record had not been issued, or nobody had written it, by the days asked about",
            got=" ".join(asked.as_dict().values()).strip(),
            where=known.number,
            expected=f"{known.revisions[0].act.happened_on} or later",
            do="Ask about a later day.",
        )
    latest = state.revisions[-1]
    return {
        **asked.as_dict(),
        **_row(log, state),
        "supports_joints": word(f"record.supports.{standing_of(latest)}"),
        "revisions": [_revision(log, r) for r in reversed(state.revisions)],
    }


def _revision(log: Log, revision: Revision) -> dict[str, Any]:
    accepted = [_done(log, a) | {"employer": a.body["employer"]} for a in revision.accepted]
    return {
        "revision": revision.revision,
        "register": revision.act.body["register"],
        "issued_on": revision.act.happened_on.isoformat(),
        "state": standing_of(revision),
        "payload_sha256": revision.act.body["payload_sha256"],
        "file_sha256": revision.files[-1] if revision.files else "",
        "certified": _done(log, revision.certified) if revision.certified else {},
        "accepted": accepted,
        "withdrawn": _done(log, revision.withdrawn) if revision.withdrawn else {},
    }


def _done(log: Log, act: Act) -> dict[str, str]:
    told = {"by": act.body["by"], "name": name_in(log, act.body["by"])}
    more = {k: act.body[k] for k in ("way", "reason", "comparison_sha256") if k in act.body}
    return {**told, "on": act.happened_on.isoformat(), **more}


def show_lines(document: dict[str, Any]) -> Iterator[str]:
    """Yield one record for a terminal."""
    yield head_line("record.show.head", document, record=document["record"], name=document["name"])
    yield f"{_shape(document['state'])} {document['supports_joints']}"
    for row in document["revisions"]:
        yield ""
        yield word(
            "record.show.revision",
            revision=row["revision"],
            register=row["register"],
            on=row["issued_on"],
            state=word(f"record.state.{row['state']}"),
        )
        yield from (f"  {line}" for line in _events(row))


def _events(row: dict[str, Any]) -> Iterator[str]:
    for kind in ("certified", "withdrawn"):
        if row[kind]:
            yield _event(kind, row[kind])
    yield from (_event("accepted", accepted) for accepted in row["accepted"])
    if row["file_sha256"]:
        yield word("record.show.file", sha=row["file_sha256"])


def _event(kind: str, done: dict[str, str]) -> str:
    told = {"name": done["name"], "on": done["on"]}
    if kind == "withdrawn":
        return word("record.show.withdrawn", reason=done["reason"], **told)
    way = word(f"record.way.{done['way']}")
    if kind == "accepted":
        return word("record.show.accepted", way=way, employer=done["employer"], **told)
    return word("record.show.certified", way=way, **told)
