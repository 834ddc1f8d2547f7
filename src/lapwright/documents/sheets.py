"""What a record and a booklet say, as plain text ready for print.

A sheet holds words that others have chosen: nothing here judges, converts,
rounds or looks anything up. Every field is text as it shall stand on paper; an
empty text leaves its line out. Outcomes carry their word and get their shape
from the outcome, so that no page leans on colour.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from lapwright.core.outcomes import Outcome

DATA_FILE = "record.json"
"""Name of the attachment that holds the complete data of a record."""


@dataclass(frozen=True)
class OutcomeWord:
    """An outcome with the word printed for it: ``Met``, ``Not met``, ``Open: second reading``."""

    outcome: Outcome
    word: str


@dataclass(frozen=True)
class Fact:
    """A label and its value, one line: ``Procedure`` / ``QP-BPS-04 rev. 2``."""

    label: str
    value: str


@dataclass(frozen=True)
class Picture:
    """A small picture on the page.

    ``data`` are the bytes of a PNG, JPEG or (own) SVG file; ``alt`` is the sentence
    read out instead of the picture and must not be empty; ``caption`` is
    printed under it.
    """

    data: bytes
    alt: str
    caption: str = ""


@dataclass(frozen=True)
class PersonBlock:
    """Who was qualified: name, brazer ``mark``, employer; ``place`` and dates of the test."""

    name: str
    mark: str
    employer: str
    place: str
    braze_dates: tuple[str, ...]


@dataclass(frozen=True)
class VariableRow:
    """One essential variable: what was brazed, beside what that qualifies.

    ``variable`` "Overlap"; ``actual`` "9.4 mm"; ``qualified`` "up to 11.7 mm";
    ``citation`` the source by designation, edition and paragraph; ``note``
    an optional remark printed small below the range.
    """

    variable: str
    actual: str
    qualified: str
    citation: str
    note: str = ""


@dataclass(frozen=True)
class FaceRow:
    """The result of one face.

    ``overlap``, ``share`` and ``u95`` are written with their units
    ("9.4 mm", "12.3 %", "± 1.8 %"), ``limit`` "20 %". ``readers`` names the
    readers by role or initials as the programme prints them. ``overlay`` is
    the picture of the traced face, or `None` for a loupe reading. ``conformance``
    is the probability that the face conforms, "0.998".
    """

    coupon: str
    joint: str
    position: str
    face: str
    overlap: str
    share: str
    u95: str
    limit: str
    decision: OutcomeWord
    readers: str
    overlay: Picture | None = None
    note: str = ""
    conformance: str = ""


@dataclass(frozen=True)
class FindingRow:
    """One other finding: ``subject`` "Coupon Q-11", ``finding`` one sentence, outcome, source."""

    subject: str
    finding: str
    decision: OutcomeWord
    citation: str


@dataclass(frozen=True)
class PositionRow:
    """The decision for one flow position: ``position`` "Vertical downflow", outcome, reason."""

    position: str
    decision: OutcomeWord
    reason: str


@dataclass(frozen=True)
class RangeRow:
    """One line of the list of sizes and fittings: covered or not, and what limits it.

    ``size`` "3/4 (nominal)", ``tube`` "ASTM B819, type L", ``fitting``
    "ASME B16.50", ``positions`` "flat, downflow", ``reason`` the limiting rule.
    """

    size: str
    tube: str
    fitting: str
    positions: str
    decision: OutcomeWord
    reason: str


@dataclass(frozen=True)
class SignatureRow:
    """One line of the signature panel.

    ``who`` "Iva Thornquist" (empty: a line to print the name), ``role`` "Employer's responsible
    person", ``meaning`` what the signature says, ``when`` date and time with
    offset; an empty ``when`` leaves a ruled line to sign and date in ink.
    """

    role: str
    meaning: str
    who: str = ""
    when: str = ""


@dataclass(frozen=True)
class TreeHeadLine:
    """The latest head of the ledger's tree: number of entries and root hash in hexadecimal."""

    size: str
    root_sha256: str


@dataclass(frozen=True)
class AttachmentLine:
    """One file inside the PDF as listed on the page: file ``name``, what it ``holds``."""

    name: str
    holds: str


@dataclass(frozen=True)
class CodePanel:
    """The code that can be scanned and what stands beside it.

    ``svg`` comes from `lapwright.documents.qr.qr_svg`; ``alt`` its text
    alternative; ``digest`` the text printed under it, so that the code can be
    compared by eye; ``steps`` how to check the record, one sentence each.
    """

    svg: str
    alt: str
    digest: str
    steps: tuple[str, ...]


