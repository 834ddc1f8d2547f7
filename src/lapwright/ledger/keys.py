"""The programme's keys: made once, kept in one folder, never overwritten.

A P-256 key with its self-signed certificate signs PDF files, an Ed25519 key
signs tokens, 32 random bytes salt the commitments of personal names. Whoever
holds this folder and the database could rewrite all: keep it apart, back it up.
The folder is readable by its owner only and appears whole or not at all.
"""

from __future__ import annotations

import os
import secrets
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from .errors import KeysRefused, PassphraseRefused
from .trust import Trust, key_id, read_trust, trust_pem

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.x509 import Certificate

    PrivateKey = EllipticCurvePrivateKey | Ed25519PrivateKey

LIFE_YEARS = 20
SIGNING, CERTIFICATE, TOKEN, SALT, TRUST = (
    "signing-key.pem",
    "certificate.pem",
    "token-key.pem",
    "salt.bin",
    "trust.pem",
)
_SALT_BYTES = 32
_MAX_BYTES = 1 << 16


@dataclass(frozen=True)
class Keys:
    """The opened keys of one programme."""

    signing_key: EllipticCurvePrivateKey
    certificate: Certificate
    token_key: Ed25519PrivateKey
    salt: bytes

    @property
    def trust(self) -> Trust:
        """The public half, to hand out."""
        return Trust(self.certificate, self.token_key.public_key())

    @property
    def key_id(self) -> str:
        """Name of the token key, as claimed by tokens."""
        return key_id(self.token_key.public_key())


def open_keys(
    directory: Path,
    *,
    made_at: datetime,
    passphrase: bytes | None = None,
    holder: str = "Lapwright programme",
) -> Keys:
    """Open the keys of a programme; the first call makes them.

    Parameters
    ----------
    directory : Path
        Folder of the keys, made with mode 0700; files get mode 0600. Its parent is made too.
    made_at : datetime
        Start of the certificate's life on the first run, with its offset.
    passphrase : bytes, optional
        Encrypts the two private keys. Must be the same on every call.
    holder : str, optional
        Name of the programme in the certificate, used on the first run only.

    Returns
    -------
    Keys

    Raises
    ------
    KeysRefused
        If files are missing, unreadable, or do not belong together.
    PassphraseRefused
        If the passphrase is missing, wrong, empty, or given for open keys.
    """
    if passphrase is not None and not passphrase:
        raise PassphraseRefused(
            "an empty passphrase",
            got="0 bytes",
            expected="at least one byte",
            do="Give a passphrase, or none at all.",
        )
    if made_at.tzinfo is None:
        raise KeysRefused(
            "the start of the certificate has no offset",
            got=made_at.isoformat(),
            expected="a time with its offset",
            do="Give the instant of the first run.",
        )
    names = (SIGNING, CERTIFICATE, TOKEN, SALT, TRUST)
    if not any((directory / name).exists() for name in names):
        _make(directory, made_at, passphrase, holder)
    keys = _load(directory, passphrase)
    _check_pair(directory, keys)
    return keys


def key_files(directory: Path) -> dict[str, bytes]:
    """Return the files of a key folder as they lie, locked or not.

    Raises
    ------
    KeysRefused
        If one is missing or cannot be read.
    """
    return {name: _read(directory / name) for name in (SIGNING, CERTIFICATE, TOKEN, SALT, TRUST)}


def _make(directory: Path, made_at: datetime, passphrase: bytes | None, holder: str) -> None:
    """Make all files in a folder beside the right one, then give that folder its name."""
    directory.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    staged = Path(tempfile.mkdtemp(prefix=".new-keys-", dir=directory.parent))  # mode 0700
    try:
        for name, content in _fresh(made_at, passphrase, holder).items():
            _write(staged / name, content)
        if directory.exists():
            directory.rmdir()
        staged.rename(directory)
    except OSError as error:
        if not (directory / SIGNING).exists():  # else another process was first: use its keys
            raise KeysRefused(
                "the key folder cannot be made",
                got=error.strerror or "no reason",
                expected="an empty or absent folder",
                where=str(directory),
                do="Name another folder, or empty this one by hand.",
            ) from None
    finally:
        shutil.rmtree(staged, ignore_errors=True)


def _fresh(made_at: datetime, passphrase: bytes | None, holder: str) -> dict[str, bytes]:
    from cryptography.hazmat.primitives.asymmetric import ec, ed25519
    from cryptography.hazmat.primitives.serialization import Encoding

    signing = ec.generate_private_key(ec.SECP256R1())
    token = ed25519.Ed25519PrivateKey.generate()
    certificate = _certificate(signing, made_at, (holder, key_id(token.public_key())))
    return {
        SIGNING: _private_pem(signing, passphrase),
        CERTIFICATE: certificate.public_bytes(Encoding.PEM),
        TOKEN: _private_pem(token, passphrase),
        SALT: secrets.token_bytes(_SALT_BYTES),
        TRUST: trust_pem(Trust(certificate, token.public_key())),
    }


