"""Instruments: the register, warnings before a calibration ends, and what a bad one has touched.

An instrument found out of tolerance is doubted (``DoubtRaised`` about
``instrument:ID``) since the last day on which it was known to be good. Every
coupon, face, reading, purge log and record with a figure of it between that day
and the finding is then listed, over all cases of the ledger.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.bodies import cleared, doubt_of
from lapwright.core.evidence import Doubt
from lapwright.core.fold import standing
from lapwright.core.times import parse_date
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log
from lapwright.rules.doubted import reaches

from .errors import DoubtUnknown, InstrumentUnknown, PaperDatesRefused
from .govnumbers import masked, refuse_number
from .programmeacts import STREAM, Writing, acts_standing, programme_act, stated
from .scans import read_scan


@dataclass(frozen=True)
class InstrumentRow:
    """One instrument as it stands on a day; ``state`` is a word of `STATES`.

    ``days`` are the days left until its calibration ends, below zero afterwards.
    """

    id: str
    kind: str
    resolution: str
    calibrated_on: date | None
    calibrated_until: date | None
    state: str
    days: int | None
    doubts: tuple[Doubt, ...] = ()


STATES = ("doubted", "ended", "ends-soon", "in-date", "no-date")


@dataclass(frozen=True)
class Filing:
    """An instrument to file: resolution with its unit, calibration days, its certificate."""

    instrument: str
    kind: str
    resolution: str
    calibrated_on: date
    calibrated_until: date
    certificate: Path | None = None
    remark: str = ""


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


def register(log: Log, *, as_of: date, warn_days: int = 30) -> tuple[InstrumentRow, ...]:
    """Return the instruments of the programme and of its cases, by id.

    Parameters
    ----------
    log : Log
        The ledger.
    as_of : date
        The civil day asked about.
    warn_days : int, optional
        Days before its end from which a calibration is told.
    """
    latest: dict[str, Mapping[str, Any]] = {}
    acts = standing((e.act for e in log.entries()), as_of=as_of)
    filed = [a for a in acts if a.type == "InstrumentFiled"]
    for act in sorted(filed, key=lambda a: (a.happened_on, a.stream == STREAM)):
        latest[act.body["instrument"]] = act.body
    doubts = open_doubts(acts)
    return tuple(
        _row(name, latest[name], doubts.get(f"instrument:{name}", ()), as_of, warn_days)
        for name in sorted(latest)
    )


def _row(
    name: str, body: Mapping[str, Any], doubts: Sequence[Doubt], as_of: date, warn_days: int
) -> InstrumentRow:
    until = _day(body.get("calibrated_until", ""))
    left = (until - as_of).days if until else None
    soon = left is not None and left <= warn_days
    state = "no-date" if left is None else "ended" if left < 0 else "ends-soon" if soon else "in-date"
    return InstrumentRow(
        name,
        body["kind"],
        body.get("resolution", ""),
        _day(body.get("calibrated_on", "")),
        until,
        "doubted" if doubts else state,
        left,
        tuple(doubts),
    )


def file_instrument(
    filing: Filing, log: Log, files: FileStore, *, writing: Writing, on: date
) -> Act:
    """File an instrument, or its new calibration.

    Parameters
    ----------
    filing : Filing
        What is filed.
    log, files : Log, FileStore
        Ledger, and where the certificate is kept.
    writing : Writing
        Who writes, and when.
    on : date
        Civil day of the filing.

    Raises
    ------
    PaperDatesRefused
        If the calibration ends before it was made, or was made after ``on``.
    """
    refuse_number(filing.instrument, where="instrument")
    if not filing.calibrated_on <= filing.calibrated_until or filing.calibrated_on > on:
        raise _dates(
            f"calibrated on {filing.calibrated_on}, until {filing.calibrated_until}",
            f"a calibration made by {on} that ends on that day or later",
        )
    sent = (files.put(read_scan(filing.certificate)),) if filing.certificate else ()
    body = {
        "instrument": stated(filing.instrument, "the instrument"),
        "kind": stated(filing.kind, "the kind"),
        "resolution": filing.resolution,
        "calibrated_on": filing.calibrated_on.isoformat(),
        "calibrated_until": filing.calibrated_until.isoformat(),
        "remark": masked(filing.remark),
    }
    act = programme_act("InstrumentFiled", body, on, writing, files=sent)
    log.append([act])
    return act


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
    seen = len(list(log.entries(stream=STREAM)))
    filed = [e for e in log.about(f"instrument:{instrument}") if e.act.type == "InstrumentFiled"]
    if not filed:
        raise InstrumentUnknown(
            "an instrument that nobody has filed",
            got=instrument,
            expected=", ".join(r.id for r in register(log, as_of=found_on)) or "none filed",
            do="Correct the id; 'lapwright instruments list' shows all.",
        )
    if not since <= found_on <= writing.at.date():
        raise _dates(
            f"since {since}, found on {found_on}",
            f"good before it was found bad, and found by {writing.at.date()}",
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
    known = all_doubts(acts_standing(log, as_of=writing.at.date()))
    raised = known.get(doubt)
    if raised is None or raised.cleared_on is not None:
        standing_ones = ", ".join(d.id for d in known.values() if d.cleared_on is None)
        raise DoubtUnknown(
            "no doubt of that id stands",
            got=doubt,
            expected=standing_ones or "no doubt stands",
            do="Correct the id; 'lapwright instruments list' shows those that stand.",
        )
    if not raised.found_on <= on <= writing.at.date():
        raise _dates(f"cleared on {on}", f"{raised.found_on} to {writing.at.date()}")
    body = {
        "about": raised.about,
        "doubt": raised.id,
        "by": writing.by,
        "reason": masked(stated(reason, "the reason")),
    }
    act = programme_act("DoubtCleared", body, on, writing)
    log.append([act])
    return cleared(raised, act)


def all_doubts(acts: Sequence[Act]) -> dict[str, Doubt]:
    """Return doubts by id, with how they were cleared.

    Parameters
    ----------
    acts : sequence of Act
        Acts that stand, oldest first.
    """
    found: dict[str, Doubt] = {}
    for act in acts:
        if act.type == "DoubtRaised":
            doubt = doubt_of(act)
            found[doubt.id] = doubt
        elif act.type == "DoubtCleared" and act.body["doubt"] in found:
            found[act.body["doubt"]] = cleared(found[act.body["doubt"]], act)
    return found


def open_doubts(acts: Sequence[Act]) -> dict[str, tuple[Doubt, ...]]:
    """Return subject -> doubts that stand."""
    found: dict[str, tuple[Doubt, ...]] = {}
    for doubt in all_doubts(acts).values():
        if doubt.cleared_on is None:
            found[doubt.about] = (*found.get(doubt.about, ()), doubt)
    return found


def touched(log: Log, doubt: Doubt, *, as_of: date) -> tuple[Touched, ...]:
    """Return everything that a doubted instrument has touched, oldest first.

    From the last day on which it was known to be good, that day included, to the finding, and
    beyond it while nobody has calibrated it again.

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
    acts = standing((e.act for e in log.about(doubt.about)), as_of=as_of)
    again = [
        day
        for a in acts
        if a.type == "InstrumentFiled" and (day := _day(a.body.get("calibrated_on", "")))
    ]
    found = [
        row
        for act in acts
        if reaches(_whole(doubt), name, act.happened_on, calibrated=again)
        for row in _rows(act, name)
    ]
    cases = {row.case for row in found if row.case}
    return tuple(sorted([*found, *_records(log, cases, as_of)], key=lambda r: (r.on, r.case)))


