"""Read models: what is kept beside the acts to find them quickly, and can be made anew.

These are the index of subjects, and the columns stream, version and type of an
act. ``compare`` proves that they say what the bytes of the acts say; ``rebuild``
makes the index anew.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.db import transaction

from lapwright.core.acts import Act

from . import reading, rows
from .faults import told
from .log import DatabaseLog

_COLUMNS = "seq, raw, stream, version, type"


@dataclass(frozen=True)
class Comparison:
    """How the read models stand to the acts.

    ``missing`` and ``surplus`` count rows of the index against a rebuilt one;
    ``mislabelled`` names acts whose stream, version or type column is not that of
    their bytes.
    """

    acts: int
    rows: int
    missing: int
    surplus: int
    mislabelled: tuple[int, ...] = ()

    @property
    def same(self) -> str:
        """``yes`` where the live read models equal the rebuilt ones, else ``no``."""
        return "no" if self.missing or self.surplus or self.mislabelled else "yes"


def rebuild(log: DatabaseLog) -> int:
    """Drop the index of subjects and make it anew from the acts; return its rows.

    Writers wait meanwhile; readers see the old index until the new one is whole.
    """
    made = 0
    with told(log.name), transaction.atomic(using=log.alias, durable=True):
        rows.take_turn(log.connection)
        with log.connection.cursor() as cursor:
            cursor.execute("DELETE FROM ledger_subject")
        for page in _pages(log, reading.tip(log.connection)[0]):
            fresh = rows.subject_rows((row[0], Act.from_bytes(row[1])) for row in page)
            rows.insert(log.connection, "ledger_subject", rows.SUBJECT_COLUMNS, fresh)
            made += len(fresh)
    return made


def compare(log: DatabaseLog) -> Comparison:
    """Compare the read models with the acts that are there now; nobody waits.

    An act and its index rows are written at once, so that rows of later acts are
    told by their number and left aside.
    """
    with told(log.name):
        size = reading.tip(log.connection)[0]
        _statements(
            log,
            "DROP TABLE IF EXISTS rebuilt_subject",
            "CREATE TEMPORARY TABLE rebuilt_subject (subject text, seq integer)",
        )
        mislabelled = _rebuilt_aside(log, size)
        live = f"SELECT subject, seq FROM ledger_subject WHERE seq < {size}"
        made = "SELECT subject, seq FROM rebuilt_subject"
        of_none = (
            "SELECT subject, seq FROM ledger_subject s "
            "WHERE NOT EXISTS (SELECT 1 FROM ledger_act a WHERE a.seq = s.seq)"
        )
        found = Comparison(
            size,
            _count(log, live),
            _count(log, f"{made} EXCEPT {live}"),
            _count(log, f"{live} EXCEPT {made} UNION {of_none}"),
            mislabelled,
        )
        _statements(log, "DROP TABLE rebuilt_subject")
    return found


def _rebuilt_aside(log: DatabaseLog, size: int) -> tuple[int, ...]:
    """Fill the temporary index; return the acts whose columns differ from their bytes."""
    counted: dict[str, int] = {}
    mislabelled: list[int] = []
    for page in _pages(log, size):
        acts = [Act.from_bytes(row[1]) for row in page]
        for (seq, _, stream, version, kind), act in zip(page, acts, strict=True):
            expected = counted.get(act.stream, 0)
            counted[act.stream] = expected + 1
            if (stream, version, kind) != (act.stream, expected, act.type):
                mislabelled.append(seq)
        named = rows.subject_rows((row[0], act) for row, act in zip(page, acts, strict=True))
        rows.insert(log.connection, "rebuilt_subject", rows.SUBJECT_COLUMNS, named)
    return tuple(mislabelled)


def _pages(log: DatabaseLog, size: int) -> Iterator[list[reading.Row]]:
    return reading.pages(log.connection, _COLUMNS, since=0, size=size, stream=None)


def _statements(log: DatabaseLog, *statements: str) -> None:
    with log.connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def _count(log: DatabaseLog, question: str) -> int:
    return int(reading.fetch(log.connection, f"SELECT count(*) FROM ({question}) AS found")[0][0])
