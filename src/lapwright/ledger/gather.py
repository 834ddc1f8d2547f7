"""Take from a log whole what a question needs: a case, or all that names somebody.

A log finds the entries that name a person or a record. What corrects or voids
one of them may name neither, and what a correction names may have named somebody
else: both are brought in, so that no question is answered from half of it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping

from lapwright.core.fold import PROGRAMME, case_stream
from lapwright.core.standing import CHANGES, named_by

from .log import Entry, Log

AT_ONCE = 500  # subjects asked for in one go; databases limit the length of a question


def case_entries(log: Log, case: str) -> tuple[Entry, ...]:
    """Return the entries of a case and of the programme, oldest first.

    Parameters
    ----------
    log : Log
        The ledger.
    case : str
        Id of the case.
    """
    found = [*log.entries(stream=PROGRAMME), *log.entries(stream=case_stream(case))]
    return tuple(sorted(found, key=lambda e: e.seq))


def gather(log: Log, *subjects: str) -> tuple[Entry, ...]:
    """Return what names one of the subjects, with all that corrects or voids it, oldest first.

    Parameters
    ----------
    log : Log
        The ledger.
    *subjects : str
        ``kind:id``, as `lapwright.core.subjects.subjects_of` makes them.
    """
    found: dict[int, Entry] = {}
    fresh = _numbered(log.about(*subjects))
    while fresh:
        found |= fresh
        names = [_name(entry) for entry in fresh.values()]
        more = _numbered(_about(log, [f"act:{name}" for name in names])) | _targets(log, fresh)
        fresh = {seq: entry for seq, entry in more.items() if seq not in found}
    return tuple(found[seq] for seq in sorted(found))


def _numbered(entries: Iterable[Entry]) -> dict[int, Entry]:
    return {entry.seq: entry for entry in entries}


def _name(entry: Entry) -> str:
    return hashlib.sha256(entry.raw).hexdigest()


def _about(log: Log, subjects: list[str]) -> Iterable[Entry]:
    for start in range(0, len(subjects), AT_ONCE):
        yield from log.about(*subjects[start : start + AT_ONCE])


def _targets(log: Log, fresh: Mapping[int, Entry]) -> dict[int, Entry]:
    """Return what the corrections and voids among entries name, looked for in their streams."""
    wanted: dict[str, set[str]] = {}
    for entry in fresh.values():
        if any(kind.encode() in entry.raw for kind in CHANGES):
            act = entry.act
            if act.type in CHANGES:
                wanted.setdefault(act.stream, set()).add(named_by(act))
    held = {_name(entry) for entry in fresh.values()}
    return {
        entry.seq: entry
        for stream, names in wanted.items()
        if names - held
        for entry in log.entries(stream=stream)
        if _name(entry) in names
    }
