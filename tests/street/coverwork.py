"""An invented ledger with certified records, and the joint list of the east wing."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import yaml

from lapwright.core.acts import Act
from lapwright.services.certifying import Signing, certify_record
from lapwright.services.democase import DemoCase, DemoFace, write_case
from lapwright.services.issuing import issue_case
from lapwright.services.programme import Programme

from .building import SOUND, confirm_all, programme_in

LISTS = Path(__file__).parent / "lists"
BRAZED, ISSUED, SIGNED = date(2026, 3, 4), date(2026, 3, 20), date(2026, 3, 24)
BRAZERS = (
    ("TLH-01", "ines", "Ines Marlowe", "QP7K", {}),
    ("TLH-02", "bram", "Bram Sorrel", "QP3T", {2: ((0.2, 0.5, "open"),)}),  # H2: D fails
    ("TLH-03", "odile", "Odile Fenwick", "QP9M", {}),
)
_SCAN = b"\x89PNG\r\n\x1a\n the page signed in ink"


@dataclass(frozen=True)
class Job:
    """A ledger of three records (two certified), its case folders, and the list of joints."""

    programme: Programme
    cases: tuple[Path, ...]
    joints: Path


def east_wing(folder: Path) -> Path:
    """Return a copy of the list with its columns confirmed."""
    shutil.copy(LISTS / "east-wing.xlsx", folder)
    shutil.copy(LISTS / "east-wing.xlsx.columns.yaml", folder)
    return folder / "east-wing.xlsx"


def columns(path: Path, **changes: Any) -> None:
    """Change the file of columns beside a list."""
    place = path.with_name(f"{path.name}.columns.yaml")
    doc = yaml.load(place.read_text("utf-8"), Loader=yaml.BaseLoader)
    place.write_text(yaml.safe_dump(doc | changes), "utf-8")


def job(folder: Path) -> Job:
    """Return the ledger of an invented job: Odile's record is issued and not certified."""
    programme = programme_in(folder / "data")
    at = datetime(2026, 3, 21, 9, 30, tzinfo=UTC)
    cases = []
    for case, person, name, mark, voids in BRAZERS:
        faces = tuple(DemoFace(voids.get(i, SOUND), "loupe") for i in range(8))
        home = write_case(DemoCase(case, person, name, mark, faces), folder)
        confirm_all(home)
        issued = issue_case(home, programme, as_of=ISSUED, out=folder / "out", at=at)
        if person != "odile":
            signed = datetime(2026, 3, 24, 12, tzinfo=UTC)
            certify_record(
                issued.number, programme, Signing("hollis", SIGNED, signed, scan=_SCAN), out=None
            )
        cases.append(home)
    return Job(programme, tuple(cases), east_wing(folder))


def attest(programme: Programme, person: str, on: date, written: date | None = None) -> None:
    """File a witnessed use of the qualified procedure."""
    at = datetime.combine(written or on, datetime.min.time(), tzinfo=UTC).replace(hour=12)
    body = {"person": person, "process": "TB", "procedure": "QP-BPS-4", "by": "hollis"}
    act = Act("UseAttested", body, on, "hollis", at, stream=f"use/{person}")
    programme.log.append([act])
