"""Which acts stand on a day, as far as they were written by another.

Two times: ``as_of`` is the civil day asked about, and an act that happened later
does not count; ``known_by`` is the day by whose end, in the programme's time
zone, an act must have been written. A correction or a void speaks about
knowledge: it counts from when it was written, for every ``as_of``.

* A correction (``ActCorrected``) replaces the whole body of the act it names;
  with ``happened_on`` or ``happened_at`` in its own body also the day or the
  moment, with ``version`` the version of the body's shape. Of two corrections of
  one act the one that stands later in the log counts.
* A correction may be corrected, a void may be corrected or voided. What a voided
  correction said is gone and what stood before it stands again.
* A void (``ActVoided``) takes the act out, with all its corrections. The very same
  bytes written again behind it stand.
* Both stand in the stream of the act that they name, behind it.
* A record that was issued or signed, a name removed, a key changed and a ledger
  closed are neither corrected nor voided: see `FINAL`.

An act keeps its name, the digest of the bytes first written, through all
corrections.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from .acts import Act
from .errors import ActFinal, CorrectionMoved, NamedActUnknown, VoidedAct
from .times import end_of_day, parse_date, parse_instant
from .upcasting import newest

# What has left the ledger, and cannot be called back by writing something into it.
FINAL = frozenset(
    ("NumberTaken", "RecordIssued", "RecordSigned", "NameRemoved", "KeyChanged", "LedgerClosed")
)
# What changes another act -> the key that names it.
CHANGES = {"ActCorrected": "corrects", "ActVoided": "voids"}


@dataclass(frozen=True, slots=True)
class Standing:
    """An act as it stands: corrected, in the newest shape.

    ``first`` is the act as it was written and ``fix`` the correction that counts,
    ``None`` where nothing was corrected.
    """

    act: Act
    first: Act
    fix: Act | None = None

    @property
    def sha256(self) -> str:
        """Name of the act: the digest of the bytes first written."""
        return self.first.sha256


@dataclass(frozen=True, slots=True)
class Resolved:
    """What later entries say of earlier ones, by place in the log.

    ``fixes`` holds the correction that counts, ``voids`` the void that counts.
    """

    fixes: Mapping[int, Act]
    voids: Mapping[int, Act]


def standing(
    acts: Iterable[Act], *, as_of: date, known_by: date | None = None, zone: str = ""
) -> tuple[Standing, ...]:
    """Return the acts that stand, in the order in which they were written.

    Corrections and voids are not among them: they are in what they change.

    Parameters
    ----------
    acts : iterable of Act
        Whole streams, oldest first.
    as_of : date
        The civil day asked about.
    known_by : date, optional
        Only acts written by the end of this day count.
    zone : str, optional
        Time zone of ``known_by``, a name of the IANA database; see `programme_zone`.

    Raises
    ------
    NamedActUnknown, CorrectionMoved, ActFinal
        For a correction or a void that makes no sense.
    """
    every = list(acts)
    known = known_places(every, known_by, zone)
    said = resolve(every, known)
    found = (_stands(every[n], n, said) for n in known)
    return tuple(s for s in found if s is not None and s.act.happened_on <= as_of)


def known_places(acts: Sequence[Act], known_by: date | None, zone: str = "") -> Sequence[int]:
    """Return the places of the acts that were written by the end of a day.

    Parameters
    ----------
    acts : sequence of Act
        Oldest first.
    known_by : date or None
        The day; None takes all.
    zone : str, optional
        Its time zone; that of the acts' basis where empty.
    """
    if known_by is None:
        return range(len(acts))
    end = end_of_day(known_by, zone or programme_zone(acts, known_by))
    return [n for n, act in enumerate(acts) if act.recorded_at < end]


def programme_zone(acts: Iterable[Act], known_by: date) -> str:
    """Return the time zone that the basis named (option ``zone``) by the end of a day.

    A basis counts when it was written before the day ended, both in the zone that held
    before it and in its own. So nothing written later moves the end of a day that is over.
    Where the basis is the very first act, nobody can have asked before it, and its own
    zone alone counts.

    Parameters
    ----------
    acts : iterable of Act
        Oldest first.
    known_by : date
        The day.

    Returns
    -------
    str
        Name of the zone; empty, for UTC, where no basis names one.
    """
    zone = ""
    for place, act in enumerate(acts):
        options = act.body.get("options") if act.type == "BasisAdopted" else None
        named = options.get("zone") if isinstance(options, Mapping) else None
        if isinstance(named, str) and named:
            ends = [end_of_day(known_by, z) for z in ((zone, named) if place else (named,))]
            zone = named if act.recorded_at < min(ends) else zone
    return zone


def resolve(acts: Sequence[Act], known: Sequence[int] | None = None) -> Resolved:
    """Return which corrections and voids count.

    Read from the end: what stands last in the log is touched by nothing, so each
    correction or void is settled before what it names is looked at.

    Parameters
    ----------
    acts : sequence of Act
        Oldest first.
    known : sequence of int, optional
        Places of the acts that count; all when left out. What a change names is looked
        for among all.

    Raises
    ------
    NamedActUnknown, CorrectionMoved, ActFinal
        For a correction or a void that makes no sense.
    """
    places = range(len(acts)) if known is None else known
    changes = [n for n in places if acts[n].type in CHANGES]
    fixes: dict[int, Act] = {}
    voids: dict[int, Act] = {}
    targets = targets_of(acts, changes) if changes else {}
    for n in reversed(changes):
        if n in voids:
            continue
        change = acts[n]
        kept = voids if change.type == "ActVoided" else fixes
        said = corrected(change, fixes[n]) if n in fixes else change
        for target in targets[n]:
            kept.setdefault(target, said)
    return Resolved(fixes, voids)


def corrected(act: Act, fix: Act) -> Act:
    """Return an act with the body, and the day, that a correction gives it.

    Parameters
    ----------
    act : Act
        The act.
    fix : Act
        Its correction, itself corrected already.

    Raises
    ------
    ActRefused, DateRefused
        If the body does not fit the type, or a day is none.
    """
    b = fix.body
    on, at = b.get("happened_on"), b.get("happened_at")
    version = str(b.get("version", act.version))
    return replace(
        act,
        body=b["body"],
        version=int(version) if version.isdecimal() else 0,
        happened_on=parse_date(str(on)) if on else act.happened_on,
        happened_at=parse_instant(str(at)) if at else act.happened_at,
    )


def targets_of(acts: Sequence[Act], changes: Sequence[int]) -> dict[int, list[int]]:
    """Return the place of each change -> the places before it of the act that it names.

    Parameters
    ----------
    acts : sequence of Act
        Oldest first.
    changes : sequence of int
        Places of the corrections and voids to look at.

    Raises
    ------
    NamedActUnknown, CorrectionMoved, ActFinal
        For a correction or a void that makes no sense.
    """
    named = {named_by(acts[n]) for n in changes}
    before: dict[str, list[int]] = {digest: [] for digest in named}
    found = {}
    asked = set(changes)
    for n, act in enumerate(acts):
        if n in asked:
            found[n] = list(before[named_by(act)])
            _must_fit(act, acts[found[n][-1]] if found[n] else None)
        name = act.sha256
        if name in before:
            before[name].append(n)
    return found


def check_filing(held: Iterable[Act], new: Iterable[Act]) -> None:
    """Refuse corrections and voids that make no sense, before they are written.

    Parameters
    ----------
    held : iterable of Act
        What stands in their streams, oldest first.
    new : iterable of Act
        What is about to be written behind it.

    Raises
    ------
    NamedActUnknown, VoidedAct, CorrectionMoved, ActFinal
        For a correction or a void that makes no sense.
    ActRefused, DateRefused
        If the body of a correction does not fit the act that it corrects.
    """
    acts = list(held)
    for act in new:
        if act.type in CHANGES:
            places = targets_of([*acts, act], [len(acts)])[len(acts)]
            _must_not_be_voided(act, set(places) - set(resolve(acts).voids))
            if act.type == "ActCorrected":
                corrected(acts[places[-1]], act)
        acts.append(act)


def _stands(act: Act, place: int, said: Resolved) -> Standing | None:
    if act.type in CHANGES or place in said.voids:
        return None
    fix = said.fixes.get(place)
    return Standing(newest(corrected(act, fix) if fix else act), act, fix)


def named_by(change: Act) -> str:
    """Return the digest of the act that a correction or a void names."""
    return str(change.body[CHANGES[change.type]])


def _must_fit(change: Act, target: Act | None) -> None:
    """Refuse a change that names nothing before it in its stream, something final, or moves."""
    if target is None or target.stream != change.stream:
        raise NamedActUnknown(
            f"{change.type} names an act that is not in its stream before it",
            got=named_by(change),
            expected=f"the digest of an earlier act of stream '{change.stream}'",
            do="Name the act by the digest of its bytes, and file the change in its stream.",
        )
    if target.type in FINAL:
        raise ActFinal(
            f"{change.type} names a {target.type}, which nothing can undo",
            got=target.sha256,
            expected="an act about the work",
            do="Withdraw the record, or file what holds now as a new act.",
        )
    if change.type == "ActCorrected" and target.type in CHANGES:
        _must_not_move(change, target)


def _must_not_move(change: Act, target: Act) -> None:
    key = CHANGES[target.type]
    body = change.body["body"]
    if not isinstance(body, dict) or body.get(key) != target.body[key]:
        raise CorrectionMoved(
            f"the correction of {target.type} names another act than it did",
            got=str(body.get(key, "nothing") if isinstance(body, dict) else body),
            expected=named_by(target),
            do="Void it, and file a new one for the other act.",
        )


def _must_not_be_voided(change: Act, left: Collection[int]) -> None:
    if not left:
        raise VoidedAct(
            f"{change.type} names an act that is voided",
            got=named_by(change),
            expected="an act that stands",
            do="Void the void first, or file the act again.",
        )
