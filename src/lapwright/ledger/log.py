"""The Log protocol and the in-memory log.

A log only grows. Each entry holds the digest of the one before it; the first
one holds 64 zeros. Side records (personal values behind a commitment) stand
beside the log and can be deleted without touching the chain.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Protocol

from lapwright.core.acts import Act

GENESIS = "0" * 64


@dataclass(frozen=True)
class Entry:
    """One line of a log: its number from 0, the exact bytes, the chain digests."""

    seq: int
    raw: bytes
    prev_sha256: str
    sha256: str

    @property
    def act(self) -> Act:
        """The act that the bytes hold."""
        return Act.from_bytes(self.raw)


class Log(Protocol):
    """What every store of acts offers."""

    def append(self, acts: Iterable[Act]) -> tuple[Entry, ...]:
        """Append all acts, or none; return their entries."""

    def entries(self) -> Iterator[Entry]:
        """Yield every entry, oldest first."""

    def put_side(self, commitment: str, value: str, salt: bytes) -> None:
        """Keep a personal value and its salt beside the log."""

    def side(self, commitment: str) -> str | None:
        """Return the personal value, or None when it was never there or was deleted."""


class MemoryLog:
    """A log in memory, for case folders and tests."""

    def __init__(self) -> None:
        self._entries: list[Entry] = []
        self._side: dict[str, tuple[str, bytes]] = {}

    def append(self, acts: Iterable[Act]) -> tuple[Entry, ...]:
        """Append all acts, or none; return their entries."""
        fresh: list[Entry] = []
        prev = self._entries[-1].sha256 if self._entries else GENESIS
        for number, raw in enumerate([a.to_bytes() for a in acts], start=len(self._entries)):
            entry = Entry(number, raw, prev, chain_digest(prev, raw))
            fresh.append(entry)
            prev = entry.sha256
        self._entries.extend(fresh)
        return tuple(fresh)

    def entries(self) -> Iterator[Entry]:
        """Yield every entry, oldest first."""
        return iter(tuple(self._entries))

    def put_side(self, commitment: str, value: str, salt: bytes) -> None:
        """Keep a personal value and its salt beside the log."""
        self._side[commitment] = (value, salt)

    def side(self, commitment: str) -> str | None:
        """Return the personal value, or None when it is not there."""
        kept = self._side.get(commitment)
        return kept[0] if kept else None

    def side_records(self) -> dict[str, tuple[str, bytes]]:
        """Return every side record: commitment -> (value, salt)."""
        return dict(self._side)


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
