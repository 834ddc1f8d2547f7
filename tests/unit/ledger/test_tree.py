"""The tree against a second, recursive implementation and the published empty hash."""

from __future__ import annotations

import hashlib

import pytest

from lapwright.ledger.errors import TreeRefused
from lapwright.ledger.tree import (
    TreeHead,
    consistency_proof,
    inclusion_proof,
    leaf_hash,
    node_hash,
    proves_consistency,
    proves_inclusion,
    tree_head,
)

SIZES = range(1, 41)
LEAVES = [f"line {i}".encode() for i in range(40)]
# The eight test leaves of the Certificate Transparency reference implementation (RFC 6962 tree).
CT_LEAVES = [
    bytes.fromhex(x)
    for x in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]


def naive_root(leaves: list[bytes]) -> bytes:
    """RFC 9162, 2.1.1, written down as the definition reads."""
    if not leaves:
        return hashlib.sha256(b"").digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return hashlib.sha256(b"\x01" + naive_root(leaves[:k]) + naive_root(leaves[k:])).digest()


def heads() -> dict[int, TreeHead]:
    return {n: tree_head(LEAVES[:n]) for n in range(41)}


def test_the_empty_tree_has_the_hash_of_the_empty_string() -> None:
    """RFC 6962, 2.1 and RFC 9162, 2.1.1; the value is SHA-256 of nothing (FIPS 180-4)."""
    assert tree_head([]) == TreeHead(
        0, bytes.fromhex("e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")
    )


def test_one_empty_leaf_is_the_hash_of_a_zero_byte() -> None:
    """SHA-256 of the single byte 0x00, taken from the `sha256sum` of coreutils."""
    assert tree_head([b""]).root_hex == (
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d"
    )


@pytest.mark.parametrize("size", range(41))
def test_root_equals_the_definition(size: int) -> None:
    assert tree_head(LEAVES[:size]).root_sha256 == naive_root(LEAVES[:size])
    assert tree_head(CT_LEAVES[:size]).root_sha256 == naive_root(CT_LEAVES[:size])


@pytest.mark.parametrize("size", SIZES)
def test_every_leaf_is_proved_and_no_other_fits(size: int) -> None:
    leaves = LEAVES[:size]
    head = tree_head(leaves)
    for index, leaf in enumerate(leaves):
        proof = inclusion_proof(leaves, index)
        assert len(proof) <= (size - 1).bit_length()
        for place in range(size + 1):
            assert proves_inclusion(leaf, proof, index=place, head=head) == (place == index)
        assert not proves_inclusion(leaf + b"x", proof, index=index, head=head)
        assert not proves_inclusion(leaf, (*proof, leaf_hash(b"x")), index=index, head=head)
        assert not proof or not proves_inclusion(leaf, proof[:-1], index=index, head=head)


@pytest.mark.parametrize("size", SIZES)
def test_every_earlier_head_is_proved_and_a_rewritten_one_is_not(size: int) -> None:
    leaves, all_heads = LEAVES[:size], heads()
    changed = [b"rewritten", *leaves[1:]]
    for first_size in range(1, size + 1):
        first, proof = all_heads[first_size], consistency_proof(leaves, first_size)
        assert proves_consistency(proof, first=first, second=all_heads[size])
        rewritten = tree_head(changed)
        other = consistency_proof(changed, first_size)
        assert not proves_consistency(other, first=first, second=rewritten)
        assert not proves_consistency(proof, first=first, second=rewritten)
        assert not proves_consistency(
            (*proof, leaf_hash(b"x")), first=first, second=all_heads[size]
        )
        assert not proof or not proves_consistency(proof[:-1], first=first, second=all_heads[size])


def test_a_shorter_tree_never_continues_a_longer_one() -> None:
    all_heads = heads()
    proof = consistency_proof(LEAVES[:9], 5)
    assert not proves_consistency(proof, first=all_heads[9], second=all_heads[5])


def test_every_tree_continues_the_empty_tree() -> None:
    assert proves_consistency((), first=tree_head([]), second=heads()[7])
    assert not proves_consistency((), first=TreeHead(0, b"\x00" * 32), second=heads()[7])


def test_a_leaf_is_never_taken_for_a_node() -> None:
    left, right = leaf_hash(b"a"), leaf_hash(b"b")
    forged = tree_head([left + right])
    assert forged.root_sha256 != node_hash(left, right) == tree_head([b"a", b"b"]).root_sha256


@pytest.mark.parametrize("index", [-1, 3])
def test_a_leaf_that_does_not_exist_is_refused(index: int) -> None:
    with pytest.raises(TreeRefused, match="LEDG-001"):
        inclusion_proof(LEAVES[:3], index)


@pytest.mark.parametrize("size", [0, 4])
def test_an_earlier_size_that_does_not_exist_is_refused(size: int) -> None:
    with pytest.raises(TreeRefused, match="LEDG-001"):
        consistency_proof(LEAVES[:3], size)
