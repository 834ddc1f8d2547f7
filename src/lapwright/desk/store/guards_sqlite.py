"""The guards of an SQLite ledger, and how they are found again."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

TABLES = ("ledger_act", "ledger_head")

_REFUSE = """CREATE TRIGGER {table}_no_{deed} BEFORE {deed} ON {table}
BEGIN SELECT RAISE(ABORT, 'lapwright: what was filed is never changed'); END"""

# INSERT OR REPLACE deletes rows without firing delete triggers: an existing number, or an
# existing version of a stream, is refused before that can happen.
_NEXT = """CREATE TRIGGER ledger_act_next BEFORE INSERT ON ledger_act
BEGIN
SELECT RAISE(ABORT, 'lapwright: not the next number')
WHERE NEW.seq IS NOT (SELECT coalesce(max(seq) + 1, 0) FROM ledger_act);
SELECT RAISE(ABORT, 'lapwright: not linked to the act before')
WHERE NEW.prev_sha256 IS NOT
coalesce((SELECT sha256 FROM ledger_act WHERE seq = NEW.seq - 1), zeroblob(32));
SELECT RAISE(ABORT, 'lapwright: not the next version of its stream')
WHERE NEW.version IS NOT
(SELECT coalesce(max(version) + 1, 0) FROM ledger_act WHERE stream = NEW.stream);
SELECT RAISE(ABORT, 'lapwright: not bytes with their digest')
WHERE typeof(NEW.raw) <> 'blob' OR typeof(NEW.sha256) <> 'blob' OR length(NEW.sha256) <> 32;
END"""

_ONCE = """CREATE TRIGGER ledger_head_once BEFORE INSERT ON ledger_head
BEGIN
SELECT RAISE(ABORT, 'lapwright: this head is kept already')
WHERE EXISTS (SELECT 1 FROM ledger_head WHERE id = NEW.id
OR (size = NEW.size AND signature = NEW.signature));
END"""


def wanted(_: BaseDatabaseWrapper) -> dict[str, object]:
    """Return the guards that must stand: name -> text."""
    changes = [
        _REFUSE.format(table=table, deed=deed) for table in TABLES for deed in ("UPDATE", "DELETE")
    ]
    return {text.split()[2]: text for text in (*changes, _NEXT, _ONCE)}


def found(cursor: Any) -> dict[str, object]:
    """Return the triggers on our tables: name -> text."""
    cursor.execute(
        "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name IN (%s, %s)",
        TABLES,
    )
    return dict(cursor.fetchall())


def statements(connection: BaseDatabaseWrapper) -> Iterator[str]:
    """Yield what puts the guards back."""
    for name, text in wanted(connection).items():
        yield f"DROP TRIGGER IF EXISTS {name}"
        yield str(text)
