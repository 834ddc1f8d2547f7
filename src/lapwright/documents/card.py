"""The sheet of scale cards as a PDF: true size, and asking viewers not to scale it.

The cards say what they are; the sheet says how to print, measure and cut them.
Its date is that of the card's version, so that the same version gives the same
bytes on every machine. After typesetting, the file's viewer preference "no page
scaling" is set (ISO 32000-1, table 150, PrintScaling); a person still has to
measure the check lines, because many print paths ignore it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO

from .labels import take_labels
from .typeset import typeset

MADE_AT = datetime(2026, 1, 1, tzinfo=UTC)
CARD_LABELS: tuple[str, ...] = (
    "record.card.across",
    "record.card.alongside",
    "record.card.mark-across",
    "record.card.mark-along",
    "record.card.measured",
    "record.card.printed-by",
)


@dataclass(frozen=True)
class PrintedCard:
    """One card: name, what it is for, board size and ``parts``, dark (x, y, w, h), all in mm.

    ``alt`` is read out instead of the board; ``ruler_mm`` is the length of its ruler.
    """

    name: str
    use: str
    alt: str
    width_mm: float
    height_mm: float
    ruler_mm: int
    parts: tuple[tuple[float, float, float, float], ...]


@dataclass(frozen=True)
class CardSheet:
    """A sheet: ``rows`` of cards, each row several copies of one (``copies``, same order).

    ``steps`` say how to print and use it, ``small`` what the markers are.
    """

    title: str
    version: str
    steps: tuple[str, ...]
    small: str
    check_mm: int
    rows: tuple[PrintedCard, ...]
    copies: tuple[int, ...]
    labels: Mapping[str, str]
    paper: str = "us-letter"
    lang: str = "en"
    region: str = "US"


def typeset_card(sheet: CardSheet) -> bytes:
    """Typeset a sheet of scale cards.

    Parameters
    ----------
    sheet : CardSheet
        What to print.

    Returns
    -------
    bytes
        PDF/A-3a and PDF/UA-1, one page; equal input gives equal bytes.

    Raises
    ------
    LabelsMissing, GlyphMissing, TypesettingRefused
    """
    labels = take_labels(sheet.labels, CARD_LABELS)
    pdf = typeset("card.typ", sheet, labels=labels, attachments=[], made_at=MADE_AT)
    return _unscaled(pdf)


def _unscaled(pdf: bytes) -> bytes:
    """Ask viewers to print at true size; appended, so that nothing typeset is touched."""
    from pyhanko.pdf_utils import generic

    from .pades import RecordWriter

    writer = RecordWriter(BytesIO(pdf))
    wishes = writer.root["/ViewerPreferences"]
    wishes[generic.pdf_name("/PrintScaling")] = generic.pdf_name("/None")
    writer.update_root()  # type: ignore[no-untyped-call]
    out = BytesIO()
    writer.write(out)  # type: ignore[no-untyped-call]
    return out.getvalue()
