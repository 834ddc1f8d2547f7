"""Invented sheets, keys and signed records for the tests of documents."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from lapwright.documents.record import typeset_record
from lapwright.documents.sign import SignatureWords, countersign_record, sign_record
from lapwright.ledger.keys import Keys, open_keys
from unit.documents.sheet_samples import (
    HASH,
    MET,
    NOT_MET,
    OPEN,
    attachments,
    booklet,
    catalogue,
    overlay,
    record_sheet,
    worst_sheet,
)

__all__ = [
    "HASH",
    "MET",
    "NOT_MET",
    "OPEN",
    "attachments",
    "booklet",
    "catalogue",
    "overlay",
    "record_sheet",
    "worst_sheet",
]
ISSUED = datetime(2026, 3, 9, 15, 30, tzinfo=UTC)
FIRST_RUN = datetime(2026, 1, 5, 8, 0, tzinfo=UTC)


@cache
def keys(holder: str = "Fennel Bay Training Hall") -> Keys:
    """Return the keys of an invented programme, made once a test run."""
    with tempfile.TemporaryDirectory() as folder:
        return open_keys(Path(folder) / "keys", made_at=FIRST_RUN, holder=holder)


@cache
def unsigned_record() -> bytes:
    """Return the typical record before signing."""
    return typeset_record(record_sheet(), attachments=attachments(), issued_at=ISSUED)


def signed_with(pdf: bytes, pair: Keys, *, signed_at: datetime = ISSUED) -> bytes:
    """Sign with the keys given."""
    return sign_record(
        pdf,
        key=pair.signing_key,
        certificate=pair.certificate,
        signed_at=signed_at,
        reason="Issued",
        name="Maren Tollaksen",
    )


@cache
def signed_record() -> bytes:
    """Return the typical record, signed by the programme."""
    return signed_with(unsigned_record(), keys())


@cache
def certified_record() -> bytes:
    """Return the typical record with the employer's signature on top."""
    pair = keys("Quillon Pipeworks")
    return countersign_record(
        signed_record(),
        key=pair.signing_key,
        certificate=pair.certificate,
        signed_at=datetime(2026, 3, 11, 9, 0, tzinfo=UTC),
        words=SignatureWords("Certified by the employer", "Hollis Quarrender"),
    )
