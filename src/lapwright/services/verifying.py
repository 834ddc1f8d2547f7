"""Check a record offline, on any machine, and say in words what holds and what does not.

Container and signature → attachment against print → decision recomputed under
the attached rule rows → those rows against the adopted editions and the shipped
rules → pictures and names against what the data bind → place in the ledger →
token → whose signatures stand on it → the ledger, where it is at hand. Each
check answers for itself.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright.core.acts import commitment
from lapwright.core.errors import LapwrightError
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.ledger.log import Log
from lapwright.ledger.trust import Trust

from .casereport import SHAPES
from .ledgerchecks import certified_note, ledger_findings
from .placecheck import check_place
from .recorddata import overlay_digests, record_bytes, skeleton
from .recordfile import (
    RecordParts,
    inspected,
    parts_of,
    read_file,
)
from .recordrows import name_of
from .rulescheck import check_rules, kept_results, parts_that_differ
from .signaturewords import certified_in_file, signature_lines, signature_rows
from .text import outcome_word, say, word
from .trusting import read_trusted

if TYPE_CHECKING:
    from lapwright.documents.report import ContainerReport, SignatureSeen


@dataclass(frozen=True)
class VerifyReport:
    """Every check with its answer, and what the record says of itself."""

    path: str
    number: str
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]
    file_sha256: str
    signatures: tuple[dict[str, str], ...] = ()

    @property
    def outcome(self) -> Outcome:
        """Not met if one check failed; open if one is open; else met."""
        kinds = {f.outcome for f in self.findings}
        if Outcome.NOT_MET in kinds:
            return Outcome.NOT_MET
        return Outcome.UNDETERMINED if Outcome.UNDETERMINED in kinds else Outcome.MET

    @property
    def exit_status(self) -> int:
        """0 unless a check failed."""
        return 1 if self.outcome is Outcome.NOT_MET else 0

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document."""
        return {
            "file": self.path,
            "record": self.number,
            "file_sha256": self.file_sha256,
            "outcome": self.outcome.value,
            "says": word(_SUMMARY[self.outcome]),
            "notes": list(self.notes),
            "signatures": list(self.signatures),
            "checks": [
                {
                    "check": f.rule,
                    "outcome": f.outcome.value,
                    "why": f.why.value if f.why else "",
                    "says": say(f.message),
                }
                for f in self.findings
            ],
        }

    def lines(self) -> Iterator[str]:
        """Yield the report as lines for a terminal."""
        yield word("verify.head", number=self.number or "?", path=self.path)
        for finding in self.findings:
            yield (
                f"  {SHAPES[finding.outcome]} {outcome_word(finding.outcome, finding.why)}: "
                f"{say(finding.message)}"
            )
        yield from (f"  {line}" for line in signature_lines(self.signatures))
        yield from (f"  {note}" for note in self.notes)
        yield word(_SUMMARY[self.outcome])


_SUMMARY = {
    Outcome.MET: "verify.met",
    Outcome.NOT_MET: "verify.not_met",
    Outcome.UNDETERMINED: "verify.open",
}


def verify_file(path: Path, trust: Sequence[Path], *, log: Log | None = None) -> VerifyReport:
    """Check a record's PDF against trust files and, where it is at hand, the ledger.

    Parameters
    ----------
    path : Path
        The record.
    trust : sequence of Path
        The issuer's ``trust.pem`` (certificate and token key), and certificates
        of those who signed later.
    log : Log, optional
        The issuer's ledger: whether the file is its latest, or was withdrawn.

    Raises
    ------
    VerifyTrustMissing
        If a trust file cannot be read.
    NotARecord, LapwrightError
        If the file is no record at all.
    """
    trusted = read_trusted(trust)
    data = read_file(path)
    report = inspected(data, str(path), trusted.certificates)
    findings = list(report.findings)
    digest = hashlib.sha256(data).hexdigest()
    notes = [] if log is not None else [word("verify.later")]
    try:
        parts = parts_of(report, str(path))
    except LapwrightError as fault:
        findings.append(
            _finding("record.data", Outcome.NOT_MET, Message("verify.no_data", why=str(fault)))
        )
    else:
        first = report.signatures[0] if report.signatures else None
        issuer = trusted.programme_of(first.certificate if first else None)
        findings += _checks(parts, data, issuer)
        if log is not None:
            findings += _ledger(log, parts, digest, first, issuer=issuer)
        notes = [*_notes(parts), *_certified(log, parts, report), *notes]
    rows = signature_rows(report.signatures, trusted.certificates)
    return VerifyReport(
        str(path), report.number, tuple(findings), tuple(notes), digest, tuple(rows)
    )


def _ledger(
    log: Log, parts: RecordParts, digest: str, first: SignatureSeen | None, *, issuer: Trust
) -> list[Finding]:
    at, public = first.signed_at if first else None, issuer.token_key
    try:
        return list(ledger_findings(log, parts, digest, at, public=public))
    except _DAMAGED as fault:
        told = Message("verify.damaged", why=_plainly(fault))
        return [_finding("ledger.file", Outcome.NOT_MET, told)]


def _certified(log: Log | None, parts: RecordParts, report: ContainerReport) -> Iterator[str]:
    """Tell whether the employer has certified it, by the ledger or by the file alone."""
    if log is not None:
        with suppress(*_DAMAGED):  # the checks say so
            yield certified_note(log, parts)
    elif not certified_in_file(report.signatures):
        yield word("record.awaiting")


