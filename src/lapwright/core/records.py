"""The state of every record on a day, computed from the acts and stored nowhere.

A record is known by its number and its revision. It supports no joint until the
employer's responsible person has certified it, and none after it was withdrawn
or replaced. Every revision takes a number of the register; numbers have no gaps.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import Enum

from .acts import Act, Body
from .errors import RegisterRefused
from .standing import Standing, standing
from .upcasting import newest

BY_KEY = "key"
BY_SCAN = "scan"  # a signature in ink on paper; its scan is no new form of the record


class RecordSays(Enum):
    """What a record says on a day; a later member overrules the ones before it."""

    UNSIGNED = "unsigned"
    AWAITING = "awaiting-employer"
    CERTIFIED = "certified"
    REPLACED = "replaced"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True)
class Certified:
    """The signature of the employer's responsible person; ``way`` is ``key`` or ``scan``."""

    by: str
    on: date
    way: str
    file_sha256: str


@dataclass(frozen=True)
class Accepted:
    """A later employer's acceptance, with the digest of the comparison it rests on."""

    employer: str
    by: str
    on: date
    way: str
    file_sha256: str
    comparison_sha256: str


@dataclass(frozen=True)
class Withdrawn:
    """Who withdrew a record, when and why."""

    by: str
    on: date
    reason: str


@dataclass(frozen=True)
class RecordState:
    """One revision of a record with everything done to it by the day asked about.

    ``register`` is its number in the register, empty where none was written;
    ``files`` the digests of its signed forms, oldest first; ``replaced_by`` the
    revision that took its place; ``revisions`` all revisions of its number; ``acts``
    what was done to it, from the act that issued it, whose name is ``issue``.
    """

    number: str
    revision: str
    register: str
    person: str
    case: str
    issued_on: date
    payload_sha256: str
    signed_on: date | None = None
    files: tuple[str, ...] = ()
    certified: Certified | None = None
    accepted: tuple[Accepted, ...] = ()
    withdrawn: Withdrawn | None = None
    replaced_by: str = ""
    revisions: tuple[str, ...] = ()
    issue: str = ""
    acts: tuple[Act, ...] = ()

    @property
    def name(self) -> str:
        """Number and revision, as ``TLH-01-QP7K-r1``."""
        return f"{self.number}-r{self.revision}"

    @property
    def says(self) -> RecordSays:
        """What it says on the day."""
        if self.withdrawn is not None:
            return RecordSays.WITHDRAWN
        if self.replaced_by:
            return RecordSays.REPLACED
        if self.certified is not None:
            return RecordSays.CERTIFIED
        return RecordSays.UNSIGNED if self.signed_on is None else RecordSays.AWAITING


Key = tuple[str, str]


def record_states(
    acts: Iterable[Act], *, as_of: date, known_by: date | None = None, zone: str = ""
) -> tuple[RecordState, ...]:
    """Return the state of every record issued by a day, in the order of the log.

    Parameters
    ----------
    acts : iterable of Act
        The streams of the records, or more, oldest first.
    as_of : date
        Civil day asked about.
    known_by : date, optional
        Only acts written by the end of this day count.
    zone : str, optional
        Time zone in which ``known_by`` ends; see `lapwright.core.fold.fold`.

    Raises
    ------
    RegisterRefused
        For an act about a record that no act issued, or one issued with two contents.
    """
    every = list(acts)
    known = {_key(newest(a).body) for a in every if a.type == "RecordIssued"}
    states: dict[Key, RecordState] = {}
    later = []
    for found in standing(every, as_of=as_of, known_by=known_by, zone=zone):
        if found.act.type == "RecordIssued":
            _issue(states, found)
        elif found.act.type in _HANDLERS:
            later.append(found.act)
    for act in later:
        for key in _named(act, known):
            if key in states:
                held = states[key]
                states[key] = replace(_HANDLERS[act.type](held, act), acts=(*held.acts, act))
    return tuple(_with_revisions(states))


def _key(body: Body) -> Key:
    return _text(body, "record"), _text(body, "revision")


def _text(body: Body, key: str) -> str:
    """Return a text of a body; one that an older act did not have to hold is empty."""
    return str(body.get(key, ""))


def _issue(states: dict[Key, RecordState], found: Standing) -> None:
    b, stream = found.act.body, found.first.stream
    state = RecordState(
        number=_text(b, "record"),
        revision=_text(b, "revision"),
        register=_text(b, "register"),
        person=_text(b, "person"),
        case=_text(b, "case") or (stream[5:] if stream.startswith("case/") else ""),
        issued_on=found.act.happened_on,
        payload_sha256=_text(b, "payload_sha256"),
        issue=found.sha256,
        acts=(found.act,),
    )
    held = states.setdefault(_key(b), state)
    if held.payload_sha256 != state.payload_sha256:
        raise RegisterRefused(
            "one revision of a record issued with two contents",
            where=state.name,
            got=state.payload_sha256,
            expected=held.payload_sha256,
            do="Compare both with their printed copies; a changed case takes the next revision.",
        )


