"""The fold: what is known on a day, by when it was written, with corrections."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.acts import Act
from lapwright.core.errors import EvidenceRefused
from lapwright.core.fold import fold

TUBE = {"standard": "ASTM B819", "type": "L", "size": "3/4", "alloy": "C12200"}
FILLER = {"class": "BCuP-5", "form": "rod"}


def _act(type_: str, body: dict[str, Any], on: str, written: str = "") -> Act:
    day = date.fromisoformat(on)
    at = datetime.combine(date.fromisoformat(written) if written else day, time(12), tzinfo=UTC)
    return Act(type_, body, day, "lead", at)


def _coupon(id_: str, *joints: str, on: str = "2026-03-04") -> Act:
    return _act(
        "CouponBrazed",
        {
            "coupon": id_,
            "tube": TUBE,
            "fitting": TUBE,
            "filler": FILLER,
            "joints": [{"id": j, "overlap": "0.25 in"} for j in joints],
        },
        on,
    )


def _face(id_: str, joint: str, on: str = "2026-03-10") -> Act:
    return _act("FacePrepared", {"face": id_, "joint": joint, "grit": "600"}, on)


def _read(face: str, share: str, on: str = "2026-03-12", written: str = "") -> Act:
    return _act(
        "FaceRead",
        {"face": face, "reader": "teal", "way": "loupe", "share": share, "u": "0.01"},
        on,
        written,
    )


AS_OF = date(2026, 4, 1)


def test_two_coupons_with_two_joints_each_keep_their_faces_apart() -> None:
    acts = [
        _coupon("H", "H1", "H2"),
        _coupon("V", "V1", "V2"),
        *(_face(f"{j}-{n}", j) for j in ("H1", "H2", "V1", "V2") for n in (1, 2)),
        _read("H2-1", "0.1"),
    ]
    evidence = fold(acts, as_of=AS_OF)
    assert [[j.id for j in c.joints] for c in evidence.coupons] == [["H1", "H2"], ["V1", "V2"]]
    for joint in evidence.joints:
        assert [f.id for f in joint.faces] == [f"{joint.id}-1", f"{joint.id}-2"]
    read = [f.id for f in evidence.faces if f.readings]
    assert read == ["H2-1"]


def test_what_happens_later_is_not_known_on_the_day() -> None:
    acts = [_coupon("H", "H1"), _face("F", "H1"), _read("F", "0.1")]
    assert fold(acts, as_of=date(2026, 3, 9)).faces == ()
    assert not fold(acts, as_of=date(2026, 3, 11)).faces[0].readings
    assert len(fold(acts, as_of=date(2026, 3, 12)).faces[0].readings) == 1


def test_what_was_written_later_is_not_known_by_then() -> None:
    acts = [_coupon("H", "H1"), _face("F", "H1"), _read("F", "0.1", written="2026-03-20")]
    known = fold(acts, as_of=AS_OF, known_by=date(2026, 3, 19))
    assert not known.faces[0].readings
    assert fold(acts, as_of=AS_OF, known_by=date(2026, 3, 20)).faces[0].readings


def test_a_correction_replaces_the_body_and_the_old_act_stays() -> None:
    wrong = _coupon("H", "H1")
    body = dict(wrong.body) | {"joints": [{"id": "H1", "overlap": "0.20 in"}]}
    fix = _act(
        "ActCorrected", {"corrects": wrong.sha256, "body": body, "reason": "misread"}, "2026-03-05"
    )
    evidence = fold([wrong, fix], as_of=AS_OF)
    assert evidence.joints[0].overlap is not None
    assert evidence.joints[0].overlap.text == "0.20 in"
    before = fold([wrong, fix], as_of=AS_OF, known_by=date(2026, 3, 4))
    assert before.joints[0].overlap is not None
    assert before.joints[0].overlap.text == "0.25 in"


@pytest.mark.parametrize("stray", [_face("F", "X1"), _read("X", "0.1")])
def test_an_act_about_an_unknown_thing_is_refused(stray: Act) -> None:
    with pytest.raises(EvidenceRefused, match=r"unknown (joint|face).*CORE-005"):
        fold([_coupon("H", "H1"), stray], as_of=AS_OF)


def test_a_second_joint_of_the_same_id_is_refused() -> None:
    with pytest.raises(EvidenceRefused, match="exists already"):
        fold([_coupon("H", "J1"), _coupon("V", "J1")], as_of=AS_OF)


def test_a_face_is_prepared_once() -> None:
    with pytest.raises(EvidenceRefused, match="exists already"):
        fold([_coupon("H", "H1", "H2"), _face("F", "H1"), _face("F", "H2")], as_of=AS_OF)


@given(st.integers(0, 30), st.integers(0, 30))
def test_a_later_happening_never_changes_an_earlier_day(asked: int, later: int) -> None:
    first = [_coupon("H", "H1", on="2026-03-01"), _face("F", "H1", on="2026-03-01")]
    day = date(2026, 3, 1 + asked)
    happened = date(2026, 3, 1 + later)
    more = [*first, _read("F", "0.3", on=happened.isoformat())]
    if happened > day:
        assert fold(first, as_of=day) == fold(more, as_of=day)
    else:
        assert fold(first, as_of=day) != fold(more, as_of=day)
