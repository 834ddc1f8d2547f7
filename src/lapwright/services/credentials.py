"""Credentials of people: noted with the day they end, and told before they do.

A credential is what another body says of a person (an installer's certificate, a
course). It is no qualification to braze; that is what records are for.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from lapwright.core.acts import Act
from lapwright.core.times import parse_date
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log

from .govnumbers import masked, refuse_number
from .programmeacts import Writing, acts_standing, dates_refused, programme_act, stated
from .scans import Region, masked_scans, read_scan


@dataclass(frozen=True)
class Credential:
    """One credential: whose, of which kind, from whom, until when."""

    person: str
    kind: str
    issuer: str
    until: date
    remark: str = ""


@dataclass(frozen=True)
class CredentialScan:
    """Its scan with the regions to mask, or ``no_number`` ``yes``."""

    path: Path
    masks: tuple[Region, ...] = ()
    no_number: str = ""


@dataclass(frozen=True)
class CredentialRow:
    """A credential as it stands on a day: ``state`` is ended, ends-soon or in-date."""

    person: str
    kind: str
    issuer: str
    until: date
    state: str
    days: int
    remark: str = ""


def note_credential(
    credential: Credential,
    log: Log,
    files: FileStore,
    *,
    on: date,
    writing: Writing,
    scan: CredentialScan | None = None,
) -> Act:
    """File a credential that somebody has seen.

    Parameters
    ----------
    credential : Credential
        What was seen.
    log, files : Log, FileStore
        Ledger, and where the masked scan is kept.
    on : date
        Civil day on which it was seen.
    writing : Writing
        Who saw and writes it, and when.
    scan : CredentialScan, optional
        Its scan.

    Raises
    ------
    PaperDatesRefused, TextEmpty
        And what masking a scan refuses.
    """
    if on > writing.latest_day:
        raise dates_refused(f"seen on {on}", f"{writing.latest_day} or earlier")
    refuse_number(credential.person, where="person")
    body = {
        "person": stated(credential.person, "the person"),
        "kind": masked(stated(credential.kind, "the kind")),
        "issuer": masked(stated(credential.issuer, "the issuer")),
        "until": credential.until.isoformat(),
        "remark": masked(credential.remark),
        "by": writing.by,
    }
    kept: tuple[str, ...] = ()
    if scan is not None:
        page = (scan.path.name, read_scan(scan.path))
        made = masked_scans([page], scan.masks, no_number=scan.no_number)
        kept = tuple(files.put(m.data) for m in made)
    act = programme_act("CredentialNoted", body, on, writing, files=kept)
    log.append([act])
    return act


def credentials(log: Log, *, as_of: date, warn_days: int = 30) -> tuple[CredentialRow, ...]:
    """Return the latest credential of each kind of each person, those that end first in front.

    Parameters
    ----------
    log : Log
        The ledger.
    as_of : date
        The civil day asked about.
    warn_days : int, optional
        Days before its end from which a credential is told.
    """
    latest: dict[tuple[str, str], Act] = {}
    for act in (s.act for s in acts_standing(log, as_of=as_of)):
        if act.type == "CredentialNoted":
            latest[(act.body["person"], act.body["kind"])] = act
    rows = [_row(act, as_of, warn_days) for act in latest.values()]
    return tuple(sorted(rows, key=lambda r: (r.until, r.person, r.kind)))


def _row(act: Act, as_of: date, warn_days: int) -> CredentialRow:
    b = act.body
    until = parse_date(b["until"])
    left = (until - as_of).days
    state = "ended" if left < 0 else "ends-soon" if left <= warn_days else "in-date"
    return CredentialRow(
        b["person"], b["kind"], b["issuer"], until, state, left, b.get("remark", "")
    )
