"""The tree head when its last leaf was added, and that leaf's inclusion proof, in one pass.

Only the roots of the perfect subtrees before the last leaf are held (at most
64), so a ledger of a million entries is read through once and never kept in
memory. The inclusion proof of RFC 9162, section 2.1.3, for the last leaf of a
tree is exactly those roots, the nearest first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from .errors import TreeRefused
from .tree import TreeHead, leaf_hash, node_hash

Subtrees = Sequence[tuple[int, bytes]]  # (leaves, root) of each perfect subtree, widest first


def head_at_last(
    leaves: Iterable[bytes], behind: Subtrees = ()
) -> tuple[TreeHead, tuple[bytes, ...]]:
    """Return the head over ``leaves`` and the inclusion proof of the last one, lowest first.

    Parameters
    ----------
    leaves : iterable of bytes
        The lines themselves, in order, at least one.
    behind : sequence, optional
        The subtrees of the lines before them, as `subtrees_at` gives them.

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
    before = list(behind)
    size, last = sum(count for count, _ in before), b""
    for leaf in leaves:
        if last:
            _add(before, last)
        last = leaf_hash(leaf)
        size += 1
    if not last:
        raise TreeRefused(
            "no such leaf", got="an empty ledger", expected="an entry", do="File an act first."
        )
    proof = tuple(root for _, root in reversed(before))
    return TreeHead(size, _climbed(last, proof)), proof


def subtrees_at(
    size: int, leaf: bytes, proof: Sequence[bytes]
) -> tuple[TreeHead, tuple[tuple[int, bytes], ...]]:
    """Return the head and the perfect subtrees of a tree from its last leaf and that one's proof.

    The subtrees are the true ones where the head is known from elsewhere to be the true one.

    Parameters
    ----------
    size : int
        Leaves of the tree, at least one.
    leaf : bytes
        The last line itself.
    proof : sequence of bytes
        As `head_at_last` gave it, lowest first.

    Raises
    ------
    TreeRefused
        If the proof is not as long as that of the last of so many leaves.
    """
    widths = [1 << bit for bit in reversed(range(size.bit_length())) if (size - 1) >> bit & 1]
    if size < 1 or len(widths) != len(proof):
        raise TreeRefused(
            "not the proof of a tree's last leaf",
            got=f"{len(proof)} hashes for {size} leaves",
            expected=f"{len(widths)} hashes",
            do="Read the leaves themselves.",
        )
    subtrees = list(zip(widths, reversed(proof), strict=True))
    _add(subtrees, leaf_hash(leaf))
    return TreeHead(size, _climbed(leaf_hash(leaf), proof)), tuple(subtrees)


def _climbed(last: bytes, proof: Iterable[bytes]) -> bytes:
    for sibling in proof:
        last = node_hash(sibling, last)
    return last


def _add(subtrees: list[tuple[int, bytes]], leaf: bytes) -> None:
    """Add a leaf's hash; neighbours of one width become the subtree of twice that width."""
    subtrees.append((1, leaf))
    while len(subtrees) > 1 and subtrees[-2][0] == subtrees[-1][0]:
        (count, left), (_, right) = subtrees[-2:]
        subtrees[-2:] = [(2 * count, node_hash(left, right))]
