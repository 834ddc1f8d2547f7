"""One file that a checker on another machine needs: the certificate and the token key."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .errors import TrustRefused

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.x509 import Certificate

_BLOCK = re.compile(rb"-----BEGIN ([A-Z ]+)-----\r?\n.*?-----END \1-----\r?\n?", re.DOTALL)
_MAX_BYTES = 1 << 16


@dataclass(frozen=True)
class Trust:
    """What a checker on another machine needs: the certificate and the token key."""

    certificate: Certificate
    token_key: Ed25519PublicKey

    @property
    def key_id(self) -> str:
        """Name of the token key: the first 16 hexadecimal digits of its SHA-256."""
        return key_id(self.token_key)


def key_id(public_key: Ed25519PublicKey) -> str:
    """Return the first 16 hexadecimal digits of the SHA-256 of the raw public key."""
    return hashlib.sha256(public_key.public_bytes_raw()).hexdigest()[:16]


def trust_pem(trust: Trust) -> bytes:
    """Return the certificate and the Ed25519 public key as two PEM blocks."""
    from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

    return trust.certificate.public_bytes(Encoding.PEM) + trust.token_key.public_bytes(
        Encoding.PEM, PublicFormat.SubjectPublicKeyInfo
    )


def read_trust(data: bytes) -> Trust:
    """Read a trust file.

    Parameters
    ----------
    data : bytes
        PEM text with exactly one CERTIFICATE and one PUBLIC KEY block.

    Raises
    ------
    TrustRefused
        If a block is missing, there twice, of another kind, or a private key.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    from cryptography.hazmat.primitives.serialization import load_pem_public_key

    found = [(match[1].decode(), match[0]) for match in _BLOCK.finditer(data[:_MAX_BYTES])]
    kinds = sorted(kind for kind, _ in found)
    if any("PRIVATE" in kind for kind in kinds):
        raise _refusal("a private key", "Hand out trust.pem, never a private key.")
    if kinds != ["CERTIFICATE", "PUBLIC KEY"]:
        raise _refusal(", ".join(kinds) or "no PEM block", "Ask the programme for its trust.pem.")
    blocks = dict(found)
    try:
        certificate = x509.load_pem_x509_certificate(blocks["CERTIFICATE"])
        token_key = load_pem_public_key(blocks["PUBLIC KEY"])
    except ValueError:
        raise _refusal("a damaged block", "Ask the programme for its trust.pem.") from None
    if not isinstance(token_key, Ed25519PublicKey):
        raise _refusal("a public key of another kind", "Ask the programme for its trust.pem.")
    return Trust(certificate, token_key)


def read_certificate(data: bytes) -> Certificate:
    """Read a file with one certificate, such as a later signer hands out.

    Parameters
    ----------
    data : bytes
        PEM text with exactly one CERTIFICATE block and no key.

    Raises
    ------
    TrustRefused
        If it holds anything else.
    """
    from cryptography import x509

    found = [match[1].decode() for match in _BLOCK.finditer(data[:_MAX_BYTES])]
    if found != ["CERTIFICATE"]:
        raise _refusal(", ".join(sorted(found)) or "no PEM block", "Ask the signer for it.")
    try:
        return x509.load_pem_x509_certificate(data[:_MAX_BYTES])
    except ValueError:
        raise _refusal("a damaged block", "Ask the signer for the certificate again.") from None


def holds_token_key(data: bytes) -> str:
    """Say ``yes`` for a programme's trust file, ``no`` for a certificate alone."""
    kinds = [match[1] for match in _BLOCK.finditer(data[:_MAX_BYTES])]
    return "no" if kinds == [b"CERTIFICATE"] else "yes"


def _refusal(got: str, do: str) -> TrustRefused:
    return TrustRefused(
        "not a trust file",
        got=got,
        do=do,
        expected="one certificate and one Ed25519 public key in PEM form",
    )
