"""The words of the printed comparison, and writing it: the page whose hash an acceptance names."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime, time
from pathlib import Path

from lapwright.core.citations import Basis
from lapwright.core.outcomes import Finding, Outcome
from lapwright.documents.comparison import (
    ClockLine,
    ComparisonSheet,
    JointLine,
    OpenRuleLine,
    SideRow,
    typeset_comparison,
)
from lapwright.documents.labels import COMPARISON_LABELS
from lapwright.documents.sheets import Fact, FindingRow, OutcomeWord
from lapwright.rules.rulebook import source_title
from lapwright.rules.sidebyside import Relation

from .atomic import write_made
from .comparereport import (
    answer_word,
    clock_rows,
    comparison_document,
    headline,
    how_to_confirm,
    in_places,
    record_word,
    scope_word,
    variable_word,
)
from .comparing import Comparison, outside
from .recordrows import short_cite
from .text import outcome_word, say, word


def write_comparison(comparison: Comparison, out: Path) -> str:
    """Write a comparison as JSON or as the page to sign; return its SHA-256.

    Parameters
    ----------
    comparison : Comparison
        What was compared.
    out : Path
        A name that ends in ``.json`` or ``.pdf``.

    Raises
    ------
    OutputRefused
        For another ending, or a place that cannot be written.
    """
    suffix = ".json" if out.suffix.lower() == ".json" else ".pdf"
    if suffix == ".json":
        data = _json(comparison)
    else:
        data = page(comparison) if out.suffix.lower() == ".pdf" else b""
    write_made(out, data, suffix=suffix)
    return hashlib.sha256(data).hexdigest()


def page(comparison: Comparison) -> bytes:
    """Return the page as PDF; the same comparison gives the same bytes.

    Its date is the day asked about, so that nothing hangs on when it was printed.
    """
    at = datetime.combine(comparison.asked.as_of, time(0), tzinfo=UTC)
    sheet = comparison_sheet(comparison)
    return typeset_comparison(sheet, data=_json(comparison), made_at=at)


def _json(comparison: Comparison) -> bytes:
    text = json.dumps(comparison_document(comparison), indent=2, ensure_ascii=False)
    return (text + "\n").encode()


def comparison_sheet(comparison: Comparison) -> ComparisonSheet:
    """Return the sheet of a comparison."""
    asked, verdict = comparison.asked, comparison.acceptance
    return ComparisonSheet(
        title=word("compare.title"),
        made=asked.as_of.isoformat(),
        decision=OutcomeWord(verdict.outcome, outcome_word(verdict.outcome, verdict.why)),
        headline=headline(comparison),
        scope=scope_word(comparison),
        facts=_facts(comparison),
        former=word("compare.column.former", employer=asked.former),
        present=word("compare.column.present", employer=asked.present),
        variables=tuple(
            SideRow(
                variable_word(r.variable),
                in_places(r, r.old) or "–",
                in_places(r, r.new) or "–",
                word(f"compare.relation.{r.relation.name.lower()}"),
                _decision(r.finding),
                _cites(r.finding),
                in_places(r, _says(r.relation, r.common, r.finding)),
            )
            for r in comparison.rows
        ),
        clocks=tuple(
            ClockLine(
                c["code"],
                c["scope"],
                c["limit"],
                c["last_use"] or "–",
                c["ends"] or "–",
            )
            for c in clock_rows(comparison)
        ),
        findings=tuple(
            FindingRow("", say(f.message), _decision(f), _cites(f))
            for f in comparison.findings
            if verdict.outcome is not Outcome.MET or f in verdict.findings  # else the head says it
        ),
        joints=tuple(
            JointLine(
                r.made.joint,
                r.made.brazed_on.isoformat(),
                _decision(r.finding),
                say(r.finding.message),
            )
            for r in comparison.joints
        ),
        joints_intro=word(
            "compare.joints.outside",
            number=str(len(outside(comparison))),
            total=str(len(comparison.joints)),
        ),
        open_rules=tuple(
            OpenRuleLine(r.key, r.title, short_cite([str(r.cite)])) for r in comparison.open_rules
        ),
        open_how=how_to_confirm(comparison),
        declaration=_declaration(comparison),
        labels={i: word(i) for i in COMPARISON_LABELS},
        cautions=(word("caution.governs"), word("compare.caution.sizes"), word("caution.dagger")),
    )


def _declaration(comparison: Comparison) -> str:
    """Return what the signature says; there is nothing to sign while an answer is open."""
    asked = comparison.asked
    if comparison.acceptance.outcome is not Outcome.MET:
        return word("compare.nothing_to_sign")
    return word("compare.declaration", employer=asked.present, on=asked.signed_on.isoformat())


def _facts(comparison: Comparison) -> tuple[Fact, ...]:
    asked, former = comparison.asked, comparison.former
    rows = (
        ("record", record_word(comparison)),
        ("person", comparison.names.brazer(asked.person)),
        ("brazed", ", ".join(d.isoformat() for d in former.brazed)),
        ("signed", asked.signed_on.isoformat()),
        ("asked", asked.as_of.isoformat()),
        ("procedure_old", former.side.procedure),
        ("procedure_new", comparison.present.side.procedure),
        ("note", comparison.names.writer(comparison.note.by)),
        ("source", former.source),
        (
            "editions",
            ", ".join(
                source_title(e.source)
                for e in comparison.present.adopted.editions
                if e.code != "programme"
            ),
        ),
    )
    return tuple(Fact(word(f"compare.fact.{name}"), value) for name, value in rows)


def _says(relation: Relation, common: str, finding: Finding) -> str:
    """Return what the columns do not show: the common part, or why a row is not plainly met."""
    if relation is Relation.IN_PART:
        return word("compare.common", common=common)
    told = relation in (Relation.DIFFERS, Relation.UNKNOWN)
    return say(finding.message) if told and finding.outcome is not Outcome.NOT_MET else ""


def _decision(finding: Finding) -> OutcomeWord:
    return OutcomeWord(finding.outcome, answer_word(finding))


def _cites(finding: Finding) -> str:
    """Return where an answer stands: the codes by paragraph, a house rule only if it is alone."""
    codes = [c for c in finding.cites if c.basis is not Basis.PROGRAMME]
    return "; ".join(dict.fromkeys(short_cite([str(c)]) for c in codes or finding.cites))
