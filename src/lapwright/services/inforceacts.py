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
_TYPE = re.compile(rb'"type":"([A-Za-z]+)","version":"\d+"\}$')
_TAIL = 90  # bytes that hold the type of every act this program writes


def every_act(log: Log) -> list[Act]:
    """Return the acts of a whole ledger that can say what is in force, oldest first."""
    return list(_wanted(log.entries()))


def acts_about(log: Log, person: str) -> list[Act]:
    """Return the acts that say what is in force of one person, with those of the basis.

    Parameters
    ----------
    log : Log
        The ledger.
    person : str
        Id of the person.
    """
    own = gather(log, f"person:{person}")
    acts = list(_wanted(own))
    subjects = {s for act in acts for s in _also(act, person)}
    streams = [
        case_stream(a.body["case"])
        for a in acts
        if a.type == "RecordIssued" and a.body["person"] == person
    ]
    found = {e.seq: e for e in (*own, *gather(log, *sorted(subjects)))}
    for stream in dict.fromkeys((PROGRAMME, *streams)):
        found |= {e.seq: e for e in log.entries(stream=stream)}
    return list(_wanted(found[seq] for seq in sorted(found)))


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


def _wanted(entries: Iterable[Entry]) -> Iterator[Act]:
    for entry in entries:
        raw = entry.raw
        found = _TYPE.search(raw, max(0, len(raw) - _TAIL))
        if found is None or found.group(1).decode() in _WANTED:
            yield entry.act


def _also(act: Act, person: str) -> Iterator[str]:
    """Yield the records, papers, procedures and processes of a person that an act names."""
    body = act.body
    if body.get("person") != person:
        return
    for key in ("record", "paper"):
        if body.get(key):
            yield f"record:{body[key]}"
    rows = [body, *body.get("tests", ())]
    named = [(k, r.get(k, "")) for r in rows for k in ("procedure", "process")]
    named.append(("process", body.get("variables", {}).get("process", "")))
    for kind, name in named:
        name = name.get("bps", "") if isinstance(name, dict) else name
        if name:
            yield f"{kind}:{name}"
