"""Checking a received record, offline: container, signature, certificate, data.

Each question is answered apart, in words. A signature that "verifies" is not
enough: trailing bytes, other padding and later revisions all leave it
verifying, so the file must end where its last signature ends and be written in
the one canonical way. What no file can know is whether a later revision or a
withdrawal exists: compare `ContainerReport.file_sha256` with the ledger.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why

from .errors import ContainerUnreadable, TimeRefused
from .rawpdf import Ending, ending_of
from .report import AttachedFile, Comparison, ContainerReport, SignatureSeen
from .sheets import DATA_FILE

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

    from .opened import Claims, Judged, Opened

MAX_BYTES = 64 * 1024 * 1024
STANDARDS = ("PDF/A-3a", "PDF/UA-1")
CHECKS = (
    "container.end",
    "container.signed",
    "container.canonical",
    "container.signature",
    "container.certificate",
    "container.time",
    "container.data",
    "container.standard",
)
_EDITED = {
    "edited": Message("container.signature.edited"),
    "value": Message("container.signature.value"),
    "revision": Message("container.signature.revision"),
}
_CANONICAL = {
    "brackets": Message("container.canonical.brackets"),
    "digits": Message("container.canonical.digits"),
    "padding": Message("container.canonical.padding"),
    "encoding": Message("container.canonical.encoding"),
    "extra": Message("container.canonical.extra"),
}


def inspect_record(
    data: bytes, *, trusted: Sequence[Certificate], moment: datetime | None = None
) -> ContainerReport:
    """Check the container of a received record.

    Parameters
    ----------
    data : bytes
        The whole file.
    trusted : sequence of Certificate
        Certificates of the programmes whose signature counts.
    moment : datetime, optional
        Time of the first signature as the ledger recorded it, if known; the
        certificate is judged at that time. Without it the time written in the
        signature is taken.

    Returns
    -------
    ContainerReport
        One finding for each name of `CHECKS`, and what the file holds.

    Raises
    ------
    ContainerUnreadable
        If the bytes are no PDF, are cut off, encrypted or too large.
    TimeRefused
        If ``moment`` has no offset.
    """
    if moment is not None and moment.tzinfo is None:
        raise TimeRefused(
            "the recorded time of signing has no offset",
            got=moment.isoformat(),
            expected="a time with its offset",
            do="Give the ledger's time.",
        )
    _refuse_at_sight(data)
    ending, count = ending_of(data)
    body = data[:-count] if ending is Ending.TRAILING else data
    opened = _open(body, moment, ending)
    signatures = tuple(j.seen for j in opened.signatures)
    outcomes = (
        _end(ending, count, signatures, len(body)),
        _signed(signatures),
        _canonical(opened.signatures),
        _signature(opened.signatures),
        _certificate(signatures, trusted),
        _time(signatures, moment),
        _data(opened.claims, opened.attachments),
        _standard(opened.claims),
    )
    subject = Subject("record", opened.claims.number)
    return ContainerReport(
        findings=tuple(
            Finding(rule, subject, outcome, message, why)
            for rule, (outcome, message, why) in zip(CHECKS, outcomes, strict=True)
        ),
        attachments=opened.attachments,
        signatures=signatures,
        number=opened.claims.number,
        payload_sha256=opened.claims.payload_sha256,
        file_sha256=hashlib.sha256(data).hexdigest(),
    )


def same_print(signed: bytes, retypeset: bytes) -> Comparison:
    """Say whether a signed record shows exactly what was typeset anew from its data.

    Signing appends a revision and changes no earlier byte, and equal input
    typesets to equal bytes. So the newly typeset, unsigned record must be the
    beginning of the signed one, byte for byte. This holds only with the same
    version of the templates, fonts and typesetter; with another version the
    question stays open and the caller says "print not re-checked".

    Parameters
    ----------
    signed : bytes
        The received file.
    retypeset : bytes
        Unsigned, made again from the attached data.
    """
    if retypeset and signed[: len(retypeset)] == retypeset:
        return Comparison(Outcome.MET, Message("container.print.same"), None)
    pairs = zip(signed, retypeset, strict=False)
    place = next((i for i, (a, b) in enumerate(pairs) if a != b), min(len(signed), len(retypeset)))
    return Comparison(Outcome.NOT_MET, Message("container.print.other", place=str(place)), place)


_Answer = tuple[Outcome, Message, Why | None]


def _refuse_at_sight(data: bytes) -> None:
    if not data.startswith(b"%PDF-"):
        raise _unreadable(
            "not a PDF",
            _beginning(data),
            "a file that starts with %PDF-",
            "Give the PDF of the record as it was received.",
        )
    if len(data) > MAX_BYTES:
        raise _unreadable(
            "the file is too large",
            f"{len(data)} bytes",
            f"{MAX_BYTES} bytes or less",
            "A record is far smaller: ask for the right file.",
        )


def _beginning(data: bytes) -> str:
    """Say how a file begins: its first letters where it is text."""
    start = data[:16]
    if not start:
        return "an empty file"
    text = start.decode("ascii", "replace")
    return f"a file that starts with {text}" if text.isprintable() else "a file of another kind"


def _open(body: bytes, moment: datetime | None, ending: Ending) -> Opened:
    from .opened import open_pdf

    if ending is Ending.CUT:
        raise _unreadable(
            "the file is cut off",
            "fewer bytes than its signature covers",
            "the whole file",
            "Copy or send the file again.",
        )
    try:
        opened = open_pdf(body, moment=moment)
    except Exception:  # hostile bytes can fail in any way, all of them mean the same
        raise _unreadable(
            "the file cannot be read as a PDF",
            "bytes that hold together in no PDF",
            "a whole, undamaged file",
            "Copy or send the file again.",
        ) from None
    if opened.encrypted:
        raise _unreadable(
            "the file is encrypted",
            "an encrypted PDF",
            "a record, never encrypted",
            "Ask for the file as it was issued.",
        )
    return opened


def _unreadable(what: str, got: str, expected: str, do: str) -> ContainerUnreadable:
    return ContainerUnreadable(what, got=got, expected=expected, do=do)


def _met(message: Message) -> _Answer:
    return Outcome.MET, message, None


def _not_met(message: Message) -> _Answer:
    return Outcome.NOT_MET, message, None


def _open_question(message: Message) -> _Answer:
    return Outcome.UNDETERMINED, message, Why.NEEDS_DATA


def _end(ending: Ending, count: int, signatures: Sequence[SignatureSeen], size: int) -> _Answer:
    if ending is Ending.TRAILING:
        return _not_met(Message("container.end.trailing", count=str(count)))
    if ending is Ending.REVISION:
        return _not_met(Message("container.end.revision", count=str(count)))
    if not signatures:
        return _open_question(Message("container.end.unsigned"))
    if max(s.end for s in signatures) != size:
        return _not_met(Message("container.end.revision", count="0"))
    return _met(Message("container.end.exact"))


def _signed(signatures: Sequence[SignatureSeen]) -> _Answer:
    if not signatures:
        return _not_met(Message("container.signed.none"))
    return _met(
        Message(
            "container.signed.count",
            count=str(len(signatures)),
            names="; ".join(s.name or s.field for s in signatures),
        )
    )


def _canonical(judged: Sequence[Judged]) -> _Answer:
    if not judged:
        return _open_question(Message("container.canonical.unsigned"))
    fault = next((j.fault for j in judged if j.fault), "")
    return _not_met(_CANONICAL[fault]) if fault else _met(Message("container.canonical.met"))


def _signature(judged: Sequence[Judged]) -> _Answer:
    if not judged:
        return _open_question(Message("container.signature.unsigned"))
    broken = next((j.broken for j in judged if j.broken), "")
    return _not_met(_EDITED[broken]) if broken else _met(Message("container.signature.met"))


def _certificate(signatures: Sequence[SignatureSeen], trusted: Sequence[Certificate]) -> _Answer:
    if not signatures:
        return _open_question(Message("container.certificate.unsigned"))
    if not trusted:
        return _open_question(Message("container.certificate.none"))
    first, later = signatures[0], signatures[1:]
    if first.certificate not in trusted:
        return _not_met(Message("container.certificate.other", holder=_holder(first)))
    if not all(_may_sign_documents(s.certificate) for s in signatures if s.certificate in trusted):
        return _not_met(Message("container.certificate.usage"))
    strangers = [s for s in later if s.certificate not in trusted]
    again = [s for s in later if s.certificate == first.certificate]
    if strangers or again:
        return Outcome.UNDETERMINED, _later(strangers, again), Why.HOLD
    return _met(Message("container.certificate.met"))


def _later(strangers: Sequence[SignatureSeen], again: Sequence[SignatureSeen]) -> Message:
    """Tell signatures after the issuer's apart: by others, and by the issuer's own key again."""
    others = "; ".join(f"{s.name or '-'} ({_holder(s)})" for s in strangers)
    own = "; ".join(f"{s.name or '-'}" for s in again)
    if others and own:
        return Message("container.certificate.later_both", others=others, own=own)
    if others:
        return Message("container.certificate.later_other", others=others)
    return Message("container.certificate.later_own", own=own)


def _holder(seen: SignatureSeen) -> str:
    return seen.certificate.subject.rfc4514_string()


def _may_sign_documents(certificate: Certificate) -> bool:
    """The engine asks this of certificates below a root only; ours stand for themselves."""
    from cryptography import x509

    try:
        usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    except x509.ExtensionNotFound:
        return False
    return bool(usage.content_commitment)


def _time(signatures: Sequence[SignatureSeen], moment: datetime | None) -> _Answer:
    if not signatures:
        return _open_question(Message("container.time.unsigned"))
    for seen in signatures:
        start, end = seen.certificate.not_valid_before_utc, seen.certificate.not_valid_after_utc
        if seen.signed_at is None or not start <= seen.signed_at <= end:
            return _not_met(
                Message(
                    "container.time.life",
                    start=start.isoformat(),
                    end=end.isoformat(),
                    told=seen.signed_at.isoformat() if seen.signed_at else "-",
                )
            )
    told = signatures[0].signed_at
    if told is None or (moment is not None and abs(told - moment) > timedelta(seconds=1)):
        recorded = moment.astimezone(UTC).isoformat() if moment else "-"
        return _not_met(Message("container.time.other", told=str(told), recorded=recorded))
    if moment is None:
        return _met(Message("container.time.claimed", told=told.isoformat()))
    return _met(Message("container.time.met", told=told.isoformat()))


def _data(claims: Claims, attachments: Sequence[AttachedFile]) -> _Answer:
    names = [a.name for a in attachments]
    if len(set(names)) != len(names):
        return _not_met(Message("container.data.twice"))
    found = next((a for a in attachments if a.name == DATA_FILE), None)
    if found is None:
        return _not_met(Message("container.data.none", name=DATA_FILE))
    if found.sha256 != claims.payload_sha256:
        return _not_met(
            Message(
                "container.data.other",
                name=DATA_FILE,
                found=found.sha256,
                claimed=claims.payload_sha256 or "-",
            )
        )
    return _met(Message("container.data.met", name=DATA_FILE))


def _standard(claims: Claims) -> _Answer:
    if all(standard in claims.standards for standard in STANDARDS):
        return _met(Message("container.standard.met"))
    return _not_met(Message("container.standard.other", found=", ".join(claims.standards) or "-"))
