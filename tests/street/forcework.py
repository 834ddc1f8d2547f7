"""An invented ledger of brazers with records from paper, and their uses."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from typing import Any

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.ledger.log import Log, MemoryLog
from lapwright.rules.rulebook import load_edition

from .paperwork import paper_document

EDITIONS = ("asme-bpvc-ix 2023", "nfpa-99 2018")
BRAZED = date(2025, 1, 15)


def at(day: date) -> datetime:
    """Return noon of a day, UTC."""
    return datetime.combine(day, time(12), tzinfo=UTC)


def act(
    type_: str, body: dict[str, Any], on: date, written: date | None = None, **more: Any
) -> Act:
    """Return an act of the programme."""
    more = {"stream": "programme", "version": ACT_TYPES[type_][0]} | more
    return Act(type_, body, on, "lead", at(written or on), **more)


def basis(on: date = date(2024, 1, 2), **options: str) -> Iterator[Act]:
    """Yield the programme's basis with every rule confirmed."""
    body = {"editions": list(EDITIONS), "decision_rule": "simple", "options": options}
    yield act("BasisAdopted", body, on)
    for name in (*EDITIONS, "programme 1"):
        edition = load_edition(*name.split())
        for rules in edition.rules.values():
            for rule in (r for r in rules if r.value is not None):
                tick = {"rule": f"{edition.code}/{edition.edition}/{rule.id}", "copy": "invented"}
                yield act("RuleConfirmed", {**tick, "figure": rule.figure, "by": "lead"}, on)


def paper(person: str, *, id_: str = "", brazed: date = BRAZED) -> Iterator[Act]:
    """Yield a whole record from the own archive, compared with its scan."""
    doc = paper_document()
    doc["paper"], doc["person"] = id_ or f"P-{person}", person
    doc["brazed"], doc["signed"] = [brazed.isoformat()], brazed.isoformat()
    doc["provenance"] = {"way": "own-archive"}
    body = {k: v for k, v in doc.items() if k not in ("schema", "typed", "scan", "tested")}
    yield act("PaperRecordEntered", {**body, "typed_by": "hollis"}, brazed)
    seen = {"paper": doc["paper"], "by": "teal", "outcome": "agrees", "person": person}
    yield act("PaperRecordChecked", seen, brazed)


def used(person: str, on: date, *, procedure: str = "QP-BPS-4", written: date | None = None) -> Act:
    """Return a witnessed use."""
    body = {"person": person, "process": "TB", "procedure": procedure, "by": "osgood"}
    return act("UseAttested", body, on, written, stream=f"use/{person}")


def ledger(*acts: Act) -> Log:
    """Return a ledger in memory."""
    log = MemoryLog()
    log.append(acts)
    return log
