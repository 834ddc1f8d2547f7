"""Signed tree heads."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from lapwright.ledger.heads import SignedHead, sign_head
from lapwright.ledger.tree import tree_head

AT = datetime(2026, 3, 13, 7, 30, tzinfo=UTC)


def test_a_signed_head_holds_for_its_key_and_no_other() -> None:
    key, other = Ed25519PrivateKey.generate(), Ed25519PrivateKey.generate()
    signed = sign_head(tree_head([b"a", b"b"]), key, at=AT)
    assert signed.size == 2
    assert signed.head == tree_head([b"a", b"b"])
    assert signed.holds(key.public_key()) == "yes"
    assert signed.holds(other.public_key()) == "no"
    for changed in (replace(signed, size=3), replace(signed, at="2026-03-14T07:30:00Z")):
        assert changed.holds(key.public_key()) == "no"
    assert replace(signed, signature="zz").holds(key.public_key()) == "no"


def test_a_head_comes_back_from_its_document() -> None:
    signed = sign_head(tree_head([b"a"]), Ed25519PrivateKey.generate(), at=AT)
    assert SignedHead.from_dict(signed.as_dict()) == signed
