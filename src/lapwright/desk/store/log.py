"""The log of acts in a database; what it must do is said by `lapwright.ledger.log.Log`."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Max

from lapwright.core.acts import Act
from lapwright.desk.errors import RowRefused
from lapwright.desk.headfile import HeadFile, KeptHead
from lapwright.ledger.heads import SignedHead
from lapwright.ledger.log import Entry, First, SideRecord, chained, check_expected, opened, ready

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
    beside : HeadFile, optional
        Where signed heads are kept a second time.
    """

    def __init__(self, alias: str, *, name: str, beside: HeadFile | None = None) -> None:
        self.alias = alias
        self.name = name
        self.beside = beside

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
                try:
                    for seq, before, digest, raw in page:
                        made = hashlib.sha256(prev + raw).digest()
                        if seq != number or before != prev or digest != made:
                            return number
                        prev, number = digest, number + 1
                except TypeError:  # text in the place of bytes
                    return number
        return None if number == size else number

    def last_fits(self) -> tuple[int, str]:
        """Return the number of entries, and whether the last one has its digest, ``yes`` or ``no``.

        A last entry that follows another one than it names does not fit either.
        """
        sql = "SELECT seq, prev_sha256, sha256, raw FROM ledger_act ORDER BY seq DESC LIMIT 2"
        with told(self.name):
            found = reading.fetch(self.connection, sql)
        if not found:
            return 0, "yes"
        seq, before, digest, raw = found[0]
        try:
            fits = hashlib.sha256(before + raw).digest() == digest
        except TypeError:  # text in the place of bytes
            fits = False
        behind = found[1][2] if len(found) > 1 else bytes(32)
        return seq + 1, "yes" if fits and before == behind else "no"

    def chain_at(self, size: int) -> str:
        """Return the chain digest of the last of ``size`` entries, in hex; empty where none is."""
        sql = "SELECT sha256 FROM ledger_act WHERE seq = %s"
        with told(self.name):
            found = reading.fetch(self.connection, sql, [size - 1])
        return bytes(found[0][0]).hex() if found and isinstance(found[0][0], bytes) else ""

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
            row = found.values_list("value", "salt").first()
        return opened(commitment, _side(*row)).value if row else None

    def side_records(self) -> Mapping[str, SideRecord]:
        """Return every side record: commitment -> value and salt."""
        with told(self.name):
            found = SideRow.objects.using(self.alias).values_list("commitment", "value", "salt")
            kept = {key: _side(value, salt) for key, value, salt in found}
        return {key: opened(key, record) for key, record in kept.items()}

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
        """Keep a signed tree head; a second time changes nothing.

        It goes into the file beside the database first: what that holds more than the
        database fits the entries all the same.
        """
        with told(self.name):
            self._put_beside(head)
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

    def _put_beside(self, head: SignedHead) -> None:
        if self.beside is None:
            return
        held = {kept.head for kept in self.beside.heads()}
        fresh = sorted({head, *self._head_rows()} - held, key=_head_order)
        if fresh:
            self.beside.add([KeptHead(h, self.chain_at(h.size)) for h in fresh])

    def heads(self) -> tuple[SignedHead, ...]:
        """Return the signed tree heads, smallest first: of the database and the file beside it."""
        held = {kept.head for kept in self.beside.heads()} if self.beside else set()
        return tuple(sorted({*self._head_rows(), *held}, key=_head_order))

    def latest_heads(self) -> tuple[KeptHead, ...]:
        """Return the signed head of the most entries in the database and in the file beside it."""
        rows_ = self._head_rows(latest=1)
        kept = self.beside.latest() if self.beside else None
        return (*(KeptHead(head, "") for head in rows_), *([kept] if kept else []))

    def _head_rows(self, *, latest: int | None = None) -> list[SignedHead]:
        with told(self.name):
            kept = HeadRow.objects.using(self.alias).order_by("-size", "-signature")[:latest]
            found = list(kept.values_list("size", "root", "at", "key", "signature"))
        return [_head(*row) for row in found]


def _entry(row: reading.Row) -> Entry:
    seq, raw, prev, digest, stream, version = row
    if not (type(raw) is type(prev) is type(digest) is bytes and type(stream) is str):
        raise row_refused(f"entry {seq}", "bytes with their digests, and a name of a stream")
    return Entry(seq, raw, prev.hex(), digest.hex(), stream, version)


def _side(value: object, salt: object) -> SideRecord:
    """Return a personal value as it is kept; what is no bytes does not open its commitment."""
    return SideRecord(value, bytes(salt) if isinstance(salt, bytes | memoryview) else salt)  # type: ignore[arg-type]


def _head(size: object, *texts: object) -> SignedHead:
    if type(size) is not int or any(type(text) is not str for text in texts):
        raise row_refused("a signed head", "a number and texts")
    return SignedHead(size, *texts)  # type: ignore[arg-type]


def row_refused(where: str, expected: str) -> RowRefused:
    """Return the refusal of a row with values of other kinds than were written."""
    return RowRefused(
        "a row of the database was changed by another program",
        got="values of another kind",
        expected=expected,
        where=where,
        do="Keep this ledger as it is, and restore the latest backup into another folder.",
    )


def _head_order(head: SignedHead) -> tuple[int, str]:
    return head.size, head.signature
