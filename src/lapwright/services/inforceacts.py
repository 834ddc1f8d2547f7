"""The entries that can say what is in force: of a whole ledger, or all about one person.

Entries of other types are passed over by their last bytes, without parsing them.
Corrections and voids go with what they change.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from lapwright.core.acts import Act
from lapwright.core.fold import PROGRAMME, case_stream
from lapwright.core.standing import CHANGES, named_by
from lapwright.ledger.gather import gather
from lapwright.ledger.log import Entry, Log

PARTS = {
    "basis": ("BasisAdopted", "RuleConfirmed"),
    "records": (
        "RecordIssued",
        "RecordSigned",
        "RecordCertified",
        "RecordAccepted",
        "RecordWithdrawn",
    ),
    "papers": ("PaperRecordEntered", "PaperRecordChecked"),
    "people": (
        "UseAttested",
        "DoubtRaised",
        "DoubtCleared",
        "CredentialNoted",
        "EmployerRepresentativeNamed",
        "PersonEnrolled",
    ),
}
_PART_OF = {kind: part for part, kinds in PARTS.items() for kind in kinds}
_WANTED = frozenset((*_PART_OF, *CHANGES))
# What the programme files for everybody: its basis, and doubts about processes and procedures.
_COMMON = frozenset((*PARTS["basis"], "DoubtRaised", "DoubtCleared", *CHANGES))
_TYPE = re.compile(rb'"type":"([A-Za-z]+)","version":"\d+"\}$')
_TAIL = 90  # bytes that hold the type of every act this program writes


def every_act(log: Log) -> list[Act]:
    """Return the acts of a whole ledger that can say what is in force, oldest first."""
    return list(_wanted(log.entries(), _WANTED))


def acts_about(log: Log, person: str) -> list[Act]:
    """Return the acts that say what is in force of one person, with those of the basis.

    Parameters
    ----------
    log : Log
        The ledger.
    person : str
        Id of the person. Doubts about a process or a procedure are looked for in the
        programme's own stream, where they are filed.
    """
    own = gather(log, f"person:{person}")
    acts = list(_wanted(own, _WANTED))
    mine = [a.body for a in acts if a.body.get("person") == person]
    records = sorted({f"record:{b[k]}" for b in mine for k in ("record", "paper") if b.get(k)})
    found = {e.seq: e for e in (*own, *gather(log, *records))}
    for stream in dict.fromkeys(case_stream(b["case"]) for b in mine if b.get("case")):
        found |= {e.seq: e for e in log.entries(stream=stream)}
    common = {e.seq: e for e in log.entries(stream=PROGRAMME) if _type(e) in _COMMON}
    found |= common
    return list(_wanted((found[seq] for seq in sorted(found)), _WANTED))


def parted(acts: Sequence[Act]) -> dict[str, list[Act]]:
    """Return the acts by part of the question, each with what corrects or voids it.

    Parameters
    ----------
    acts : sequence of Act
        Oldest first. A change of an act that is not among them is left out.
    """
    found: dict[str, list[Act]] = {part: [] for part in PARTS}
    digests: dict[str, str] = {}
    if any(a.type in CHANGES for a in acts):
        digests = {a.sha256: _PART_OF[a.type] for a in acts if a.type in _PART_OF}
    for act in acts:
        part = _PART_OF.get(act.type, "")
        if act.type in CHANGES:
            part = digests.get(named_by(act), "")
            digests[act.sha256] = part
        if part:
            found[part].append(act)
    return found


def _wanted(entries: Iterable[Entry], types: frozenset[str]) -> Iterator[Act]:
    for entry in entries:
        kind = _type(entry)
        if not kind or kind in types:
            yield entry.act


def _type(entry: Entry) -> str:
    """Return the type of an entry's act from its last bytes; empty where they are others."""
    raw = entry.raw
    found = _TYPE.search(raw, max(0, len(raw) - _TAIL))
    return found.group(1).decode() if found else ""
