"""What the check of a received record found, as plain values."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Verdict, combine

if TYPE_CHECKING:
    from cryptography.x509 import Certificate


@dataclass(frozen=True)
class AttachedFile:
    """A file found inside the PDF."""

    name: str
    data: bytes
    mime: str
    relationship: str

    @property
    def sha256(self) -> str:
        """SHA-256 of the bytes, in hexadecimal."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True)
class SignatureSeen:
    """One signature as the file tells it; nothing here is proved by itself."""

    field: str
    name: str
    reason: str
    signed_at: datetime | None
    certificate: Certificate
    end: int


@dataclass(frozen=True)
class ContainerReport:
    """The check of one file.

    Parameters
    ----------
    findings : tuple of Finding
        One for each check, in the order of `CHECKS`; the rule is the name of the check.
    attachments : tuple of AttachedFile
    signatures : tuple of SignatureSeen
        In the order in which they were made.
    number : str
        Record number that the document's metadata claim.
    payload_sha256 : str
        SHA-256 of the complete data that the metadata claim.
    file_sha256 : str
        SHA-256 of the whole file, to compare with the ledger.
    """

    findings: tuple[Finding, ...]
    attachments: tuple[AttachedFile, ...]
    signatures: tuple[SignatureSeen, ...]
    number: str
    payload_sha256: str
    file_sha256: str

    @property
    def verdict(self) -> Verdict:
        """All findings together."""
        return combine(self.findings)

    def outcome_of(self, check: str) -> Outcome:
        """Outcome of the check with this name."""
        return next(f.outcome for f in self.findings if f.rule == check)

    def attachment(self, name: str) -> AttachedFile | None:
        """Return the attachment with this name, or None."""
        return next((a for a in self.attachments if a.name == name), None)


@dataclass(frozen=True)
class Comparison:
    """Whether a signed file starts with the bytes of a newly typeset one."""

    outcome: Outcome
    message: Message
    first_difference: int | None
