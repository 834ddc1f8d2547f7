"""Check a record offline, on any machine, and say in words what holds and what does not.

Container and signature → attachment against print → decision recomputed under
the attached rule rows → names against commitments → tree head → token →
differences from the shipped rules. Each check answers for itself.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from lapwright.core.acts import canonical_json, commitment
from lapwright.core.errors import LapwrightError
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.times import parse_date
from lapwright.ledger.tree import tree_head
from lapwright.ledger.trust import Trust, read_trust

from .casereport import SHAPES
from .errors import VerifyTrustMissing
from .recorddata import acts_of, record_bytes, results
from .recordfile import RecordParts, judge_again, parts_of, read_file
from .text import outcome_word, say, word


@dataclass(frozen=True)
class VerifyReport:
    """Every check with its answer, and what the record says of itself."""

    path: str
    number: str
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]
    file_sha256: str

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
            "notes": list(self.notes),
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
        yield from (f"  {note}" for note in self.notes)
        yield word(_SUMMARY[self.outcome])


_SUMMARY = {
    Outcome.MET: "verify.met",
    Outcome.NOT_MET: "verify.not_met",
    Outcome.UNDETERMINED: "verify.open",
}


def verify_file(path: Path, trust: Path) -> VerifyReport:
    """Check a record's PDF against an issuer's trust file.

    Parameters
    ----------
    path : Path
        The record.
    trust : Path
        The issuer's ``trust.pem`` (certificate and token key).

    Raises
    ------
    VerifyTrustMissing
        If the trust file cannot be read.
    NotARecord, LapwrightError
        If the file is no record at all.
    """
    from lapwright.documents.container import inspect_record

    try:
        trusted = read_trust(trust.read_bytes())
    except OSError as fault:
        raise VerifyTrustMissing(
            "no certificate to check against",
            got=f"{trust}",
            expected="the issuer's trust.pem",
            do=f"Ask the issuer for trust.pem and give it as --trust ({fault.strerror}).",
        ) from fault
    data = read_file(path)
    report = inspect_record(data, trusted=[trusted.certificate], moment=None)
    findings = list(report.findings)
    notes: tuple[str, ...] = ()
    try:
        parts = parts_of(report, str(path))
    except LapwrightError as fault:
        findings.append(
            _finding("record.data", Outcome.NOT_MET, Message("verify.no_data", why=str(fault)))
        )
    else:
        findings += _checks(parts, data, trusted)
        notes = tuple(_notes(parts))
    return VerifyReport(
        str(path), report.number, tuple(findings), notes, hashlib.sha256(data).hexdigest()
    )


def _checks(parts: RecordParts, pdf: bytes, trusted: Trust) -> Iterator[Finding]:
    for check in (_digest, _print_check(pdf), _decision, _names, _tree, _token(trusted)):
        try:
            yield check(parts)
        except (LapwrightError, KeyError, TypeError, ValueError, StopIteration) as fault:
            yield _finding(
                "record.data",
                Outcome.NOT_MET,
                Message("verify.damaged", why=f"{type(fault).__name__}: {fault}"),
            )


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

        from .issuing import made_by, typeset

        made = parts.issue["made_by"]
        here = made_by()
        if made != here:
            return _finding(
                "record.print",
                Outcome.UNDETERMINED,
                Message("verify.print.unchecked", made=_versions(made), here=_versions(here)),
                Why.NEEDS_DATA,
            )
        again = same_print(pdf, typeset(parts.data, parts.rules, parts.issue, parts.overlays))
        return _finding("record.print", again.outcome, again.message)

    return check


def _versions(made: dict[str, str]) -> str:
    return ", ".join(f"{k} {v}" for k, v in sorted(made.items()))


def _decision(parts: RecordParts) -> Finding:
    again = json.loads(canonical_json(results(judge_again(parts))))
    kept = {k: parts.data[k] for k in ("decision", "range")}
    return _yes_no(
        "record.decision",
        again == kept,
        Message("verify.decision"),
        Message("verify.decision.other"),
    )


def _names(parts: RecordParts) -> Finding:
    committed = {
        a["body"]["person"]: a["body"]["name_commitment"]
        for a in parts.data["acts"]
        if a["type"] == "PersonEnrolled"
    }
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


def _tree(parts: RecordParts) -> Finding:
    leaves = [a.to_bytes() for a in acts_of(parts.data)]
    leaves.append(canonical_json(parts.issue["act"]))
    head = tree_head(leaves)
    printed = parts.issue["tree_head"]
    same = (str(head.size), head.root_sha256.hex()) == (printed["size"], printed["root"])
    return _yes_no(
        "record.tree",
        same,
        Message("verify.tree", size=str(head.size)),
        Message("verify.tree.other"),
    )


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
    """Tell differences from the shipped rules, and what the record is still waiting for."""
    yield word("record.awaiting")
    yield from _rule_differences(parts)


def _rule_differences(parts: RecordParts) -> Iterator[str]:
    from lapwright.rules.rulebook import library, load_edition

    known = library()
    differing = []
    for row in parts.rules.get("rows", ()):
        if row["edition"] not in known.get(row["code"], ()):
            differing.append(f"{row['code']}/{row['edition']}/{row['id']}")
            continue
        shipped = load_edition(row["code"], row["edition"]).rule(
            row["id"], on=parse_date(row["since"])
        )
        if shipped is None or shipped.as_row() != row:
            differing.append(f"{row['code']}/{row['edition']}/{row['id']}")
    if differing:
        yield word("verify.rules.differ", count=str(len(differing)), rules=", ".join(differing[:5]))
    else:
        yield word("verify.rules.same")


def _finding(rule: str, outcome: Outcome, message: Message, why: Why | None = None) -> Finding:
    return Finding(rule, Subject("record", ""), outcome, message, why)


def _yes_no(rule: str, holds: object, good: Message, bad: Message) -> Finding:
    return _finding(rule, Outcome.MET if holds else Outcome.NOT_MET, good if holds else bad)
