"""Read an issued record's attachments; judge its acts again under its own or the shipped rules."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright.core.acts import canonical_json
from lapwright.core.errors import LapwrightError
from lapwright.core.fold import fold
from lapwright.core.outcomes import Outcome
from lapwright.core.times import parse_date
from lapwright.rules.errors import EditionUnknown
from lapwright.rules.rulebook import Edition, canonical, load_edition, rulebook_from_rows

from .errors import NotARecord, RecordNotWhole
from .judging import Judged, judge_acts
from .recorddata import ISSUE_FILE, RULES_FILE, SCHEMA, acts_of, results
from .text import say

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

    from lapwright.documents.report import ContainerReport


@dataclass(frozen=True)
class RecordParts:
    """What a record carries: complete data, rule rows, issue note, overlays by face."""

    data: Mapping[str, Any]
    rules: Mapping[str, Any]
    issue: Mapping[str, Any]
    overlays: Mapping[str, bytes]

    @cached_property
    def again(self) -> dict[str, Any]:
        """Decision and range judged again under the record's own rule rows, as plain JSON."""
        return plain_results(judge_again(self))


def plain_results(judged: Judged) -> dict[str, Any]:
    """Return decision and range as they stand in a record's data."""
    loaded: dict[str, Any] = json.loads(canonical_json(results(judged)))
    return loaded


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


def inspected(data: bytes, where: str, trusted: Sequence[Certificate] = ()) -> ContainerReport:
    """Return what the container of a file holds; a refusal names the file.

    Parameters
    ----------
    data : bytes
        The file.
    where : str
        Its name, for messages.
    trusted : sequence of Certificate, optional
        Certificates whose signature counts.
    """
    from lapwright.documents.container import inspect_record

    try:
        return inspect_record(data, trusted=trusted, moment=None)
    except LapwrightError as fault:
        raise fault.at(where) from None


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
    return RecordParts(data, found[RULES_FILE], found[ISSUE_FILE], _overlays(report, where))


def _overlays(report: ContainerReport, where: str) -> dict[str, bytes]:
    """Return face -> picture; two attachments of one name would hide each other."""
    names = [a.name for a in report.attachments]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise NotARecord(
            "two attachments carry one name",
            got=", ".join(twice),
            where=where,
            expected="each attachment once",
            do="Ask the issuer for the record as it was issued.",
        )
    return {
        a.name.removeprefix("overlay-").removesuffix(".png"): a.data
        for a in report.attachments
        if a.name.startswith("overlay-")
    }


def own_editions(parts: RecordParts) -> tuple[Edition, ...]:
    """Return the editions made from the record's own rule rows, in the order adopted.

    An edition that is named and gave no row is there without rules.
    """
    made = {f"{e.code} {e.edition}": e for e in rulebook_from_rows(parts.rules["rows"])}
    return tuple(made.get(name) or _without_rules(name) for name in parts.rules["editions"])


def _without_rules(name: str) -> Edition:
    code, _, edition = name.partition(" ")
    return Edition(code, edition, "", date.min, "", {})


def adopted_editions(parts: RecordParts) -> list[str]:
    """Return the editions that the case's basis adopts, and the programme's own rules."""
    basis = fold(acts_of(parts.data), as_of=_day(parts)).basis
    names = list(basis.editions) if basis is not None else []
    return names if "programme 1" in names else [*names, "programme 1"]


def judge_again(parts: RecordParts, *, as_of: date | None = None) -> Judged:
    """Judge a record's acts again under its own rule rows."""
    day = as_of or _day(parts)
    return judge_acts(acts_of(parts.data), as_of=day, editions=own_editions(parts))


def judge_as_shipped(parts: RecordParts) -> Judged:
    """Judge a record's acts again under the rule files of this version.

    Raises
    ------
    EditionUnknown
        If an adopted edition is not shipped with this version.
    """
    return judge_acts(acts_of(parts.data), as_of=_day(parts))


def differing_rows(parts: RecordParts, shipped: Judged) -> list[str]:
    """Return the rule rows that are not those shipped, each with what is different.

    Parameters
    ----------
    parts : RecordParts
        The record.
    shipped : Judged
        Its acts judged under the shipped rules, decision and range both listed.
    """
    own: dict[str, list[Mapping[str, Any]]] = {}
    for row in parts.rules["rows"]:
        own.setdefault(_row_key(row), []).append(row)
    used = {_row_key(r): r for r in shipped.judgement.adopted.rows_used()}
    told = {}
    for key, rows in own.items():
        held = used.get(key) or _shipped_row(rows[0])
        other = sorted({field for row in rows for field in _other_fields(row, held)})
        if other or len(rows) > 1:
            told[key] = f"{_short(key)} ({', '.join(other) or 'twice'})"
    told |= {key: f"{_short(key)} (missing)" for key in used if key not in own}
    return [told[key] for key in sorted(told)]


def _row_key(row: Mapping[str, Any]) -> str:
    return f"{row['code']}/{row['edition']}/{row['id']} {row['since']}"


def _short(key: str) -> str:
    return key.split(" ", maxsplit=1)[0]


def _shipped_row(row: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the shipped row of the same id and first day, or none where nothing fits."""
    try:
        dated = load_edition(row["code"], row["edition"]).rules.get(row["id"], ())
    except EditionUnknown:
        return {}
    return next((r.as_row() for r in dated if r.since.isoformat() == row["since"]), {})


def _other_fields(row: Mapping[str, Any], held: Mapping[str, Any]) -> list[str]:
    if not held:
        return ["not shipped"]
    fields = row.keys() | held.keys()
    return [f for f in fields if canonical(row.get(f)) != canonical(held.get(f))]


def _day(parts: RecordParts) -> date:
    return parse_date(parts.data["decision"]["as_of"])


def opened_record(path: Path) -> tuple[ContainerReport, RecordParts]:
    """Return what a record's PDF holds, unchanged since it was signed.

    Who signed it, and whether its decision follows, is not verified here; `lapwright verify`
    does that.

    Raises
    ------
    RecordNotWhole
        If the file is not signed, or was changed after signing.
    """
    report = inspected(read_file(path), str(path))
    wrong = [f for f in report.findings if f.outcome is Outcome.NOT_MET]
    if wrong:
        raise RecordNotWhole(
            "the file is not as it was signed",
            got=say(wrong[0].message),
            where=str(path),
            expected="a record, unchanged since it was signed",
            do="Run 'lapwright verify' on it, and ask the issuer for the record as it was issued.",
        )
    return report, parts_of(report, str(path))


def judged_of_record(path: Path, *, as_of: date | None) -> Judged:
    """Return the decision and range of a record's PDF, judged again from its own data.

    Raises
    ------
    RecordNotWhole
        If the file is not signed, or was changed after signing.
    """
    return judge_again(opened_record(path)[1], as_of=as_of)
