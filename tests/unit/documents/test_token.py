"""Tokens have one form, one algorithm and no name; every change is refused."""

from __future__ import annotations

import base64
import json
from dataclasses import replace

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from joserfc import jws
from joserfc.jwk import OKPKey

from lapwright.documents.errors import ClaimsRefused, TokenRefused
from lapwright.documents.qr import qr_svg
from lapwright.documents.token import TokenClaims, claims_of, make_token, read_token
from lapwright.ledger.trust import key_id
from unit.documents import samples

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER = Ed25519PrivateKey.from_private_bytes(bytes(32))
KID = key_id(KEY.public_key())
CLAIMS = claims_of("QR-2026-0007", "0", payload_sha256=samples.HASH, key_id=KID)
TOKEN = make_token(CLAIMS, KEY)


def b64(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode()


def spelt(header: bytes, payload: bytes) -> str:
    """Sign header and payload as they are given, right key, right algorithm."""
    body = f"{b64(header)}.{b64(payload)}"
    return f"{body}.{b64(KEY.sign(body.encode()))}"


def body_of(**changes: object) -> bytes:
    claims = {"dig": CLAIMS.dig, "id": CLAIMS.id, "kid": CLAIMS.kid, "rev": CLAIMS.rev} | changes
    return json.dumps(claims, sort_keys=True, separators=(",", ":")).encode()


def test_a_token_reads_back_and_names_the_whole_digest() -> None:
    read = read_token(TOKEN, KEY.public_key())
    assert read == CLAIMS
    assert read.payload_sha256 == samples.HASH


def test_cryptography_alone_confirms_the_signature() -> None:
    """Outside witness of the JWS form: RFC 7515 by hand on the cryptography package."""
    head, body, signature = TOKEN.split(".")
    raw = base64.urlsafe_b64decode(signature + "==")
    KEY.public_key().verify(raw, f"{head}.{body}".encode())
    assert base64.urlsafe_b64decode(head + "==") == b'{"alg":"Ed25519"}'


def test_equal_claims_give_equal_tokens_that_fit_the_code() -> None:
    assert make_token(CLAIMS, KEY) == TOKEN
    assert len(TOKEN) <= 320
    longest = claims_of("Q" * 40, "9999", payload_sha256=samples.HASH, key_id=KID)
    assert qr_svg(make_token(longest, KEY))


def test_a_token_in_an_address_is_read_from_the_part_after_the_sign() -> None:
    assert read_token(f" https://verify.example/r#{TOKEN}\n", KEY.public_key()) == CLAIMS


def test_both_sides_name_the_key_alike() -> None:
    assert read_token(TOKEN, KEY.public_key()).kid == key_id(KEY.public_key())


def test_another_programmes_key_is_named_as_such() -> None:
    with pytest.raises(TokenRefused, match="another key"):
        read_token(TOKEN, OTHER.public_key())


def test_every_single_changed_character_is_refused() -> None:
    for place in range(len(TOKEN)):
        other = "A" if TOKEN[place] != "A" else "B"
        with pytest.raises(TokenRefused, match="DOC-007"):
            read_token(TOKEN[:place] + other + TOKEN[place + 1 :], KEY.public_key())


def test_the_spare_bits_of_the_last_character_are_not_free() -> None:
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    taken = [c for c in alphabet if _reads(TOKEN[:-1] + c)]
    assert taken == [TOKEN[-1]]


def _reads(token: str) -> bool:
    try:
        return read_token(token, KEY.public_key()) == CLAIMS
    except TokenRefused:
        return False


@pytest.mark.parametrize(
    "header",
    [
        b'{"alg":"EdDSA"}',
        b'{"alg":"none"}',
        b'{"alg":"HS256"}',
        b'{"alg": "Ed25519"}',
        b'{"alg":"Ed25519","crit":["b64"],"b64":false}',
        b'{"alg":"Ed25519","kid":"x"}',
        b"{}",
    ],
)
def test_another_header_is_refused_even_when_signed_by_the_right_key(header: bytes) -> None:
    with pytest.raises(TokenRefused, match="not a token"):
        read_token(spelt(header, body_of()), KEY.public_key())


@pytest.mark.parametrize(
    "payload",
    [
        body_of(name="Tobin Ashgrove"),
        body_of(id="QR 7"),
        body_of(rev=0),
        body_of(dig="short"),
        body_of(id=["QR-7"]),
        b"[]",
        b"null",
        b'{"id":' * 40,
        body_of().replace(b":", b": ", 1),
    ],
)
def test_another_body_is_refused_even_when_signed_by_the_right_key(payload: bytes) -> None:
    with pytest.raises(TokenRefused, match="DOC-007"):
        read_token(spelt(b'{"alg":"Ed25519"}', payload), KEY.public_key())


@pytest.mark.parametrize(
    "text",
    [
        "",
        ".",
        "..",
        "a.b.c",
        "x" * 5000,
        TOKEN + ".",
        "é.é.é",
        TOKEN.replace(".", "=.", 1),
        TOKEN[:-4],
        "#",
        TOKEN.rpartition(".")[0] + ".!",
    ],
)
def test_what_is_no_token_is_refused(text: str) -> None:
    with pytest.raises(TokenRefused, match="DOC-007"):
        read_token(text, KEY.public_key())


def test_an_hmac_over_the_public_key_is_refused() -> None:
    """The confusion attack: HS256 with the public key as its secret."""
    from joserfc.jwk import OctKey

    secret = OctKey.import_key(KEY.public_key().public_bytes_raw())
    forged = jws.serialize_compact({"alg": "HS256"}, body_of(), secret, algorithms=["HS256"])
    with pytest.raises(TokenRefused, match="DOC-007"):
        read_token(forged, KEY.public_key())


def test_joserfc_reads_our_token_with_the_algorithm_pinned() -> None:
    raw = OKPKey.import_key(
        {"kty": "OKP", "crv": "Ed25519", "x": b64(KEY.public_key().public_bytes_raw())}
    )
    assert jws.deserialize_compact(TOKEN, raw, algorithms=["Ed25519"]).payload == body_of()


@pytest.mark.parametrize(
    "change",
    [
        {"id": "Tobin Ashgrove"},
        {"id": ""},
        {"id": "-1"},
        {"id": "Q" * 41},
        {"rev": "A"},
        {"rev": ""},
        {"dig": "0" * 42},
        {"kid": "XYZ"},
        {"id": 7},
        {"id": "QR-1\n"},
    ],
)
def test_claims_of_another_form_are_never_signed(change: dict[str, str]) -> None:
    with pytest.raises(ClaimsRefused, match="DOC-008"):
        make_token(replace(CLAIMS, **change), KEY)


def test_claims_that_name_another_key_are_never_signed() -> None:
    with pytest.raises(ClaimsRefused, match="another key"):
        make_token(CLAIMS, OTHER)


@pytest.mark.parametrize("digest", ["", "00", "zz" * 32, samples.HASH + "00"])
def test_a_digest_that_is_no_sha256_is_refused(digest: str) -> None:
    with pytest.raises(ClaimsRefused, match="SHA-256"):
        claims_of("QR-1", "0", payload_sha256=digest, key_id=KID)


def test_the_claims_hold_exactly_these_four() -> None:
    assert list(TokenClaims.__dataclass_fields__) == ["id", "rev", "dig", "kid"]
