"""What the ledger adds to the check of a record's file, which the file alone cannot know.

Is it the latest file of the latest revision, or was it cut back to an earlier
signature? Was it withdrawn? Does the ledger still hold what stood before it
when it was issued? A file cut back to an earlier signature is whole in itself;
only the digest of the later one, kept in the ledger, tells.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from itertools import islice
from typing import TYPE_CHECKING

from lapwright.core.acts import Act, canonical_json
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.core.records import BY_KEY
from lapwright.ledger.errors import HeadBeyond, HeadForged, HeadOther, LedgerDamaged
from lapwright.ledger.held import check_whole
from lapwright.ledger.log import Log

from .programme import name_in
from .recordfile import RecordParts
from .register import RecordState, Revision, record_state
from .text import word

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey


def ledger_findings(
    log: Log,
    parts: RecordParts,
    file_sha256: str,
    signed_at: datetime | None,
    *,
    public: Ed25519PublicKey | None = None,
) -> Iterator[Finding]:
    """Yield the findings that need the ledger.

    Parameters
    ----------
    log : Log
        The ledger of the programme that issued the record.
    parts : RecordParts
        What the file carries.
    file_sha256 : str
        SHA-256 of the file.
    signed_at : datetime or None
        Time that the first signature states.
    public : Ed25519PublicKey, optional
        The programme's token key, which signed the ledger's heads.
    """
    number = str(parts.data["number"])
    whole, root = _whole(log, int(parts.issue["tree_head"]["size"]), public)
    yield whole
    state = record_state(log, number)
    revision = state.revision(str(parts.data["revision"]))
    if revision is None or file_sha256 not in revision.files:
        known = "verify.ledger.no_file" if revision else "verify.ledger.no_record"
        yield _finding("ledger.file", Outcome.NOT_MET, Message(known, number=number))
    if revision is None:
        return
    if file_sha256 in revision.files:
        yield _latest_file(log, revision, file_sha256)
    yield _time(revision, signed_at)
    yield _latest_revision(state, revision)
    yield _withdrawn(log, revision)
    yield _history(log, parts, root)


def _time(revision: Revision, told: datetime | None) -> Finding:
    """Compare the time in the signature, by the signer's own clock, with the entry's."""
    recorded = revision.act.recorded_at
    if told == recorded:
        message = Message("container.time.met", told=recorded.isoformat())
        return _finding("ledger.time", Outcome.MET, message)
    message = Message("container.time.other", told=str(told), recorded=recorded.isoformat())
    return _finding("ledger.time", Outcome.NOT_MET, message)


def _latest_file(log: Log, revision: Revision, sha256: str) -> Finding:
    place = revision.files.index(sha256)
    if place == len(revision.files) - 1:
        told = Message("verify.ledger.latest", name=revision.name)
        return _finding("ledger.file", Outcome.MET, told)
    acts = [a for a in (revision.certified, *revision.accepted) if a and a.body["way"] == BY_KEY]
    later = acts[place:]
    signers = [word("verify.ledger.signer", **_by(log, a)) for a in later]
    told = Message("verify.ledger.cut_back", count=str(len(later)), signers="; ".join(signers))
    return _finding("ledger.file", Outcome.NOT_MET, told)


def _by(log: Log, act: Act) -> dict[str, str]:
    return {"name": name_in(log, act.body["by"]), "on": act.happened_on.isoformat()}


def _latest_revision(state: RecordState, revision: Revision) -> Finding:
    latest = state.revisions[-1]
    if latest.revision == revision.revision:
        told = Message("verify.ledger.revision", revision=revision.revision)
        return _finding("ledger.revision", Outcome.MET, told)
    told = Message(
        "verify.ledger.superseded",
        revision=revision.revision,
        latest=latest.revision,
        on=latest.act.happened_on.isoformat(),
    )
    return _finding("ledger.revision", Outcome.NOT_MET, told)


def _withdrawn(log: Log, revision: Revision) -> Finding:
    act = revision.withdrawn
    if act is None:
        return _finding("ledger.withdrawn", Outcome.MET, Message("verify.ledger.stands"))
    told = Message("verify.ledger.withdrawn", reason=act.body["reason"], **_by(log, act))
    return _finding("ledger.withdrawn", Outcome.NOT_MET, told)


def _whole(log: Log, size: int, public: Ed25519PublicKey | None) -> tuple[Finding, str]:
    """Check chain and signed heads; return what was found, and the root at a size."""
    try:
        held = check_whole(log, public=public, also=[size])
    except (LedgerDamaged, HeadBeyond, HeadOther, HeadForged) as refusal:
        told = Message("verify.ledger.unsound", why=str(refusal))
        return _finding("ledger.heads", Outcome.NOT_MET, told), ""
    told = Message("verify.ledger.sound", heads=str(len(held.heads)), entries=str(held.tree.size))
    return _finding("ledger.heads", Outcome.MET, told), held.roots.get(size, "")


def _history(log: Log, parts: RecordParts, root: str) -> Finding:
    """Compare what the ledger holds now with the head printed on the record."""
    printed = parts.issue["tree_head"]
    size = int(printed["size"])
    lines = [e.raw for e in islice(log.entries(since=max(size - 1, 0)), 1)]
    same = lines == [canonical_json(parts.issue["act"])] and root == printed["root"]
    outcome = Outcome.MET if same else Outcome.NOT_MET
    name = "verify.ledger.history" if same else "verify.ledger.rewritten"
    return _finding("ledger.history", outcome, Message(name, size=printed["size"]))


def certified_note(log: Log, parts: RecordParts) -> str:
    """Return what the ledger knows of the employer's certification, as a sentence."""
    state = record_state(log, str(parts.data["number"]))
    revision = state.revision(str(parts.data["revision"]))
    act = revision.certified if revision else None
    if act is None:
        return word("record.awaiting")
    return word(f"verify.ledger.certified.{act.body['way']}", **_by(log, act))


def _finding(rule: str, outcome: Outcome, message: Message) -> Finding:
    return Finding(rule, Subject("record", ""), outcome, message)
