"""Ed25519 in plain Python, as the checker of an export has it.

Witnesses: the test vectors of RFC 8032, section 7.1, and the package cryptography.
"""

from __future__ import annotations

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)
from hypothesis import given
from hypothesis import strategies as st

from lapwright.ledger.checker import verifies

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493

# RFC 8032, 7.1: TEST 1, TEST 2, TEST 3, TEST SHA(abc): public key, message, signature
VECTORS = {
    "1": (
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
        "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    "2": (
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    "3": (
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac"
        "18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
    "SHA(abc)": (
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a"
        "2192992a274fc1a836ba3c23a3feebbd454d4423643ce80e2a9ac94fa54ca49f",
        "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b589"
        "09351fc9ac90b3ecfdfbc7c66431e0303dca179c138ac17ad9bef1177331a704",
    ),
}


def _vector(name: str) -> tuple[bytes, bytes, bytes]:
    key, message, signature = (bytes.fromhex(part) for part in VECTORS[name])
    return key, message, signature


def _outside(key: bytes, message: bytes, signature: bytes) -> bool:
    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, message)
    except InvalidSignature:
        return False
    return True


@pytest.mark.parametrize("name", sorted(VECTORS))
def test_the_vectors_of_rfc_8032_hold(name: str) -> None:
    assert verifies(*_vector(name))
    assert _outside(*_vector(name))


@pytest.mark.parametrize("name", sorted(VECTORS))
def test_every_changed_byte_of_a_vector_is_refused(name: str) -> None:
    key, message, signature = _vector(name)
    for place in range(64):
        changed = bytearray(signature)
        changed[place] ^= 1 << (place % 8)
        assert not verifies(key, message, bytes(changed))
    assert not verifies(key, message + b"\0", signature)
    assert not verifies(bytes([key[0] ^ 2]) + key[1:], message, signature)


def test_a_scalar_raised_by_the_order_is_refused() -> None:
    key, message, signature = _vector("2")
    scalar = int.from_bytes(signature[32:], "little") + L
    again = signature[:32] + scalar.to_bytes(32, "little")
    assert not verifies(key, message, again)
    assert not _outside(key, message, again)


@pytest.mark.parametrize(
    "point",
    [
        (P + 1).to_bytes(32, "little"),  # y = 1, written above the field's prime
        P.to_bytes(32, "little"),  # y = 0, likewise
        ((1 << 255) | 1).to_bytes(32, "little"),  # x = 0 with the sign of an odd x
        (2).to_bytes(32, "little"),  # no point of the curve
    ],
)
def test_points_not_in_their_one_form_are_refused(point: bytes) -> None:
    key, message, signature = _vector("3")
    assert not verifies(point, message, signature)
    assert not verifies(key, message, point + signature[32:])


@pytest.mark.parametrize("length", [0, 31, 63, 65, 96])
def test_a_signature_of_another_length_is_refused(length: int) -> None:
    key, message, signature = _vector("1")
    assert not verifies(key, message, (signature + signature)[:length])
    assert not verifies(key[:31], message, signature)


@given(seed=st.binary(min_size=32, max_size=32), message=st.binary(max_size=200), at=st.integers(0))
def test_it_agrees_with_an_outside_package(seed: bytes, message: bytes, at: int) -> None:
    private = Ed25519PrivateKey.from_private_bytes(seed)
    key, signature = private.public_key().public_bytes_raw(), private.sign(message)
    changed = bytearray(signature)
    changed[at % 64] ^= 1 + at % 255
    for tried in (signature, bytes(changed)):
        assert verifies(key, message, tried) == _outside(key, message, tried)
