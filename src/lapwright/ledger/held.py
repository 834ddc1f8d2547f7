"""Hold the entries of a ledger against its own signed tree heads.

A head was signed over the first entries of the ledger. If the ledger now holds
fewer, or those entries have another root, somebody has changed what was filed;
a head is never left out because it does not fit. Roots are taken in one pass
over the leaves while something else reads the entries.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from . import checker
from .errors import HeadBeyond, HeadForged, HeadOther, LedgerDamaged
from .heads import SignedHead
from .log import GENESIS, Log, chain_digest
from .trust import key_id

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

_DO = (
    "Keep this ledger as it is for whoever looks into it, and restore the latest backup elsewhere."
)


class HeldHeads:
    """The signed heads of a ledger, and the roots of its entries at their sizes.

    Parameters
    ----------
    heads : iterable of SignedHead
        Taken before the entries are counted, so that none can be ahead of them.
    also : iterable of int, optional
        Further sizes of which the root is wanted.
    """

    def __init__(self, heads: Iterable[SignedHead], *, also: Iterable[int] = ()) -> None:
        self.heads = tuple(sorted(heads, key=lambda h: (h.size, h.signature)))
        self.tree = checker.Tree()
        self.roots = {0: self.tree.root().hex()}
        self._wanted = {head.size for head in self.heads} | set(also)

    def add(self, leaf: bytes) -> None:
        """Add the bytes of the next entry."""
        self.tree.add(leaf)
        if self.tree.size in self._wanted:
            self.roots[self.tree.size] = self.tree.root().hex()

    def check(self, *, public: Ed25519PublicKey | None = None) -> None:
        """Refuse entries that a signed head does not fit; the first such head is named.

        Parameters
        ----------
        public : Ed25519PublicKey, optional
            The programme's token key: heads under its id must carry its signature.

        Raises
        ------
        HeadBeyond
            If a head covers more entries than there are.
        HeadOther
            If the entries it covers have another root.
        HeadForged
            If a head was changed after signing.
        """
        for head in self.heads:
            if head.size > self.tree.size:
                raise head_beyond(head, self.tree.size)
            if self.roots.get(head.size) != head.root:
                raise head_other(head, f"root {self.roots.get(head.size, 'none')}")
            if public is not None and head.key == key_id(public) and head.holds(public) != "yes":
                raise _forged(head)


def check_whole(
    log: Log, *, public: Ed25519PublicKey | None = None, also: Iterable[int] = ()
) -> HeldHeads:
    """Check chain and signed heads of a ledger in one pass; return the heads with their roots.

    Parameters
    ----------
    log : Log
        The ledger.
    public : Ed25519PublicKey, optional
        The programme's token key.
    also : iterable of int, optional
        Further sizes of which the root is wanted.

    Raises
    ------
    LedgerDamaged
        If an entry is not as it was chained.
    HeadBeyond, HeadOther, HeadForged
        If a signed head does not fit.
    """
    held, prev = HeldHeads(log.heads(), also=also), GENESIS
    for seq, entry in enumerate(log.entries()):
        fits = entry.seq == seq and entry.prev_sha256 == prev
        if not fits or entry.sha256 != chain_digest(prev, entry.raw):
            raise damaged(seq)
        held.add(entry.raw)
        prev = entry.sha256
    held.check(public=public)
    return held


def damaged(seq: int) -> LedgerDamaged:
    """Return the refusal of a ledger in which an entry is not as it was chained."""
    return LedgerDamaged(
        "the ledger is damaged",
        got=f"entry {seq} does not fit the entries before it",
        expected="an unbroken chain",
        do="Keep this ledger as it is for whoever looks into it, and restore the latest backup.",
    )


def head_beyond(head: SignedHead, size: int, *, where: str = "") -> HeadBeyond:
    """Return the refusal of a ledger that is shorter than a head it has signed."""
    return HeadBeyond(
        "entries at the end of the ledger are gone",
        got=f"{size} entries",
        expected=f"at least the {head.size} of the tree head signed at {head.at}",
        do=_DO,
        where=where,
    )


def head_other(head: SignedHead, got: str, *, where: str = "") -> HeadOther:
    """Return the refusal of a ledger whose entries are not those of a head it has signed."""
    return HeadOther(
        f"the first {head.size} entries are not those of the tree head signed at {head.at}",
        got=got,
        expected=f"root {head.root}",
        do=_DO,
        where=where,
    )


def _forged(head: SignedHead) -> HeadForged:
    return HeadForged(
        f"the tree head of {head.size} entries was changed after signing",
        got=f"a signature that does not fit, at {head.at}",
        expected=f"the signature of key {head.key}",
        do=_DO,
    )
