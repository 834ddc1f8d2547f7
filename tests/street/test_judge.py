"""From a case folder to a decision: each joint, each position, each face for itself."""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.outcomes import Outcome, Why
from lapwright.services.casereport import case_document, case_lines
from lapwright.services.judging import JudgedCase, judge_case

from .building import case_folder, confirm_all, edit

AS_OF = date(2026, 3, 20)
WIDE = ((0.10, 0.40, "open"),)


def _judge(folder: Path) -> JudgedCase:
    return judge_case(folder, as_of=AS_OF)


def _positions(case: JudgedCase) -> dict[str, Outcome]:
    return {p.position: p.verdict.outcome for p in case.judged.judgement.positions}


def test_two_joints_in_each_position_qualify_both(passed: Path) -> None:
    case = _judge(passed)
    assert _positions(case) == {"C": Outcome.MET, "D": Outcome.MET}
    assert {j.joint: j.position for j in case.judged.judgement.joints} == {
        "H1": "D",
        "H2": "D",
        "V1": "C",
        "V2": "C",
    }
    assert case.judged.judgement.verdict.outcome is Outcome.MET


@pytest.mark.parametrize(("face", "joint"), [(0, "H1"), (3, "H2"), (4, "V1"), (7, "V2")])
def test_a_bad_face_fails_its_own_joint_and_no_other(tmp_path: Path, face: int, joint: str) -> None:
    case = _judge(case_folder(tmp_path, voids={face: WIDE}))
    failed = [j.joint for j in case.judged.judgement.joints if j.verdict.outcome is Outcome.NOT_MET]
    assert failed == [joint]
    other = "C" if joint.startswith("H") else "D"
    assert _positions(case)[other] is Outcome.MET
    assert case.judged.judgement.qualified == (other,)


def test_judge_and_record_say_the_same_of_a_case_passed_in_part(tmp_path: Path) -> None:
    folder = case_folder(tmp_path, voids={0: ((0.1, 0.6, "open"),)})
    told = list(case_lines(_judge(folder)))
    assert told[1] == "□ Not met: Met in flow position C only, not met in D"


def test_oxide_fails_every_joint_it_was_seen_in(tmp_path: Path) -> None:
    case = _judge(case_folder(tmp_path, oxide="oxide"))
    assert set(_positions(case).values()) == {Outcome.NOT_MET}


def test_a_case_without_confirmations_gives_no_unqualified_answer(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["basis"].pop("booklet"))
    verdict = _judge(folder).judged.judgement.verdict
    assert (verdict.outcome, verdict.why) == (Outcome.UNDETERMINED, Why.UNCONFIRMED)
    assert verdict.before_confirmation is Outcome.MET
    document = case_document(_judge(folder))
    assert any("section.max_unbrazed_share" in line for line in document["unconfirmed"])


def _near(document: dict[str, Any]) -> dict[str, Any]:
    reading = document["coupons"][0]["joints"][0]["faces"][0]["readings"][0]
    reading["loupe"] = {"overlap": "9.1 mm", "unbrazed": ["1.8 mm"], "resolution": "0.1 mm"}
    return reading


def test_a_face_at_the_limit_waits_for_a_second_reader(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: _near(d) and None)
    face = _judge(folder).judged.judgement.joints[0].faces[0]
    assert (face.finding.outcome, face.finding.why, face.due) == (
        Outcome.UNDETERMINED,
        Why.HOLD,
        "second",
    )


def _second(by: str, share: str, blind: str = "yes") -> Any:
    def change(document: dict[str, Any]) -> None:
        first = _near(document)
        readings = document["coupons"][0]["joints"][0]["faces"][0]["readings"]
        readings.append(
            dict(first)
            | {
                "by": by,
                "blind": blind,
                "loupe": {"overlap": "9.1 mm", "unbrazed": [share], "resolution": "0.1 mm"},
            }
        )

    return change


