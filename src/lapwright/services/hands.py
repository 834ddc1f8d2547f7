"""What a person signs with: an own key with its certificate, or a page signed in ink and scanned.

The key belongs to the person, never to the programme: whoever certifies or
accepts makes it elsewhere and brings it as one PKCS #12 or PEM file. It is read,
used once and not kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.ledger.keys import Keys

from .errors import HandRefused, KeyOfProgramme, ScanRefused

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.x509 import Certificate

MAX_KEY_BYTES = 1 << 17
MAX_SCAN_BYTES = 64 * 1024 * 1024
_KINDS = (b"%PDF-", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")


@dataclass(frozen=True)
class Hand:
    """A private key on P-256 and its certificate."""

    key: EllipticCurvePrivateKey
    certificate: Certificate


def read_hand(path: Path, programme: Keys, *, passphrase: bytes | None = None) -> Hand:
    """Read a signer's key and certificate from one file.

    Parameters
    ----------
    path : Path
        PKCS #12 (``.p12``), or PEM with the private key and its certificate.
    programme : Keys
        The programme's own keys, with which nobody certifies.
    passphrase : bytes, optional
        Opens the file.

    Raises
    ------
    HandRefused
        If the file holds no such pair, is locked, or is no P-256 key that may sign documents.
    KeyOfProgramme
        If the key is the programme's own.
    """
    data = _read(path)
    key, certificate = _pair(data, passphrase, str(path))
    _check(key, certificate, str(path))
    if certificate.public_key() == programme.certificate.public_key():
        raise KeyOfProgramme(
            "the programme's own key",
            got=str(path),
            expected="a key that the signer alone holds",
            do="The programme issues; the employer certifies with a key of its own.",
        )
    return Hand(key, certificate)


def _read(path: Path) -> bytes:
    try:
        data = path.read_bytes()[: MAX_KEY_BYTES + 1]
    except OSError as fault:
        raise _refused(str(path), fault.strerror or "unreadable", "Correct the name.") from fault
    if len(data) > MAX_KEY_BYTES:
        raise _refused(str(path), "a large file", "Name the key file.")
    return data


def _pair(
    data: bytes, passphrase: bytes | None, where: str
) -> tuple[EllipticCurvePrivateKey, Certificate]:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key, pkcs12

    found: object
    try:
        if b"-----BEGIN" in data:
            found, certificate = (
                load_pem_private_key(data, passphrase),
                x509.load_pem_x509_certificate(data),
            )
        else:
            found, certificate_or_none, _ = pkcs12.load_key_and_certificates(data, passphrase)
            if certificate_or_none is None:
                raise ValueError("no certificate")
            certificate = certificate_or_none
    except (ValueError, TypeError) as fault:
        raise _refused(
            where,
            "a locked file, another passphrase, or no key with its certificate",
            "Give key and certificate in one file, and its passphrase with --passphrase-file.",
        ) from fault
    if not isinstance(found, EllipticCurvePrivateKey) or found.curve.name != "secp256r1":
        raise _refused(where, "a key of another kind", "Make a key on P-256 (prime256v1).")
    return found, certificate


def _check(key: EllipticCurvePrivateKey, certificate: Certificate, where: str) -> None:
    from cryptography import x509

    if certificate.public_key() != key.public_key():
        raise _refused(where, "a certificate of another key", "Put the pair into one file.")
    try:
        usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    except x509.ExtensionNotFound:
        usage = None
    if usage is None or not usage.content_commitment:
        raise _refused(
            where,
            "a certificate that may not sign documents",
            "Make one with the key usage nonRepudiation (content commitment).",
        )


def _refused(where: str, got: str, do: str) -> HandRefused:
    return HandRefused(
        "no key to sign with",
        got=got,
        where=where,
        expected="a P-256 private key with its certificate",
        do=do,
    )


def read_scan(path: Path) -> bytes:
    """Return a scanned page: a PDF, PNG or JPEG file of at most 64 MiB.

    Raises
    ------
    ScanRefused
        If it cannot be read, is too large, or is another kind of file.
    """
    data = read_kept(path)
    if not data.startswith(_KINDS):
        raise ScanRefused(
            "not a scanned page",
            got=str(path),
            expected="a PDF, PNG or JPEG file",
            do="Scan the signed page again and name that file.",
        )
    return data


def read_kept(path: Path) -> bytes:
    """Return the bytes of a file that is to be kept beside the ledger.

    Raises
    ------
    ScanRefused
        If it cannot be read, is empty or too large.
    """
    try:
        size = path.stat().st_size
        data = path.read_bytes() if 0 < size <= MAX_SCAN_BYTES else b""
    except OSError as fault:
        size, data = 0, b""
        reason = fault.strerror or "unreadable"
    else:
        reason = f"{size} bytes"
    if not data:
        raise ScanRefused(
            "a file that cannot be filed",
            got=f"{path} ({reason})",
            expected=f"a file of 1 to {MAX_SCAN_BYTES} bytes",
            do="Correct the name, or scan it in fewer dots.",
        )
    return data


def read_passphrase(path: Path) -> bytes:
    """Return the first line of a file.

    Raises
    ------
    HandRefused
        If it cannot be read or is empty.
    """
    line = _read(path).partition(b"\n")[0].rstrip(b"\r")
    if not line:
        raise _refused(str(path), "an empty passphrase", "Write the passphrase on one line.")
    return line