def _write(path: Path, content: bytes) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())


def _private_pem(key: PrivateKey, passphrase: bytes | None) -> bytes:
    from cryptography.hazmat.primitives import serialization as form

    lock: form.KeySerializationEncryption = form.NoEncryption()
    if passphrase is not None:
        lock = form.BestAvailableEncryption(passphrase)
    return key.private_bytes(form.Encoding.PEM, form.PrivateFormat.PKCS8, lock)


def _certificate(
    key: EllipticCurvePrivateKey, made_at: datetime, holder: tuple[str, str]
) -> Certificate:
    """Make a self-signed certificate that may sign documents and nothing else.

    The subject holds the name and the id of the token key, so that two programmes
    of one name are told apart.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.x509.oid import NameOID

    name = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATIONAL_UNIT_NAME, f"key {holder[1]}"),
            x509.NameAttribute(NameOID.COMMON_NAME, holder[0]),
        ]
    )
    start = made_at.astimezone(UTC).replace(microsecond=0)
    usage = dict.fromkeys(
        (
            "key_encipherment",
            "data_encipherment",
            "key_agreement",
            "key_cert_sign",
            "crl_sign",
            "encipher_only",
            "decipher_only",
        ),
        False,
    )
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(start)
        .not_valid_after(_years_later(start, LIFE_YEARS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(
            x509.KeyUsage(digital_signature=True, content_commitment=True, **usage), critical=True
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )


def _years_later(start: datetime, years: int) -> datetime:
    try:
        return start.replace(year=start.year + years)
    except ValueError:  # 29 February
        return start.replace(year=start.year + years, day=28) + timedelta(days=1)


def _load(directory: Path, passphrase: bytes | None) -> Keys:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    signing = _private(directory / SIGNING, passphrase)
    token = _private(directory / TOKEN, passphrase)
    certificate = _parsed(directory / CERTIFICATE, x509.load_pem_x509_certificate)
    salt = _read(directory / SALT)
    if not isinstance(signing, EllipticCurvePrivateKey) or signing.curve.name != "secp256r1":
        raise _wrong(directory / SIGNING, "a P-256 private key")
    if not isinstance(token, Ed25519PrivateKey):
        raise _wrong(directory / TOKEN, "an Ed25519 private key")
    if len(salt) != _SALT_BYTES:
        raise _wrong(directory / SALT, f"{_SALT_BYTES} bytes")
    return Keys(signing, certificate, token, salt)


def _private(path: Path, passphrase: bytes | None) -> object:
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    pem = _read(path)
    try:
        return load_pem_private_key(pem, passphrase)
    except TypeError:
        locked = passphrase is None
        raise PassphraseRefused(
            "the keys are locked" if locked else "the keys are not locked",
            got="no passphrase" if locked else "a passphrase",
            where=path.name,
            expected="the passphrase" if locked else "none",
            do="Give the passphrase of these keys." if locked else "Leave the passphrase out.",
        ) from None
    except ValueError:
        if b"BEGIN ENCRYPTED PRIVATE KEY" in pem:
            raise PassphraseRefused(
                "the passphrase does not open the keys",
                got="a passphrase",
                expected="the one they were made with",
                where=path.name,
                do="Try again, or restore the keys from the backup.",
            ) from None
        raise _wrong(path, "a private key in PEM form") from None


def _parsed(path: Path, parse: Callable[[bytes], Certificate]) -> Certificate:
    try:
        return parse(_read(path))
    except ValueError:
        raise _wrong(path, "a certificate in PEM form") from None


def _read(path: Path) -> bytes:
    try:
        with path.open("rb") as source:
            return source.read(_MAX_BYTES)
    except OSError as error:
        raise KeysRefused(
            "a key file cannot be read",
            got=error.strerror or "unreadable",
            expected="a readable file",
            where=str(path),
            do="Restore the whole key folder from its backup.",
        ) from None


def _wrong(path: Path, expected: str) -> KeysRefused:
    return KeysRefused(
        "not the key that belongs here",
        got=path.name,
        expected=expected,
        where=str(path.parent),
        do="Restore the whole key folder from its backup.",
    )


def _check_pair(directory: Path, keys: Keys) -> None:
    """Refuse a folder put together from two programmes, and a trust file that is not its own."""
    if keys.certificate.public_key() != keys.signing_key.public_key():
        raise _wrong(directory / CERTIFICATE, "the certificate of the signing key")
    trust = read_trust(_read(directory / TRUST))
    if trust != keys.trust:
        raise _wrong(directory / TRUST, "the certificate and token key of this folder")
