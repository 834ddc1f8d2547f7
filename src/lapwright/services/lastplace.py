"""The tree up to the last record issued, from that record itself, so that issuing stays quick.

A record carries the signed head of all entries up to its own and the proof of that last
entry. Both together give the subtrees behind it: hashed up they must come to the head that
the programme's own key has signed. Where anything does not fit, the ledger is read whole.
"""

from __future__ import annotations

from collections.abc import Iterator

from lapwright.core.errors import LapwrightError
from lapwright.ledger.heads import SignedHead
from lapwright.ledger.lastleaf import Subtrees, subtrees_at

from .programme import Programme
from .recordfile import inspected, parts_of
from .register import REGISTER, Revision, record_state

_LOOKED_AT = 3  # a number may have come to nothing; further back the whole ledger is read


def last_subtrees(programme: Programme, *, before: int) -> Subtrees:
    """Return the subtrees over all entries up to the last signed record.

    Parameters
    ----------
    programme : Programme
        The ledger, its files, the keys.
    before : int
        Number of an entry; only records issued before it count.

    Returns
    -------
    sequence of (int, bytes)
        As `lapwright.ledger.lastleaf.subtrees_at` gives them; empty where no record serves.
    """
    for revision in _latest(programme):
        if revision.issued.seq < before and revision.signed is not None:
            return _checked(programme, revision)
    return ()


def _latest(programme: Programme) -> Iterator[Revision]:
    taken = [e.act.body for e in programme.log.entries(stream=REGISTER)][-_LOOKED_AT:]
    for body in reversed(taken):
        found = record_state(programme.log, body["record"]).revision(body["revision"])
        if found is not None:
            yield found


def _checked(programme: Programme, revision: Revision) -> Subtrees:
    """Return the subtrees that a record's file proves, or nothing."""
    entry = revision.issued
    try:
        issue = parts_of(inspected(programme.files.get(revision.files[0]), ""), "").issue
        head = SignedHead.from_dict(issue["signed_head"])
        proof = [bytes.fromhex(step) for step in issue["proof"]["hashes"]]
        found, subtrees = subtrees_at(entry.seq + 1, entry.raw, proof)
    except (LapwrightError, AttributeError, LookupError, TypeError, ValueError):
        return ()
    signed = head.holds(programme.keys.token_key.public_key()) == "yes"
    return subtrees if signed and found == head.head else ()
