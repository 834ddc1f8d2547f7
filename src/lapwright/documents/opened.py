"""A PDF opened by the signing engine, turned into plain values; hostile bytes expected."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from html import unescape
from io import BytesIO
from typing import Any

from asn1crypto import cms, parser
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric.utils import (
    decode_dss_signature,
    encode_dss_signature,
)
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature
from pyhanko_certvalidator import ValidationContext

from .pades import P256_ORDER, quiet, to_asn1
from .rawpdf import Span, digits_fault
from .report import AttachedFile, SignatureSeen

_MAX_TREE = 2000


@dataclass(frozen=True)
class Claims:
    """What the metadata of the document claim."""

    number: str = ""
    payload_sha256: str = ""
    standards: tuple[str, ...] = ()


@dataclass(frozen=True)
class Judged:
    """One signature with what was found about it; ``fault`` and ``broken`` empty if nothing was."""

    seen: SignatureSeen
    fault: str
    broken: str


@dataclass(frozen=True)
class Opened:
    """The whole file as plain values."""

    encrypted: str
    claims: Claims
    attachments: tuple[AttachedFile, ...]
    signatures: tuple[Judged, ...]


def open_pdf(data: bytes, *, moment: datetime | None) -> Opened:
    """Read a PDF; anything may be raised when the bytes are not what they claim."""
    with quiet():
        reader = PdfFileReader(BytesIO(data), strict=False)
        if "/Encrypt" in reader.trailer:
            return Opened("encrypted", Claims(), (), ())
        # Decoding a stream changes the reader's objects, so signatures get a reader of their own.
        signing = PdfFileReader(BytesIO(data), strict=False)
        return Opened(
            "",
            _claims(reader),
            tuple(_attachments(reader)),
            tuple(_judged(s, data, moment) for s in signing.embedded_signatures),
        )


def _claims(reader: PdfFileReader) -> Claims:
    """Read number, hash and standards from the XMP metadata."""
    if "/Metadata" not in reader.root:
        return Claims()
    xmp = bytes(reader.root["/Metadata"].data).decode("utf-8", "replace")
    words = re.search(r"<pdf:Keywords>([^<]*)</pdf:Keywords>", xmp)
    number, _, payload = (words[1] if words else "").rpartition(",")
    part, level = _value(xmp, "pdfaid:part"), _value(xmp, "pdfaid:conformance")
    ua = _value(xmp, "pdfuaid:part")
    standards = ([f"PDF/A-{part}{level.lower()}"] if part else []) + (
        [f"PDF/UA-{ua}"] if ua else []
    )
    return Claims(unescape(number.strip()), payload.strip(), tuple(standards))


def _value(xmp: str, name: str) -> str:
    match = re.search(rf"<{name}>([^<]{{0,8}})</{name}>|{name}=\"([^\"]{{0,8}})\"", xmp)
    return (match[1] or match[2] or "") if match else ""


def _attachments(reader: PdfFileReader) -> Iterator[AttachedFile]:
    tree = reader.root.get("/Names", {}).get("/EmbeddedFiles")
    for name, spec in _leaves(tree) if tree is not None else ():
        stream = spec["/EF"]["/F"]
        yield AttachedFile(
            str(spec.get("/UF", name)),
            bytes(stream.data),
            _mime(stream),
            str(spec.get("/AFRelationship", "/")).lstrip("/"),
        )


def _mime(stream: Any) -> str:
    """Return the media type; the engine decodes the escapes of names."""
    return str(stream.get("/Subtype", "/")).lstrip("/")


def _leaves(tree: Any) -> Iterator[tuple[str, Any]]:
    """Walk a name tree without recursion, up to a limit of nodes."""
    waiting, seen = [tree.get_object()], 0
    while waiting:
        node = waiting.pop(0)
        seen += 1
        if seen > _MAX_TREE:
            raise ValueError("name tree too large")
        waiting.extend(kid.get_object() for kid in node.get("/Kids", []))
        names = list(node.get("/Names", []))
        yield from (
            (str(name), spec.get_object())
            for name, spec in zip(names[::2], names[1::2], strict=False)
        )


def _judged(signature: EmbeddedPdfSignature, data: bytes, moment: datetime | None) -> Judged:
    certificate = x509.load_der_x509_certificate(signature.signer_cert.dump())
    told = signature.self_reported_timestamp
    told = told.astimezone(UTC) if told is not None else None
    byte_range = [int(n) for n in signature.byte_range]
    entry = signature.sig_object
    seen = SignatureSeen(
        signature.field_name,
        str(entry.get("/Name", "")),
        str(entry.get("/Reason", "")),
        told,
        certificate,
        byte_range[2] + byte_range[3],
    )
    span = Span(byte_range[1] + 1, byte_range[2] - 1, seen.end)
    return Judged(
        seen,
        _fault(signature, data, span, byte_range),
        _broken(signature, certificate, moment or told),
    )


def _fault(signature: EmbeddedPdfSignature, data: bytes, span: Span, byte_range: list[int]) -> str:
    """Return what is not written in the one canonical way, or an empty text."""
    der = bytes(signature.pkcs7_content)
    length = int(parser.peek(der))
    if byte_range[0] != 0 or data[span.first - 1 : span.first] != b"<":
        return "brackets"
    if fault := digits_fault(data, span, length):
        return fault
    return _cms_fault(der[:length], signature)


def _cms_fault(der: bytes, signature: EmbeddedPdfSignature) -> str:
    """Check the parts of the signature value that the signature itself does not protect.

    They are built anew from the certificate, the signed attributes and the two
    numbers of the signature; every byte must come out the same.
    """
    signed, signer = signature.signed_data, signature.signer_info
    alone = len(signed["certificates"]) == 1 and len(signed["signer_infos"]) == 1
    if not alone or signed["crls"].native or signer["unsigned_attrs"].native:
        return "extra"
    return "" if _rebuilt(signature) == der else "encoding"


def _rebuilt(signature: EmbeddedPdfSignature) -> bytes:
    """Return the signature value as this tool writes it (RFC 5652, ECDSA on P-256, SHA-256)."""
    certificate = signature.signer_cert
    r, s = decode_dss_signature(signature.signer_info["signature"].native)
    sha256 = cms.DigestAlgorithm({"algorithm": "sha256"})
    signer = cms.SignerInfo(
        {
            "version": "v1",
            "sid": cms.SignerIdentifier(
                "issuer_and_serial_number",
                cms.IssuerAndSerialNumber(
                    {"issuer": certificate.issuer, "serial_number": certificate.serial_number}
                ),
            ),
            "digest_algorithm": sha256,
            "signed_attrs": signature.signer_info["signed_attrs"],
            "signature_algorithm": cms.SignedDigestAlgorithm({"algorithm": "sha256_ecdsa"}),
            "signature": encode_dss_signature(r, min(s, P256_ORDER - s)),
        }
    )
    content = cms.SignedData(
        {
            "version": "v1",
            "digest_algorithms": [sha256],
            "encap_content_info": {"content_type": "data"},
            "certificates": [certificate],
            "signer_infos": [signer],
        }
    )
    return bytes(cms.ContentInfo({"content_type": "signed_data", "content": content}).dump())


def _broken(
    signature: EmbeddedPdfSignature, certificate: x509.Certificate, moment: datetime | None
) -> str:
    """Return why the signature does not hold, or an empty text.

    The file's own certificate is the root here: whether it is trusted is
    another question, answered apart.
    """
    context = ValidationContext(
        trust_roots=[to_asn1(certificate)], allow_fetching=False, moment=moment
    )
    status = validate_pdf_signature(signature, context)
    if status.bottom_line:
        return ""
    if not status.intact:
        return "edited"
    return "revision" if status.valid and status.trusted else "value"
