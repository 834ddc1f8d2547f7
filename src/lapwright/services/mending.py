"""Correct or void one entry of the ledger: by a new entry that names it, with who and why.

What was written stays readable. A correction states the whole body anew; what may not be
changed (records issued and signed, numbers taken, names removed, keys) is refused, and so is
what would leave a case that cannot be judged.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core.acts import ACT_TYPES, Act, Body
from lapwright.core.fold import case_stream, check_case_filing
from lapwright.core.standing import CHANGES, check_filing, corrected, resolve
from lapwright.ledger.errors import BodyKeyUnknown, BodyRefused, EntryUnknown, NothingCorrected
from lapwright.ledger.gather import case_entries
from lapwright.ledger.log import Entry, Log

from .govnumbers import masked, refuse_number
from .programmeacts import Writing, stated
from .text import word

NAME = "name_commitment"
_CASE = case_stream("")


@dataclass(frozen=True)
class Change:
    """What a correction changes: a whole body or single texts in it, and the day if it was wrong.

    ``keys`` are ``key=value``; the keys of nested mappings are joined by dots.
    """

    body: Body | None = None
    keys: tuple[str, ...] = ()
    happened_on: date | None = None


@dataclass(frozen=True)
class Mended:
    """The entry that was written, and the one that it names."""

    entry: Entry
    named: Entry

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document."""
        act = self.entry.act
        return {
            "entry": str(self.entry.seq),
            "act": act.sha256,
            "type": act.type,
            "stream": act.stream,
            "names": {"entry": str(self.named.seq), "act": self.named.act.sha256},
            "body": act.body,
        }

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        act, named = self.entry.act, self.named.act
        yield word(
            f"mend.{CHANGES[act.type]}",
            entry=str(self.entry.seq),
            named=str(self.named.seq),
            type=named.type,
            stream=named.stream,
            reason=act.body["reason"],
        )
        if named.stream.startswith(_CASE):
            yield word("mend.folder")


def find_entry(log: Log, asked: str) -> Entry:
    """Return the entry with this number, or with this SHA-256 of its act.

    Raises
    ------
    EntryUnknown
        If the ledger holds none.
    """
    if asked.isascii() and asked.isdecimal() and len(asked) < 20:
        found = next(iter(log.entries(since=int(asked))), None)
    else:
        found = next((e for e in log.entries() if e.act.sha256 == asked.lower()), None)
    if found is None:
        raise EntryUnknown(
            "the ledger holds no such entry",
            got=asked,
            expected=f"a number below {log.size()}, or all 64 digits of an act's SHA-256",
            do="'lapwright ledger show' lists the entries.",
        )
    return found


def correct_entry(log: Log, asked: str, change: Change, *, reason: str, writing: Writing) -> Mended:
    """File the correction of an entry.

    Parameters
    ----------
    log : Log
        The ledger.
    asked : str
        The entry's number, or the SHA-256 of its act.
    change : Change
        What it says instead.
    reason : str
        Why, in one sentence, without names.
    writing : Writing
        Who writes, and when.

    Raises
    ------
    EntryUnknown, BodyKeyUnknown, BodyRefused, NothingCorrected, TextEmpty
        For an entry, a key or a value that cannot be meant.
    ActFinal, VoidedAct, EvidenceRefused, LapwrightError
        As `lapwright.core.fold.check_case_filing` refuses.
    """
    found = _find(log, asked)
    named, now = found.named, found.as_corrected()
    body = _new_body(now.body, change)
    _check_texts(now.body, body)
    if body == now.body and change.happened_on in (None, now.happened_on):
        raise NothingCorrected(
            "a correction that changes nothing",
            got=f"the body of entry {named.seq} as it stands",
            expected="another value, or another day",
            do="Give what is different, or leave the entry as it is.",
        )
    said: dict[str, Any] = {"corrects": named.act.sha256, "body": body}
    if change.happened_on is not None:
        said["happened_on"] = change.happened_on.isoformat()
    return _file(log, "ActCorrected", said, found, reason=reason, writing=writing)


