"""In force as plain JSON and as lines for a terminal: outcome by word and shape, day by day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.rules.continuity import COUPON, RENEWED, USE
from lapwright.rules.inforce import Link

from .casereport import SHAPES
from .inforce import ClockOn, People, Row, due_rows
from .text import outcome_word, say, word

KINDS = {COUPON: "force.kind.coupon", RENEWED: "force.kind.renewal", USE: "force.kind.use"}


def people_document(people: People) -> dict[str, Any]:
    """Return the answer as plain JSON."""
    days = people.asked.days
    return {
        "as_of": days.as_of.isoformat(),
        "known_by": days.known_by.isoformat() if days.known_by else "",
        "rows": [_row(r, people) for r in people.rows],
        "due": [_due(r, people) for r in due_rows(people)],
        "without": list(people.without),
        "installers": [_finding(f) for f in people.installers],
    }


def _row(row: Row, people: People) -> dict[str, Any]:
    held, verdict = row.held, row.verdict
    q = held.qualification
    return {
        "person": q.person,
        "name": people.names.get(q.person, q.person),
        "qualification": q.id,
        "source": q.source,
        "employer": held.employer,
        "tested_by": q.employer,
        "basis": row.basis,
        "positions": list(q.positions),
        "brazed_on": q.brazed_on.isoformat(),
        "outcome": verdict.outcome.value,
        "why": verdict.why.value if verdict.why else "",
        "act_on": verdict.act_on.value if verdict.act_on is not None else "",
        "if_confirmed": verdict.before_confirmation.value,
        "ends": row.ends.isoformat() if row.ends else "",
        "last_day": _before(row.ends),
        "suspended_positions": list(row.suspended),
        "clocks": [_clock(c) for c in row.clocks],
        "carried_by": [_link(link) for link in row.carried],
        "leads": [{"months": lead.months, "on": lead.on.isoformat()} for lead in row.leads],
        "findings": [_finding(f) for f in verdict.findings],
    }


def _clock(clock: ClockOn) -> dict[str, Any]:
    rule, span = clock.reckoned.rule, clock.span
    return {
        "code": rule.code,
        "edition": rule.edition,
        "use_of": clock.reckoned.scope,
        "operator": rule.operator,
        "in_force": "yes" if clock.holds else "no",
        "since": span.since.isoformat() if span else "",
        "last_use": span.last.isoformat() if span else "",
        "ends": span.ends.isoformat() if span else "",
        "opened_by": span.opened if span else "",
    }


def _link(link: Link) -> dict[str, str]:
    return {
        "on": link.on.isoformat(),
        "kind": link.kind,
        "by": link.by,
        "procedure": link.procedure,
        "late_paper": "yes" if link.late else "",
    }


def _due(row: Row, people: People) -> dict[str, str]:
    q = row.held.qualification
    assert row.ends is not None  # of rows in force only
    return {
        "person": q.person,
        "name": people.names.get(q.person, q.person),
        "qualification": q.id,
        "employer": row.held.employer,
        "use_by": _before(row.ends),
        "days_left": str((row.ends - people.asked.days.as_of).days - 1),
        "lead": _reached(row, people.asked.days.as_of),
    }


def _reached(row: Row, day: date) -> str:
    """Return the months of the latest warning day that has come, or empty text."""
    passed = [lead.months for lead in row.leads if lead.on <= day]
    return passed[-1] if passed else ""


def _before(ends: date | None) -> str:
    return (ends - timedelta(days=1)).isoformat() if ends else ""


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "subject": str(finding.subject),
        "outcome": finding.outcome.value,
        "why": finding.why.value if finding.why else "",
        "act_on": finding.act_on.value if finding.act_on is not None else "",
        "if_confirmed": finding.before_confirmation.value,
        "says": say(finding.message),
        "cites": [str(c) for c in finding.cites],
    }


def people_lines(people: People) -> Iterator[str]:
    """Yield the answer for a terminal: one line a person and qualification, then what is due."""
    days = people.asked.days
    head = word("force.head", as_of=days.as_of.isoformat(), count=str(len(people.rows)))
    if days.known_by is not None:
        head += word("record.known_by", known_by=days.known_by.isoformat())
    yield head
    for row in people.rows:
        yield _line(row, people)
        yield from (f"      {told}" for told in _open(row))
    for person in people.without:
        if people.asked.person in ("", person):
            yield "– " + word("force.without", name=people.names.get(person, person))
    yield from _due_lines(people)
    told = [f for f in people.installers if f.rule == "installer.credential"]
    if told and people.asked.person:
        yield ""
        yield from (f"{SHAPES[f.outcome]} {say(f.message)}" for f in people.installers)
    if any(r.verdict.computed is not r.verdict.outcome for r in people.rows):
        yield ""
        yield word("force.unconfirmed")


def _line(row: Row, people: People) -> str:
    q, verdict = row.held.qualification, row.verdict
    told = outcome_word(verdict.outcome, verdict.why)
    if verdict.act_on is not None:
        told += word("force.act_on", outcome=outcome_word(verdict.act_on))
    letters = ", ".join(q.positions)
    parts = [
        people.names.get(q.person, q.person),
        f"{q.id} ({letters})" if letters else q.id,
        row.held.employer,
        told,
        _until(row),
        _carried(row),
    ]
    return f"{SHAPES[verdict.outcome]} " + "  ·  ".join(p for p in parts if p)


def _until(row: Row) -> str:
    if row.ends is not None:
        return word("force.until", last_day=_before(row.ends), ends=row.ends.isoformat())
    over = [c.span.ends for c in row.clocks if c.span is not None and not c.holds]
    return word("force.ended", ends=min(over).isoformat()) if over else word("force.not_begun")


def _carried(row: Row) -> str:
    if not row.carried:
        return ""
    last = row.carried[-1]
    told = word(KINDS[last.kind], on=last.on.isoformat(), number=str(len(row.carried)))
    return told + (word("force.late") if last.late else "")


def _open(row: Row) -> Iterator[str]:
    """Yield what keeps a row from being met, and late paper; a missing tick is told once below."""
    for finding in row.verdict.findings:
        lacking = finding.outcome is not Outcome.MET and finding.why is not Why.UNCONFIRMED
        if lacking or finding.rule == "late.paper":
            yield f"{SHAPES[finding.outcome]} {say(finding.message)}"
    if row.suspended:
        yield word("force.suspended", positions=", ".join(p or "–" for p in row.suspended))


def _due_lines(people: People) -> Iterator[str]:
    if people.asked.due is None:
        return
    rows = due_rows(people)
    yield ""
    yield word("force.due.head", days=str(people.asked.due), count=str(len(rows)))
    for row in rows:
        due = _due(row, people)
        lead = word("force.due.lead", months=due["lead"]) if due["lead"] else ""
        yield (
            "  "
            + word(
                "force.due.line",
                use_by=due["use_by"],
                days=due["days_left"],
                name=due["name"],
                qualification=due["qualification"],
            )
            + lead
        )
