"""Check what a ledger hands out: an export, a proof, a record's bare token; or else a record.

What it is is seen from the file itself. An export is checked by the very module
that it carries as ``check.py``.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from lapwright.core.acts import canonical_json
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.ledger import checker
from lapwright.ledger.errors import NothingToCheck, ProofRefused
from lapwright.ledger.heads import SignedHead
from lapwright.ledger.log import Log
from lapwright.ledger.tree import TreeHead, proves_consistency, proves_inclusion
from lapwright.ledger.trust import Trust

from .ledgerproofs import FORMAT
from .text import word
from .trusting import read_trusted
from .verifying import VerifyReport, verify_file

_TOKEN = re.compile(r"(?:.*#)?[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+", re.DOTALL)
_MOST = 1 << 24  # bytes of a proof or a token
_MOST_FAULTS = 20
_OUTCOMES = {"met": Outcome.MET, "not met": Outcome.NOT_MET, "open": Outcome.UNDETERMINED}
Tell = Callable[[str], None]


@dataclass(frozen=True)
class LedgerReport(VerifyReport):
    """Every check of an export, a proof or a token with its answer."""

    kind: str = "export"

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document."""
        told = super().as_dict()
        for key in ("record", "signatures"):
            told.pop(key, None)
        return {"kind": self.kind} | told

    def lines(self) -> Iterator[str]:
        """Yield the report as lines for a terminal."""
        yield word(f"verify.{self.kind}.head", path=self.path)
        yield from islice(super().lines(), 1, None)


def verify_any(
    path: Path, trust: Sequence[Path], *, log: Log | None = None, tell: Tell = lambda _: None
) -> VerifyReport:
    """Check a record, an export of a ledger, a proof or a bare token.

    Parameters
    ----------
    path : Path
        A file, a folder, or the text of a token.
    trust : sequence of Path
        The issuer's ``trust.pem``, and certificates of later signers of a record.
    log : Log, optional
        The ledger, asked whether a record is its latest.
    tell : callable, optional
        Told how far it has come.

    Raises
    ------
    NothingToCheck, ProofRefused, TokenRefused, NotARecord
        If it is nothing that can be checked.
    VerifyTrustMissing
        If a trust file cannot be read; an export is checked without one, and stays open.
    """
    if is_export(path):
        return _verify_export(path, trust, tell)
    text = _text(path)
    if text.startswith("{"):
        return _verify_proof(path, text, _programmes(trust))
    if _TOKEN.fullmatch(text):
        return _verify_token(path, text, _programmes(trust))
    return verify_file(path, trust, log=log)


def is_export(path: Path) -> bool:
    """Say whether a path is a folder or a zip, which only an export can be."""
    return path.is_dir() or _starts(path, b"PK\x03\x04")


def _programmes(trust: Sequence[Path]) -> dict[str, Trust]:
    """Return key id -> programme of the trust files."""
    return {found.key_id: found for found in read_trusted(trust).programmes}


def _starts(path: Path, magic: bytes) -> bool:
    try:
        with path.open("rb") as stream:
            return stream.read(len(magic)) == magic
    except (OSError, ValueError):
        return False


def _text(path: Path) -> str:
    """Return the text of a small file, or the words given where there is no file."""
    try:
        with path.open("rb") as stream:
            return stream.read(_MOST).decode().strip()
    except UnicodeDecodeError:
        return ""
    except (OSError, ValueError):
        return str(path)


# ------------------------------------------------------------------ exports


def _verify_export(path: Path, trust: Sequence[Path], tell: Tell) -> LedgerReport:
    if path.is_dir() and not (path / checker.MANIFEST).is_file():
        raise NothingToCheck(
            "a folder of a kind that cannot be checked",
            got=f"no {checker.MANIFEST} in it",
            expected="an export of a ledger",
            where=str(path),
            do="Name the export's own folder; a case folder is judged with 'lapwright judge'.",
        )
    known = _programmes(trust) if trust else {}
    keys = [found.token_key.public_bytes_raw() for found in known.values()]
    checked = checker.check(path, keys=keys, tell=tell)
    findings = [finding for step in checked.steps for finding in _findings(step)]
    return _report("export", path, findings, [word("verify.export.later")])