def _whole(doubt: Doubt) -> Doubt:
    """Return a doubt as it stood before it was cleared: what it reached stays listed."""
    return Doubt(doubt.id, doubt.about, doubt.by, doubt.reason, doubt.since, doubt.found_on)


def _rows(act: Act, name: str) -> Iterator[Touched]:
    body, case = act.body, act.stream.removeprefix("case/") if "/" in act.stream else ""

    def row(kind: str, id_: str, what: str) -> Touched:
        by = body.get("reader", "") or body.get("by", "") or act.recorded_by
        return Touched(act.happened_on, case, kind, id_, what, by, act.sha256)

    if act.type == "FaceRead" and body.get("instrument") == name:
        yield row("face", body["face"], f"{body['way']} reading")
    elif act.type == "CouponBrazed":
        for part in ("tube", "fitting"):
            if body.get(part, {}).get("instrument") == name:
                yield row("coupon", body["coupon"], f"{part} measured")
        if body.get("purge", {}).get("analyser") == name:
            yield row("purge log", body["coupon"], "oxygen read")
        for joint in body.get("joints", ()):
            if joint.get("instrument") == name:
                yield row("joint", joint["id"], "overlap measured")
    elif act.type not in ("InstrumentFiled", "DoubtRaised", "DoubtCleared", "FaceRead"):
        yield row(act.type, str(body.get("joint", body.get("specimen", ""))), "figure taken")


def _records(log: Log, cases: set[str], as_of: date) -> Iterator[Touched]:
    """Yield the records issued of cases that hold a touched figure."""
    for case in sorted(cases):
        acts = standing((e.act for e in log.entries(stream=f"case/{case}")), as_of=as_of)
        for act in acts:
            if act.type == "RecordIssued":
                number = act.body["record"]
                yield Touched(
                    act.happened_on, case, "record", number, "issued", act.recorded_by, act.sha256
                )


def _day(text: str) -> date | None:
    return parse_date(text) if text else None


def _dates(got: str, expected: str) -> PaperDatesRefused:
    return PaperDatesRefused(
        "two dates in the wrong order", got=got, expected=expected, do="Correct the wrong one."
    )
