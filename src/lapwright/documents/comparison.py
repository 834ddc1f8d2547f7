"""The comparison of two employers' procedures as one page to sign."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from .labels import COMPARISON_LABELS, take_labels
from .sheets import Attachment, Fact, FindingRow, OutcomeWord
from .typeset import typeset

COMPARISON_FILE = "comparison.json"


@dataclass(frozen=True)
class SideRow:
    """One variable: what was tested elsewhere beside what the new procedure has.

    ``relation`` is the word for how they lie to each other; ``says`` one sentence, printed
    where it tells more than the columns; ``citation`` the source.
    """

    variable: str
    former: str
    present: str
    relation: str
    decision: OutcomeWord
    citation: str
    says: str = ""


@dataclass(frozen=True)
class ClockLine:
    """One code's clock: its unit of use, when it ends, the last use that counts, when it ended."""

    code: str
    unit: str
    limit: str
    last: str
    ends: str


@dataclass(frozen=True)
class JointLine:
    """One joint by date."""

    joint: str
    made: str
    decision: OutcomeWord
    says: str


@dataclass(frozen=True)
class OpenRuleLine:
    """One rule that nobody has confirmed: its key, its title, where it stands."""

    rule: str
    title: str
    citation: str


@dataclass(frozen=True)
class ComparisonSheet:
    """Everything that the page prints.

    Parameters
    ----------
    title, made : str
        First heading; the day asked about.
    decision : OutcomeWord
        Whether the acceptance stands.
    headline, scope : str
        One sentence each: the outcome, and for which work it is valid.
    facts : tuple of Fact
    former, present : str
        The two employers, heads of the columns.
    variables : tuple of SideRow
    clocks : tuple of ClockLine
    findings : tuple of FindingRow
    joints : tuple of JointLine
    joints_intro, declaration : str
        Sentence above the joints; what the signature says. Lines to sign are printed only
        where the decision is Met.
    labels : mapping of str to str
        Texts of `lapwright.documents.labels.COMPARISON_LABELS`.
    open_rules, open_how : tuple of OpenRuleLine, str
        Rules that nobody has confirmed, and how to confirm them.
    cautions : tuple of str
    lang, region, paper : str
        Language of the text, paper size.
    """

    title: str
    made: str
    decision: OutcomeWord
    headline: str
    scope: str
    facts: tuple[Fact, ...]
    former: str
    present: str
    variables: tuple[SideRow, ...]
    clocks: tuple[ClockLine, ...]
    findings: tuple[FindingRow, ...]
    joints: tuple[JointLine, ...]
    joints_intro: str
    declaration: str
    labels: Mapping[str, str]
    open_rules: tuple[OpenRuleLine, ...] = ()
    open_how: str = ""
    cautions: tuple[str, ...] = ()
    lang: str = "en"
    region: str = "US"
    paper: str = "us-letter"


def typeset_comparison(sheet: ComparisonSheet, *, data: bytes, made_at: datetime) -> bytes:
    """Typeset the comparison.

    Parameters
    ----------
    sheet : ComparisonSheet
        Words to print.
    data : bytes
        The comparison as JSON, put inside the file as `COMPARISON_FILE`.
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
    labels = take_labels(sheet.labels, COMPARISON_LABELS)
    held = Attachment(COMPARISON_FILE, data, "application/json", sheet.title, "data")
    return typeset("comparison.typ", sheet, labels=labels, attachments=[held], made_at=made_at)
