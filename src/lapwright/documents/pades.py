"""The signing engine set up for records: nothing random, no clock, no changed metadata.

The engine would stamp the present time, a random file id and a new metadata
stream into each signed file. Here the time is the one given, the file id is
derived from the bytes, and signatures are deterministic (RFC 6979) with the
lower of the two possible values, so that signing the same bytes with the same
key and time gives the same file.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from asn1crypto import keys as asn1_keys
from asn1crypto import x509 as asn1_x509
from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import (
    decode_dss_signature,
    encode_dss_signature,
)
from cryptography.x509 import Certificate
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign import signers
from pyhanko.sign.signers.pdf_signer import PdfSigningSession
from pyhanko_certvalidator.registry import SimpleCertificateStore

P256_ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
_LOGGERS = ("pyhanko", "pyhanko_certvalidator")


class RecordWriter(IncrementalPdfFileWriter):
    """Appends a revision and leaves the document's metadata as they were typeset."""

    def _update_meta(self) -> None:
        """Keep the metadata: the signature carries its own time."""

    @classmethod
    def _handle_id(cls, prev: Any) -> generic.ArrayObject:
        prev.stream.seek(0)
        digest = hashlib.sha256(prev.stream.read()).digest()[:16]
        first = prev.trailer["/ID"][0]
        return generic.ArrayObject(
            [
                generic.ByteStringObject(
                    first.original_bytes if isinstance(first, generic.TextStringObject) else first
                ),
                generic.ByteStringObject(digest),
            ]
        )


class RecordSigner(signers.SimpleSigner):
    """Signs with ECDSA on P-256, deterministic, lower value of the two."""

    def __init__(self, key: ec.EllipticCurvePrivateKey, certificate: Certificate) -> None:
        der = key.private_bytes(
            serialization.Encoding.DER,
            serialization.PrivateFormat.PKCS8,
            serialization.NoEncryption(),
        )
        super().__init__(
            signing_cert=to_asn1(certificate),
            cert_registry=SimpleCertificateStore(),  # type: ignore[no-untyped-call]
            signing_key=asn1_keys.PrivateKeyInfo.load(der),
        )
        self._record_key = key

    def sign_raw(self, data: bytes, digest_algorithm: str) -> bytes:
        """Return the DER signature over ``data``; the digest is always SHA-256."""
        try:
            scheme = ec.ECDSA(hashes.SHA256(), deterministic_signing=True)
            raw = self._record_key.sign(data, scheme)
        except UnsupportedAlgorithm:  # an old crypto library: valid, but random
            raw = self._record_key.sign(data, ec.ECDSA(hashes.SHA256()))
        r, s = decode_dss_signature(raw)
        return encode_dss_signature(r, min(s, P256_ORDER - s))


class FixedTimeSigner(signers.PdfSigner):
    """Writes the given time as time of signing."""

    def __init__(self, *args: Any, signed_at: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._signed_at = signed_at

    def init_signing_session(self, *args: Any, **kwargs: Any) -> PdfSigningSession:
        """Start a session at the given time."""
        session = super().init_signing_session(*args, **kwargs)
        session.system_time = self._signed_at
        return session


def to_asn1(certificate: Certificate) -> asn1_x509.Certificate:
    """Return a certificate in the form that the engine takes."""
    return asn1_x509.Certificate.load(certificate.public_bytes(serialization.Encoding.DER))


@contextmanager
def quiet() -> Iterator[None]:
    """Silence the engine's logs: suspicious files are told in our own words."""
    loggers = [logging.getLogger(name) for name in _LOGGERS]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for logger, level in zip(loggers, before, strict=True):
            logger.setLevel(level)
