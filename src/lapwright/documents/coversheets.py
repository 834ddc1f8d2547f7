"""Two papers of cover: the matrix with what nobody covers, and the foreman's sheet of a day."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from .labels import COVER_LABELS, DAILY_LABELS, take_labels
from .sheets import Attachment, Fact, FindingRow, OutcomeWord, Picture
from .typeset import typeset

COVER_FILE = "cover.json"


@dataclass(frozen=True)
class NobodyRow:
    """A class that nobody covers: how many joints, who comes nearest, what is missing."""

    id: str
    label: str
    joints: str
    decision: OutcomeWord
    nearest: str
    reason: str


@dataclass(frozen=True)
class LostRow:
    """What one person covers no longer on the later day."""

    person: str
    classes: str


@dataclass(frozen=True)
class ClassRow:
    """One class in full: what the matrix abbreviates."""

    id: str
    joint: str
    joints: str


@dataclass(frozen=True)
class CoverSheet:
    """Everything that the paper of cover prints.

    ``pages`` are the drawings of the matrix; ``later`` is the sentence above ``lost``, empty
    where no later day was asked about; ``labels`` texts of `COVER_LABELS`.
    """

    title: str
    headline: str
    facts: tuple[Fact, ...]
    pages: tuple[Picture, ...]
    nobody: tuple[NobodyRow, ...]
    nobody_intro: str
    about: tuple[FindingRow, ...]
    later: str
    lost: tuple[LostRow, ...]
    classes: tuple[ClassRow, ...]
    labels: Mapping[str, str]
    cautions: tuple[str, ...] = ()
    lang: str = "en"
    region: str = "US"
    paper: str = "us-letter"


@dataclass(frozen=True)
class DailyCell:
    """One cell of the foreman's sheet: ``outcome`` gives the shape, ``word`` stands beside it."""

    outcome: str
    word: str


@dataclass(frozen=True)
class DailyRow:
    """One kind of joint: size and tube, cup, filler and flux, flow, and a cell a person."""

    size: str
    cup: str
    filler: str
    flow: str
    cells: tuple[DailyCell, ...]


@dataclass(frozen=True)
class DailyBlock:
    """As many people as a page holds across, with a row for every kind of joint."""

    people: tuple[str, ...]
    rows: tuple[DailyRow, ...]


@dataclass(frozen=True)
class DailyReason:
    """Why a person is not simply assigned: which joints, the word, the reason."""

    person: str
    joints: str
    cell: DailyCell
    says: str


@dataclass(frozen=True)
class DailySheet:
    """The foreman's sheet; ``key`` says what the three words mean, ``ask`` whom to call."""

    title: str
    day: str
    headline: str
    key: tuple[DailyCell, ...]
    blocks: tuple[DailyBlock, ...]
    reasons: tuple[DailyReason, ...]
    ask: str
    labels: Mapping[str, str]
    cautions: tuple[str, ...] = ()
    lang: str = "en"
    region: str = "US"
    paper: str = "us-letter"


def typeset_cover(sheet: CoverSheet, *, data: bytes, made_at: datetime) -> bytes:
    """Typeset the paper of cover; ``data`` goes inside as `COVER_FILE`.

    Parameters
    ----------
    sheet : CoverSheet
        Words and drawings.
    data : bytes
        The answer as JSON.
    made_at : datetime
        Document date, with its offset.

    Returns
    -------
    bytes
        PDF/A-3a and PDF/UA-1; equal input gives equal bytes.

    Raises
    ------
    LabelsMissing, GlyphMissing, PictureRefused, TimeRefused, TypesettingRefused
    """
    labels = take_labels(sheet.labels, COVER_LABELS)
    held = Attachment(COVER_FILE, data, "application/json", sheet.title, "data")
    return typeset("cover.typ", sheet, labels=labels, attachments=[held], made_at=made_at)


def typeset_daily(sheet: DailySheet, *, made_at: datetime) -> bytes:
    """Typeset the foreman's sheet; see `typeset_cover`."""
    labels = take_labels(sheet.labels, DAILY_LABELS)
    return typeset("daily.typ", sheet, labels=labels, attachments=[], made_at=made_at)
