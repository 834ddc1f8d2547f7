"""Instruments: the register, warnings before a calibration ends, and what a bad one has touched.

An instrument found out of tolerance is doubted (``DoubtRaised`` about
``instrument:ID``) since the last day on which it was known to be good. Every
coupon, face, reading, purge log and record with a figure of it between that day
and the finding is then listed, over all cases of the ledger.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.bodies import cleared, doubt_of
from lapwright.core.evidence import Doubt
from lapwright.core.fold import case_stream
from lapwright.core.standing import Standing, standing
from lapwright.core.times import parse_date
from lapwright.ledger.files import FileStore
from lapwright.ledger.gather import gather
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
    stood = _about(log, _named(log), as_of)
    filed = [s.act for s in stood if s.act.type == "InstrumentFiled"]
    for act in sorted(filed, key=lambda a: (a.happened_on, a.stream == STREAM)):
        latest[act.body["instrument"]] = act.body
    doubts = open_doubts(stood)
    return tuple(
        _row(name, latest[name], doubts.get(f"instrument:{name}", ()), as_of, warn_days)
        for name in sorted(latest)
    )


def _named(log: Log) -> tuple[str, ...]:
    """Return every instrument that some entry files; the bytes are looked at before parsing."""
    filed = (e.act for e in log.entries() if b'"InstrumentFiled"' in e.raw)
    return tuple({f"instrument:{a.body['instrument']}" for a in filed if "instrument" in a.body})


def _about(log: Log, subjects: tuple[str, ...], as_of: date) -> tuple[Standing, ...]:
    return standing((e.act for e in gather(log, *subjects)), as_of=as_of) if subjects else ()


def _row(
    name: str, body: Mapping[str, Any], doubts: Sequence[Doubt], as_of: date, warn_days: int
) -> InstrumentRow:
    until = _day(body.get("calibrated_until", ""))
    left = (until - as_of).days if until else None
    soon = left is not None and left <= warn_days
    state = (
        "no-date" if left is None else "ended" if left < 0 else "ends-soon" if soon else "in-date"
    )
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
    if not since <= found_on <= writing.latest_day:
        raise _dates(
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
        raise _dates(f"cleared on {on}", f"{raised.found_on} to {writing.latest_day}")
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
    acts = [(s.act, s.sha256) for s in _about(log, (doubt.about,), as_of)]
    again = [
        day
        for a, _ in acts
        if a.type == "InstrumentFiled" and (day := _day(a.body.get("calibrated_on", "")))
    ]
    found = [
        replace(row, act=sha)
        for act, sha in acts
        if reaches(_whole(doubt), name, act.happened_on, calibrated=again)
        for row in _rows(act, name)
    ]
    cases = {row.case for row in found if row.case}
    return tuple(sorted([*found, *_records(log, cases, as_of)], key=lambda r: (r.on, r.case)))


def _whole(doubt: Doubt) -> Doubt:
    """Return a doubt as it stood before it was cleared: what it reached stays listed."""
    return replace(doubt, cleared_on=None)


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
    brazers = {
        e.act.body["brazer"]
        for case in cases
        for e in log.entries(stream=case_stream(case))
        if e.act.type == "SessionOpened"
    }
    people = tuple(f"person:{p}" for p in sorted(brazers))
    for act, name in ((s.act, s.sha256) for s in _about(log, people, as_of)):
        b = act.body
        if act.type == "RecordIssued" and b.get("case", "") in cases:
            id_ = f"{b['record']}-r{b.get('revision', '1')}"
            yield Touched(
                act.happened_on, b["case"], "record", id_, "issued", act.recorded_by, name
            )


def _day(text: str) -> date | None:
    return parse_date(text) if text else None


def _dates(got: str, expected: str) -> PaperDatesRefused:
    return PaperDatesRefused(
        "two dates in the wrong order", got=got, expected=expected, do="Correct the wrong one."
    )
