"""The complete data of a record: acts, names, decision and range as one JSON document.

The bytes are canonical, so their SHA-256 names them. The document holds no
time of issue: issuing the same case again gives the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright import __version__
from lapwright.core.acts import Act, canonical_json

from .casereport import decision_document
from .judging import Judged, JudgedCase
from .rangelist import range_rows, variable_rows

SCHEMA = "lapwright-record/1"
RULES_FILE = "rules.json"
ISSUE_FILE = "issue.json"


def record_data(case: JudgedCase, *, number: str, revision: str) -> dict[str, Any]:
    """Return everything that a record rests on, as plain JSON.

    Parameters
    ----------
    case : JudgedCase
        The judged case.
    number, revision : str
        Record number and revision.
    """
    judged = case.judged
    return {
        "schema": SCHEMA,
        "number": number,
        "revision": revision,
        "lapwright": __version__,
        "acts": [_plain(a) for a in case.loaded.acts],
        "names": _names(case),
        **results(judged),
    }


def results(judged: Judged) -> dict[str, Any]:
    """Return decision and range; a check recomputes this part from acts and rule rows."""
    return {
        "decision": decision_document(judged.judgement),
        "range": {"variables": variable_rows(judged), "sizes": range_rows(judged)},
    }


def record_bytes(data: Mapping[str, Any]) -> bytes:
    """Return the canonical bytes of a record's data."""
    return canonical_json(data)


def rules_bytes(judged: Judged) -> bytes:
    """Return the rule rows that a decision and its range leaned on, with the editions in order."""
    adopted = judged.judgement.adopted
    return canonical_json(
        {
            "editions": [f"{e.code} {e.edition}" for e in adopted.editions],
            "rows": adopted.rows_used(),
        }
    )


def acts_of(data: Mapping[str, Any]) -> tuple[Act, ...]:
    """Return the acts of a record's data, checked to be canonical."""
    return tuple(Act.from_bytes(canonical_json(a)) for a in data["acts"])


def _plain(act: Act) -> dict[str, Any]:
    import json

    loaded: dict[str, Any] = json.loads(act.to_bytes())
    return loaded


def _names(case: JudgedCase) -> dict[str, dict[str, str]]:
    """Return person -> name, salt and commitment, so that a checker can open the commitments."""
    side = case.loaded.log.side_records()
    found = {}
    for person in case.judged.judgement.evidence.people.values():
        name, salt = side[person.commitment]
        found[person.id] = {"name": name, "salt": salt.hex(), "commitment": person.commitment}
    return found