@dataclass(frozen=True)
class Acceptance:
    """The page for later employers: ``statement`` says what a signature there means.

    ``rows`` ruled blocks are drawn for ink.
    """

    statement: str
    rows: int = 4


@dataclass(frozen=True)
class RecordSheet:
    """Everything a qualification record prints.

    Parameters
    ----------
    number, revision : str
        Record number and revision; they stand in the head, the footer and the title.
    title : str
        First heading, "Brazing performance qualification record".
    status : str
        "Awaiting the employer's certification" and the like; always printed at the top.
    issued : str
        Date of issue as printed (clocks start on the braze date, not here).
    payload_sha256 : str
        SHA-256 of the attached `DATA_FILE`, 64 hexadecimal digits; the footer shows the start.
    labels : mapping of str to str
        Headings and column names in the language of the sheet, by message id; the ids needed
        are `lapwright.documents.labels.RECORD_LABELS`.
    person : PersonBlock
    decision : OutcomeWord
        The decision of the whole record, printed large.
    decision_text : str
        One or two sentences under it.
    facts : tuple of Fact
        Further lines of identity: procedure and revision, procedure record, session, supervisor.
    basis : tuple of Fact
        Adopted codes with editions, decision rule, chosen options.
    positions : tuple of PositionRow
    variables : tuple of VariableRow
    faces : tuple of FaceRow
    findings : tuple of FindingRow
    ranges : tuple of RangeRow
    range_intro : str
        One sentence above the list of sizes.
    unconfirmed : tuple of str
        Notices on rules that nobody has confirmed against a copy.
    cautions : tuple of str
    signatures : tuple of SignatureRow
    signatures_intro : str
    dagger : str
        What † beside a source means, printed below the variables where it first stands.
    acceptance : Acceptance
    tree_head : TreeHeadLine or None
    code : CodePanel
    files : tuple of AttachmentLine
        The files inside the PDF, as listed on the page.
    lang, region : str
        Language of the text, ISO 639 and ISO 3166.
    paper : str
        ``us-letter`` or ``a4``.
    """

    number: str
    revision: str
    title: str
    status: str
    issued: str
    payload_sha256: str
    labels: Mapping[str, str]
    person: PersonBlock
    decision: OutcomeWord
    decision_text: str
    facts: tuple[Fact, ...]
    basis: tuple[Fact, ...]
    positions: tuple[PositionRow, ...]
    variables: tuple[VariableRow, ...]
    faces: tuple[FaceRow, ...]
    findings: tuple[FindingRow, ...]
    ranges: tuple[RangeRow, ...]
    cautions: tuple[str, ...]
    signatures: tuple[SignatureRow, ...]
    acceptance: Acceptance
    code: CodePanel
    range_intro: str = ""
    signatures_intro: str = ""
    dagger: str = ""
    unconfirmed: tuple[str, ...] = ()
    tree_head: TreeHeadLine | None = None
    files: tuple[AttachmentLine, ...] = ()
    lang: str = "en"
    region: str = "US"
    paper: str = "us-letter"


@dataclass(frozen=True)
class BookletRow:
    """One deciding figure to compare with one's own copy.

    ``rule`` the stable rule id written back when the tick is filed; ``figure``
    "20" with ``unit`` "%" (empty unit: none); ``says`` what the figure decides
    in one plain sentence; ``citation`` where it stands; ``known`` how it is
    known ("from memory", "read", "public summary"); ``confirmed`` who has
    confirmed it and when, empty when nobody has.
    """

    rule: str
    says: str
    figure: str
    unit: str
    citation: str
    known: str
    confirmed: str = ""


@dataclass(frozen=True)
class BookletGroup:
    """Rows under one heading, usually one code and edition."""

    heading: str
    rows: tuple[BookletRow, ...]


@dataclass(frozen=True)
class BookletSheet:
    """A booklet of the deciding figures, to tick with a pen against one's own copies.

    ``intro`` are the sentences that say how to use it, ``declaration`` the
    sentence above name, signature and date, ``rulebook`` the text that names
    the rule set ("rules 0.1.0, sha256 …"), ``labels`` the texts of
    `lapwright.documents.labels.BOOKLET_LABELS`.
    """

    title: str
    programme: str
    rulebook: str
    made: str
    intro: tuple[str, ...]
    groups: tuple[BookletGroup, ...]
    declaration: str
    labels: Mapping[str, str]
    cautions: tuple[str, ...] = ()
    lang: str = "en"
    region: str = "US"
    paper: str = "us-letter"


@dataclass(frozen=True)
class Attachment:
    """A file put inside the PDF; ``relationship`` is data, source, alternative or supplement."""

    name: str
    data: bytes
    mime: str
    description: str
    relationship: str = field(default="data")
