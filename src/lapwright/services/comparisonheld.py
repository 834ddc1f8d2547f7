"""The comparison on which an acceptance rests: read from its page or its JSON, and looked at.

An acceptance names it by its SHA-256. So the file has to be one that this tool wrote, with
nothing left open in it, of this record, for these two employers and for the day of the
signature. Nobody has signed the file itself: whoever changed it stands behind the change.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from .errors import ComparisonRefused
from .register import Revision

SCHEMA = "lapwright-comparison/1"


@dataclass(frozen=True)
class Parties:
    """What a comparison has to be of: record, the two employers, the day of the signature."""

    revision: Revision
    former: str
    present: str
    signed_on: date


def must_fit(data: bytes, parties: Parties) -> None:
    """Refuse a file that is not the comparison of an acceptance.

    Parameters
    ----------
    data : bytes
        The page (PDF) or its JSON.
    parties : Parties
        What it has to be of.

    Raises
    ------
    ComparisonRefused
    """
    document = _document(data)
    revision = parties.revision
    case = str(revision.act.body["case"])
    wanted = (
        ("record", _text(document, "record"), (case, revision.record, revision.name)),
        ("person", _text(document, "person"), (str(revision.act.body["person"]),)),
        ("former employer", _text(document, "former", "employer"), (parties.former,)),
        ("new employer", _text(document, "present", "employer"), (parties.present,)),
        ("day of the signature", _text(document, "signed_on"), (parties.signed_on.isoformat(),)),
        ("outcome", _text(document, "acceptance", "outcome"), ("met",)),
    )
    for name, got, expected in wanted:
        if got not in expected:
            raise _refused(
                f"a comparison that does not fit: another {name}",
                got or "nothing",
                " or ".join(dict.fromkeys(expected)),
                revision.name,
            )


def _document(data: bytes) -> Mapping[str, Any]:
    held = _held(data) if data.startswith(b"%PDF-") else data
    try:
        document = json.loads(held)
    except (ValueError, RecursionError):
        document = None
    if not isinstance(document, dict) or document.get("schema") != SCHEMA:
        kind = str(document.get("schema", "no schema")) if isinstance(document, dict) else ""
        raise _refused("not a comparison of this tool", kind or "another file", SCHEMA, "")
    return document


def _held(data: bytes) -> bytes:
    """Return the comparison inside a page, or nothing."""
    from lapwright.documents.comparison import COMPARISON_FILE
    from lapwright.documents.opened import open_pdf

    try:
        attached = open_pdf(data, moment=None).attachments
    except Exception:  # any bytes may follow the first five
        return b""
    found = [a.data for a in attached if a.name == COMPARISON_FILE]
    return found[0] if len(found) == 1 else b""


def _text(document: Mapping[str, Any], *keys: str) -> str:
    value: Any = document
    for key in keys:
        value = value.get(key) if isinstance(value, dict) else None
    return value if isinstance(value, str) else ""


def _refused(what: str, got: str, expected: str, where: str) -> ComparisonRefused:
    return ComparisonRefused(
        what,
        got=got,
        where=where,
        expected=expected,
        do="Make it with 'lapwright paper compare … --signed-on DAY --out page.pdf' for this "
        "record, the new employer and the day of the signature.",
    )
