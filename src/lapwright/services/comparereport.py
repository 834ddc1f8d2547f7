"""A comparison as one JSON document and as lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.rules.sidebyside import Compared

from .bothunits import limits_rounded
from .casereport import SHAPES, finding_document, verdict_document
from .comparing import Comparison, outside
from .text import outcome_word, say, say_of, word

Doc = Mapping[str, Any]
_NAMES = {
    "process": "variable.process",
    "manner": "variable.manner",
    "joint_type": "variable.joint_type",
    "p_numbers": "variable.p_number",
    "f_number": "variable.f_number",
    "form": "variable.form",
    "flux": "compare.variable.flux",
    "positions": "variable.position",
    "tube_wall": "variable.tube_wall",
    "fitting_wall": "variable.fitting_wall",
    "overlap": "compare.variable.overlap",
    "cleaning": "compare.variable.cleaning",
    "clearance": "compare.variable.clearance",
    "purge-gas": "compare.variable.purge-gas",
    "purge-flow": "compare.variable.purge-flow",
}

_RANGES = ("tube_wall", "fitting_wall", "overlap")
_SIGNS = {">=": "≥", "<=": "≤"}


def variable_word(name: str) -> str:
    """Return the wording of a compared variable."""
    return word(_NAMES[name])


def in_places(row: Compared, text: str) -> str:
    """Return what is shown of a row: ranges to the places of the inch tables, words as typed."""
    return limits_rounded(text) if row.variable in _RANGES else text


def scope_word(comparison: Comparison) -> str:
    """Return for which work an acceptance would be valid."""
    asked = comparison.asked
    if asked.control_document:
        return word("compare.scope.group", document=asked.control_document)
    if any(e.code == "nfpa-99" for e in comparison.present.adopted.editions):
        return word("compare.scope.nfpa")
    return word("compare.scope.none")


def headline(comparison: Comparison) -> str:
    """Return the outcome in one sentence."""
    verdict, on = comparison.acceptance, comparison.asked.signed_on.isoformat()
    if verdict.outcome is Outcome.MET:
        return word("compare.head.met", on=on)
    if verdict.outcome is Outcome.NOT_MET:
        return word("compare.head.not_met")
    if verdict.why is Why.UNCONFIRMED:
        once = outcome_word(verdict.before_confirmation)
        return word("compare.head.unconfirmed", once=once)
    if verdict.before_confirmation is Outcome.NOT_MET or verdict.act_on is Outcome.NOT_MET:
        return word("compare.head.act_on")
    return word("compare.head.open")


def answer_word(finding: Finding) -> str:
    """Return a finding's outcome; one that waits for a confirmation and then fails says so."""
    told = outcome_word(finding.outcome, finding.why)
    if finding.why is Why.UNCONFIRMED and finding.before_confirmation is Outcome.NOT_MET:
        return word("compare.then", told=told, once=outcome_word(Outcome.NOT_MET))
    return told


def comparison_document(comparison: Comparison) -> dict[str, Any]:
    """Return a comparison as plain JSON."""
    asked, former, present = comparison.asked, comparison.former, comparison.present
    return {
        "schema": "lapwright-comparison/1",
        "record": asked.record,
        "number": former.number,
        "person": asked.person,
        "name": comparison.names.brazer(asked.person),
        "former": {"employer": asked.former, "procedure": former.side.procedure},
        "present": {"employer": asked.present, "procedure": present.side.procedure},
        "source": former.source,
        "brazed": [d.isoformat() for d in former.brazed],
        "signed_on": asked.signed_on.isoformat(),
        "as_of": asked.as_of.isoformat(),
        "editions": [f"{e.code} {e.edition}" for e in present.adopted.editions],
        "scope": scope_word(comparison),
        "acceptance": verdict_document(comparison.acceptance),
        "today": verdict_document(comparison.today),
        "says": headline(comparison),
        "variables": [
            {
                "variable": row.variable,
                "former": row.old,
                "present": row.new,
                "relation": row.relation.value,
                "common": row.common,
                **finding_document(row.finding),
            }
            for row in comparison.rows
        ],
        "clocks": clock_rows(comparison),
        "joints": [
            {
                "joint": r.made.joint,
                "brazed_on": r.made.brazed_on.isoformat(),
                "person": r.made.person,
                **finding_document(r.finding),
            }
            for r in comparison.joints
        ],
        "outside": [r.made.joint for r in outside(comparison)],
        "findings": [finding_document(f) for f in comparison.findings],
        "open_rules": [r.key for r in comparison.open_rules],
    }


