"""The log of acts in a database; what it must do is said by `lapwright.ledger.log.Log`."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Max

from lapwright.core.acts import Act
from lapwright.ledger.heads import SignedHead
from lapwright.ledger.log import Entry, First, SideRecord, chained, check_expected, ready

from . import reading, rows
from .faults import told
from .models import HeadRow, SideRow

_FIELDS = "seq, raw, prev_sha256, sha256, stream, version"


class DatabaseLog:
    """A log in SQLite or PostgreSQL.

    What `append` has returned is on the disk. Readers see the entries that were
    there when they asked. Each thread has a connection of its own.

    Parameters
    ----------
    alias : str
        Django's name of the connection.
    name : str
        The database as people know it, without secrets.
    """

    def __init__(self, alias: str, *, name: str) -> None:
        self.alias = alias
        self.name = name

    @property
    def connection(self) -> BaseDatabaseWrapper:
        """The connection of this thread."""
        return connections[self.alias]

    def close(self) -> None:
        """Close this thread's connection; the next use opens it again."""
        self.connection.close()

    # ------------------------------------------------------------------ writing
    def append(
        self, acts: Iterable[Act], *, expect: Mapping[str, int] | None = None, first: First = ready
    ) -> tuple[Entry, ...]:
        """Append all acts, or none; return their entries."""
        given = tuple(acts)
        streams = sorted({act.stream for act in given} | set(expect or ()))
        rows.check_texts(streams)
        with told(self.name), transaction.atomic(using=self.alias, durable=True):
            rows.take_turn(self.connection)
            versions = reading.versions(self.connection, streams)
            check_expected(versions, expect)
            first()
            seq, prev = reading.tip(self.connection)
            fresh = tuple(chained(given, seq=seq, prev=prev.hex(), versions=versions))
            self._insert(given, fresh)
        return fresh

    def _insert(self, acts: Sequence[Act], entries: Sequence[Entry]) -> None:
        act_rows = map(rows.act_row, acts, entries)
        rows.insert(self.connection, "ledger_act", rows.ACT_COLUMNS, act_rows)
        named = rows.subject_rows((e.seq, a) for a, e in zip(acts, entries, strict=True))
        rows.insert(self.connection, "ledger_subject", rows.SUBJECT_COLUMNS, named)

    # ------------------------------------------------------------------ reading
    def entries(self, *, stream: str | None = None, since: int = 0) -> Iterator[Entry]:
        """Yield entries, oldest first: of one stream or of all, from number ``since`` on."""
        size, since = self.size(), max(since, 0)
        found = reading.pages(self.connection, _FIELDS, since=since, size=size, stream=stream)
        return self._entries(found)

    def about(self, *subjects: str) -> Iterator[Entry]:
        """Yield the entries that name one of the subjects, oldest first, each once."""
        keys = sorted({rows.subject_key(subject) for subject in subjects})
        with told(self.name):
            numbers = reading.naming(self.connection, keys)
        return self._entries(reading.numbered(self.connection, _FIELDS, numbers))

    def _entries(self, pages: Iterator[list[reading.Row]]) -> Iterator[Entry]:
        while True:
            with told(self.name):
                page = next(pages, None)
            if page is None:
                return
            yield from map(_entry, page)

    def size(self) -> int:
        """Return the number of entries."""
        with told(self.name):
            return reading.tip(self.connection)[0]

    def first_broken(self) -> int | None:
        """Return the number of the first entry that does not fit the chain, or None.

        As `lapwright.ledger.log.first_broken`, on the stored bytes without entries.
        """
        size, number, prev = self.size(), 0, bytes(32)
        fields = "seq, prev_sha256, sha256, raw"
        with told(self.name):
            for page in reading.pages(self.connection, fields, since=0, size=size, stream=None):
                for seq, before, digest, raw in page:
                    made = hashlib.sha256(prev + raw).digest()
                    if seq != number or before != prev or digest != made:
                        return number
                    prev, number = digest, number + 1
        return None if number == size else number

    # ------------------------------------------------------------------ side records and heads
    def put_side(self, commitment: str, value: str, salt: bytes) -> None:
        """Keep a personal value and its salt beside the log."""
        rows.check_texts((commitment, value), longest=None)
        with told(self.name):
            SideRow.objects.using(self.alias).update_or_create(
                commitment=commitment, defaults={"value": value, "salt": salt}
            )

    def side(self, commitment: str) -> str | None:
        """Return the personal value, or None when it was never there or was removed."""
        with told(self.name):
            found = SideRow.objects.using(self.alias).filter(commitment=commitment)
            return found.values_list("value", flat=True).first()

    def side_records(self) -> Mapping[str, SideRecord]:
        """Return every side record: commitment -> value and salt."""
        with told(self.name):
            found = SideRow.objects.using(self.alias).values_list("commitment", "value", "salt")
            return {key: SideRecord(value, bytes(salt)) for key, value, salt in found}

    def remove_side(self, commitment: str) -> None:
        """Delete a personal value and its salt; the chain stays whole.

        SQLite overwrites it with zeros, in its log of recent writes too unless others
        read meanwhile; PostgreSQL when the table is next vacuumed.
        """
        with told(self.name):
            SideRow.objects.using(self.alias).filter(commitment=commitment).delete()
            if self.connection.vendor == "sqlite" and not self.connection.in_atomic_block:
                with self.connection.cursor() as cursor:
                    cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def put_head(self, head: SignedHead) -> None:
        """Keep a signed tree head; a second time changes nothing."""
        with told(self.name), transaction.atomic(using=self.alias, durable=True):
            rows.take_turn(self.connection)
            kept = HeadRow.objects.using(self.alias)
            if not kept.filter(size=head.size, signature=head.signature).exists():
                last = kept.aggregate(last=Max("id"))["last"] or 0
                kept.create(
                    id=last + 1,
                    size=head.size,
                    root=head.root,
                    at=head.at,
                    key=head.key,
                    signature=head.signature,
                )

    def heads(self) -> tuple[SignedHead, ...]:
        """Return the signed tree heads, smallest first."""
        with told(self.name):
            kept = HeadRow.objects.using(self.alias)
            found = kept.values_list("size", "root", "at", "key", "signature")
            return tuple(sorted((SignedHead(*row) for row in found), key=_head_order))


def _entry(row: reading.Row) -> Entry:
    seq, raw, prev, digest, stream, version = row
    return Entry(seq, raw, prev.hex(), digest.hex(), stream, version)


def _head_order(head: SignedHead) -> tuple[int, str]:
    return head.size, head.signature
