"""Proofs that fit in one small file: an entry is in the ledger, the ledger only grew.

A proof carries a signed tree head (RFC 9162 hashing, Ed25519), and with it the
path from an entry to the root, the path from an earlier head, or both.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any

from lapwright.core.acts import canonical_json
from lapwright.ledger.errors import EntryUnknown
from lapwright.ledger.heads import SignedHead, sign_head
from lapwright.ledger.held import HeldHeads, damaged
from lapwright.ledger.keys import Keys
from lapwright.ledger.log import GENESIS, Entry, Log, chain_digest
from lapwright.ledger.tree import (
    TreeHead,
    consistency_path,
    head_of_hashes,
    inclusion_path,
    leaf_hash,
)

from .text import word

FORMAT = "lapwright-proof/1"
Tell = Callable[[str], None]


@dataclass(frozen=True)
class Asked:
    """What is to be proved: an entry by number or by the SHA-256 of its act, an earlier size."""

    entry: int | None = None
    act: str = ""
    from_size: int | None = None


@dataclass(frozen=True)
class Proof:
    """A proof: its signed head and the JSON document."""

    head: SignedHead
    document: Mapping[str, Any]

    def to_bytes(self) -> bytes:
        """Return the file."""
        return canonical_json(self.document) + b"\n"

    def lines(self, out: Path | None) -> Iterator[str]:
        """Yield what was proved as lines for a terminal."""
        head = self.head
        yield word("ledger.head", size=str(head.size), root=head.root, at=head.at, key=head.key)
        if "inclusion" in self.document:
            found = self.document["inclusion"]
            yield word("ledger.proved.entry", entry=found["entry"], type=found["act"]["type"])
        if "consistency" in self.document:
            earlier = self.document["consistency"]
            yield word("ledger.proved.growth", size=earlier["size"], root=earlier["root"])
        if out is not None:
            yield word("ledger.proved.out", out=str(out))


@dataclass
class _Read:
    """The signed heads held so far, the hashes of a ledger's leaves and the entry asked for."""

    held: HeldHeads
    hashes: list[bytes] = field(default_factory=list)
    entry: Entry | None = None


def prove(
    log: Log, *, asked: Asked, keys: Keys, at: datetime, tell: Tell = lambda _: None
) -> Proof:
    """Prove what is asked under a freshly signed tree head, which the ledger keeps.

    Parameters
    ----------
    log : Log
        The ledger.
    asked : Asked
        Nothing asked: the signed head alone.
    keys : Keys
        Its token key signs the head.
    at : datetime
        The present moment.
    tell : callable, optional
        Told how far it has come.

    Raises
    ------
    EntryUnknown
        If the ledger holds no such entry, or was never of that size.
    LedgerDamaged
        If an entry is not as it was chained.
    HeadBeyond, HeadOther, HeadForged
        If a head that the ledger has signed does not fit its entries; nothing is signed then.
    """
    read = _read(log, asked, tell)
    read.held.check(public=keys.token_key.public_key())
    document: dict[str, Any] = {"format": FORMAT}
    if asked.entry is not None or asked.act:
        document["inclusion"] = _inclusion(read, asked)
    if asked.from_size is not None:
        document["consistency"] = _consistency(read, asked.from_size)
    tree = read.held.tree
    head = sign_head(TreeHead(tree.size, tree.root()), keys.token_key, at=at)
    log.put_head(head)
    return Proof(head, document | {"head": head.as_dict()})


def _read(log: Log, asked: Asked, tell: Tell) -> _Read:
    read, prev = _Read(HeldHeads(log.heads())), GENESIS
    for seq, entry in enumerate(islice(log.entries(), log.size())):
        if entry.seq != seq or entry.sha256 != chain_digest(prev, entry.raw):
            raise damaged(seq)
        prev = entry.sha256
        read.hashes.append(leaf_hash(entry.raw))
        read.held.add(entry.raw)
        if seq == asked.entry or asked.act == hashlib.sha256(entry.raw).hexdigest():
            read.entry = entry
        if (seq + 1) % 100_000 == 0:
            tell(word("ledger.entries_read", count=str(seq + 1)))
    return read


def _inclusion(read: _Read, asked: Asked) -> dict[str, Any]:
    if read.entry is None:
        what = f"entry {asked.entry}" if asked.entry is not None else f"act {asked.act}"
        raise EntryUnknown(
            "the ledger holds no such entry",
            got=what,
            expected=f"one of its {len(read.hashes)} entries, counted from 0",
            do="Look the entry up in an export; --act takes all 64 digits.",
        )
    path = inclusion_path(read.hashes, read.entry.seq)
    return {
        "entry": str(read.entry.seq),
        "act": json.loads(read.entry.raw),
        "path": [step.hex() for step in path],
    }


def _consistency(read: _Read, size: int) -> dict[str, Any]:
    if not 1 <= size <= len(read.hashes):
        raise EntryUnknown(
            "the ledger was never of that size",
            got=f"{size} entries",
            expected=f"1 to {len(read.hashes)} entries",
            do="Name the size that is printed with the earlier tree head.",
        )
    signed = next((head.root for head in read.held.heads if head.size == size), None)
    root = signed or head_of_hashes(read.hashes[:size]).root_hex
    path = consistency_path(read.hashes, size)
    return {"size": str(size), "root": root, "path": [step.hex() for step in path]}
