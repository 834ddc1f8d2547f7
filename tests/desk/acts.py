"""Plain acts for the tests of the store."""

from __future__ import annotations

from datetime import UTC, date, datetime

from lapwright.core.acts import Act
from lapwright.desk.boot import Store

AT = datetime(2026, 3, 13, tzinfo=UTC)


def trained(what: str, *, person: str = "ines", stream: str = "case/A") -> Act:
    """Return one act about a person."""
    return Act(
        "TrainingGiven",
        {"person": person, "what": what, "by": "omar"},
        date(2026, 3, 4),
        "lead",
        AT,
        stream=stream,
    )


def filled(store: Store, count: int = 5) -> Store:
    """File acts into a ledger and return it."""
    store.log.append([trained(f"day {n}") for n in range(count)])
    return store


def told(store: Store) -> list[str]:
    """Return what the acts of a ledger say, in order."""
    return [entry.act.body["what"] for entry in store.log.entries()]


def raw(store: Store, sql: str, *values: object) -> list[tuple[object, ...]]:
    """Run plain SQL as any other program could; return its rows."""
    with store.log.connection.cursor() as cursor:
        cursor.execute(sql, values)
        return list(cursor.fetchall()) if cursor.description else []
