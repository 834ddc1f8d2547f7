"""Fold a log into paper records: who typed them, who compared them, who confirmed them.

A paper record counts by what stands in the ledger about it: the record typed
with its scan (``PaperRecordEntered``) and every look at it since
(``PaperRecordChecked``). A check that names the employer that tested is that
employer's confirmation; any other compares the typed text with the scan.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from .acts import Act
from .names import same_name
from .standing import CHANGES, Standing, known_places, named_by, standing
from .times import parse_date

AGREES, DIFFERS = "agrees", "differs"


@dataclass(frozen=True)
class PaperCheck:
    """One look at a paper record: ``outcome`` is ``agrees`` or ``differs``.

    ``employer`` is the employer that tested, where the check is its confirmation;
    ``files`` are what it sent. ``role`` is that of ``by`` as enrolled, empty where nobody
    enrolled them. ``stale`` is ``yes`` for a comparison that was written before the text was
    changed.
    """

    by: str
    on: date
    outcome: str
    remark: str = ""
    employer: str = ""
    files: tuple[str, ...] = ()
    role: str = ""
    stale: str = ""


@dataclass(frozen=True)
class PaperFix:
    """The correction of a typed record that counts: who wrote it, when, and why."""

    by: str
    on: date
    reason: str


@dataclass(frozen=True)
class PaperRecord:
    """A record made elsewhere, as typed from paper; ``body`` holds all that was typed.

    ``fix`` is there where it was typed wrongly first; a comparison with the scan that was
    written before it compared another text and does not count.
    """

    id: str
    act: str
    person: str
    employer: str
    document: str
    way: str
    typed_by: str
    typed_on: date
    brazed: tuple[date, ...]
    body: Mapping[str, Any]
    files: tuple[str, ...]
    checks: tuple[PaperCheck, ...] = ()
    fix: PaperFix | None = None

    @property
    def writers(self) -> tuple[str, ...]:
        """Who typed or corrected it, and its brazer: nobody of them may check it."""
        own = (self.typed_by, self.person, self.fix.by if self.fix else "")
        return tuple(dict.fromkeys(person for person in own if person))

    @property
    def comparison(self) -> PaperCheck | None:
        """The latest comparison of the typed text with the scan."""
        return latest([c for c in self.checks if not c.employer and not c.stale])

    @property
    def confirmations(self) -> tuple[PaperCheck, ...]:
        """The answers filed in the name of the employer that tested, whatever they are worth."""
        return tuple(c for c in self.checks if c.employer and same_name(c.employer, self.employer))


def latest(checks: Sequence[PaperCheck]) -> PaperCheck | None:
    """Return the check of the latest day, of one day the one filed last."""
    return max(reversed(checks), key=lambda c: c.on, default=None)


def fold_papers(
    acts: Iterable[Act], *, as_of: date, known_by: date | None = None, zone: str = ""
) -> dict[str, PaperRecord]:
    """Return paper records by id, as they stand on a day.

    Parameters
    ----------
    acts : iterable of Act
        The log, oldest first.
    as_of : date
        Civil day asked about.
    known_by : date, optional
        Only acts written by the end of this day count.
    zone : str, optional
        Time zone in which ``known_by`` ends; see `lapwright.core.standing.standing`.
    """
    every = list(acts)
    found: dict[str, PaperRecord] = {}
    known = [every[n] for n in known_places(every, known_by, zone)]
    filed, changed = {a.sha256: n for n, a in enumerate(known)}, _last_changes(known)
    for stood in standing(every, as_of=as_of, known_by=known_by, zone=zone):
        act = stood.act
        if act.type == "PaperRecordEntered":
            found[act.body["paper"]] = paper_of(stood)
        elif act.type == "PaperRecordChecked" and act.body["paper"] in found:
            paper, look = found[act.body["paper"]], _check_of(act)
            if not look.employer and filed[stood.sha256] < changed[paper.act]:
                look = replace(look, stale="yes")
            found[paper.id] = replace(paper, checks=(*paper.checks, look))
    return found


def _last_changes(acts: Iterable[Act]) -> dict[str, int]:
    """Return the place of each act by its digest; of a changed one, that of its last change.

    A correction changes an act, and so does what corrects or voids that correction.
    """
    found: dict[str, int] = {}
    about: dict[str, str] = {}
    for place, act in enumerate(acts):
        name = act.sha256
        if act.type in CHANGES:
            about[name] = about.get(named_by(act), named_by(act))
        found[about.get(name, name)] = place
    return found


def paper_of(stood: Standing) -> PaperRecord:
    """Return the record that a ``PaperRecordEntered`` act files, as the act stands."""
    act, b = stood.act, stood.act.body
    return PaperRecord(
        id=b["paper"],
        act=stood.sha256,
        person=b["person"],
        employer=b["employer"],
        document=b.get("document", ""),
        way=b["provenance"].get("way", ""),
        typed_by=b["typed_by"],
        typed_on=act.happened_on,
        brazed=tuple(sorted(parse_date(d) for d in b.get("brazed", ()))),
        body=b,
        files=act.files,
        fix=_fix_of(stood.fix),
    )


def _fix_of(fix: Act | None) -> PaperFix | None:
    if fix is None:
        return None
    return PaperFix(fix.body.get("by", ""), fix.recorded_at.date(), fix.body.get("reason", ""))


def _check_of(act: Act) -> PaperCheck:
    b = act.body
    return PaperCheck(
        b["by"],
        act.happened_on,
        b["outcome"],
        b.get("remark", ""),
        b.get("employer", ""),
        act.files,
    )
