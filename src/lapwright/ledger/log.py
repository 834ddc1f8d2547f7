"""The Log protocol and the in-memory log.

A log only grows. Each entry holds the digest of the one before it; the first
one holds 64 zeros. Entries of one stream are numbered from 0 without a gap, so
that two writers who have seen the same stream cannot both add to it. Side
records (personal values behind a commitment) stand beside the log and can be
removed without touching the chain.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Protocol

from lapwright.core.acts import Act
from lapwright.core.subjects import subjects_of

from .errors import SideOther, StreamMoved
from .heads import SignedHead

GENESIS = "0" * 64
First = Callable[[], None]


def ready() -> None:
    """Nothing to look at first."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a log: its number from 0, the exact bytes, the chain digests.

    ``stream`` is that of the act, ``version`` its number from 0 in that stream.
    """

    seq: int
    raw: bytes
    prev_sha256: str
    sha256: str
    stream: str = ""
    version: int = 0

    @property
    def act(self) -> Act:
        """The act that the bytes hold."""
        return Act.from_bytes(self.raw)


@dataclass(frozen=True, slots=True)
class SideRecord:
    """A personal value with the salt of its commitment."""

    value: str
    salt: bytes


class Log(Protocol):
    """What every store of acts offers."""

    def append(
        self, acts: Iterable[Act], *, expect: Mapping[str, int] | None = None, first: First = ready
    ) -> tuple[Entry, ...]:
        """Append all acts, or none; return their entries.

        Parameters
        ----------
        acts : iterable of Act
            In order.
        expect : mapping, optional
            Stream to the number of entries that the writer has seen in it.
        first : callable, optional
            Called when no other writer can add any more: what it finds in the log still holds
            when the acts are written, side records that it puts are written with them, and
            what it raises leaves nothing appended.

        Raises
        ------
        StreamMoved
            If a stream holds more or fewer entries than expected; nothing is written.
        """

    def entries(self, *, stream: str | None = None, since: int = 0) -> Iterator[Entry]:
        """Yield entries, oldest first: of one stream or of all, from number ``since`` on."""

    def about(self, *subjects: str) -> Iterator[Entry]:
        """Yield the entries that name one of the subjects, oldest first, each once.

        A subject is ``kind:id`` as `lapwright.core.subjects.subjects_of` makes them.
        """

    def size(self) -> int:
        """Return the number of entries."""

    def put_side(self, commitment: str, value: str, salt: bytes) -> None:
        """Keep a personal value and its salt beside the log."""

    def side(self, commitment: str) -> str | None:
        """Return the personal value, or None when it was never there or was removed.

        Raises
        ------
        SideOther
            If it does not open its commitment.
        """

    def side_records(self) -> Mapping[str, SideRecord]:
        """Return every side record: commitment -> value and salt.

        Raises
        ------
        SideOther
            If one does not open its commitment.
        """

    def remove_side(self, commitment: str) -> None:
        """Delete a personal value and its salt; the chain stays whole."""

    def put_head(self, head: SignedHead) -> None:
        """Keep a signed tree head."""

    def heads(self) -> tuple[SignedHead, ...]:
        """Return the signed tree heads, smallest first."""


class MemoryLog:
    """A log in memory, for case folders and tests."""

    def __init__(self) -> None:
        self._entries: list[Entry] = []
        self._versions: dict[str, int] = {}
        self._side: dict[str, SideRecord] = {}
        self._heads: dict[tuple[int, str], SignedHead] = {}

    def append(
        self, acts: Iterable[Act], *, expect: Mapping[str, int] | None = None, first: First = ready
    ) -> tuple[Entry, ...]:
        """Append all acts, or none; return their entries."""
        check_expected(self._versions, expect)
        first()
        versions = dict(self._versions)
        prev = self._entries[-1].sha256 if self._entries else GENESIS
        fresh = tuple(chained(acts, seq=len(self._entries), prev=prev, versions=versions))
        self._entries.extend(fresh)
        self._versions = versions
        return fresh

    def entries(self, *, stream: str | None = None, since: int = 0) -> Iterator[Entry]:
        """Yield entries, oldest first."""
        kept = tuple(self._entries[since:])
        return (e for e in kept if stream is None or e.stream == stream)

    def about(self, *subjects: str) -> Iterator[Entry]:
        """Yield the entries that name one of the subjects, oldest first, each once."""
        asked = set(subjects)
        return (e for e in tuple(self._entries) if asked & set(subjects_of(e.act)))

    def size(self) -> int:
        """Return the number of entries."""
        return len(self._entries)

    def put_side(self, commitment: str, value: str, salt: bytes) -> None:
        """Keep a personal value and its salt beside the log."""
        self._side[commitment] = SideRecord(value, salt)

    def side(self, commitment: str) -> str | None:
        """Return the personal value, or None when it is not there."""
        kept = self._side.get(commitment)
        return opened(commitment, kept).value if kept else None

    def side_records(self) -> Mapping[str, SideRecord]:
        """Return every side record: commitment -> value and salt."""
        return {name: opened(name, kept) for name, kept in self._side.items()}

    def remove_side(self, commitment: str) -> None:
        """Delete a personal value and its salt."""
        self._side.pop(commitment, None)

    def put_head(self, head: SignedHead) -> None:
        """Keep a signed tree head."""
        self._heads[(head.size, head.signature)] = head

    def heads(self) -> tuple[SignedHead, ...]:
        """Return the signed tree heads, smallest first."""
        return tuple(self._heads[key] for key in sorted(self._heads))


def chained(
    acts: Iterable[Act], *, seq: int, prev: str, versions: dict[str, int]
) -> Iterator[Entry]:
    """Yield the entries of ``acts`` behind the entry whose digest is ``prev``.

    Parameters
    ----------
    acts : iterable of Act
        In order.
    seq : int
        Number of the first one.
    prev : str
        Digest of the entry before, or `GENESIS`.
    versions : dict
        Stream to the number of entries it holds; counted up.
    """
    for number, act in enumerate(acts, start=seq):
        raw = act.to_bytes()
        digest = chain_digest(prev, raw)
        version = versions.get(act.stream, 0)
        versions[act.stream] = version + 1
        yield Entry(number, raw, prev, digest, act.stream, version)
        prev = digest


def opened(commitment: str, record: SideRecord) -> SideRecord:
    """Return a personal value that opens its commitment, or refuse it.

    Parameters
    ----------
    commitment : str
        SHA-256 of salt and value, in hex.
    record : SideRecord
        As it was kept; a database may give back other kinds of values.

    Raises
    ------
    SideOther
        If it does not; the value is not repeated.
    """
    kinds = (type(record.salt), type(record.value)) == (bytes, str)
    if kinds and hashlib.sha256(record.salt + record.value.encode()).hexdigest() == commitment:
        return record
    raise SideOther(
        "a name or other personal value does not open its commitment",
        got="a value that is not the one committed to",
        expected=f"the value or salt behind {commitment}",
        do="Keep this ledger as it is for whoever looks into it, and restore the latest backup.",
    )


def check_expected(held: Mapping[str, int], expect: Mapping[str, int] | None) -> None:
    """Refuse to write behind entries that the writer has not seen.

    Parameters
    ----------
    held, expect : mapping
        Stream to number of entries, as held and as the writer has seen it.

    Raises
    ------
    StreamMoved
        If they differ.
    """
    for stream, count in (expect or {}).items():
        if held.get(stream, 0) != count:
            raise StreamMoved(
                "somebody else has written meanwhile",
                got=f"{held.get(stream, 0)} entries",
                expected=f"{count} entries, as last seen",
                where=stream,
                do="Look at the new entries, then file yours again.",
            )


def chain_digest(prev_sha256: str, raw: bytes) -> str:
    """Return the digest that links an entry to the one before it."""
    return hashlib.sha256(bytes.fromhex(prev_sha256) + raw).hexdigest()


def first_broken(entries: Iterable[Entry]) -> int | None:
    """Return the number of the first entry that does not fit the chain, or None."""
    prev = GENESIS
    for number, entry in enumerate(entries):
        fits = (
            entry.seq == number
            and entry.prev_sha256 == prev
            and entry.sha256 == chain_digest(prev, entry.raw)
        )
        if not fits:
            return number
        prev = entry.sha256
    return None
