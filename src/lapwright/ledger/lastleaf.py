"""The tree head when its last leaf was added, and that leaf's inclusion proof, in one pass.

Only the roots of the perfect subtrees before the last leaf are held (at most
64), so a ledger of a million entries is read through once and never kept in
memory. The inclusion proof of RFC 9162, section 2.1.3, for the last leaf of a
tree is exactly those roots, the nearest first.
"""

from __future__ import annotations

from collections.abc import Iterable

from .errors import TreeRefused
from .tree import TreeHead, leaf_hash, node_hash


def head_at_last(leaves: Iterable[bytes]) -> tuple[TreeHead, tuple[bytes, ...]]:
    """Return the head over ``leaves`` and the inclusion proof of the last one, lowest first.

    Parameters
    ----------
    leaves : iterable of bytes
        The lines themselves, in order, at least one.

    Raises
    ------
    TreeRefused
        If there is no leaf.

    Examples
    --------
    >>> head, proof = head_at_last([b"a", b"b", b"c"])
    >>> head.size, len(proof)
    (3, 1)
    """
    before: list[tuple[int, bytes]] = []  # (leaves, root) of each perfect subtree, widest first
    size, last = 0, b""
    for leaf in leaves:
        if size:
            _add(before, last)
        last = leaf_hash(leaf)
        size += 1
    if not size:
        raise TreeRefused(
            "no such leaf", got="an empty ledger", expected="an entry", do="File an act first."
        )
    proof = tuple(root for _, root in reversed(before))
    value = last
    for sibling in proof:
        value = node_hash(sibling, value)
    return TreeHead(size, value), proof


def _add(subtrees: list[tuple[int, bytes]], leaf: bytes) -> None:
    """Add a leaf's hash; neighbours of one width become the subtree of twice that width."""
    subtrees.append((1, leaf))
    while len(subtrees) > 1 and subtrees[-2][0] == subtrees[-1][0]:
        (count, left), (_, right) = subtrees[-2:]
        subtrees[-2:] = [(2 * count, node_hash(left, right))]