def _named(act: Act, known: set[Key]) -> list[Key]:
    """Return the revisions that an act is about: one, or all where a withdrawal names none."""
    number, revision = _key(act.body)
    if not revision and act.type == "RecordWithdrawn":
        found = [key for key in known if key[0] == number]
    else:
        head, _, tail = number.rpartition("-r")
        found = [key for key in ((number, revision), (head, tail)) if key in known][:1]
    if not found:
        raise RegisterRefused(
            f"{act.type} names a record that was not issued",
            got=f"{number}, revision {revision or 'not named'}",
            expected="a record issued before",
            do="Name number and revision as they stand on the record.",
        )
    return found


def _signed(state: RecordState, act: Act) -> RecordState:
    return replace(
        state, signed_on=act.happened_on, files=(*state.files, _text(act.body, "file_sha256"))
    )


def _certified(state: RecordState, act: Act) -> RecordState:
    b = act.body
    done = Certified(_text(b, "by"), act.happened_on, _text(b, "way"), _text(b, "file_sha256"))
    return replace(state, certified=done, files=_files(state, b))


def _accepted(state: RecordState, act: Act) -> RecordState:
    b = act.body
    done = Accepted(
        _text(b, "employer"),
        _text(b, "by"),
        act.happened_on,
        _text(b, "way"),
        _text(b, "file_sha256"),
        _text(b, "comparison_sha256"),
    )
    return replace(state, accepted=(*state.accepted, done), files=_files(state, b))


def _files(state: RecordState, body: Body) -> tuple[str, ...]:
    return state.files if body.get("way") == BY_SCAN else (*state.files, _text(body, "file_sha256"))


def _withdrawn(state: RecordState, act: Act) -> RecordState:
    if state.withdrawn is not None and state.withdrawn.on <= act.happened_on:
        return state
    return replace(
        state,
        withdrawn=Withdrawn(_text(act.body, "by"), act.happened_on, _text(act.body, "reason")),
    )


_HANDLERS = {
    "RecordSigned": _signed,
    "RecordCertified": _certified,
    "RecordAccepted": _accepted,
    "RecordWithdrawn": _withdrawn,
}


def _with_revisions(states: Mapping[Key, RecordState]) -> Iterable[RecordState]:
    """Yield the states with their sisters; a signed later revision takes an earlier one's place."""
    sisters: dict[str, list[RecordState]] = {}
    for state in states.values():
        sisters.setdefault(state.number, []).append(state)
    for kept in sisters.values():
        kept.sort(key=lambda s: _order(s.revision))
    for state in states.values():
        kept = sisters[state.number]
        after = kept[kept.index(state) + 1 :]
        yield replace(
            state,
            revisions=tuple(s.revision for s in kept),
            replaced_by=next((s.revision for s in after if s.signed_on is not None), ""),
        )


def _order(revision: str) -> tuple[int, str]:
    return (int(revision) if revision.isdecimal() else 0), revision


@dataclass(frozen=True)
class RegisterFaults:
    """What is wrong with the register; all empty when nothing is.

    ``gaps`` are first and last of each run of numbers that nobody took, ``doubles`` the
    numbers of more than one record, ``odd`` what is no number from 1, ``unissued`` the
    numbers taken for a record that was not issued.
    """

    gaps: tuple[tuple[int, int], ...]
    doubles: tuple[int, ...]
    odd: tuple[str, ...]
    unissued: tuple[int, ...]


def register_faults(acts: Iterable[Act]) -> RegisterFaults:
    """Return the gaps and doubles of the register.

    Numbers taken and records issued are final, so that no day is asked for. A record
    issued before there was a register holds no number and is passed over.

    Parameters
    ----------
    acts : iterable of Act
        The register's stream and those of the records, or more.
    """
    taken: dict[int, set[Key]] = {}
    issued: set[Key] = set()
    odd = []
    for act in acts:
        if act.type not in ("NumberTaken", "RecordIssued"):
            continue
        body = newest(act).body
        number = _text(body, "register")
        if act.type == "RecordIssued":
            issued.add(_key(body))
            if not number:
                continue
        if number.isascii() and number.isdecimal() and not number.startswith("0"):
            taken.setdefault(int(number), set()).add(_key(body))
        else:
            odd.append(number)
    return RegisterFaults(
        gaps=tuple(_gaps(taken)),
        doubles=tuple(sorted(n for n, keys in taken.items() if len(keys) > 1)),
        odd=tuple(odd),
        unissued=tuple(sorted(n for n, keys in taken.items() if not keys & issued)),
    )


def _gaps(taken: Iterable[int]) -> Iterable[tuple[int, int]]:
    before = 0
    for number in sorted(taken):
        if number > before + 1:
            yield before + 1, number - 1
        before = number


def names_removed(acts: Iterable[Act]) -> dict[str, date]:
    """Return name commitment -> the day on which the name behind it was removed.

    Parameters
    ----------
    acts : iterable of Act
        Oldest first. A removal cannot be undone; of two the earlier day stands.
    """
    found: dict[str, date] = {}
    for act in acts:
        if act.type == "NameRemoved":
            name = _text(act.body, "name_commitment")
            found[name] = min(act.happened_on, found.get(name, date.max))
    return found
