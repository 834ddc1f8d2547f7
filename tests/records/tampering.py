"""Ways to tamper with a signed record, each a function from bytes to bytes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from io import BytesIO

import pikepdf
from asn1crypto import cms
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric.utils import (
    decode_dss_signature,
    encode_dss_signature,
)
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.sign.fields import InvisSigSettings, SigFieldSpec, SigSeedSubFilter
from pyhanko.sign.signers import PdfSignatureMetadata

from lapwright.documents.pades import P256_ORDER, FixedTimeSigner, RecordSigner, RecordWriter
from lapwright.documents.rawpdf import spans_of
from lapwright.ledger.keys import Keys


def flipped(data: bytes, place: int, bits: int = 1) -> bytes:
    """Change one byte."""
    return data[:place] + bytes([data[place] ^ bits]) + data[place + 1 :]


def page_edited(data: bytes) -> bytes:
    """Change one byte in the middle of the first page's content stream."""
    with pikepdf.open(BytesIO(data)) as document:
        content = document.pages[0].Contents.read_raw_bytes()
    return flipped(data, data.index(content) + len(content) // 2)


def attachment_edited(data: bytes) -> bytes:
    """Change the stored bytes of record.json in place, same length."""
    with pikepdf.open(BytesIO(data)) as document:
        stored = document.attachments["record.json"].obj.EF.F.read_raw_bytes()
    assert b"QR-2026-0007" in stored  # so small a file is stored as it is
    return data.replace(stored, stored.replace(b"0007", b"0008"))


def _appended(data: bytes, change: Callable[[IncrementalPdfFileWriter], None]) -> bytes:
    writer = RecordWriter(BytesIO(data))
    change(writer)
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def page_replaced(data: bytes) -> bytes:
    """Append a revision with another first page."""

    def change(writer: IncrementalPdfFileWriter) -> None:
        page, _ = writer.find_page_for_modification(0)
        blank = generic.StreamObject(stream_data=b"BT ET")
        page.get_object()["/Contents"] = writer.add_object(blank)
        writer.update_container(page.get_object())

    return _appended(data, change)


def catalogue_touched(data: bytes) -> bytes:
    """Append a revision that only touches the catalogue."""

    def change(writer: IncrementalPdfFileWriter) -> None:
        writer.root["/PageMode"] = generic.NameObject("/UseAttachments")
        writer.update_root()

    return _appended(data, change)


def unused_object_appended(data: bytes) -> bytes:
    """Append a revision that adds an object nobody refers to."""
    return _appended(data, lambda w: w.add_object(generic.NumberObject(7)) and None)


def attachment_replaced(data: bytes) -> bytes:
    """Append a revision that puts other bytes into record.json."""

    def change(writer: IncrementalPdfFileWriter) -> None:
        names = list(writer.root["/Names"]["/EmbeddedFiles"]["/Names"])
        spec = names[names.index("record.json") + 1].get_object()
        other = generic.StreamObject(stream_data=b'{"record":"QR-2026-0008"}')
        spec["/EF"]["/F"] = writer.add_object(other)
        writer.update_container(spec)

    return _appended(data, change)


def rewritten_with_other_data(data: bytes) -> bytes:
    """Save the file anew with other bytes in record.json."""
    out = BytesIO()
    with pikepdf.open(BytesIO(data)) as document:
        document.attachments["record.json"].obj.EF.F.write(b'{"record":"QR-2026-0008"}')
        document.save(out)
    return out.getvalue()


def digits_of(data: bytes, which: int = -1) -> tuple[int, int]:
    """First and last place of a signature's digits."""
    span = spans_of(data)[which]
    return span.first, span.last


def padding_changed(data: bytes) -> bytes:
    """Hide a byte in the zeros after the signature."""
    _, last = digits_of(data)
    return data[: last - 2] + b"4C" + data[last:]


def digits_lowered(data: bytes) -> bytes:
    """Write the signature's digits in lower case."""
    first, last = digits_of(data)
    return data[:first] + data[first:last].lower() + data[last:]


def signature_rewritten(data: bytes, change: Callable[[cms.ContentInfo], None]) -> bytes:
    """Write the signature value anew after a change that it does not protect itself."""
    first, last = digits_of(data)
    info = cms.ContentInfo.load(bytes.fromhex(data[first:last].decode()))
    change(info)
    digits = info.dump(force=True).hex().upper().encode()
    return data[:first] + digits.ljust(last - first, b"0") + data[last:]


def certificate_added(data: bytes, pair: Keys) -> bytes:
    """Smuggle a second certificate into the signature value."""
    from lapwright.documents.pades import to_asn1

    return signature_rewritten(
        data,
        lambda info: info["content"]["certificates"].append(
            cms.CertificateChoices("certificate", to_asn1(pair.certificate))
        ),
    )


def higher_value_taken(data: bytes) -> bytes:
    """Replace the signature (r, s) by (r, n - s), which verifies just as well."""

    def change(info: cms.ContentInfo) -> None:
        signer = info["content"]["signer_infos"][0]
        r, s = decode_dss_signature(signer["signature"].native)
        signer["signature"] = encode_dss_signature(r, P256_ORDER - s)

    return signature_rewritten(data, change)


def signed_at_any_time(pdf: bytes, pair: Keys, moment: datetime) -> bytes:
    """Sign without asking whether the certificate lives."""
    meta = PdfSignatureMetadata(
        field_name="Signature1",
        subfilter=SigSeedSubFilter.PADES,
        md_algorithm="sha256",
        certify=True,
        name="N",
        reason="R",
        signer_key_usage=set(),
    )
    spec = SigFieldSpec("Signature1", invis_sig_settings=InvisSigSettings(box_out_of_bounds=True))
    signer = FixedTimeSigner(
        meta,
        RecordSigner(pair.signing_key, pair.certificate),
        signed_at=moment,
        new_field_spec=spec,
    )
    out: BytesIO = signer.sign_pdf(RecordWriter(BytesIO(pdf)))
    return out.getvalue()


def other_certificate(pair: Keys, *, usage: x509.KeyUsage | None) -> Keys:
    """Return the keys with a certificate for another use, or for no stated use."""
    old = pair.certificate
    builder = x509.CertificateBuilder(
        old.issuer,
        old.subject,
        pair.signing_key.public_key(),
        old.serial_number,
        old.not_valid_before_utc,
        old.not_valid_after_utc,
    )
    if usage is not None:
        builder = builder.add_extension(usage, critical=True)
    certificate = builder.sign(pair.signing_key, hashes.SHA256())
    return replace(pair, certificate=certificate)


def encrypted(data: bytes) -> bytes:
    """Encrypt the file with an empty user password."""
    out = BytesIO()
    with pikepdf.open(BytesIO(data)) as document:
        document.save(out, encryption=pikepdf.Encryption(owner="o", user=""))
    return out.getvalue()


def other_pdf() -> bytes:
    """Return a PDF that is no record."""
    out = BytesIO()
    with pikepdf.new() as document:
        document.add_blank_page()
        document.save(out)
    return out.getvalue()


AGREEMENT = x509.KeyUsage(False, False, False, False, True, False, False, False, False)


def named_twice(data: bytes) -> bytes:
    """Append a revision that lists record.json a second time."""

    def change(writer: IncrementalPdfFileWriter) -> None:
        names = writer.root["/Names"]["/EmbeddedFiles"]["/Names"]
        listed = list(names)
        names.append(generic.TextStringObject("zzz.json"))
        names.append(listed[listed.index("record.json") + 1])
        writer.update_container(names)

    return _appended(data, change)


def names_in_a_tree(*, kids: int) -> bytes:
    """Return a PDF whose tree of attachments holds itself (0 kids), or very many empty nodes."""
    out = BytesIO()
    with pikepdf.new() as document:
        document.add_blank_page()
        tree = document.make_indirect(pikepdf.Dictionary())
        empty = [pikepdf.Dictionary() for _ in range(kids)]
        tree.Kids = pikepdf.Array(empty or [tree, tree])
        document.Root.Names = pikepdf.Dictionary(EmbeddedFiles=tree)
        document.save(out)
    return out.getvalue()
