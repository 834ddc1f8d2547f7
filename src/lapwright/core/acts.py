"""Acts: what a named person did on a date, as canonical bytes.

An act is one ledger line. Its body is text, lists and mappings only (no
numbers, no truth values, no nulls), so that the same act has the same bytes on
every machine; quantities stand as decimal text with their unit. Unknown body
keys are kept: an older reader must not break a newer act's hash. Names never
stand in a body; `commitment` puts a salted digest there and the name lives in
a side record that can be deleted.

Reading back is strict and quick: the bytes are parsed once, written again from
what was parsed and compared, so that no second form of an act passes. An act
keeps the bytes it was read from; they are what its digest names.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Any

from lapwright import __version__

from .errors import ActFromNewer, ActRefused, MarkRefused

Body = Mapping[str, Any]

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


# (type, version) -> the version of this program that first wrote it. Acts in this table carry
# it as ``needs``, so that an older program can say which version reads them. Everything that
# the first release writes stands outside: add a line for whatever comes later.
SINCE: dict[tuple[str, int], str] = {}
_ALWAYS = {"type", "version", "body", "happened_on", "recorded_by", "recorded_at"}
_FIELDS = _ALWAYS | {"happened_at", "files", "stream", "needs"}


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
        kept: bytes | None = self.__dict__.get("_raw")
        if kept is None:
            kept = canonical_json(_parts(self))
            self.__dict__["_raw"] = kept
        return kept

    @classmethod
    def from_bytes(cls, raw: bytes) -> Act:
        """Read an act back from its canonical bytes.

        Raises
        ------
        ActRefused
            If the bytes are not the canonical form of an act.
        ActFromNewer
            If they are, of an act that only a later version of this program knows.
        """
        try:
            parts = json.loads(raw.decode())
            again = canonical_json(parts)
        except (ValueError, RecursionError) as fault:
            raise _refused("the bytes are not an act", repr(raw[:80])) from fault
        if again != raw:
            raise _refused("the bytes are not in canonical form", repr(raw[:80]))
        try:
            return _read(parts, raw)
        except (ValueError, KeyError, TypeError, AttributeError) as fault:
            raise _refused("the bytes are not an act", repr(raw[:80])) from fault

    def lifted(self, body: Body, version: int) -> Act:
        """Return this act with its body in the shape of another version; nothing is checked.

        Parameters
        ----------
        body : mapping
            The body, made from that of this act.
        version : int
            Version of its shape.
        """
        made: Act = object.__new__(Act)
        made.__dict__.update(self.__dict__, body=body, version=version)
        made.__dict__.pop("_raw", None)
        return made

    @property
    def sha256(self) -> str:
        """Digest of the canonical bytes; names the act."""
        return hashlib.sha256(self.to_bytes()).hexdigest()


# What holds itself cannot be parsed from bytes and is no act, so that no look-out is kept for it.
_ENCODE = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, check_circular=False
).encode


def canonical_json(value: object) -> bytes:
    """Return compact JSON with sorted keys as UTF-8."""
    return _ENCODE(value).encode()


def _parts(act: Act) -> dict[str, Any]:
    """Return what the bytes of an act hold."""
    parts: dict[str, Any] = {
        "type": act.type,
        "version": str(act.version),
        "body": act.body,
        "happened_on": act.happened_on.isoformat(),
        "recorded_by": act.recorded_by,
        "recorded_at": _instant_text(act.recorded_at),
    }
    if act.happened_at is not None:
        parts["happened_at"] = act.happened_at.isoformat()
    if act.files:
        parts["files"] = list(act.files)
    if act.stream:
        parts["stream"] = act.stream
    needs = SINCE.get((act.type, act.version))
    if needs:
        parts["needs"] = needs
    return parts


def _read(parts: Any, raw: bytes) -> Act:
    """Return the act of parsed canonical bytes; every field must be in its one form."""
    type_, version = parts["type"], parts["version"]
    number = int(version)
    _must_be_known(parts, type_, number)
    body, by, stream = parts["body"], parts["recorded_by"], parts.get("stream", "")
    at, files = parts.get("happened_at"), tuple(parts.get("files", ()))
    odd = (
        type(body) is not dict
        or type(by) is not str
        or type(stream) is not str
        or str(number) != version
        or ("stream" in parts and not stream)
        or ("files" in parts and (not files or type(parts["files"]) is not list))
        or not _TEXT.issuperset(map(type, files))
        or parts.get("needs") != SINCE.get((type_, number))
    )
    if odd:
        raise ValueError("a field in another form")
    act: Act = object.__new__(Act)
    act.__dict__.update(
        type=type_,
        body=body,
        happened_on=_day(parts["happened_on"]),
        recorded_by=by,
        recorded_at=_instant(parts["recorded_at"]),
        happened_at=_moment(at) if "happened_at" in parts else None,
        files=files,
        version=number,
        stream=stream,
        _raw=raw,
    )
    _check(act)
    return act


def _must_be_known(parts: Mapping[str, Any], type_: str, version: int) -> None:
    """Refuse an act of a later program in words, before anything is made of it."""
    known = ACT_TYPES.get(type_)
    if known is not None and version <= known[0] and parts.keys() <= _FIELDS:
        return
    needs = parts.get("needs")
    with_what = f"Lapwright {needs}" if isinstance(needs, str) else "a later version of Lapwright"
    raise ActFromNewer(
        "an entry that this version of the program does not know",
        got=f"{type_} {version}",
        expected=f"an entry that Lapwright {__version__} writes",
        do=f"Open this ledger with {with_what}; its chain and tree can be checked with any.",
    )


# Many acts share their days and moments; each text is parsed once.
@lru_cache(maxsize=4096)
def _day(text: str) -> date:
    day = date.fromisoformat(text)
    if day.isoformat() != text:
        raise ValueError(text)
    return day


@lru_cache(maxsize=4096)
def _instant(text: str) -> datetime:
    at = datetime.fromisoformat(text)
    if at.tzinfo is not UTC or _instant_text(at) != text:
        raise ValueError(text)
    return at


@lru_cache(maxsize=4096)
def _moment(text: str) -> datetime:
    at = datetime.fromisoformat(text)
    if at.isoformat() != text:
        raise ValueError(text)
    return at


@lru_cache(maxsize=4096)
def _instant_text(at: datetime) -> str:
    whole = at.astimezone(UTC).replace(microsecond=0, tzinfo=None)
    return whole.isoformat() + "Z"


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


def _check(act: Act) -> None:
    known = ACT_TYPES.get(act.type)
    if known is None:
        raise _refused("no such act", act.type, expected=", ".join(sorted(ACT_TYPES)))
    newest, keys = known
    if not 1 <= act.version <= newest:
        raise _refused(
            f"no such version of {act.type}", str(act.version), expected=f"1 to {newest}"
        )
    if not isinstance(act.body, Mapping):
        raise _refused(f"the body of {act.type} is no mapping", repr(act.body))
    missing = [key for key in keys if key not in act.body] if act.version == newest else []
    if missing:
        raise _refused(
            f"the body of {act.type} lacks {', '.join(missing)}",
            ", ".join(sorted(act.body)),
            expected="all of " + ", ".join(keys),
        )
    if not _is_plain(act.body):
        _plain(act.body, act.type)
    if act.recorded_at.tzinfo is None:
        raise _refused("recorded_at has no offset", act.recorded_at.isoformat())


_TEXT = frozenset((str,))


def _is_plain(body: Body) -> object:
    """Return something true for text, lists and mappings alone; quick, and silent on where."""
    waiting: list[Any] = [body]
    while waiting:
        value = waiting.pop()
        kind = type(value)
        if kind is dict:
            if not _TEXT.issuperset(map(type, value)):
                return ""
            value = value.values()
        elif kind is not list and kind is not tuple:
            return ""
        if not _TEXT.issuperset(map(type, value)):
            waiting += [v for v in value if type(v) is not str]
    return "plain"


def _plain(value: object, where: str) -> None:
    if isinstance(value, str):
        return
    if isinstance(value, Mapping):
        for key, inner in value.items():
            if not isinstance(key, str):
                raise _refused(f"a key of {where} is not text", repr(key), expected="text")
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
