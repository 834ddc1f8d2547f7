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
from .standing import Standing, standing
from .times import parse_date

AGREES, DIFFERS = "agrees", "differs"


@dataclass(frozen=True)
class PaperCheck:
    """One look at a paper record: ``outcome`` is ``agrees`` or ``differs``.

    ``employer`` is the employer that tested, where the check is its confirmation;
    ``files`` are what it sent. ``role`` is that of ``by`` as enrolled, empty where nobody
    enrolled them.
    """

    by: str
    on: date
    outcome: str
    remark: str = ""
    employer: str = ""
    files: tuple[str, ...] = ()
    role: str = ""


@dataclass(frozen=True)
class PaperRecord:
    """A record made elsewhere, as typed from paper; ``body`` holds all that was typed."""

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

    @property
    def comparison(self) -> PaperCheck | None:
        """The latest comparison of the typed text with the scan."""
        return latest([c for c in self.checks if not c.employer])

    @property
    def confirmations(self) -> tuple[PaperCheck, ...]:
        """The answers filed in the name of the employer that tested, whatever they are worth."""
        return tuple(c for c in self.checks if c.employer == self.employer)


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
        Time zone in which ``known_by`` ends; UTC when empty.
    """
    found: dict[str, PaperRecord] = {}
    for stood in standing(acts, as_of=as_of, known_by=known_by, zone=zone):
        act = stood.act
        if act.type == "PaperRecordEntered":
            found[act.body["paper"]] = paper_of(stood)
        elif act.type == "PaperRecordChecked" and act.body["paper"] in found:
            paper = found[act.body["paper"]]
            found[paper.id] = replace(paper, checks=(*paper.checks, _check_of(act)))
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
    )


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
