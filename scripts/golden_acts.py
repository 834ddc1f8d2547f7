"""Write one golden file per act type and version into ``tests/records/acts``.

A file that is there is never written again: what a release wrote must load for
ever. After a new type or a new version of one, add its body to `_story` and run
this script; it writes the missing files and their lines of ``SHA256SUMS``.

    python scripts/golden_acts.py
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from lapwright.core.acts import ACT_TYPES, Act, commitment

FOLDER = Path(__file__).resolve().parents[1] / "tests" / "records" / "acts"
SUMS = "SHA256SUMS"
CASE, REGISTER, RECORD = "case/TLH-09", "register", "record/TLH-09-QP7K"
PDF, INK, COMPARISON, PHOTO, SCAN = (
    hashlib.sha256(what.encode()).hexdigest()
    for what in ("signed", "ink", "comparison", "photo", "scan")
)
_TUBE = {"standard": "ASTM B819", "type": "L", "size": "3/4", "alloy": "C12200"}
_FITTING = {"standard": "ASME B16.22", "kind": "coupling", "size": "3/4", "alloy": "C12200"}
_FILLER = {"class": "BCuP-5", "form": "rod", "lot": "Q17"}
_METHOD_1 = {
    "method": "face-trace/1",
    "faces": "40",
    "limits": {"max_bias": "0.02", "max_half_width": "0.05"},
}
_METHOD_2 = {
    "method": "face-trace/3+83ae644ef558",
    "faces": "32",
    "limits": {"max_bias": "0.01", "max_half_width": "0.02"},
    "figures": {"bias": "0.008531250", "half_width": "0.009922329", "given": "32", "refused": "0"},
    "by": "lead",
    "readings_sha256": hashlib.sha256(b"readings").hexdigest(),
}


class Story:
    """Acts of an invented case, a minute apart, by type and version."""

    def __init__(self) -> None:
        self.acts: list[Act] = []

    def __call__(
        self, type_: str, body: dict[str, Any], on: str, stream: str = CASE, **more: Any
    ) -> str:
        """Add an act; return its digest."""
        at = datetime(2026, 4, 1, 8, 0, tzinfo=UTC) + timedelta(minutes=len(self.acts))
        version = more.pop("version", ACT_TYPES[type_][0])
        day = date.fromisoformat(on)
        act = Act(type_, body, day, "lead", at, version=version, stream=stream, **more)
        self.acts.append(act)
        return act.sha256


def _name(person: str) -> str:
    return commitment(f"Invented {person}", f"golden salt of {person}".encode())


def story() -> list[Act]:
    """Return the acts of the golden files, in the order in which they were written."""
    add = Story()
    _programme(add)
    _brazing(add)
    _looking(add)
    _records(add)
    _papers(add)
    _changes(add)
    return add.acts


def _programme(add: Story) -> None:
    p = "programme"
    editions = ["ASME BPVC IX 2023", "programme 1"]
    options = {"zone": "America/Chicago"}
    basis = {"editions": editions, "decision_rule": "second-reading", "options": options}
    add("BasisAdopted", basis | {"adopted_by": "lead"}, "2026-01-05", p)
    tick = {"rule": "asme-ix/2023/x", "figure": "20 %", "copy": "own copy 3", "by": "lead"}
    add("RuleConfirmed", tick, "2026-01-06", p)
    table = {"table": "T1", "coupon_kind": "coupling", "sizes": ["1/2", "3/4"]}
    add("RangeTableAdopted", table | {"adopted_by": "lead"}, "2026-01-06", p)
    for person, role in (("ines", "brazer"), ("teal", "examiner")):
        body = {"person": person, "name_commitment": _name(person), "role": role}
        add("PersonEnrolled", body | {"employer": "Quillon Pipeworks"}, "2026-01-07", p)
    named = {"person": "omar", "employer": "Quillon Pipeworks"}
    add("EmployerRepresentativeNamed", named, "2026-01-07", p)
    loupe = {"instrument": "L1", "kind": "loupe", "resolution": "0.1 mm"}
    add("InstrumentFiled", loupe | {"calibrated_until": "2027-01-01"}, "2026-01-08", p)
    add("MethodChecked", _METHOD_1, "2026-01-09", p, version=1)
    add("MethodChecked", _METHOD_2, "2026-02-09", p)
    card = {"person": "teal", "kind": "examiner", "issuer": "Fennel Bay Training Hall"}
    add("CredentialNoted", card | {"until": "2028-01-31"}, "2026-01-10", p)
    add("KeyChanged", {"key": "a" * 16, "becomes": "b" * 16, "reason": "yearly"}, "2026-01-11", p)


def _brazing(add: Story) -> None:
    pqr = {"id": "PQR-3", "overlap": "0.60 in", "p_numbers": ["107"], "f_number": "103"}
    bps = {"procedure": "BPS-3", "revision": "1", "process": "TB", "pqr": [pqr]}
    add("ProcedureFiled", bps, "2026-03-01")
    session = {"case": "TLH-09", "place": "Fennel Bay", "brazer": "ines", "mark": "QP7K"}
    roles = {"supervisor": ["omar"], "examiner": ["teal"]}
    add("SessionOpened", session | {"roles": roles, "employer": "Quillon Pipeworks"}, "2026-03-02")
    add("TrainingGiven", {"person": "ines", "what": "purge practice", "by": "omar"}, "2026-03-02")
    add("CouponMarked", {"coupon": "H", "mark": "H1"}, "2026-03-04")
    joint = {"id": "H-a", "overlap": "0.62 in", "position": "horizontal", "axis_angle": "0 deg"}
    brazed = {"coupon": "H", "tube": _TUBE, "fitting": _FITTING, "filler": _FILLER, "by": "ines"}
    at = datetime.fromisoformat("2026-03-04T09:30:00-06:00")
    add("CouponBrazed", brazed | {"joints": [joint]}, "2026-03-04", happened_at=at)
    use = {"person": "ines", "process": "TB", "procedure": "BPS-3", "by": "omar"}
    add("UseAttested", use, "2026-03-05", "programme")


def _looking(add: Story) -> None:
    add("ParcelReceived", {"coupon": "H", "by": "teal"}, "2026-03-06")
    add("CustodyMoved", {"coupon": "H", "to": "bench 2"}, "2026-03-06")
    clean = {"items": {"oxide": "none"}, "by": "teal"}
    add("BoreExamined", {"joint": "H-a", "stage": "before-sawing"} | clean, "2026-03-07")
    add("CouponExamined", {"joint": "H-a", "stage": "visual"} | clean, "2026-03-07")
    add("CouponSectioned", {"joint": "H-a", "plane": "longitudinal"}, "2026-03-08")
    add("FacePrepared", {"face": "H-a-1", "joint": "H-a", "grit": "600"}, "2026-03-09")
    read = {"face": "H-a-1", "reader": "teal", "way": "loupe", "share": "0.085", "u": "0.012"}
    add("FaceRead", read | {"instrument": "L1", "overlap": "0.62 in"}, "2026-03-10", files=(PHOTO,))
    peel = {"specimen": "P1", "joint": "H-a", "kind": "peel", "figures": {"share": "0.06"}}
    add("SpecimenTested", peel, "2026-03-10")
    add("DecisionMade", {"joint": "H-a", "outcome": "met"}, "2026-03-11")


def _records(add: Story) -> None:
    old, payload = "TLH-08-QP7K-r1", {"payload_sha256": "c" * 64}
    add("RecordIssued", {"record": old} | payload, "2026-02-01", "", version=1)
    add("RecordSigned", {"record": old, "file_sha256": "d" * 64}, "2026-02-01", "", version=1)
    named = {"record": "TLH-09-QP7K", "revision": "1"}
    add("NumberTaken", named | {"register": "1"}, "2026-03-12", REGISTER)
    issued = named | payload | {"register": "1", "person": "ines", "case": "TLH-09"}
    add("RecordIssued", issued, "2026-03-12", RECORD)
    add("RecordSigned", named | {"file_sha256": PDF}, "2026-03-12", RECORD)
    certified = named | {"file_sha256": INK, "by": "omar", "way": "scan"}
    add("RecordCertified", certified, "2026-03-13", RECORD, files=(INK,))
    accepted = named | {"file_sha256": PDF, "employer": "Fennel Bay Piping", "by": "rue"}
    accepted |= {"comparison_sha256": COMPARISON, "way": "key"}
    add("RecordAccepted", accepted, "2026-03-20", RECORD)
    withdrawn = named | {"by": "omar", "reason": "wrong tube lot on the coupon"}
    add("RecordWithdrawn", withdrawn, "2026-03-25", RECORD)


def _papers(add: Story) -> None:
    paper = {"paper": "W-1", "person": "ines", "employer": "Tamarack Pipe", "typed_by": "lead"}
    paper |= {"provenance": {"way": "through the brazer"}}
    add("PaperRecordEntered", paper, "2026-03-21", "programme", files=(SCAN,))
    checked = {"paper": "W-1", "by": "teal", "outcome": "agrees"}
    add("PaperRecordChecked", checked, "2026-03-22", "programme")


def _changes(add: Story) -> None:
    p = "programme"
    about = {"about": "instrument:L1", "by": "teal"}
    doubt = add("DoubtRaised", about | {"reason": "dropped"}, "2026-03-14", p)
    cleared = about | {"doubt": doubt, "reason": "checked against the stage micrometer"}
    add("DoubtCleared", cleared, "2026-03-15", p)
    read = next(a for a in add.acts if a.type == "FaceRead")
    fixed = {"body": dict(read.body) | {"share": "0.095"}, "reason": "8 and 9 mixed up"}
    add("ActCorrected", {"corrects": read.sha256} | fixed, "2026-03-16")
    peel = next(a for a in add.acts if a.type == "SpecimenTested")
    add("ActVoided", {"voids": peel.sha256, "reason": "of another coupon"}, "2026-03-17")
    add("NameRemoved", {"name_commitment": _name("teal"), "reason": "asked for"}, "2026-03-30", p)
    add("LedgerClosed", {"reason": "moved to the next one"}, "2026-04-01", p)


def _files() -> Iterator[tuple[str, bytes]]:
    kept: dict[str, list[bytes]] = {}
    for act in story():
        kept.setdefault(f"{act.type}-{act.version}.jsonl", []).append(act.to_bytes() + b"\n")
    for name, lines in sorted(kept.items()):
        yield name, b"".join(lines)


def main() -> None:
    """Write what is missing; touch nothing else."""
    FOLDER.mkdir(exist_ok=True)
    for name, content in _files():
        path = FOLDER / name
        if path.exists():
            continue
        path.write_bytes(content)
        with (FOLDER / SUMS).open("a", encoding="ascii") as sums:
            sums.write(f"{hashlib.sha256(content).hexdigest()}  {name}\n")
        print(f"{name}: written")


if __name__ == "__main__":
    main()
