"""Keys of invented signers, made as a person would make them elsewhere."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.rsa import RSAPrivateKey
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    NoEncryption,
    PrivateFormat,
    pkcs12,
)
from cryptography.x509.oid import NameOID

SIGNS = (True, True, False, False, False, False, False, False, False)
FIRST, LAST = datetime(2026, 1, 1, tzinfo=UTC), datetime(2031, 1, 1, tzinfo=UTC)
Key = ec.EllipticCurvePrivateKey | RSAPrivateKey


def certificate(
    key: Key, name: str, *, usage: tuple[bool, ...] = SIGNS, issuer: Key | None = None
) -> x509.Certificate:
    """Return a certificate, self-signed unless an issuer's key is given."""
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    by = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "An Authority")])
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(by if issuer else subject)
        .public_key(key.public_key())
        .serial_number(1000 + len(name))
        .not_valid_before(FIRST)
        .not_valid_after(LAST)
        .add_extension(x509.KeyUsage(*usage), critical=True)
        .sign(issuer or key, hashes.SHA256())
    )


def write_pair(path: Path, name: str) -> Path:
    """Write a P-256 key with its certificate as one PEM file."""
    key = ec.generate_private_key(ec.SECP256R1())
    return write_pem(path, key, certificate(key, name))


def write_pem(path: Path, key: Key, of: x509.Certificate, phrase: bytes | None = None) -> Path:
    """Write a key and a certificate, whether they belong together or not."""
    lock = BestAvailableEncryption(phrase) if phrase else NoEncryption()
    path.write_bytes(
        key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, lock) + of.public_bytes(Encoding.PEM)
    )
    return path


def write_p12(path: Path, name: str, phrase: bytes) -> Path:
    """Write a P-256 key with its certificate as a locked PKCS #12 file."""
    key = ec.generate_private_key(ec.SECP256R1())
    locked = BestAvailableEncryption(phrase)
    path.write_bytes(
        pkcs12.serialize_key_and_certificates(b"", key, certificate(key, name), None, locked)
    )
    return path
