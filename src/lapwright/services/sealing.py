"""Make a record's PDF from its complete data and its place in the ledger: typeset, then sign.

Nothing is judged here, and nothing is random: the same data at the same place
under the same keys give the same bytes, so that a record whose issue was cut
off is completed as it would have been.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any

from lapwright import __version__
from lapwright.core.acts import canonical_json
from lapwright.ledger.heads import SignedHead, sign_head
from lapwright.ledger.held import HeldHeads
from lapwright.ledger.keys import Keys
from lapwright.ledger.lastleaf import Subtrees, head_at_last
from lapwright.ledger.log import Entry, Log

from .recorddata import ISSUE_FILE, RULES_FILE, record_bytes
from .text import catalogue, word

if TYPE_CHECKING:
    from lapwright.documents.sheets import Attachment


@dataclass(frozen=True)
class Placed:
    """``RecordIssued`` at its place: the signed head when it was the last entry, and its proof."""

    entry: Entry
    head: SignedHead
    proof: tuple[bytes, ...]


def place_of(log: Log, entry: Entry, keys: Keys, *, behind: Subtrees = ()) -> Placed:
    """Return the place of an entry: head and proof over all entries up to it.

    Parameters
    ----------
    log : Log
        The ledger.
    entry : Entry
        The entry of ``RecordIssued``.
    keys : Keys
        The programme's keys; the head is signed as of the entry's own moment.
    behind : sequence, optional
        The tree before some earlier entry, as `lapwright.services.lastplace` finds it: only
        what stands from there on is read. It follows from a head that was signed itself.

    Raises
    ------
    HeadOther, HeadForged
        If all is read and a head that was signed before does not fit; nothing is signed then.
    """
    start, size = sum(count for count, _ in behind), entry.seq + 1
    held = HeldHeads(head for head in log.heads() if not behind and head.size <= size)
    lines = _passed(islice(log.entries(since=start), size - start), held)
    head, proof = head_at_last(lines, behind)
    held.check(public=keys.token_key.public_key())
    return Placed(entry, sign_head(head, keys.token_key, at=entry.act.recorded_at), proof)


def _passed(entries: Iterable[Entry], held: HeldHeads) -> Iterator[bytes]:
    for entry in entries:
        held.add(entry.raw)
        yield entry.raw


def seal_record(
    data: Mapping[str, Any],
    rules: Mapping[str, Any],
    overlays: Mapping[str, bytes],
    *,
    placed: Placed,
    keys: Keys,
) -> bytes:
    """Typeset and sign complete data as they are given; return the PDF.

    Parameters
    ----------
    data, rules : mapping
        Complete data and rule rows.
    overlays : mapping
        Face id to PNG bytes.
    placed : Placed
        Where ``RecordIssued`` stands in the ledger.
    keys : Keys
        The programme's keys.
    """
    from lapwright.documents.sign import sign_record

    return sign_record(
        typeset(data, rules, issue_note(data, placed, keys), overlays),
        key=keys.signing_key,
        certificate=keys.certificate,
        signed_at=placed.entry.act.recorded_at,
        reason=word("record.sign.programme.meaning"),
        name=word("record.sign.programme.who"),
    )


def issue_note(data: Mapping[str, Any], placed: Placed, keys: Keys) -> dict[str, Any]:
    """Return the issue note: time, the act with its proof and signed head, token, versions."""
    from lapwright.documents.token import claims_of, make_token

    act = placed.entry.act
    digest = hashlib.sha256(record_bytes(data)).hexdigest()
    claims = claims_of(data["number"], data["revision"], payload_sha256=digest, key_id=keys.key_id)
    return {
        "issued_at": act.recorded_at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "payload_sha256": digest,
        "act": json.loads(placed.entry.raw),
        "token": make_token(claims, keys.token_key),
        "tree_head": {"size": str(placed.head.size), "root": placed.head.root},
        "signed_head": placed.head.as_dict(),
        "proof": {"index": str(placed.entry.seq), "hashes": [h.hex() for h in placed.proof]},
        "made_by": made_by(),
    }


def typeset(
    data: Mapping[str, Any],
    rules: Mapping[str, Any],
    issue: Mapping[str, Any],
    overlays: Mapping[str, bytes],
) -> bytes:
    """Typeset a record from its attached data; equal input gives equal bytes.

    Parameters
    ----------
    data, rules, issue : mapping
        Complete data, rule rows, issue note.
    overlays : mapping
        Face id to PNG bytes.
    """
    from lapwright.core.times import parse_instant
    from lapwright.documents.record import typeset_record

    from .recordsheet import record_sheet

    payload = record_bytes(data)
    sheet = record_sheet(data, rules, issue, overlays, hashlib.sha256(payload).hexdigest())
    return typeset_record(
        sheet,
        attachments=_attachments(payload, rules, issue, overlays),
        issued_at=parse_instant(issue["issued_at"]),
    )


def _attachments(
    payload: bytes,
    rules: Mapping[str, Any],
    issue: Mapping[str, Any],
    overlays: Mapping[str, bytes],
) -> list[Attachment]:
    from lapwright.documents.sheets import Attachment

    json_type = "application/json"
    files = [
        Attachment("record.json", payload, json_type, word("record.file.data")),
        Attachment(RULES_FILE, canonical_json(rules), json_type, word("record.file.rules")),
        Attachment(ISSUE_FILE, canonical_json(issue), json_type, word("record.file.issue")),
    ]
    return files + [
        Attachment(
            f"overlay-{face}.png", png, "image/png", word("overlay.alt", face=face), "supplement"
        )
        for face, png in sorted(
            overlays.items()
        )  # as they are read back, whatever the case's order
    ]


def made_by() -> dict[str, str]:
    """Return the versions that the printed pages depend on: program, typesetter, sentences."""
    from lapwright.documents.typeset import print_version

    texts = hashlib.sha256(canonical_json(catalogue())).hexdigest()[:16]
    return {"lapwright": __version__, "print": print_version(), "texts": texts}
