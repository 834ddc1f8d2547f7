"""The portable token of a record: a compact JWS that holds no name.

The header pins one algorithm, ``Ed25519`` (RFC 9864), and nothing else is read.
The claims are the record's number, its revision, the SHA-256 of the complete
data (base64url) and the name of the key. A token that was written in any other
way than ours, even with the same meaning, is refused: there is one form only.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from .errors import ClaimsRefused, TokenRefused

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import (
        Ed25519PrivateKey,
        Ed25519PublicKey,
    )
    from joserfc.jwk import OKPKey

ALGORITHM = "Ed25519"
MAX_CHARACTERS = 320
_FORMS = {
    "id": (re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}"), "a record number without spaces"),
    "rev": (re.compile(r"[0-9]{1,4}"), "a revision of digits"),
    "dig": (re.compile(r"[A-Za-z0-9_-]{43}"), "a SHA-256 in base64url, 43 characters"),
    "kid": (re.compile(r"[0-9a-f]{16}"), "16 hexadecimal digits"),
}


@dataclass(frozen=True)
class TokenClaims:
    """What a token says.

    ``id`` record number, ``rev`` revision, ``dig`` SHA-256 of the complete data
    in base64url without padding, ``kid`` name of the key that signed.
    """

    id: str
    rev: str
    dig: str
    kid: str

    @property
    def payload_sha256(self) -> str:
        """The digest as 64 hexadecimal digits."""
        return base64.urlsafe_b64decode(self.dig + "=").hex()


def claims_of(number: str, revision: str, *, payload_sha256: str, key_id: str) -> TokenClaims:
    """Make claims from the SHA-256 in hexadecimal.

    Raises
    ------
    ClaimsRefused
        If a claim is not of its form.
    """
    try:
        raw = bytes.fromhex(payload_sha256)
    except ValueError:
        raw = b""
    if len(raw) != 32:
        raise ClaimsRefused(
            "not a SHA-256",
            got=payload_sha256,
            where="dig",
            expected="64 hexadecimal digits",
            do="Hash the complete data again.",
        )
    claims = TokenClaims(number, revision, _encode(raw), key_id)
    _check(claims)
    return claims


def make_token(claims: TokenClaims, key: Ed25519PrivateKey) -> str:
    """Sign claims; equal claims and key give the same token (Ed25519 is deterministic).

    Raises
    ------
    ClaimsRefused
        If a claim is not of its form, or ``kid`` does not name ``key``.
    """
    from joserfc import jws

    _check(claims)
    named = _name_of(key.public_key())
    if claims.kid != named:
        raise ClaimsRefused(
            "the claims name another key",
            got=claims.kid,
            where="kid",
            expected=named,
            do="Claim the key that signs.",
        )
    return jws.serialize_compact({"alg": ALGORITHM}, _payload(claims), _jwk(key), [ALGORITHM])


def read_token(token: str, public_key: Ed25519PublicKey) -> TokenClaims:
    """Check a token against a key and return what it says.

    Parameters
    ----------
    token : str
        The compact form; an address before ``#`` is cut off.
    public_key : Ed25519PublicKey
        From the programme's trust file.

    Raises
    ------
    TokenRefused
        If the token is not of our form, was changed, or names another key.
    """
    from joserfc import jws
    from joserfc.errors import JoseError

    text = token.strip().rpartition("#")[2]
    claims = _unsigned_claims(text)
    named = _name_of(public_key)
    if claims.kid != named:
        raise _refusal(
            "the token was signed by another key",
            claims.kid,
            f"key {named}",
            "Ask the programme that issued the record for its trust file.",
        )
    try:
        jws.deserialize_compact(text, _jwk(public_key), [ALGORITHM])
    except (JoseError, ValueError):
        raise _refusal(
            "the token was changed after signing",
            text[-16:],
            "a signature that fits",
            "Read the code again; if it stays so, do not rely on it.",
        ) from None
    return claims


def key_of(token: str) -> str:
    """Return the name of the key that a token claims to be signed by; nothing is checked but form.

    Raises
    ------
    TokenRefused
        If the token is not of our form.
    """
    return _unsigned_claims(token.strip().rpartition("#")[2]).kid


def _unsigned_claims(text: str) -> TokenClaims:
    """Take the claims out and refuse every spelling but the one that `make_token` writes."""
    parts = text.split(".")
    if len(text) > MAX_CHARACTERS or len(parts) != 3:
        raise _not_ours(text)
    try:
        body = json.loads(_decode(parts[1]))
        claims = TokenClaims(**{name: body[name] for name in _FORMS})
        _check(claims)
    except (ValueError, TypeError, KeyError, RecursionError, ClaimsRefused):
        raise _not_ours(text) from None
    spelt = (_encode(b'{"alg":"Ed25519"}'), _encode(_payload(claims)), _respelt(parts[2]))
    if spelt != tuple(parts):
        raise _not_ours(text)
    return claims


def _respelt(part: str) -> str:
    try:
        return _encode(_decode(part))
    except ValueError:
        return ""


def _check(claims: TokenClaims) -> None:
    for name, value in asdict(claims).items():
        form, expected = _FORMS[name]
        if not isinstance(value, str) or not form.fullmatch(value):
            raise ClaimsRefused(
                "a claim of another form",
                got=value,
                where=name,
                expected=expected,
                do="A token holds no names and no free text.",
            )


def _payload(claims: TokenClaims) -> bytes:
    return json.dumps(asdict(claims), sort_keys=True, separators=(",", ":")).encode("ascii")


def _encode(raw: bytes) -> str:
    return base64.urlsafe_b64encode(raw).rstrip(b"=").decode("ascii")


def _decode(text: str) -> bytes:
    return base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)


def _name_of(public_key: Ed25519PublicKey) -> str:
    return hashlib.sha256(public_key.public_bytes_raw()).hexdigest()[:16]


def _jwk(key: Ed25519PrivateKey | Ed25519PublicKey) -> OKPKey:
    from joserfc.jwk import OKPKey

    return OKPKey(key, key)


def _not_ours(text: str) -> TokenRefused:
    return _refusal(
        "not a token of a qualification record",
        text[:40],
        "three parts of base64url with the claims id, rev, dig and kid",
        "Scan the code again, or paste the whole text under it.",
    )


def _refusal(what: str, got: str, expected: str, do: str) -> TokenRefused:
    return TokenRefused(what, got=got, expected=expected, do=do)
