"""Whose key signed: one key, and one certificate, signs for one person in the whole ledger."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

from lapwright.core.acts import Act
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.ledger.log import Log

from .errors import KeyOfAnother
from .programme import name_in
from .signaturewords import fingerprint

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

    from lapwright.documents.report import SignatureSeen

_SIGNED = ("RecordCertified", "RecordAccepted")
_MARKS = ("certificate_sha256", "key_sha256")


def key_digest(certificate: Certificate) -> str:
    """Return the SHA-256 of a certificate's public key (DER), whatever else it says."""
    import hashlib

    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    public = certificate.public_key()
    der = public.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return hashlib.sha256(der).hexdigest()


def must_be_own_key(log: Log, by: str, certificate: Certificate) -> None:
    """Refuse a key that has signed for somebody else.

    Parameters
    ----------
    log : Log
        The ledger.
    by : str
        Id of the person who is about to sign.
    certificate : Certificate
        The certificate of the key.

    Raises
    ------
    KeyOfAnother
    """
    marks = (fingerprint(certificate), key_digest(certificate))
    other = next((a for a in _with(log, marks) if a.body["by"] != by), None)
    if other is None:
        return
    raise KeyOfAnother(
        "a key that has signed for another person",
        got=f"{by}, with the key of {name_in(log, other.body['by'])} ({marks[0][:16]})",
        where=f"{other.body['record']}-r{other.body['revision']}",
        expected="a key that the signer alone holds",
        do="Let each person make a key of their own; if the earlier signature was wrong, "
        "withdraw that record.",
    )


def signed_for_others(log: Log, act: Act) -> Iterator[Act]:
    """Yield the signatures that the same key or certificate made for another person.

    Parameters
    ----------
    log : Log
        The ledger.
    act : Act
        A certification or an acceptance by key.
    """
    marks = tuple(act.body[m] for m in _MARKS if m in act.body)
    yield from (a for a in _with(log, marks) if a.body["by"] != act.body["by"])


def _with(log: Log, marks: Sequence[str]) -> Iterator[Act]:
    wanted = [mark.encode() for mark in marks]
    for entry in log.entries():
        if any(mark in entry.raw for mark in wanted):
            act = entry.act
            if act.type in _SIGNED and {act.body.get(m) for m in _MARKS} & set(marks):
                yield act


def shared_in_file(signatures: Sequence[SignatureSeen]) -> Iterator[Finding]:
    """Yield a held finding for two later signatures under one key that claim two names.

    Parameters
    ----------
    signatures : sequence of SignatureSeen
        As read from the file; the first is the programme's.
    """
    for one, two in combinations(list(signatures)[1:], 2):
        if one.name != two.name and key_digest(one.certificate) == key_digest(two.certificate):
            told = Message("verify.signature.shared", name=one.name or "–", other=two.name or "–")
            subject = Subject("record", "")
            yield Finding("record.keys", subject, Outcome.UNDETERMINED, told, Why.HOLD)
