"""Instruments: the register, with warnings before a calibration ends.

Instruments are filed for the programme and in cases; the latest filing counts. Doubts
that stand are shown beside it; see `lapwright.services.doubts`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.bodies import day_or_none
from lapwright.core.evidence import Doubt
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log

from .doubts import about, open_doubts
from .govnumbers import masked, refuse_number
from .programmeacts import (
    STREAM,
    Writing,
    dates_refused,
    programme_act,
    stated,
)
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
    stood = about(log, _named(log), as_of)
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


def _row(
    name: str, body: Mapping[str, Any], doubts: Sequence[Doubt], as_of: date, warn_days: int
) -> InstrumentRow:
    until = day_or_none(body.get("calibrated_until", ""))
    left = (until - as_of).days if until else None
    soon = left is not None and left <= warn_days
    state = (
        "no-date" if left is None else "ended" if left < 0 else "ends-soon" if soon else "in-date"
    )
    return InstrumentRow(
        name,
        body["kind"],
        body.get("resolution", ""),
        day_or_none(body.get("calibrated_on", "")),
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
        raise dates_refused(
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
