"""Entries of the ledger on a page: those of a stream or about a subject, or one with its history.

A name stands beside an id while it is kept, and ``name removed on …`` after it was removed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.standing import CHANGES, Resolved, corrected, known_places, resolve
from lapwright.core.versions import history_of
from lapwright.ledger.errors import EntryUnknown
from lapwright.ledger.gather import gather
from lapwright.ledger.log import Entry, Log

from .mending import find_entry
from .programme import name_in
from .recordlist import Asked, head_line
from .register import zone_of
from .text import word


@dataclass(frozen=True)
class Which:
    """Which entries: of a stream, or about a subject (``person:ines``); all without either."""

    stream: str = ""
    about: str = ""


def entries_document(log: Log, which: Which, asked: Asked) -> dict[str, Any]:
    """Return entries as of a day, as far as they were written by another, as plain JSON.

    Parameters
    ----------
    log : Log
        The ledger.
    which : Which
        Which entries.
    asked : Asked
        The two days.
    """
    kept = _entries(log, which)
    acts = [e.act for e in kept]
    known = known_places(acts, asked.known_by, _zone(log, asked, kept))
    said = resolve(acts, known)
    name = cache(lambda person: name_in(log, person))
    rows = [
        {**_row(kept[n], acts[n], name), "state": _state(n, acts, said)}
        for n in known
        if _as_it_stands(n, acts, said).happened_on <= asked.as_of or acts[n].type in CHANGES
    ]
    return {**asked.as_dict(), "stream": which.stream, "about": which.about, "entries": rows}


def _zone(log: Log, asked: Asked, kept: Sequence[Entry]) -> str:
    """Return the zone in which the day of knowledge ends: that of the programme, or its cases."""
    return zone_of(log, {e.stream for e in kept}, asked.known_by) if asked.known_by else ""


def _entries(log: Log, which: Which) -> Sequence[Entry]:
    if which.about:
        return tuple(e for e in gather(log, which.about) if which.stream in ("", e.stream))
    return tuple(log.entries(stream=which.stream or None))


def _as_it_stands(n: int, acts: Sequence[Act], said: Resolved) -> Act:
    fix = said.fixes.get(n)
    return corrected(acts[n], fix) if fix else acts[n]


def _state(n: int, acts: Sequence[Act], said: Resolved) -> str:
    if n in said.voids:
        return "voided"
    return "corrected" if n in said.fixes else "stands"


def _row(entry: Entry, act: Act, name: Any) -> dict[str, str]:
    person = act.body.get("person", "")
    return {
        "entry": str(entry.seq),
        "act": act.sha256,
        "type": act.type,
        "stream": act.stream,
        "happened_on": act.happened_on.isoformat(),
        "recorded_at": act.recorded_at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "recorded_by": act.recorded_by,
        "name": name(person) if isinstance(person, str) and person else "",
    }


def entry_document(log: Log, entry: str, asked: Asked) -> dict[str, Any]:
    """Return one entry with all its versions, as plain JSON; see `history_of`.

    Parameters
    ----------
    log : Log
        The ledger.
    entry : str
        Its number, or the SHA-256 of its act.
    asked : Asked
        The two days; versions written later are left out.

    Raises
    ------
    EntryUnknown
        If the ledger holds none, or did not by the days asked about.
    """
    found = find_entry(log, entry)
    held = tuple(log.entries(stream=found.stream))
    acts = [e.act for e in held]
    known = known_places(acts, asked.known_by, _zone(log, asked, held))
    said = resolve(acts, known)
    late = _as_it_stands(found.version, acts, said).happened_on > asked.as_of
    if found.version not in known or (late and found.act.type not in CHANGES):
        raise EntryUnknown(
            "the entry had not happened, or nobody had written it, by the days asked about",
            got=" ".join(asked.as_dict().values()).strip(),
            where=f"entry {found.seq}",
            expected=f"happened by {found.act.happened_on}, written by {found.act.recorded_at}",
            do="Ask about a later day.",
        )
    told = history_of([held[n] for n in known], found.act.sha256)
    name = _row(found, found.act, lambda person: name_in(log, person))["name"]
    return {**asked.as_dict(), "entry": str(found.seq), "name": name, **told}


def entries_lines(document: Mapping[str, Any]) -> Iterator[str]:
    """Yield the list for a terminal."""
    rows = document["entries"]
    yield head_line("entry.list.head", document, count=str(len(rows)))
    for row in rows:
        state = "" if row["state"] == "stands" else f"  {word('entry.' + row['state'])}"
        who = row["name"] or row["recorded_by"]
        place = f"{row['entry']:>6}  {row['happened_on']}  {row['type']}  {row['stream']}"
        yield f"  {place}  {who}{state}"


def entry_lines(document: Mapping[str, Any]) -> Iterator[str]:
    """Yield one entry with its versions for a terminal."""
    told = {k: document[k] for k in ("entry", "type", "stream")}
    state = word(f"entry.{document['now']}")
    yield head_line("entry.show.head", document, state=state, **told)
    yield f"  {document['act']}"
    before: set[str] = set()
    for version in document["versions"]:
        yield ""
        kind, counts = word(f"entry.kind.{version['kind']}"), word(f"entry.{version['counts']}")
        yield "  " + word("entry.version", kind=kind, counts=counts, **_texts_of(version))
        if version["reason"]:
            yield f"    {word('entry.reason', reason=version['reason'])}"
        lines = list(_body_lines(version["body"]))
        yield from (f"    {line}" for line in lines if line not in before)  # only what is new
        before = set(lines) or before
    if document["name"]:
        yield ""
        yield word("entry.name", name=document["name"])


def _texts_of(version: Mapping[str, Any]) -> dict[str, str]:
    return {k: version[k] for k in ("entry", "by", "recorded_at", "happened_on")}


def _body_lines(value: object, key: str = "") -> Iterator[str]:
    """Yield the texts of a body, each with its keys joined by dots; lists count from 0."""
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _body_lines(inner, f"{key}.{name}" if key else name)
    elif isinstance(value, list | tuple):
        for number, inner in enumerate(value):
            yield from _body_lines(inner, f"{key}.{number}")
    else:
        yield f"{key}: {value}"
