"""The labels that the templates print, by message id.

The sentences live in the text catalogue (area ``documents``); the caller looks
them up in the language of the sheet and hands them in.
"""

from __future__ import annotations

from collections.abc import Mapping

from .errors import LabelsMissing

RECORD_LABELS: tuple[str, ...] = (
    "record.accept.by",
    "record.accept.date",
    "record.accept.employer",
    "record.accept.heading",
    "record.accept.signature",
    "record.basis.heading",
    "record.brazed-on",
    "record.cautions.heading",
    "record.code.heading",
    "record.column.actual",
    "record.column.coupon",
    "record.column.conformance",
    "record.column.covered",
    "record.column.decision",
    "record.column.face",
    "record.column.finding",
    "record.column.fitting",
    "record.column.joint",
    "record.column.limit",
    "record.column.meaning",
    "record.column.name",
    "record.column.overlap",
    "record.column.position",
    "record.column.positions",
    "record.column.qualified",
    "record.column.readers",
    "record.column.reason",
    "record.column.share",
    "record.column.size",
    "record.column.source",
    "record.column.subject",
    "record.column.tube",
    "record.column.u95",
    "record.column.variable",
    "record.column.when",
    "record.column.who",
    "record.decision.heading",
    "record.employer",
    "record.files.heading",
    "record.findings.heading",
    "record.findings.none",
    "record.issued",
    "record.mark",
    "record.page",
    "record.pages-of",
    "record.payload",
    "record.person",
    "record.pictures.heading",
    "record.pictures.key",
    "record.place",
    "record.range.heading",
    "record.record",
    "record.results.heading",
    "record.revision",
    "record.signatures.heading",
    "record.status",
    "record.tree.entries",
    "record.tree.heading",
    "record.tree.root",
    "record.unconfirmed.heading",
    "record.variables.heading",
)
BOOKLET_LABELS: tuple[str, ...] = (
    "record.booklet.cautions",
    "record.booklet.column.cite",
    "record.booklet.column.figure",
    "record.booklet.column.known",
    "record.booklet.column.mine",
    "record.booklet.column.says",
    "record.booklet.column.tick",
    "record.booklet.confirmed",
    "record.booklet.copies",
    "record.booklet.date",
    "record.booklet.declaration",
    "record.booklet.how",
    "record.booklet.made",
    "record.booklet.name",
    "record.booklet.programme",
    "record.booklet.rules",
    "record.booklet.signature",
    "record.page",
    "record.pages-of",
)

COMPARISON_LABELS: tuple[str, ...] = (
    "record.comparison.clocks",
    "record.comparison.code",
    "record.comparison.date",
    "record.comparison.decision",
    "record.comparison.ends",
    "record.comparison.finding",
    "record.comparison.findings",
    "record.comparison.joint",
    "record.comparison.joints",
    "record.comparison.last",
    "record.comparison.limit",
    "record.comparison.made",
    "record.comparison.name",
    "record.comparison.open",
    "record.comparison.relation",
    "record.comparison.rule",
    "record.comparison.says",
    "record.comparison.sign",
    "record.comparison.signature",
    "record.comparison.source",
    "record.comparison.unit",
    "record.comparison.variable",
    "record.comparison.variables",
    "record.page",
    "record.pages-of",
)

COVER_LABELS: tuple[str, ...] = (
    "record.cover.about",
    "record.cover.class",
    "record.cover.decision",
    "record.cover.finding",
    "record.cover.joint",
    "record.cover.joints",
    "record.cover.later",
    "record.cover.lost",
    "record.cover.matrix",
    "record.cover.nearest",
    "record.cover.nobody",
    "record.cover.person",
    "record.cover.reason",
    "record.cover.source",
    "record.page",
    "record.pages-of",
)

DAILY_LABELS: tuple[str, ...] = (
    "record.daily.call",
    "record.daily.cup",
    "record.daily.filler",
    "record.daily.flow",
    "record.daily.joint",
    "record.daily.person",
    "record.daily.reasons",
    "record.daily.says",
    "record.daily.size",
    "record.page",
    "record.pages-of",
)


def take_labels(labels: Mapping[str, str], needed: tuple[str, ...]) -> dict[str, str]:
    """Return the needed labels by the part of the id after ``record.``.

    Raises
    ------
    LabelsMissing
        If one is missing or empty.
    """
    missing = [name for name in needed if not labels.get(name, "").strip()]
    if missing:
        raise LabelsMissing(
            "labels missing in the text catalogue",
            got=", ".join(missing),
            expected=f"a text for each of {len(needed)} labels",
            do="Add them to the catalogue of the area 'documents'.",
        )
    return {name.removeprefix("record."): labels[name] for name in needed}