# What attached data that are no data of a record can raise, wherever they are read.
_DAMAGED = (
    LapwrightError,
    AttributeError,
    LookupError,
    StopIteration,
    TypeError,
    ValueError,
)


def _checks(parts: RecordParts, pdf: bytes, trusted: Trust) -> Iterator[Finding]:
    for check in (
        _digest,
        _print_check(pdf),
        _decision,
        _rules,
        _overlays,
        _names,
        _tree(trusted),
        _token(trusted),
    ):
        try:
            yield check(parts)
        except _DAMAGED as fault:
            yield _finding(
                "record.data",
                Outcome.NOT_MET,
                Message("verify.damaged", why=_plainly(fault)),
            )


def _plainly(fault: Exception) -> str:
    if isinstance(fault, LapwrightError):
        return str(fault)
    return word("verify.damaged.part", part=str(fault) or "–")


def _digest(parts: RecordParts) -> Finding:
    found = hashlib.sha256(record_bytes(parts.data)).hexdigest()
    act = parts.issue["act"]["body"]
    same = found == parts.issue["payload_sha256"] == act["payload_sha256"]
    return _yes_no(
        "record.digest",
        same,
        Message("verify.digest", sha=found[:16]),
        Message("verify.digest.other", sha=found[:16]),
    )


def _print_check(pdf: bytes) -> Any:
    def check(parts: RecordParts) -> Finding:
        from lapwright.documents.container import same_print

        from .sealing import made_by, typeset

        made = parts.issue["made_by"]
        here = made_by()
        if made != here:
            return _finding(
                "record.print",
                Outcome.UNDETERMINED,
                Message("verify.print.unchecked", made=_versions(made), here=_versions(here)),
                Why.NEEDS_DATA,
            )
        again, kept = parts.again, kept_results(parts)
        # The same version writes the same sentences; under another one only figures are compared.
        if again != kept and skeleton(again) == skeleton(kept):
            return _finding("record.print", Outcome.NOT_MET, Message("verify.print.words"))
        same = same_print(pdf, typeset(parts.data, parts.rules, parts.issue, parts.overlays))
        return _finding("record.print", same.outcome, same.message)

    return check


def _versions(made: dict[str, str]) -> str:
    return ", ".join(f"{k} {v}" for k, v in sorted(made.items()))


def _decision(parts: RecordParts) -> Finding:
    again, kept = skeleton(parts.again), skeleton(kept_results(parts))
    return _yes_no(
        "record.decision",
        again == kept,
        Message("verify.decision"),
        Message("verify.decision.other", parts=parts_that_differ(again, kept)),
    )


def _rules(parts: RecordParts) -> Finding:
    outcome, message, why = check_rules(parts)
    return _finding("record.rules", outcome, message, why)


def _overlays(parts: RecordParts) -> Finding:
    """Compare the attached pictures with the digests that the data bind, both ways."""
    bound = parts.data.get("overlays")
    if bound is None:
        told = Message("verify.overlays.unbound")
        return _finding("record.overlays", Outcome.UNDETERMINED, told, Why.NEEDS_DATA)
    found = overlay_digests(parts.overlays)
    wrong = sorted(f for f in bound.keys() | found.keys() if bound.get(f) != found.get(f))
    return _yes_no(
        "record.overlays",
        not wrong,
        Message("verify.overlays", count=str(len(bound))),
        Message("verify.overlays.other", faces=", ".join(wrong)),
    )


def _commitments(parts: RecordParts) -> dict[str, str]:
    """Return person -> commitment of everybody who was enrolled."""
    return {
        a["body"]["person"]: a["body"]["name_commitment"]
        for a in parts.data["acts"]
        if a["type"] == "PersonEnrolled"
    }


def _names(parts: RecordParts) -> Finding:
    committed = _commitments(parts)
    wrong = [
        person
        for person, row in parts.data["names"].items()
        if committed.get(person) != commitment(row["name"], bytes.fromhex(row["salt"]))
    ]
    return _yes_no(
        "record.names",
        not wrong,
        Message("verify.names"),
        Message("verify.names.other", people=", ".join(wrong)),
    )


def _tree(trusted: Trust) -> Any:
    def check(parts: RecordParts) -> Finding:
        outcome, message = check_place(parts, trusted)
        return _finding("record.tree", outcome, message)

    return check


def _token(trusted: Trust) -> Any:
    def check(parts: RecordParts) -> Finding:
        from lapwright.documents.token import read_token

        try:
            claims = read_token(parts.issue["token"], trusted.token_key)
        except LapwrightError:
            return _finding("record.token", Outcome.NOT_MET, Message("verify.token.key"))
        same = (claims.id, claims.rev, claims.payload_sha256) == (
            parts.data["number"],
            parts.data["revision"],
            parts.issue["payload_sha256"],
        )
        return _yes_no("record.token", same, Message("verify.token"), Message("verify.token.other"))

    return check


def _notes(parts: RecordParts) -> Iterator[str]:
    """Tell names that were taken out."""
    try:
        gone = [p for p in _commitments(parts) if p not in parts.data["names"]]
        people = ", ".join(name_of(parts.data, person) for person in gone)
    except _DAMAGED:
        return  # the check of the names says so
    if gone:
        yield word("verify.names.removed", count=str(len(gone)), people=people)


def _finding(rule: str, outcome: Outcome, message: Message, why: Why | None = None) -> Finding:
    return Finding(rule, Subject("record", ""), outcome, message, why)


def _yes_no(rule: str, holds: object, good: Message, bad: Message) -> Finding:
    return _finding(rule, Outcome.MET if holds else Outcome.NOT_MET, good if holds else bad)
