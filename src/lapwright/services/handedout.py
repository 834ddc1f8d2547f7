"""Hand a signed file out, and again: filing comes first, so writing may fail after it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.core.acts import Act
from lapwright.core.records import BY_KEY

from .atomic import make_folder, write_bytes
from .errors import FiledNotWritten, OutputRefused
from .register import Revision
from .signaturewords import fingerprint

if TYPE_CHECKING:
    from lapwright.ledger.files import FileStore

    from .certifying import Signing


def hand_out(files: FileStore, act: Act, revision: Revision, out: Path | None) -> Path | None:
    """Write the PDF that a signature made to a folder; a signature in ink made none.

    Raises
    ------
    FiledNotWritten
        If it cannot be written. The signature stands all the same.
    """
    if out is None or act.body["way"] != BY_KEY:
        return None
    target = out / f"{revision.name}-{_done(act, revision)}.pdf"
    try:
        make_folder(out)
        write_bytes(target, files.get(act.body["file_sha256"]))
    except OutputRefused as fault:
        raise FiledNotWritten(
            "the signature is filed and stands, but its file could not be written",
            got=fault.got,
            where=revision.name,
            expected="a folder that can be written and has room",
            do="Do not withdraw anything. Give the same command again with another --out: the "
            "same file is written. 'lapwright issue' hands the latest file out too.",
        ) from fault
    return target


def signed_before(acts: Iterable[Act | None], signing: Signing) -> Act | None:
    """Return the signature that was filed when the same person gave the same key or scan.

    Parameters
    ----------
    acts : iterable of Act or None
        Signatures that stand.
    signing : Signing
        What is given now.
    """
    return next((a for a in acts if a and a.body["by"] == signing.by and _same(a, signing)), None)


def _same(act: Act, signing: Signing) -> object:
    from hashlib import sha256

    if signing.hand is not None:
        return act.body.get("certificate_sha256") == fingerprint(signing.hand.certificate)
    return act.body.get("scan_sha256") == sha256(signing.scan).hexdigest()


def _done(act: Act, revision: Revision) -> str:
    if act.type == "RecordCertified":
        return "certified"
    known = [a.sha256 for a in revision.accepted]
    place = known.index(act.sha256) if act.sha256 in known else len(known)
    return f"accepted-{place + 1}"