def _findings(step: checker.Step) -> Iterator[Finding]:
    if not step.faults:
        yield _finding(step.name, step.outcome, Message("verify.ledger.says", says=step.says))
    for fault in step.faults[:_MOST_FAULTS]:
        told = Message("verify.export.fault", file=fault.file, says=fault.says)
        yield _finding(step.name, "not met", told)
    more = len(step.faults) - _MOST_FAULTS
    if more > 0:
        yield _finding(step.name, "not met", Message("verify.export.more", count=str(more)))


# ------------------------------------------------------------------ proofs


def _verify_proof(path: Path, text: str, known: dict[str, Trust]) -> LedgerReport:
    try:
        document = json.loads(text)
        if not isinstance(document, dict) or document.get("format") != FORMAT:
            raise ValueError(str(document.get("format") if isinstance(document, dict) else "text"))
        head = SignedHead.from_dict(document["head"])
        findings = [_head_finding(head, known), *_proved(document, head.head)]
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
        raise ProofRefused(
            "not a proof of a ledger",
            got=str(fault) or type(fault).__name__,
            expected=f"a file of 'lapwright ledger prove', {FORMAT}",
            where=str(path),
            do="Ask for the proof again, or check it with the version that made it.",
        ) from None
    return _report("proof", path, findings, [word("verify.proof.compare")])


def _head_finding(head: SignedHead, known: dict[str, Trust]) -> Finding:
    told = {"size": str(head.size), "root": head.root, "at": head.at, "key": head.key}
    trusted = known.get(head.key)
    if trusted is not None and head.holds(trusted.token_key) == "yes":
        return _finding("head", "met", Message("verify.proof.signed", **told))
    return _finding(
        "head", "not met", Message("verify.proof.unsigned", key=head.key, trust=", ".join(known))
    )


def _proved(document: Mapping[str, Any], head: TreeHead) -> Iterator[Finding]:
    if "inclusion" in document:
        found = document["inclusion"]
        raw = canonical_json(found["act"])
        told = {"entry": found["entry"], "type": found["act"]["type"]}
        holds = proves_inclusion(raw, _path(found), index=int(found["entry"]), head=head)
        good = Message("verify.proof.entry", act=hashlib.sha256(raw).hexdigest(), **told)
        bad = Message("verify.proof.entry.other", **told)
        yield _finding("inclusion", "met" if holds else "not met", good if holds else bad)
    if "consistency" in document:
        found = document["consistency"]
        told = {"size": found["size"], "root": found["root"]}
        first = TreeHead(int(found["size"]), bytes.fromhex(found["root"]))
        holds = proves_consistency(_path(found), first=first, second=head)
        good = Message("verify.proof.growth", **told)
        bad = Message("verify.proof.growth.other", **told)
        yield _finding("consistency", "met" if holds else "not met", good if holds else bad)


def _path(found: Mapping[str, Any]) -> list[bytes]:
    return [bytes.fromhex(step) for step in found["path"]]


# ------------------------------------------------------------------ tokens


def _verify_token(path: Path, text: str, known: dict[str, Trust]) -> LedgerReport:
    from lapwright.documents.token import key_of, read_token

    trusted = known.get(key_of(text)) or next(iter(known.values()))
    claims = read_token(text, trusted.token_key)
    told = Message(
        "verify.token.bare",
        record=claims.id,
        revision=claims.rev,
        digest=claims.payload_sha256,
        key=claims.kid,
    )
    shown = path if path.is_file() else Path(f"…{text[-12:]}")
    return _report("token", shown, [_finding("token", "met", told)], [word("verify.token.note")])


def _report(kind: str, path: Path, findings: list[Finding], notes: list[str]) -> LedgerReport:
    digest = hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else ""
    return LedgerReport(str(path), "", tuple(findings), tuple(notes), digest, kind=kind)


def _finding(name: str, outcome: str, message: Message) -> Finding:
    why = Why.HOLD if outcome == "open" else None
    return Finding(f"ledger.{name}", Subject("ledger", ""), _OUTCOMES[outcome], message, why)