def void_entry(log: Log, asked: str, *, reason: str, writing: Writing) -> Mended:
    """File that an entry is void; see `correct_entry`."""
    found = _find(log, asked)
    said = {"voids": found.named.act.sha256}
    return _file(log, "ActVoided", said, found, reason=reason, writing=writing)


def _file(
    log: Log,
    type_: str,
    said: Mapping[str, Any],
    found: _Found,
    *,
    reason: str,
    writing: Writing,
) -> Mended:
    """Check the change against what its stream holds, and append it behind exactly that."""
    why, by = masked(stated(reason, "the reason")), stated(writing.by, "who does it")
    body = {**said, "reason": why, "by": by}
    day, version, stream = writing.at.date(), ACT_TYPES[type_][0], found.named.stream
    act = Act(type_, body, day, by, writing.at, version=version, stream=stream)
    if stream.startswith(_CASE):
        case = stream.removeprefix(_CASE)
        check_case_filing([e.act for e in case_entries(log, case)], [act])
    else:
        check_filing(found.held, [act])
    (entry,) = log.append([act], expect={stream: len(found.held)})
    return Mended(entry, found.named)


@dataclass(frozen=True)
class _Found:
    """An entry, and the acts of its stream."""

    named: Entry
    held: tuple[Act, ...]

    def as_corrected(self) -> Act:
        """Return the entry's act with the correction that counts."""
        fix = resolve(self.held).fixes.get(self.named.version)
        return corrected(self.named.act, fix) if fix else self.named.act


def _find(log: Log, asked: str) -> _Found:
    named = find_entry(log, asked)
    return _Found(named, tuple(e.act for e in log.entries(stream=named.stream)))


def _new_body(body: Body, change: Change) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(json.dumps(change.body if change.body is not None else body))
    for row in change.keys:
        path, found, value = row.partition("=")
        *parents, last = path.split(".")
        at: Any = made
        for key in parents:
            at = at.get(key) if isinstance(at, dict) else None
        if not found or not isinstance(at, dict) or not isinstance(at.get(last), str):
            raise BodyKeyUnknown(
                "not a text of this entry",
                got=row,
                expected=f"key=value with one of {', '.join(_texts(made)) or 'no text in it'}",
                do="Correct the key; lists and new keys go with --body.",
            )
        at[last] = value
    return made


def _texts(body: Mapping[str, Any], before: str = "") -> Iterator[str]:
    """Yield the dotted keys of the texts in a body."""
    for key, value in body.items():
        if isinstance(value, str):
            yield before + key
        elif isinstance(value, Mapping):
            yield from _texts(value, f"{before}{key}.")


def _check_texts(held: Body, body: Body) -> None:
    """Refuse another name behind a person, and government numbers in what is new."""
    if body.get(NAME) != held.get(NAME):
        raise BodyRefused(
            "a correction that puts another name behind a person",
            got=NAME,
            expected="the same commitment",
            do="Mend a misspelt name in the case that first filed it, with 'written.reason'.",
        )
    known = set(_all_texts(held))
    for text in _all_texts(body):
        if text not in known:
            refuse_number(text, where="body")


def _all_texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _all_texts(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from _all_texts(inner)


def read_body(path: Path) -> Body:
    """Return the body in a JSON file.

    Raises
    ------
    BodyRefused
        If the file cannot be read or holds no JSON object of texts, lists and mappings.
    """
    try:
        body = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError, RecursionError) as fault:
        raise _no_body(path, str(getattr(fault, "strerror", None) or fault)) from fault
    if not isinstance(body, dict):
        raise _no_body(path, type(body).__name__)
    return body


def _no_body(path: Path, got: str) -> BodyRefused:
    return BodyRefused(
        "the file holds no body",
        got=got,
        where=path.name,
        expected="one JSON object, as 'lapwright ledger show --entry N --json' prints it",
        do="Correct the file.",
    )
