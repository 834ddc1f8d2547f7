"""Read an issued record's attachments and judge its acts again under its own rule rows."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright.core.times import parse_date
from lapwright.rules.rulebook import Edition, rulebook_from_rows

from .errors import NotARecord
from .judging import Judged, judge_acts
from .recorddata import ISSUE_FILE, RULES_FILE, SCHEMA, acts_of

if TYPE_CHECKING:
    from lapwright.documents.report import ContainerReport


@dataclass(frozen=True)
class RecordParts:
    """What a record carries: complete data, rule rows, issue note, overlays by face."""

    data: Mapping[str, Any]
    rules: Mapping[str, Any]
    issue: Mapping[str, Any]
    overlays: Mapping[str, bytes]


def read_file(path: Path) -> bytes:
    """Return a file's bytes, or refuse with one coded line."""
    try:
        return path.read_bytes()
    except OSError as fault:
        raise NotARecord(
            "the file cannot be read",
            got=f"{path} ({fault.strerror})",
            expected="a record's PDF",
            do="Correct the name.",
        ) from fault


def parts_of(report: ContainerReport, where: str) -> RecordParts:
    """Return the parts of an opened record.

    Raises
    ------
    NotARecord
        If an attachment is missing or is not what a record of this tool holds.
    """
    found = {}
    for name in ("record.json", RULES_FILE, ISSUE_FILE):
        attached = report.attachment(name)
        if attached is None:
            raise NotARecord(
                "an attachment is missing",
                got=f"no {name}",
                where=where,
                expected="record.json, rules.json and issue.json inside the PDF",
                do="Ask the issuer for the record as it was issued.",
            )
        try:
            found[name] = json.loads(attached.data)
        except ValueError as fault:
            raise NotARecord(
                "an attachment cannot be read",
                got=name,
                where=where,
                expected="the JSON that was attached",
                do="Ask the issuer for the record again.",
            ) from fault
    data = found["record.json"]
    if not isinstance(data, dict) or data.get("schema") != SCHEMA:
        raise NotARecord(
            "not the data of a record of this tool",
            where=where,
            expected=SCHEMA,
            got=str(data.get("schema") if isinstance(data, dict) else data),
            do="Check with the version of Lapwright that issued it.",
        )
    overlays = {
        a.name.removeprefix("overlay-").removesuffix(".png"): a.data
        for a in report.attachments
        if a.name.startswith("overlay-")
    }
    return RecordParts(data, found[RULES_FILE], found[ISSUE_FILE], overlays)


def own_editions(parts: RecordParts) -> tuple[Edition, ...]:
    """Return the editions made from the record's own rule rows, in the order adopted."""
    made = {f"{e.code} {e.edition}": e for e in rulebook_from_rows(parts.rules["rows"])}
    return tuple(made[name] for name in parts.rules["editions"] if name in made)


def judge_again(parts: RecordParts, *, as_of: date | None = None) -> Judged:
    """Judge a record's acts again under its own rule rows."""
    day = as_of or parse_date(parts.data["decision"]["as_of"])
    return judge_acts(acts_of(parts.data), as_of=day, editions=own_editions(parts))


def judged_of_record(path: Path, *, as_of: date | None) -> Judged:
    """Return the decision and range of a record's PDF, judged again from its own data.

    The file is not verified here; `lapwright verify` does that.
    """
    from lapwright.documents.container import inspect_record

    report = inspect_record(read_file(path), trusted=[], moment=None)
    return judge_again(parts_of(report, str(path)), as_of=as_of)
