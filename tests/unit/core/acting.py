"""Small acts for the tests of the core."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import Any

from lapwright.core.acts import ACT_TYPES, Act

TUBE = {"standard": "ASTM B819", "type": "L", "size": "3/4", "alloy": "C12200"}
FILLER = {"class": "BCuP-5", "form": "rod"}
AS_OF = date(2026, 4, 1)
CASE = "case/TLH-01"


def act(type_: str, body: dict[str, Any], on: str, written: str = "", *, stream: str = CASE) -> Act:
    """Return an act; ``written`` is a day (at noon) or a moment, UTC."""
    day = date.fromisoformat(on)
    if "T" in written:
        at = datetime.fromisoformat(written)
    else:
        at = datetime.combine(date.fromisoformat(written or on), time(12), tzinfo=UTC)
    return Act(type_, body, day, "lead", at, stream=stream, version=ACT_TYPES[type_][0])


def trained(what: str, on: str = "2026-03-04", written: str = "", *, stream: str = CASE) -> Act:
    """Return the smallest act."""
    return act("TrainingGiven", {"person": "ines", "what": what}, on, written, stream=stream)


def fix(
    named: Act, body: dict[str, Any], on: str = "2026-03-05", written: str = "", **more: str
) -> Act:
    """Return a correction of an act."""
    said = {"corrects": named.sha256, "body": body, "reason": "misread", **more}
    return act("ActCorrected", said, on, written, stream=named.stream)


def void(named: Act, on: str = "2026-03-05", written: str = "", reason: str = "wrong case") -> Act:
    """Return a void of an act."""
    body = {"voids": named.sha256, "reason": reason}
    return act("ActVoided", body, on, written, stream=named.stream)


def coupon(id_: str, *joints: str, on: str = "2026-03-04", stream: str = CASE) -> Act:
    """Return a brazed coupon."""
    body = {
        "coupon": id_,
        "tube": TUBE,
        "fitting": TUBE,
        "filler": FILLER,
        "joints": [{"id": j, "overlap": "0.25 in"} for j in joints],
    }
    return act("CouponBrazed", body, on, stream=stream)


def face(id_: str, joint: str, on: str = "2026-03-10") -> Act:
    """Return a prepared face."""
    return act("FacePrepared", {"face": id_, "joint": joint, "grit": "600"}, on)


def read(face_: str, share: str, on: str = "2026-03-12", written: str = "") -> Act:
    """Return a reading by loupe."""
    body = {"face": face_, "reader": "teal", "way": "loupe", "share": share, "u": "0.01"}
    return act("FaceRead", body, on, written)


def person(id_: str, name: str = "a", role: str = "brazer", *, stream: str = CASE) -> Act:
    """Return an enrolment; ``name`` stands for the commitment."""
    body = {"person": id_, "name_commitment": name * 64, "role": role}
    return act("PersonEnrolled", body, "2026-01-07", stream=stream)