def test_the_larger_of_two_blind_readings_answers(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, _second("brindle", "1.7 mm"))
    face = _judge(folder).judged.judgement.joints[0].faces[0]
    assert face.finding.outcome is Outcome.MET
    assert face.share is not None
    assert round(float(face.share), 4) == round(1.8 / 9.1, 4)


def test_a_second_reading_by_the_same_person_does_not_count(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, _second("teal", "0.4 mm"))
    assert _judge(folder).judged.judgement.joints[0].faces[0].due == "second"


def test_a_second_reading_that_was_not_blind_is_held(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, _second("brindle", "1.7 mm", blind="no"))
    finding = _judge(folder).judged.judgement.joints[0].faces[0].finding
    assert finding.message.id == "face.second_not_blind"


def test_readings_far_apart_ask_for_a_third(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, _second("brindle", "1.2 mm"))
    assert _judge(folder).judged.judgement.joints[0].faces[0].due == "third"


def test_a_program_reading_nobody_accepted_is_a_proposal(passed: Path, tmp_path: Path) -> None:
    folder = case_folder(tmp_path, photos=(0,))
    edit(
        folder,
        lambda d: (
            d["coupons"][0]["joints"][0]["faces"][0]["readings"][0].pop("accepted_by") and None
        ),
    )
    finding = _judge(folder).judged.judgement.joints[0].faces[0].finding
    assert (finding.why, finding.message.id) == (Why.HOLD, "face.not_accepted")


@pytest.mark.parametrize(
    ("key", "value", "message"),
    [
        ("oxygen", "1.0 %", "NOT_MET"),
        ("oxygen", "0.9 %", "MET"),
        ("flowmeter", "no", "NOT_MET"),
        ("low_alarm", "gauge", "NOT_MET"),
    ],
)
def test_the_purge_log_counts(tmp_path: Path, key: str, value: str, message: str) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["coupons"][0]["purge"].update({key: value}))
    assert _positions(_judge(folder))["D"] is Outcome[message]


def test_a_missing_oxygen_reading_is_asked_for(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["coupons"][0]["purge"].pop("oxygen") and None)
    verdict = _judge(folder).judged.judgement.verdict
    assert (verdict.outcome, verdict.why) == (Outcome.UNDETERMINED, Why.NEEDS_DATA)


