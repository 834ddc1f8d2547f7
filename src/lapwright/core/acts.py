"""Acts: what a named person did on a date, as canonical bytes.

An act is one ledger line. Its body is text, lists and mappings only (no
numbers, no truth values, no nulls), so that the same act has the same bytes on
every machine; quantities stand as decimal text with their unit. Unknown body
keys are kept: an older reader must not break a newer act's hash. Names never
stand in a body; `commitment` puts a salted digest there and the name lives in
a side record that can be deleted.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from .errors import ActRefused, MarkRefused
from .times import parse_date, parse_instant

Body = Mapping[str, Any]
# made once: a ledger of a million acts is read through it
_CANONICAL = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False)

# type -> (newest version, keys a body of that version must have)
ACT_TYPES: dict[str, tuple[int, tuple[str, ...]]] = {
    "BasisAdopted": (1, ("editions", "decision_rule")),
    "RuleConfirmed": (1, ("rule", "figure", "copy")),
    "RangeTableAdopted": (1, ("table", "coupon_kind", "sizes")),
    "PersonEnrolled": (1, ("person", "name_commitment", "role")),
    "EmployerRepresentativeNamed": (1, ("person", "employer")),
    "InstrumentFiled": (1, ("instrument", "kind")),
    "MethodChecked": (2, ("method", "faces", "limits", "figures", "by", "readings_sha256")),
    "ProcedureFiled": (1, ("procedure", "revision", "pqr")),
    "SessionOpened": (1, ("case", "place", "brazer", "mark")),
    "CouponMarked": (1, ("coupon", "mark")),
    "CouponBrazed": (1, ("coupon", "tube", "fitting", "filler")),
    "ParcelReceived": (1, ("coupon",)),
    "CustodyMoved": (1, ("coupon", "to")),
    "BoreExamined": (1, ("joint", "stage")),
    "CouponExamined": (1, ("joint",)),
    "CouponSectioned": (1, ("joint", "plane")),
    "FacePrepared": (1, ("face", "joint")),
    "FaceRead": (1, ("face", "reader", "way")),
    "SpecimenTested": (1, ("specimen", "joint", "kind")),
    "TrainingGiven": (1, ("person", "what")),
    "DecisionMade": (1, ("joint", "outcome")),
    "NumberTaken": (1, ("register", "record", "revision")),
    "RecordIssued": (2, ("record", "revision", "register", "payload_sha256", "person", "case")),
    "RecordSigned": (2, ("record", "revision", "file_sha256")),
    "RecordCertified": (1, ("record", "file_sha256", "by", "way")),
    "RecordAccepted": (1, ("record", "file_sha256", "employer", "by", "comparison_sha256")),
    "RecordWithdrawn": (1, ("record", "by", "reason")),
    "PaperRecordEntered": (1, ("paper", "person", "employer", "typed_by", "provenance")),
    "PaperRecordChecked": (1, ("paper", "by", "outcome")),
    "CredentialNoted": (1, ("person", "kind", "issuer", "until")),
    "UseAttested": (1, ("person", "process", "procedure", "by")),
    "DoubtRaised": (1, ("about", "by", "reason")),
    "DoubtCleared": (1, ("about", "doubt", "by", "reason")),
    "ActCorrected": (1, ("corrects", "body", "reason")),
    "ActVoided": (1, ("voids", "reason")),
    "NameRemoved": (1, ("name_commitment", "reason")),
    "KeyChanged": (1, ("key", "becomes", "reason")),
    "LedgerClosed": (1, ("reason",)),
}


@dataclass(frozen=True)
class Act:
    """One past-tense fact.

    ``happened_on`` is the civil date at the place; ``happened_at`` carries an
    offset and stands only where hours count; ``recorded_at`` is UTC. ``stream``
    says what the act belongs to, ``case/TLH-01`` or ``programme``; empty text in
    acts written before there were streams.
    """

    type: str
    body: Body
    happened_on: date
    recorded_by: str
    recorded_at: datetime
    happened_at: datetime | None = None
    files: tuple[str, ...] = ()
    version: int = 1
    stream: str = ""

    def __post_init__(self) -> None:
        _check(self)

    def to_bytes(self) -> bytes:
        """Return the canonical bytes: compact JSON, sorted keys, UTF-8."""
        parts: dict[str, Any] = {
            "type": self.type,
            "version": str(self.version),
            "body": self.body,
            "happened_on": self.happened_on.isoformat(),
            "recorded_by": self.recorded_by,
            "recorded_at": _to_second(self.recorded_at),
        }
        if self.happened_at is not None:
            parts["happened_at"] = self.happened_at.isoformat()
        if self.files:
            parts["files"] = list(self.files)
        if self.stream:
            parts["stream"] = self.stream
        return canonical_json(parts)

    @classmethod
    def from_bytes(cls, raw: bytes) -> Act:
        """Read an act back from its canonical bytes.

        Raises
        ------
        ActRefused
            If the bytes are not the canonical form of a known act.
        """
        try:
            parts = json.loads(raw)
            at = parts.get("happened_at")
            act = cls(
                type=parts["type"],
                version=int(parts["version"]),
                body=parts["body"],
                happened_on=parse_date(parts["happened_on"]),
                recorded_by=parts["recorded_by"],
                recorded_at=parse_instant(parts["recorded_at"]),
                happened_at=datetime.fromisoformat(at) if at else None,
                files=tuple(parts.get("files", ())),
                stream=parts.get("stream", ""),
            )
        except (ValueError, KeyError, TypeError, AttributeError) as fault:
            raise _refused("the bytes are not an act", repr(raw[:80])) from fault
        if act.to_bytes() != raw:
            raise _refused("the bytes are not in canonical form", repr(raw[:80]))
        return act

    @property
    def sha256(self) -> str:
        """Digest of the canonical bytes; names the act."""
        return hashlib.sha256(self.to_bytes()).hexdigest()


def canonical_json(value: object) -> bytes:
    """Return compact JSON with sorted keys as UTF-8."""
    return _CANONICAL.encode(value).encode()


def commitment(name: str, salt: bytes) -> str:
    """Return the salted SHA-256 that stands for a personal value in act bodies.

    Parameters
    ----------
    name : str
        The personal value.
    salt : bytes
        At least 16 random or secret-derived bytes, kept beside the value.
    """
    if len(salt) < 16:
        raise ValueError("a salt has at least 16 bytes")
    return hashlib.sha256(salt + name.encode()).hexdigest()


def check_mark(mark: str, *, where: str = "") -> str:
    """Return a brazer mark, or refuse one that could be a government number.

    Raises
    ------
    MarkRefused
        Unless it is 2 to 12 capital letters and digits with a letter, and never
        four digits in a row.
    """
    if (
        not re.fullmatch(r"[A-Z0-9]{2,12}", mark)
        or not re.search(r"[A-Z]", mark)
        or re.search(r"\d{4}", mark)
    ):
        raise MarkRefused(
            "not a mark we may file",
            got=mark,
            where=where,
            expected="2 to 12 capital letters and digits, at least one letter, "
            "never four digits in a row",
            do="Give the brazer a mark made for this programme, such as QP7K, "
            "never (part of) a government number.",
        )
    return mark


def check_piece_mark(mark: str, *, where: str = "") -> str:
    """Return the mark of a coupon, or refuse one that could be a government number.

    Raises
    ------
    MarkRefused
        If it holds digits but no letter and is longer than two, or four digits in a row,
        spaces and dashes left aside.
    """
    bare = re.sub(r"[^A-Za-z0-9]", "", mark)
    if re.search(r"\d{4}", bare) or (len(bare) > 2 and not re.search(r"[A-Za-z]", bare)):
        raise MarkRefused(
            "not a coupon mark we may file",
            got=mark,
            where=where,
            expected="a short mark of the session, such as H or V2; never four digits in a row",
            do="Mark coupons with a mark of the session, never (part of) a government number.",
        )
    return mark


def _to_second(at: datetime) -> str:
    """Return an instant in UTC, ``2026-03-04T13:00:00Z``."""
    return at.astimezone(UTC).replace(microsecond=0, tzinfo=None).isoformat() + "Z"


def _check(act: Act) -> None:
    known = ACT_TYPES.get(act.type)
    if known is None:
        raise _refused("no such act", act.type, expected=", ".join(sorted(ACT_TYPES)))
    missing = [key for key in known[1] if key not in act.body]
    if act.version == known[0] and missing:
        raise _refused(
            f"the body of {act.type} lacks {', '.join(missing)}",
            ", ".join(sorted(act.body)),
            expected="all of " + ", ".join(known[1]),
        )
    _plain(act.body, act.type)
    if act.recorded_at.tzinfo is None:
        raise _refused("recorded_at has no offset", act.recorded_at.isoformat())


def _plain(value: object, where: str) -> None:
    if isinstance(value, str):
        return
    if isinstance(value, Mapping):
        for key, inner in value.items():
            _plain(inner, f"{where}.{key}")
    elif isinstance(value, list | tuple):
        for inner in value:
            _plain(inner, where)
    else:
        raise _refused(f"{where} is not text", repr(value), expected="text, lists, mappings")


def _refused(what: str, got: str, expected: str = "the form that this tool writes") -> ActRefused:
    return ActRefused(
        what, got=got, expected=expected, do="Correct the input, or restore the untouched file."
    )
