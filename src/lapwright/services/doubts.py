"""An instrument found out of tolerance: the doubt, how it is cleared, and all that it touched.

The doubt (``DoubtRaised`` about ``instrument:ID``) reaches back to the last day on which
the instrument was known to be good. Every coupon, face, reading, purge log and record
with a figure of it between that day and the finding is listed, over all cases of the
ledger.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.bodies import cleared, day_or_none, doubt_of
from lapwright.core.evidence import Doubt
from lapwright.core.fold import case_stream
from lapwright.core.standing import Standing, standing
from lapwright.ledger.gather import gather
from lapwright.ledger.log import Log
from lapwright.rules.doubted import reaches

from .errors import DoubtUnknown, InstrumentUnknown
from .govnumbers import masked
from .programmeacts import (
    STREAM,
    Writing,
    acts_standing,
    dates_refused,
    entries_seen,
    programme_act,
    stated,
)


@dataclass(frozen=True)
class Touched:
    """One figure that an instrument has touched."""

    on: date
    case: str
    kind: str
    id: str
    what: str
    by: str
    act: str


def raise_doubt(
    instrument: str,
    log: Log,
    *,
    since: date,
    found_on: date,
    reason: str,
    writing: Writing,
) -> Doubt:
    """File that an instrument was found out of tolerance.

    Parameters
    ----------
    instrument : str
        Its id.
    log : Log
        The ledger.
    since : date
        Last day on which it was known to be good.
    found_on : date
        Day of the finding.
    reason : str
        What was found.
    writing : Writing
        Who writes, and when; the writer stands behind the finding.

    Raises
    ------
    InstrumentUnknown, PaperDatesRefused, TextEmpty
    """
    seen = entries_seen(log)
    filed = [e for e in log.about(f"instrument:{instrument}") if e.act.type == "InstrumentFiled"]
    if not filed:
        raise InstrumentUnknown(
            "an instrument that nobody has filed",
            got=instrument,
            expected="an instrument of the register",
            do="Correct the id; 'lapwright instruments list' shows all.",
        )
    if not since <= found_on <= writing.latest_day:
        raise dates_refused(
            f"since {since}, found on {found_on}",
            f"good before it was found bad, and found by {writing.latest_day}",
        )
    earlier = [e for e in log.about(f"instrument:{instrument}") if e.act.type == "DoubtRaised"]
    body = {
        "about": f"instrument:{instrument}",
        "doubt": f"{instrument}-D{len(earlier) + 1}",
        "by": writing.by,
        "reason": masked(stated(reason, "the reason")),
        "since": since.isoformat(),
    }
    act = programme_act("DoubtRaised", body, found_on, writing)
    log.append([act], expect={STREAM: seen})
    return doubt_of(act)


def clear_doubt(doubt: str, log: Log, *, on: date, reason: str, writing: Writing) -> Doubt:
    """File that a doubt is cleared, with its reason.

    Parameters
    ----------
    doubt : str
        Id of the doubt, such as ``CAL-2-D1``.
    log : Log
        The ledger.
    on : date
        Civil day.
    reason : str
        Why the figures stand.
    writing : Writing
        Who writes, and when.

    Raises
    ------
    DoubtUnknown, PaperDatesRefused, TextEmpty
    """
    raised = doubt_on(log, doubt, as_of=writing.latest_day)
    if raised.cleared_on is not None:
        raise _unknown(f"{doubt}, cleared on {raised.cleared_on}", "a doubt that still stands")
    if not raised.found_on <= on <= writing.latest_day:
        raise dates_refused(f"cleared on {on}", f"{raised.found_on} to {writing.latest_day}")
    body = {
        "about": raised.about,
        "doubt": raised.id,
        "by": writing.by,
        "reason": masked(stated(reason, "the reason")),
    }
    act = programme_act("DoubtCleared", body, on, writing)
    log.append([act])
    return cleared(raised, act)


def doubt_on(log: Log, doubt: str, *, as_of: date) -> Doubt:
    """Return a doubt as it stands on a day.

    Raises
    ------
    DoubtUnknown
        If the ledger holds none of that id on that day.
    """
    known = all_doubts(acts_standing(log, as_of=as_of))
    if doubt not in known:
        raise _unknown(doubt, ", ".join(known) or "no doubt was raised by then")
    return known[doubt]


def _unknown(got: str, expected: str) -> DoubtUnknown:
    return DoubtUnknown(
        "no doubt of that id",
        got=got,
        expected=expected,
        do="Correct the id; 'lapwright instruments list' shows those that stand.",
    )


def all_doubts(stood: Sequence[Standing]) -> dict[str, Doubt]:
    """Return doubts by id, with how they were cleared.

    Parameters
    ----------
    stood : sequence of Standing
        Acts that stand, oldest first.
    """
    found: dict[str, Doubt] = {}
    for act, name in ((s.act, s.sha256) for s in stood):
        if act.type == "DoubtRaised":
            doubt = replace(doubt_of(act), id=act.body.get("doubt", "") or name)
            found[doubt.id] = doubt
        elif act.type == "DoubtCleared" and act.body["doubt"] in found:
            found[act.body["doubt"]] = cleared(found[act.body["doubt"]], act)
    return found


def open_doubts(stood: Sequence[Standing]) -> dict[str, tuple[Doubt, ...]]:
    """Return subject -> doubts that stand."""
    found: dict[str, tuple[Doubt, ...]] = {}
    for doubt in all_doubts(stood).values():
        if doubt.cleared_on is None:
            found[doubt.about] = (*found.get(doubt.about, ()), doubt)
    return found


def touched(log: Log, doubt: Doubt, *, as_of: date) -> tuple[Touched, ...]:
    """Return everything that a doubted instrument has touched, oldest first.

    From the last day on which it was known to be good, that day included, to the finding, and
    beyond it until it is calibrated again; see `lapwright.rules.doubted`.

    Parameters
    ----------
    log : Log
        The ledger.
    doubt : Doubt
        The doubt.
    as_of : date
        The civil day asked about.
    """
    name = doubt.about.removeprefix("instrument:")
    acts = [(s.act, s.sha256) for s in about(log, (doubt.about,), as_of)]
    again = [
        day
        for a, _ in acts
        if a.type == "InstrumentFiled" and (day := day_or_none(a.body.get("calibrated_on", "")))
    ]
    whole = _whole(doubt)

    def reached(on: date, part: Mapping[str, Any]) -> str:
        stated = day_or_none(part.get("after_calibration", ""))
        return reaches(whole, name, on, calibrated=again, after=stated)

    found = [
        replace(row, act=sha)
        for act, sha in acts
        for row, part in _rows(act, name)
        if reached(act.happened_on, part)
    ]
    cases = {row.case for row in found if row.case}
    return tuple(sorted([*found, *_records(log, cases, as_of)], key=lambda r: (r.on, r.case)))


def _whole(doubt: Doubt) -> Doubt:
    """Return a doubt as it stood before it was cleared: what it reached stays listed."""
    return replace(doubt, cleared_on=None)


def _rows(act: Act, name: str) -> Iterator[tuple[Touched, Mapping[str, Any]]]:
    """Yield each figure that an act took with an instrument, and the part that states it."""
    body, case = act.body, act.stream.removeprefix("case/") if "/" in act.stream else ""

    def row(kind: str, id_: str, what: str) -> Touched:
        by = body.get("reader", "") or act.recorded_by  # who measured a wall is not filed
        return Touched(act.happened_on, case, kind, id_, what, by, act.sha256)

    if act.type == "FaceRead" and body.get("instrument") == name:
        yield row("face", body["face"], f"{body['way']} reading"), body
    elif act.type == "CouponBrazed":
        purge: Mapping[str, Any] = body.get("purge", {})
        for part in ("tube", "fitting"):
            if body.get(part, {}).get("instrument") == name:
                yield row("coupon", body["coupon"], f"{part} measured"), body[part]
        if purge.get("analyser") == name:
            yield row("purge log", body["coupon"], "oxygen read"), purge
        for joint in body.get("joints", ()):
            if joint.get("instrument") == name:
                yield row("joint", joint["id"], "overlap measured"), joint
    elif act.type not in ("InstrumentFiled", "DoubtRaised", "DoubtCleared", "FaceRead"):
        subject = str(body.get("joint", body.get("specimen", "")))
        yield row(act.type, subject, "figure taken"), body


def _records(log: Log, cases: set[str], as_of: date) -> Iterator[Touched]:
    """Yield the records issued of cases that hold a touched figure."""
    brazers = {
        e.act.body["brazer"]
        for case in cases
        for e in log.entries(stream=case_stream(case))
        if e.act.type == "SessionOpened"
    }
    people = tuple(f"person:{p}" for p in sorted(brazers))
    for act, name in ((s.act, s.sha256) for s in about(log, people, as_of)):
        b = act.body
        if act.type == "RecordIssued" and b.get("case", "") in cases:
            id_ = f"{b['record']}-r{b.get('revision', '1')}"
            yield Touched(
                act.happened_on, b["case"], "record", id_, "issued", act.recorded_by, name
            )


def about(log: Log, subjects: tuple[str, ...], as_of: date) -> tuple[Standing, ...]:
    """Return the acts that name one of the subjects, as they stand on a day.

    Parameters
    ----------
    log : Log
        The ledger.
    subjects : tuple of str
        ``kind:id``; without any, nothing.
    as_of : date
        The civil day asked about.
    """
    return standing((e.act for e in gather(log, *subjects)), as_of=as_of) if subjects else ()
