"""The Merkle tree over ledger lines: head, inclusion proof, consistency proof.

The hashes are those of RFC 9162, section 2.1: a leaf is hashed with the prefix
0x00, an inner node with 0x01, and a tree of n leaves splits at the largest
power of two below n. The empty tree has the hash of the empty string.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from .errors import TreeRefused


@dataclass(frozen=True)
class TreeHead:
    """Size of the tree, in leaves, and its root (32 bytes, SHA-256)."""

    size: int
    root_sha256: bytes

    @property
    def root_hex(self) -> str:
        """The root as 64 hexadecimal digits."""
        return self.root_sha256.hex()


def leaf_hash(leaf: bytes) -> bytes:
    """Return SHA-256 of 0x00 and the leaf (RFC 9162, 2.1.1)."""
    return hashlib.sha256(b"\x00" + leaf).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Return SHA-256 of 0x01, the left and the right hash (RFC 9162, 2.1.1)."""
    return hashlib.sha256(b"\x01" + left + right).digest()


def tree_head(leaves: Sequence[bytes]) -> TreeHead:
    """Return the head of the tree over ``leaves``, in their order.

    Parameters
    ----------
    leaves : sequence of bytes
        The lines themselves, not their hashes.

    Examples
    --------
    >>> tree_head([]).root_hex[:16]
    'e3b0c44298fc1c14'
    """
    return TreeHead(len(leaves), _root([leaf_hash(leaf) for leaf in leaves]))


def head_of_hashes(hashes: Sequence[bytes]) -> TreeHead:
    """Return the head of the tree over leaves of which the hashes are at hand."""
    return TreeHead(len(hashes), _root(list(hashes)))


def inclusion_proof(leaves: Sequence[bytes], index: int) -> tuple[bytes, ...]:
    """Return the hashes that join leaf ``index`` (from 0) to the root, lowest first.

    Raises
    ------
    TreeRefused
        If the tree has no such leaf.
    """
    if not 0 <= index < len(leaves):
        raise TreeRefused(
            "no such leaf",
            got=index,
            expected=f"0 to {len(leaves) - 1}",
            do="Name a line that the ledger holds.",
        )
    return inclusion_path([leaf_hash(leaf) for leaf in leaves], index)


def inclusion_path(hashes: Sequence[bytes], index: int) -> tuple[bytes, ...]:
    """Return `inclusion_proof` from the hashes of the leaves; the index exists."""
    return tuple(_path(list(hashes), index))


def proves_inclusion(leaf: bytes, proof: Sequence[bytes], *, index: int, head: TreeHead) -> bool:
    """Say whether ``proof`` joins ``leaf`` at ``index`` to ``head`` (RFC 9162, 2.1.3.2)."""
    if not 0 <= index < head.size:
        return False
    position, last = index, head.size - 1
    value = leaf_hash(leaf)
    for sibling in proof:
        if last == 0:
            return False
        if position & 1 or position == last:
            value = node_hash(sibling, value)
            while not position & 1 and position:
                position, last = position >> 1, last >> 1
        else:
            value = node_hash(value, sibling)
        position, last = position >> 1, last >> 1
    return last == 0 and value == head.root_sha256


def consistency_proof(leaves: Sequence[bytes], first_size: int) -> tuple[bytes, ...]:
    """Return the hashes that show the first ``first_size`` leaves unchanged (RFC 9162, 2.1.4.1).

    Raises
    ------
    TreeRefused
        Unless 1 <= ``first_size`` <= number of leaves.
    """
    if not 1 <= first_size <= len(leaves):
        raise TreeRefused(
            "no such earlier size",
            got=first_size,
            expected=f"1 to {len(leaves)}",
            do="Name the size printed with the earlier head.",
        )
    return consistency_path([leaf_hash(leaf) for leaf in leaves], first_size)


def consistency_path(hashes: Sequence[bytes], first_size: int) -> tuple[bytes, ...]:
    """Return `consistency_proof` from the hashes of the leaves; the earlier size exists."""
    return tuple(_subproof(list(hashes), first_size, whole=True))


def proves_consistency(proof: Sequence[bytes], *, first: TreeHead, second: TreeHead) -> bool:
    """Say whether ``second`` continues ``first`` (RFC 9162, 2.1.4.2).

    Every tree continues the empty tree, with an empty proof.
    """
    if first.size == 0:
        return not proof and first.root_sha256 == hashlib.sha256().digest()
    if first.size == second.size:
        return not proof and first.root_sha256 == second.root_sha256
    if first.size > second.size or not proof:
        return False
    if first.size & (first.size - 1) == 0:
        proof = (first.root_sha256, *proof)
    return _climb(proof, first, second)


def _climb(proof: Sequence[bytes], first: TreeHead, second: TreeHead) -> bool:
    position, last = first.size - 1, second.size - 1
    while position & 1:
        position, last = position >> 1, last >> 1
    old = new = proof[0]
    for sibling in proof[1:]:
        if last == 0:
            return False
        if position & 1 or position == last:
            old, new = node_hash(sibling, old), node_hash(sibling, new)
            while not position & 1 and position:
                position, last = position >> 1, last >> 1
        else:
            new = node_hash(new, sibling)
        position, last = position >> 1, last >> 1
    return last == 0 and old == first.root_sha256 and new == second.root_sha256


def _root(hashes: list[bytes]) -> bytes:
    """Hash neighbours level by level; an odd last one moves up as it is."""
    if not hashes:
        return hashlib.sha256().digest()
    while len(hashes) > 1:
        paired = [node_hash(a, b) for a, b in zip(hashes[::2], hashes[1::2], strict=False)]
        hashes = paired + hashes[len(paired) * 2 :]
    return hashes[0]


def _split(size: int) -> int:
    """Return the largest power of two below ``size`` (size > 1)."""
    return 1 << ((size - 1).bit_length() - 1)


def _path(hashes: list[bytes], index: int) -> list[bytes]:
    if len(hashes) == 1:
        return []
    k = _split(len(hashes))
    if index < k:
        return [*_path(hashes[:k], index), _root(hashes[k:])]
    return [*_path(hashes[k:], index - k), _root(hashes[:k])]


def _subproof(hashes: list[bytes], size: int, *, whole: bool) -> list[bytes]:
    if size == len(hashes):
        return [] if whole else [_root(hashes)]
    k = _split(len(hashes))
    if size <= k:
        return [*_subproof(hashes[:k], size, whole=whole), _root(hashes[k:])]
    return [*_subproof(hashes[k:], size - k, whole=False), _root(hashes[:k])]