def test_a_downflow_joint_never_supports_upflow(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def upright(document: dict[str, Any]) -> None:
        joint = document["coupons"][2]["joints"][0]
        joint.update(cup="up", feed="above", position="B")

    edit(folder, upright)
    case = _judge(folder)
    assert {j.joint: j.position for j in case.judged.judgement.joints}["V2"] == "B"
    # one socket is left in C and one in B: neither position has its two specimens
    assert case.judged.judgement.qualified == ("D",)


def test_every_finding_has_a_sentence_and_a_source(passed: Path) -> None:
    document = case_document(_judge(passed))
    assert len(document["findings"]) > 50
    for finding in document["findings"]:
        assert finding["says"]
        assert finding["cites"], finding


def test_one_more_passing_coupon_never_shrinks_the_range(tmp_path: Path) -> None:
    """The same case with its first coupon only covers no size that the whole case does not."""
    whole = case_folder(tmp_path)
    part = case_folder(tmp_path / "part")
    edit(part, lambda d: d["coupons"].pop(1) and None)
    covered = [
        {
            (s.size, s.tube_type, s.fitting, s.position)
            for s in _judge(f).judged.sizes
            if s.verdict.outcome is Outcome.MET
        }
        for f in (part, whole)
    ]
    assert covered[0]
    assert covered[0] < covered[1]


def test_one_photograph_filed_for_two_faces_is_held(tmp_path: Path) -> None:
    folder = case_folder(tmp_path, photos=(0,))

    def copy_reading(document: dict[str, Any]) -> None:
        faces = document["coupons"][0]["joints"][0]["faces"]
        faces[1]["readings"] = [copy.deepcopy(faces[0]["readings"][0])]

    edit(folder, copy_reading)
    found = [f for f in _judge(folder).judged.judgement.findings if f.rule == "picture.one_face"]
    assert {f.subject.id for f in found if f.why is Why.HOLD} == {"H1-1", "H1-2"}


def _with_a_trailing_byte(data: bytes) -> bytes:
    return data + b"\0"


def _with_a_comment(data: bytes) -> bytes:
    return data[:2] + b"\xff\xfe\x00\x06note" + data[2:]


def _as_png(data: bytes) -> bytes:
    import cv2
    import numpy as np

    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert pixels is not None
    return bytes(cv2.imencode(".png", pixels)[1])


@pytest.mark.parametrize("copied", [_with_a_trailing_byte, _with_a_comment, _as_png])
def test_a_copy_of_a_photograph_with_other_bytes_is_the_same_picture(
    tmp_path: Path, copied: Callable[[bytes], bytes]
) -> None:
    folder = case_folder(tmp_path, photos=(0,))
    photos = folder / "photos"
    (photos / "copy").write_bytes(copied((photos / "h1-1.jpg").read_bytes()))

    def copy_reading(document: dict[str, Any]) -> None:
        joints = document["coupons"][0]["joints"]
        reading = copy.deepcopy(joints[0]["faces"][0]["readings"][0])
        joints[1]["faces"][0]["readings"] = [reading | {"photo": "photos/copy"}]

    edit(folder, copy_reading)
    judgement = _judge(folder).judged.judgement
    found = [f for f in judgement.findings if f.rule == "picture.one_face"]
    assert {f.subject.id for f in found if f.why is Why.HOLD} == {"H1-1", "H2-1"}
    assert "D" not in judgement.qualified


def test_pictures_of_two_faces_are_told_apart_by_their_pixels(tmp_path: Path) -> None:
    """Drawn alike, with the same ends, but not the same picture."""
    folder = case_folder(tmp_path, photos=(0, 2))
    found = [f for f in _judge(folder).judged.judgement.findings if f.rule == "picture.one_face"]
    assert [f.outcome for f in found] == [Outcome.MET, Outcome.MET]


def test_two_stretches_of_one_photograph_may_show_two_faces(tmp_path: Path) -> None:
    folder = case_folder(tmp_path, photos=(0,))

    def elsewhere(document: dict[str, Any]) -> None:
        faces = document["coupons"][0]["joints"][0]["faces"]
        reading = copy.deepcopy(faces[0]["readings"][0])
        reading["tube_end"] = [str(int(v) + 600) for v in reading["tube_end"]]
        faces[1]["readings"].append(reading)

    edit(folder, elsewhere)
    found = [f for f in _judge(folder).judged.judgement.findings if f.rule == "picture.one_face"]
    assert all(f.outcome is Outcome.MET for f in found)


def test_a_brazer_who_reads_the_own_faces_is_held(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(
        folder,
        lambda d: d["coupons"][0]["joints"][0]["faces"][0]["readings"][0].update(by="ines"),
    )
    assert _positions(_judge(folder))["D"] is Outcome.UNDETERMINED


def test_a_coupon_of_another_size_never_makes_up_the_number(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def smaller(document: dict[str, Any]) -> None:
        document["basis"]["options"]["sockets_of_one_coupling"] = "one"
        document["coupons"].pop()
        for member in ("tube", "fitting"):
            document["coupons"][1][member]["size"] = "3/4"
        for joint in document["coupons"][1]["joints"]:
            joint.update(axis_angle="2 deg", cup="side", feed="side", position="D")

    edit(folder, smaller)
    confirm_all(folder)
    positions = _judge(folder).judged.judgement.positions
    assert [(p.position, p.kind.split()[0]) for p in positions] == [("D", "1-1/2"), ("D", "3/4")]
    assert all(p.verdict.outcome is Outcome.NOT_MET for p in positions)
