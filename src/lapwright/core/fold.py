"""Fold a log of acts into `Evidence` as of a day.

Which acts stand on the day, as far as they were written by another, with
corrections and voids, is `lapwright.core.standing`. A face that names a joint of
another coupon, or a second birth of one thing, is refused: one joint's faces
are never credited to another.

A case in a ledger is folded from its own stream and the stream ``programme``
(`fold_case`). The programme's acts are taken first, whenever they were written:
what the case filed itself counts over what the programme filed, and how the two
streams lie among each other plays no part. Within a stream a thing is taken in before
what is said of it; otherwise the later entry counts.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from . import evidence as ev
from .acts import Act
from .errors import EvidenceRefused
from .folding import HANDLERS, State, rank, take
from .standing import Standing, check_filing, standing

PROGRAMME = "programme"
_CASE = "case/"


def case_stream(case: str) -> str:
    """Return the stream of a case's acts."""
    return f"{_CASE}{case}"


def fold(
    acts: Iterable[Act], *, as_of: date, known_by: date | None = None, zone: str = ""
) -> ev.Evidence:
    """Return what is known on ``as_of``.

    Parameters
    ----------
    acts : iterable of Act
        One case, with or without the programme's acts, oldest first.
    as_of : date
        Civil day asked about.
    known_by : date, optional
        Only acts written by the end of this day count.
    zone : str, optional
        Time zone in which ``known_by`` ends, a name of the IANA database; the one that the
        basis names (option ``zone``) when empty, else UTC.

    Raises
    ------
    EvidenceRefused
        For acts that contradict each other, or belong to several cases.
    LapwrightError
        For corrections that make no sense; see `lapwright.core.standing`.
    """
    state = State()
    stood = standing(acts, as_of=as_of, known_by=known_by, zone=zone)
    _must_be_one_case(stood)
    for found in sorted(stood, key=_place):
        handler = HANDLERS.get(found.act.type)
        if handler is not None:
            state.at_hand = found
            take(handler, state, found.act, name=state.sha256)
    return state.freeze(as_of, known_by)


def fold_case(
    acts: Iterable[Act], case: str, *, as_of: date, known_by: date | None = None, zone: str = ""
) -> ev.Evidence:
    """Return what is known of one case of a ledger on ``as_of``; see `fold`.

    Parameters
    ----------
    acts : iterable of Act
        Oldest first; those of other streams are passed over.
    case : str
        Id of the case.
    as_of : date
        Civil day asked about.
    known_by : date, optional
        Only acts written by the end of this day count.
    zone : str, optional
        Time zone in which ``known_by`` ends.
    """
    own = {case_stream(case), PROGRAMME}
    kept = [act for act in acts if act.stream in own]
    return fold(kept, as_of=as_of, known_by=known_by, zone=zone)


def _place(found: Standing) -> tuple[int, str]:
    """Return a key that sorts the programme's acts first; all else keeps its order."""
    owner = "" if found.first.stream == PROGRAMME else "case"
    return rank(found.act.type), owner


def _must_be_one_case(stood: Iterable[Standing]) -> None:
    cases = {s.first.stream for s in stood if s.first.stream.startswith(_CASE)}
    if len(cases) > 1:
        raise EvidenceRefused(
            "acts of several cases in one fold",
            got=", ".join(sorted(cases)),
            expected="one case, with the programme's acts",
            do="Ask about one case at a time.",
        )


def check_case_filing(held: Iterable[Act], new: Iterable[Act]) -> None:
    """Refuse what would leave a case that cannot be folded, before it is written.

    A void of a coupon whose faces were read, or a correction to another joint that does
    not exist, is refused here; so is what `lapwright.core.standing.check_filing` refuses.

    Parameters
    ----------
    held : iterable of Act
        The case as it stands, with the programme's acts, oldest first.
    new : iterable of Act
        What is about to be written behind it.

    Raises
    ------
    LapwrightError
        As `fold` and `lapwright.core.standing.check_filing` do.
    """
    before, more = list(held), list(new)
    check_filing(before, more)
    fold([*before, *more], as_of=date.max)
