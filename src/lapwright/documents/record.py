"""The qualification record as a PDF, unsigned; signing comes after (`sign.py`)."""

from __future__ import annotations

import hashlib
from datetime import datetime

from .errors import AttachmentRefused
from .labels import RECORD_LABELS, take_labels
from .sheets import DATA_FILE, Attachment, RecordSheet
from .typeset import typeset


def typeset_record(
    sheet: RecordSheet, *, attachments: list[Attachment], issued_at: datetime
) -> bytes:
    """Typeset a qualification record.

    The first page is a summary, results and the list of sizes follow, the last
    page holds signatures, the acceptance by later employers and how to check.
    Long lists run on to further pages.

    Parameters
    ----------
    sheet : RecordSheet
        Words to print.
    attachments : list of Attachment
        Files inside the PDF: the complete data as `DATA_FILE`, the rule rows used, the overlays.
    issued_at : datetime
        Document date, with its offset.

    Returns
    -------
    bytes
        PDF/A-3a and PDF/UA-1; equal input gives equal bytes.

    Raises
    ------
    LabelsMissing, GlyphMissing, PictureRefused, AttachmentRefused, TimeRefused, TypesettingRefused
    """
    _check_data(sheet, attachments)
    labels = take_labels(sheet.labels, RECORD_LABELS)
    return typeset("record.typ", sheet, labels=labels, attachments=attachments, made_at=issued_at)


def _check_data(sheet: RecordSheet, attachments: list[Attachment]) -> None:
    """Refuse pages that name other data than the attached ones."""
    found = [hashlib.sha256(a.data).hexdigest() for a in attachments if a.name == DATA_FILE]
    if found != [sheet.payload_sha256]:
        raise AttachmentRefused(
            "the pages name other data than the attached ones",
            got=sheet.payload_sha256 or "no SHA-256",
            where=DATA_FILE,
            expected=", ".join(found) or f"an attachment {DATA_FILE}",
            do="Attach the complete data and print their SHA-256.",
        )
