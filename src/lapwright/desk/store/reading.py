"""Reading acts by the page, the quickest way of each database.

Acts are only ever added, so pages between two numbers are one state of the log
without holding a transaction open.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

PAGE = 2000  # acts read at once
ASKED = 400  # values in one question; SQLite takes 999 at least
Row = tuple[Any, ...]


def fetch(connection: BaseDatabaseWrapper, sql: str, values: Sequence[Any] = ()) -> list[Row]:
    """Return all rows of a question; PostgreSQL sends bytes as they are, not as text."""
    connection.ensure_connection()
    with connection.wrap_database_errors:
        if connection.vendor == "postgresql":
            return _binary(connection.connection, sql, values)
        with connection.cursor() as cursor:
            cursor.execute(sql, values)
            return list(cursor.fetchall())


def _binary(connection: Any, sql: str, values: Sequence[Any]) -> list[Row]:
    from psycopg import Cursor

    with Cursor(connection) as cursor:
        return list(cursor.execute(sql, values, binary=True).fetchall())


def pages(
    connection: BaseDatabaseWrapper, columns: str, *, since: int, size: int, stream: str | None
) -> Iterator[list[Row]]:
    """Yield acts by the page, oldest first.

    Parameters
    ----------
    connection : BaseDatabaseWrapper
        The database.
    columns : str
        Names of columns, the first of them ``seq``.
    since, size : int
        The first number, and the one behind the last.
    stream : str or None
        Only acts of this stream.
    """
    # by version within a stream: the index of streams is in that order
    which, order = ("stream = %s AND ", "version") if stream is not None else ("", "seq")
    sql = (
        f"SELECT {columns} FROM ledger_act WHERE {which}seq >= %s AND seq < %s "
        f"ORDER BY {order} LIMIT {PAGE}"
    )
    while since < size:
        page = fetch(connection, sql, [*([] if stream is None else [stream]), since, size])
        yield page
        if len(page) < PAGE:
            return
        since = page[-1][0] + 1


def numbered(
    connection: BaseDatabaseWrapper, columns: str, numbers: Sequence[int]
) -> Iterator[list[Row]]:
    """Yield the acts of these numbers by the page, oldest first."""
    for part in parts(numbers):
        marks = ", ".join(["%s"] * len(part))
        sql = f"SELECT {columns} FROM ledger_act WHERE seq IN ({marks}) ORDER BY seq"
        yield fetch(connection, sql, part)


def naming(connection: BaseDatabaseWrapper, keys: Sequence[str]) -> list[int]:
    """Return the numbers of the acts that name one of the subjects, in order."""
    found: set[int] = set()
    for part in parts(keys):
        marks = ", ".join(["%s"] * len(part))
        sql = f"SELECT seq FROM ledger_subject WHERE subject IN ({marks})"
        found.update(row[0] for row in fetch(connection, sql, part))
    return sorted(found)


def versions(connection: BaseDatabaseWrapper, streams: Sequence[str]) -> dict[str, int]:
    """Return how many entries streams hold; those without any are left out."""
    held: dict[str, int] = {}
    for part in parts(streams):
        marks = ", ".join(["(%s)"] * len(part))
        sql = (
            f"WITH asked(stream) AS (VALUES {marks}) SELECT stream, (SELECT max(version) + 1 "
            "FROM ledger_act a WHERE a.stream = asked.stream) FROM asked"
        )
        held |= {stream: count for stream, count in fetch(connection, sql, part) if count}
    return held


def tip(connection: BaseDatabaseWrapper) -> tuple[int, bytes]:
    """Return the number of the next act and the digest of the last one."""
    sql = "SELECT seq + 1, sha256 FROM ledger_act ORDER BY seq DESC LIMIT 1"
    last = fetch(connection, sql)
    return (last[0][0], last[0][1]) if last else (0, bytes(32))


def parts(values: Sequence[Any]) -> Iterator[Sequence[Any]]:
    """Yield the values in portions that one question can hold."""
    return (values[n : n + ASKED] for n in range(0, len(values), ASKED))
