"""The booklet of deciding figures as a PDF to print, tick and sign with a pen."""

from __future__ import annotations

from datetime import datetime

from .labels import BOOKLET_LABELS, take_labels
from .sheets import BookletSheet
from .typeset import typeset


def typeset_booklet(booklet: BookletSheet, *, made_at: datetime) -> bytes:
    """Typeset the booklet.

    Each figure stands with its unit, what it decides, where it is cited and how
    it is known, beside a box to tick and a line for what one's own copy says.

    Parameters
    ----------
    booklet : BookletSheet
        Words to print.
    made_at : datetime
        Document date, with its offset.

    Returns
    -------
    bytes
        PDF/A-3a and PDF/UA-1; equal input gives equal bytes.

    Raises
    ------
    LabelsMissing, GlyphMissing, TimeRefused, TypesettingRefused
    """
    labels = take_labels(booklet.labels, BOOKLET_LABELS)
    return typeset("booklet.typ", booklet, labels=labels, attachments=[], made_at=made_at)