def clock_rows(comparison: Comparison) -> list[dict[str, str]]:
    """Return one row per edition's clock: unit of use, operator, last use, end."""
    rows = []
    for clock in comparison.clocks:
        last, rule = clock.last, clock.rule
        rows.append(
            {
                "code": clock.rule.cite.title or clock.rule.code,
                "scope": clock.scope,
                "limit": f"{_SIGNS.get(rule.operator, rule.operator)} {rule.value}",
                "last_use": last.last.isoformat() if last else "",
                "ends": last.ends.isoformat() if last else "",
                "cite": str(clock.rule.cite),
            }
        )
    return rows


def comparison_lines(comparison: Comparison) -> Iterator[str]:
    """Yield a comparison as lines for a terminal."""
    asked, verdict = comparison.asked, comparison.acceptance
    told = outcome_word(verdict.outcome, verdict.why)
    yield f"{SHAPES[verdict.outcome]} {told}: {headline(comparison)}"
    yield f"  {scope_word(comparison)}"
    yield f"  {word('compare.sides', former=asked.former, present=asked.present)}"
    yield f"  {record_word(comparison)}: {comparison.names.brazer(asked.person) or '–'}"
    yield f"  {comparison.former.source}"
    yield ""
    width = max(len(variable_word(r.variable)) for r in comparison.rows) if comparison.rows else 0
    for row in comparison.rows:
        shape = SHAPES[row.finding.outcome]
        said = word(f"compare.relation.{row.relation.name.lower()}")
        answer = answer_word(row.finding)
        yield f"{shape} {variable_word(row.variable):<{width}}  {said}  [{answer}]"
        yield f"  {'':<{width}}  {in_places(row, say(row.finding.message))}"
        yield f"  {'':<{width}}  {'; '.join(str(c) for c in row.finding.cites)}"
    yield ""
    for clock in clock_rows(comparison):
        if clock["ends"]:
            yield word("compare.clock", **{k: v for k, v in clock.items() if k != "cite"})
    yield ""
    for finding in comparison.findings:
        yield f"{SHAPES[finding.outcome]} {answer_word(finding)}: {say_of(finding)}"
    if comparison.joints:
        yield ""
        yield word(
            "compare.joints.outside",
            number=str(len(outside(comparison))),
            total=str(len(comparison.joints)),
        )
        for joint in comparison.joints:
            told = say(joint.finding.message)
            yield f"{SHAPES[joint.finding.outcome]} {answer_word(joint.finding)}: {told}"
    yield ""
    yield from _open_lines(comparison)
    yield word("caution.governs")


def record_word(comparison: Comparison) -> str:
    """Return the number of a record that has one, and its id."""
    id_, number = comparison.asked.record, comparison.former.number
    return f"{number} ({id_})" if number and id_ not in number else number or id_


def how_to_confirm(comparison: Comparison) -> str:
    """Return how to confirm the open rules; empty where none is open."""
    editions = dict.fromkeys(f"{r.code} {r.edition}" for r in comparison.open_rules)
    options = " ".join(f"--edition '{name}'" for name in editions)
    return word("compare.open.how", options=options) if options else ""


def _open_lines(comparison: Comparison) -> Iterator[str]:
    """Yield the rules that nobody has confirmed, and how to confirm them."""
    if not comparison.open_rules:
        return
    yield word("compare.open.head")
    for rule in comparison.open_rules:
        yield f"{SHAPES[Outcome.UNDETERMINED]} {rule.key}: {rule.title}"
        yield f"    {rule.cite}"
    yield how_to_confirm(comparison)
    yield ""
