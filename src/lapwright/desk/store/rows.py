"""Rows of acts and of their subjects, and the quickest way of each database to take them in."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

from lapwright.core.acts import Act
from lapwright.core.subjects import subjects_of
from lapwright.desk.errors import TextRefused
from lapwright.ledger.log import Entry

ACT_COLUMNS = ("seq", "stream", "version", "type", "prev_sha256", "sha256", "raw")
SUBJECT_COLUMNS = ("subject", "seq")
_TYPES = {
    "seq": "int4",
    "stream": "text",
    "version": "int4",
    "type": "text",
    "prev_sha256": "bytea",
    "sha256": "bytea",
    "raw": "bytea",
    "subject": "text",
}
LONGEST = 255  # bytes; PostgreSQL's indexes hold no keys over 2,704
# the chain is written by one at a time; any number will do, as long as all writers use it
_CHAIN_LOCK = 0x6C61705F


def act_row(act: Act, entry: Entry) -> tuple[Any, ...]:
    """Return the columns of an act in the order of `ACT_COLUMNS`."""
    return (
        entry.seq,
        entry.stream,
        entry.version,
        act.type,
        bytes.fromhex(entry.prev_sha256),
        bytes.fromhex(entry.sha256),
        entry.raw,
    )


def subject_rows(acts: Iterable[tuple[int, Act]]) -> list[tuple[str, int]]:
    """Return the index rows of numbered acts, in the order of the index."""
    return sorted({(subject_key(name), seq) for seq, act in acts for name in subjects_of(act)})


def subject_key(subject: str) -> str:
    """Return a subject as the index holds it: long or odd texts by their SHA-256."""
    if "\0" not in subject and (len(subject) < 64 or len(subject.encode()) <= LONGEST):
        return subject
    return "sha256:" + hashlib.sha256(subject.encode()).hexdigest()


def check_texts(texts: Iterable[str], *, longest: int | None = LONGEST) -> None:
    """Refuse texts that a database cannot keep or index.

    Parameters
    ----------
    texts : iterable of str
        Names of streams, or personal values.
    longest : int, optional
        Limit of a text's bytes; None for texts that are not indexed.

    Raises
    ------
    TextRefused
        If a text is too long or holds a NUL character.
    """
    for text in texts:
        if "\0" in text or (longest is not None and len(text.encode()) > longest):
            limit = f"at most {longest} bytes" if longest is not None else "text"
            raise TextRefused(
                "not a text that a database can keep",
                got=text,
                expected=f"{limit} without NUL characters",
                do="Write it anew, or give the case or record a shorter name.",
            )


def take_turn(connection: BaseDatabaseWrapper) -> None:
    """Wait until no other writer adds to the chain; holds until the transaction ends.

    SQLite takes its turn when the transaction begins.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [_CHAIN_LOCK])


def insert(
    connection: BaseDatabaseWrapper,
    table: str,
    columns: Sequence[str],
    rows: Iterable[tuple[Any, ...]],
) -> None:
    """Add rows to a table inside the present transaction.

    Parameters
    ----------
    connection : BaseDatabaseWrapper
        The database.
    table, columns : str, sequence of str
        Where the values go, in order.
    rows : iterable of tuple
        The values.
    """
    names = ", ".join(columns)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            _copy(connection, cursor, f"COPY {table} ({names}) FROM STDIN (FORMAT BINARY)", rows)
            return
        marks = ", ".join(["%s"] * len(columns))
        cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", list(rows))


def _copy(
    connection: BaseDatabaseWrapper, cursor: Any, sql: str, rows: Iterable[tuple[Any, ...]]
) -> None:
    columns = sql.partition("(")[2].partition(")")[0].split(", ")
    with connection.wrap_database_errors, cursor.cursor.copy(sql) as copy:
        copy.set_types([_TYPES[column] for column in columns])
        for row in rows:
            copy.write_row(row)
