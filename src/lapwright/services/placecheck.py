"""Whether a record's place in the ledger holds: the act, its inclusion proof, the signed head.

The attached proof joins the bytes of ``RecordIssued`` to the tree head that the
programme signed when it was the last entry. It shows that the ledger held this
entry then, as the last of so many. It says nothing about the other entries, nor
whether the ledger still holds them: for that, ask the ledger itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lapwright.core.acts import canonical_json
from lapwright.core.messages import Message
from lapwright.core.outcomes import Outcome
from lapwright.ledger.heads import SignedHead
from lapwright.ledger.tree import proves_inclusion, tree_head
from lapwright.ledger.trust import Trust

from .recorddata import acts_of
from .recordfile import RecordParts


def check_place(parts: RecordParts, trusted: Trust) -> tuple[Outcome, Message]:
    """Return the answer about the record's place in the ledger, and the reason.

    Parameters
    ----------
    parts : RecordParts
        What the record carries.
    trusted : Trust
        The trust file of the programme.
    """
    issue = parts.issue
    if "proof" not in issue:
        return _own_acts(parts)
    head = SignedHead.from_dict(issue["signed_head"])
    if head.holds(trusted.token_key) != "yes":
        return Outcome.NOT_MET, Message("verify.tree.key")
    if _other_head(issue, head) or _other_record(parts):
        return Outcome.NOT_MET, Message("verify.tree.other")
    index = int(issue["proof"]["index"])
    proof = [bytes.fromhex(text) for text in issue["proof"]["hashes"]]
    if not proves_inclusion(canonical_json(issue["act"]), proof, index=index, head=head.head):
        return Outcome.NOT_MET, Message("verify.tree.proof")
    told = {"number": str(index), "size": str(head.size), "on": head.at[:10]}
    return Outcome.MET, Message("verify.tree.held", **told)


def _other_head(issue: Mapping[str, Any], head: SignedHead) -> str:
    printed = issue["tree_head"]
    return "" if (printed["size"], printed["root"]) == (str(head.size), head.root) else "other"


def _other_record(parts: RecordParts) -> str:
    """Say where the act is not that of this record and these data."""
    body = parts.issue["act"]["body"]
    named = (body["record"], body["revision"], body["payload_sha256"])
    own = (parts.data["number"], parts.data["revision"], parts.issue["payload_sha256"])
    return "" if named == own else "other"


def _own_acts(parts: RecordParts) -> tuple[Outcome, Message]:
    """Check a record from before the ledger: its tree held its own acts and nothing else."""
    leaves = [a.to_bytes() for a in acts_of(parts.data)]
    leaves.append(canonical_json(parts.issue["act"]))
    head, printed = tree_head(leaves), parts.issue["tree_head"]
    if (str(head.size), head.root_hex) == (printed["size"], printed["root"]):
        return Outcome.MET, Message("verify.tree", size=str(head.size))
    return Outcome.NOT_MET, Message("verify.tree.other")
