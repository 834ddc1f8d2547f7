"""The words a record prints, made from its attached data alone.

Pure: the same data, issue note and overlays give the same sheet, so that a
checker can typeset it again and compare. Nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.core.outcomes import Outcome
from lapwright.documents import sheets as s
from lapwright.documents.labels import RECORD_LABELS
from lapwright.documents.qr import qr_svg

from .recordrows import (
    basis_facts,
    face_rows,
    fact_rows,
    finding_rows,
    name_of,
    outcome_of,
    range_table,
    short_cite,
)
from .text import word

Data = Mapping[str, Any]


def record_sheet(
    data: Data, rules: Data, issue: Data, overlays: Mapping[str, bytes], payload_sha256: str
) -> s.RecordSheet:
    """Return the sheet of a record.

    Parameters
    ----------
    data : mapping
        The record's complete data.
    rules : mapping
        The rule rows used.
    issue : mapping
        The issue note: time, tree head, token.
    overlays : mapping
        Face id to PNG bytes of its small overlay.
    payload_sha256 : str
        SHA-256 of the complete data.
    """
    session = next(a["body"] for a in data["acts"] if a["type"] == "SessionOpened")
    decision = data["decision"]
    met = [p["position"] for p in decision["positions"] if p["outcome"] == "met"]
    qualified = ", ".join(dict.fromkeys(met))
    return s.RecordSheet(
        number=data["number"],
        revision=data["revision"],
        title=word("record.title"),
        status=word("record.awaiting"),
        issued=issue["issued_at"][:10],
        payload_sha256=payload_sha256,
        labels={i: word(i) for i in RECORD_LABELS},
        person=s.PersonBlock(
            name_of(data, session["brazer"]),
            session["mark"],
            session["employer"],
            session["place"],
            _braze_dates(data),
        ),
        decision=_headline(decision, qualified),
        decision_text=word("record.decided", positions=qualified, as_of=decision["as_of"]),
        facts=fact_rows(data),
        basis=basis_facts(data, rules),
        positions=tuple(_position(p, rules) for p in decision["positions"]),
        variables=tuple(
            s.VariableRow(
                v["variable"], v["actual"], v["qualified"], short_cite([v["cite"]]), v["note"]
            )
            for v in data["range"]["variables"]
        ),
        faces=face_rows(data, overlays),
        findings=finding_rows(data),
        ranges=range_table(data, rules),
        range_intro=word("record.range.intro"),
        cautions=tuple(
            word(f"caution.{c}")
            for c in ("governs", "certified", "safety", "scope", "accuracy", "dagger")
        ),
        unconfirmed=tuple(decision["unconfirmed"]),
        signatures=_signatures(data, session, issue),
        signatures_intro=word("record.signatures.intro"),
        acceptance=s.Acceptance(word("record.acceptance")),
        tree_head=s.TreeHeadLine(issue["tree_head"]["size"], issue["tree_head"]["root"]),
        code=s.CodePanel(
            qr_svg(issue["token"]),
            word("record.qr.alt"),
            payload_sha256[:16],
            (word("record.check.verify"), word("record.check.token"), word("record.check.code")),
        ),
        files=_files(overlays),
    )


def _headline(decision: Data, qualified: str) -> s.OutcomeWord:
    """Return the record's outcome; where a position failed, it says which ones are met."""
    if decision["outcome"] == "met":
        return outcome_of(decision)
    return s.OutcomeWord(Outcome.MET, word("record.in_part", positions=qualified))


def _braze_dates(data: Data) -> tuple[str, ...]:
    return tuple(sorted({a["happened_on"] for a in data["acts"] if a["type"] == "CouponBrazed"}))


def _position(row: Data, rules: Data) -> s.PositionRow:
    found = [r["value"] for r in rules["rows"] if r["id"] == "position.letters"]
    letters = found[0] if found else {}
    name = f"{row['position']} · {letters.get(row['position'], '')}".rstrip(" ·")
    return s.PositionRow(
        name,
        outcome_of(row),
        word("record.position.joints", joints=", ".join(row["joints"]), kind=row["coupon_kind"]),
    )


def _signatures(data: Data, session: Data, issue: Data) -> tuple[s.SignatureRow, ...]:
    roles = session["roles"]
    rows = [
        s.SignatureRow(
            word("record.sign.programme"),
            word("record.sign.programme.meaning"),
            word("record.sign.programme.who"),
            issue["issued_at"],
        )
    ]
    for role, key in (
        ("supervisor", "supervisor"),
        ("examiner", "examiners"),
        ("certifier", "certifier"),
    ):
        for person in roles.get(key, ())[:1]:
            rows.append(
                s.SignatureRow(
                    word(f"record.sign.{role}"),
                    word(f"record.sign.{role}.meaning"),
                    name_of(data, person),
                )
            )
    return tuple(rows)


def _files(overlays: Mapping[str, bytes]) -> tuple[s.AttachmentLine, ...]:
    rows = [
        s.AttachmentLine("record.json", word("record.file.data")),
        s.AttachmentLine("rules.json", word("record.file.rules")),
        s.AttachmentLine("issue.json", word("record.file.issue")),
    ]
    if overlays:
        rows.append(
            s.AttachmentLine(
                "overlay-*.png", word("record.file.overlays", count=str(len(overlays)))
            )
        )
    return tuple(rows)
