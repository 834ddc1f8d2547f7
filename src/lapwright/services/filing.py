"""File a case folder into a ledger: each entry once, what left the folder voided with its reason.

Photographs and readings are kept in the file store before the acts that name
them. An entry that stands already (same type, body, day, time, files) is not
filed again. New ones carry the moment of filing, so that questions about what
was known on a day are answered honestly.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from lapwright.core.acts import Act, canonical_json
from lapwright.core.fold import case_stream, check_case_filing
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log

from .casefolder import LoadedCase, open_case
from .casestream import FROM_FOLDER, not_voided, read_case
from .errors import PersonOther
from .history import must_say_why
from .programme import enrolments, removed_on
from .text import word


@dataclass(frozen=True)
class Filed:
    """What filing a case did: entries added, standing already, voided."""

    case: str
    added: int
    known: int
    voided: int

    def as_dict(self) -> dict[str, str]:
        """Return the JSON document."""
        return {
            "case": self.case,
            "added": str(self.added),
            "known": str(self.known),
            "voided": str(self.voided),
        }

    def line(self) -> str:
        """Return the answer as one line."""
        return word("filing.done", **self.as_dict())


def file_case(
    case: Path | LoadedCase,
    *,
    log: Log,
    files: FileStore,
    secret: bytes,
    at: datetime,
    progress: Callable[[str], None] | None = None,
) -> Filed:
    """File the acts of a case folder; the same folder a second time changes nothing.

    Parameters
    ----------
    case : Path or LoadedCase
        The case folder, or the case as loaded with the same ``secret``.
    log, files : Log, FileStore
        The ledger and its files.
    secret : bytes
        Installation secret of the name commitments.
    at : datetime
        The present moment, UTC: when the entries are written.
    progress : callable, optional
        Told before each photograph is measured.

    Raises
    ------
    EntriesGone
        If a filed reading or look has left the folder and no reason stands in it.
    PersonOther
        If a person's id stands for another name in the ledger.
    EvidenceRefused
        If what the ledger would hold then contradicts itself.
    StreamMoved
        If somebody else has filed into the case meanwhile.
    """
    loaded = case if isinstance(case, LoadedCase) else _opened(case, secret, progress)
    held = read_case(log, loaded.id)
    ours = [a for a in held.standing if a.type in FROM_FOLDER]
    added, gone = _differences(loaded.acts, ours)
    must_say_why(loaded, gone)
    acts = [*_voids(loaded, gone, at), *(replace(a, recorded_at=at) for a in added)]
    check_case_filing(held.every, acts)

    def people() -> None:
        _check_people(loaded, log)
        _keep_names(loaded, log)

    _check_people(loaded, log)  # at once, before files are kept, and again when it is our turn
    _keep_files(loaded, added, files)
    if acts:
        log.append(acts, expect={case_stream(loaded.id): len(held.every)}, first=people)
    else:
        people()
    return Filed(loaded.id, len(added), len(ours) - len(gone), len(gone))


def _opened(folder: Path, secret: bytes, progress: Callable[[str], None] | None) -> LoadedCase:
    return open_case(folder, secret=secret, progress=progress)


def _differences(folder: Iterable[Act], held: Iterable[Act]) -> tuple[list[Act], list[Act]]:
    """Return what the folder adds, and what the ledger holds that left the folder."""
    waiting: dict[bytes, list[Act]] = {}
    for act in held:
        waiting.setdefault(_identity(act), []).append(act)
    added = []
    for act in folder:
        found = waiting.get(_identity(act))
        if found:
            found.pop(0)
        else:
            added.append(act)
    return added, [a for left in waiting.values() for a in left]


def _identity(act: Act) -> bytes:
    """Return what makes an entry the same one: type, body, day, time and files."""
    at = act.happened_at.isoformat() if act.happened_at else ""
    parts = (act.type, str(act.version), act.body, act.happened_on.isoformat(), at, act.files)
    return canonical_json(parts)


def _voids(case: LoadedCase, gone: Iterable[Act], at: datetime) -> Iterator[Act]:
    written = case.document["written"]
    reason = written.get("reason") or word("filing.no_reason")
    for act in gone:
        yield Act(
            "ActVoided",
            {"voids": act.sha256, "reason": reason, "by": written["by"]},
            at.date(),
            written["by"],
            at,
            stream=case_stream(case.id),
        )


def _check_people(case: LoadedCase, log: Log) -> None:
    """Refuse an id that stands for another name; a case may mend a name of its own, with why."""
    own = case_stream(case.id)
    for act in case.acts:
        if act.type != "PersonEnrolled":
            continue
        person, name = act.body["person"], act.body["name_commitment"]
        others = [a for a in enrolments(log, person) if a.body["name_commitment"] != name]
        others = [a for a in others if a.sha256 not in _voided(log, a.stream)]
        mended = all(a.stream == own for a in others) and case.document["written"].get("reason")
        if others and not mended:
            raise PersonOther(
                "a person's id that stands for another name in the ledger",
                got=person,
                where=f"{case.id}: people.{person}.name",
                expected=f"the name filed with {others[0].stream}",
                do="Give another person another id; a name that was misspelt is mended in the "
                "case that first filed it, with 'written.reason'.",
            )


def _voided(log: Log, stream: str) -> Mapping[str, Act]:
    return not_voided([e.act for e in log.entries(stream=stream)])[1]


def _keep_files(case: LoadedCase, acts: Iterable[Act], files: FileStore) -> None:
    for digest in dict.fromkeys(d for act in acts for d in act.files):
        files.put(case.files.kept[digest][1])


def _keep_names(case: LoadedCase, log: Log) -> None:
    """Keep names beside the ledger, but never one that was removed."""
    held = log.side_records()
    for commitment, kept in case.log.side_records().items():
        if commitment not in held and removed_on(log, commitment) is None:
            log.put_side(commitment, kept.value, kept.salt)
