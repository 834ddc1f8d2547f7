"""The complete data of a record: acts, names, decision and range as one JSON document.

The bytes are canonical, so their SHA-256 names them. The document holds no
time of issue: issuing the same case again gives the same bytes. `skeleton`
returns the outcomes and figures in it without its sentences, so that a later
version with other wording still finds the same decision.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from typing import Any

from lapwright import __version__
from lapwright.core.acts import Act, canonical_json

from .casereport import decision_document
from .judging import Judged, JudgedCase
from .rangelist import range_rows, variable_rows

SCHEMA = "lapwright-record/1"
RULES_FILE = "rules.json"
ISSUE_FILE = "issue.json"
OVERLAY_PX = 760  # legible at the printed width, and a record stays small


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


def overlays_of(case: JudgedCase) -> dict[str, bytes]:
    """Return face id -> small overlay for every face that was measured on a photograph."""
    from lapwright.measure.image import open_photo
    from lapwright.measure.overlay import draw_overlay

    found = {}
    for face, (digest, measured) in case.loaded.files.measured.items():
        _, photo = case.loaded.files.kept[digest]
        found[face] = draw_overlay(open_photo(photo), measured, width_px=OVERLAY_PX)
    return found


def overlay_digests(overlays: Mapping[str, bytes]) -> dict[str, str]:
    """Return face -> SHA-256 of its attached picture, which the record's data bind."""
    return {face: hashlib.sha256(png).hexdigest() for face, png in sorted(overlays.items())}


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


_VERDICT = ("outcome", "why", "act_on")
_POSITION = ("position", "coupon_kind", "joints", *_VERDICT)
_JOINT = ("joint", "coupon", "position", *_VERDICT)
_FACE = ("face", "joint", "unbrazed_share", "u", "interval95", "outcome", "why", "due")
_FINDING = ("rule", "subject", *_VERDICT)


def skeleton(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return outcomes and figures of a decision and its range, without sentences and citations.

    Parameters
    ----------
    data : mapping
        Holds ``decision`` and ``range`` as `results` makes them.

    Returns
    -------
    dict
        ``decision``, ``positions``, ``joints``, ``faces``, ``findings``,
        ``variables`` and ``sizes``; findings and sizes in an order of their own,
        and sizes one line per position, because sizes with equal sentences share a row.
    """
    decision, covered = data["decision"], data["range"]
    return {
        "decision": {k: decision[k] for k in ("case", "as_of", "decision_rule", *_VERDICT)},
        "positions": _cut(decision["positions"], _POSITION),
        "joints": _cut(decision["joints"], _JOINT),
        "faces": _cut(decision["faces"], _FACE),
        "findings": sorted(_cut(decision["findings"], _FINDING)),
        "variables": _cut(covered["variables"], ("actual", "qualified")),
        "sizes": sorted(line for row in covered["sizes"] for line in _size_lines(row)),
    }


def _cut(rows: Iterable[Mapping[str, Any]], keys: tuple[str, ...]) -> list[list[Any]]:
    return [[row[key] for key in keys] for row in rows]


def _size_lines(row: Mapping[str, Any]) -> list[list[str]]:
    # What limits a covered size is its smallest margin, which is told in a sentence only.
    rule = "" if row["outcome"] == "met" else row["rule"]
    told = [row["outcome"], row["why"], rule, row.get("brazed", "")]
    return [[row["size"], row["tube"], row["fitting"], p, *told] for p in row["positions"]]


def acts_of(data: Mapping[str, Any]) -> tuple[Act, ...]:
    """Return the acts of a record's data, checked to be canonical."""
    return tuple(Act.from_bytes(canonical_json(a)) for a in data["acts"])


def _plain(act: Act) -> dict[str, Any]:
    import json

    loaded: dict[str, Any] = json.loads(act.to_bytes())
    return loaded


def _names(case: JudgedCase) -> dict[str, dict[str, str]]:
    """Return person -> name, salt and commitment, so that a checker can open the commitments.

    A name that was removed from the ledger is left out.
    """
    side = case.loaded.log.side_records()
    found = {}
    for person in case.judged.judgement.evidence.people.values():
        kept = side.get(person.commitment)
        if kept is None:
            continue
        found[person.id] = {
            "name": kept.value,
            "salt": kept.salt.hex(),
            "commitment": person.commitment,
        }
    return found
