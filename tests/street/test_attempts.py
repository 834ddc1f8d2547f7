"""Ways in which someone might get a better answer than the braze deserves."""

from __future__ import annotations

import copy
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.rules.faces import FaceResult
from lapwright.services.casereport import case_lines
from lapwright.services.judging import JudgedCase, judge_case

from .building import case_folder, confirm_all, edit

Doc = dict[str, Any]
AS_OF = date(2026, 3, 20)


def _judge(folder: Path) -> JudgedCase:
    confirm_all(folder)
    return judge_case(folder, as_of=AS_OF)


def _findings(case: JudgedCase, rule: str) -> list[Finding]:
    return [f for f in case.judged.judgement.findings if f.rule == rule]


def _reading(by: str, unbrazed: str, on: str = "2026-03-12") -> Doc:
    return {
        "by": by,
        "on": on,
        "blind": "yes",
        "loupe": {
            "overlap": "9.1 mm",
            "unbrazed": [unbrazed],
            "resolution": "0.1 mm",
            "instrument": "LOU-3",
        },
    }


def _face(tmp_path: Path, *readings: Doc) -> FaceResult:
    folder = case_folder(tmp_path)

    def change(document: Doc) -> None:
        document["roles"]["examiners"] += ["lead"]
        document["coupons"][0]["joints"][0]["faces"][0]["readings"] = list(readings)

    edit(folder, change)
    return _judge(folder).judged.judgement.joints[0].faces[0]


def test_reading_again_does_not_mend_a_clear_failure(tmp_path: Path) -> None:
    bad = _reading("brindle", "2.9 mm")
    face = _face(tmp_path, bad, _reading("teal", "0.5 mm"), _reading("lead", "0.5 mm"))
    assert face.finding.outcome is Outcome.NOT_MET


def test_a_third_reading_that_was_not_due_does_not_mend_two(tmp_path: Path) -> None:
    pair = _reading("brindle", "1.80 mm"), _reading("teal", "1.90 mm")
    assert _face(tmp_path / "two", *pair).finding.outcome is Outcome.NOT_MET
    three = _face(tmp_path / "three", *pair, _reading("lead", "1.60 mm", on="2026-03-13"))
    assert three.finding.outcome is Outcome.NOT_MET


def test_a_worse_reading_that_was_not_due_is_held(tmp_path: Path) -> None:
    early = _reading("brindle", "0.5 mm", on="2026-03-11")
    face = _face(tmp_path, early, _reading("teal", "2.9 mm"))
    assert (face.finding.why, face.finding.message.id) == (Why.HOLD, "face.extra_worse")


def test_the_days_decide_which_reading_was_first(tmp_path: Path) -> None:
    late_bad = _reading("brindle", "2.9 mm", on="2026-03-12")
    early_good = _reading("teal", "0.5 mm", on="2026-03-11")
    assert _face(tmp_path, late_bad, early_good).finding.message.id == "face.extra_worse"


def test_one_reading_accepted_by_two_people_is_one_reading(tmp_path: Path) -> None:
    folder = case_folder(
        tmp_path, voids={0: ((0.40, 0.50, "open"), (0.70, 0.795, "open"))}, photos=(0,)
    )

    def twice(document: Doc) -> None:
        readings = document["coupons"][0]["joints"][0]["faces"][0]["readings"]
        readings.append(copy.deepcopy(readings[0]) | {"accepted_by": "teal"})

    edit(folder, twice)
    face = _judge(folder).judged.judgement.joints[0].faces[0]
    assert len(face.readers) == 1


def test_a_retest_coupon_that_was_never_opened_proves_nothing(tmp_path: Path) -> None:
    folder = case_folder(tmp_path, voids={0: ((0.10, 0.40, "open"),)})

    def retest(document: Doc) -> None:
        document["basis"]["options"]["immediate_retest_pieces"] = "2"
        for number in (1, 2):
            again = copy.deepcopy(document["coupons"][0])
            again.update(id=f"R{number}", mark=f"R{number}", round="immediate")
            for place, joint in enumerate(again["joints"], start=1):
                joint["id"] = f"R{number}{place}"
                joint.pop("cut")
                joint.pop("faces")
            document["coupons"].append(again)

    edit(folder, retest)
    position = next(p for p in _judge(folder).judged.judgement.positions if p.position == "D")
    assert position.verdict.outcome is Outcome.UNDETERMINED


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("brazed", "process"), "FB"),
        (("brazed", "manner"), "automatic"),
        (("filler", "form"), "preplaced-ring"),
        (("filler", "class"), "BAg-7"),
    ],
)
def test_specimens_of_other_variables_are_never_added_together(
    tmp_path: Path, path: tuple[str, str], value: str
) -> None:
    folder = case_folder(tmp_path)

    def one_each(document: Doc) -> None:
        first = document["coupons"][0]
        second = copy.deepcopy(first)
        first["joints"].pop(1)
        second.update(id="X", mark="X")
        second["joints"].pop(0)
        second[path[0]][path[1]] = value
        document["coupons"] = [first, second]

    edit(folder, one_each)
    positions = _judge(folder).judged.judgement.positions
    assert len(positions) == 2
    assert all(p.verdict.outcome is not Outcome.MET for p in positions)


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d["procedure"]["signed"].update(on="2026-03-10"),
        lambda d: d["procedure"]["signed"].update(by="ines"),
        lambda d: d["procedure"].pop("signed"),
        lambda d: d["procedure"].update(positions=["B"]),
        lambda d: d["procedure"].update(process="FB"),
        lambda d: d["procedure"].update(flux="FB3-A"),
        lambda d: [p.update(f_number="101", form="paste") for p in d["procedure"]["pqr"]],
        lambda d: d["coupons"][0]["joints"][0].update(clearance="0.060 in"),
    ],
)
def test_a_test_that_does_not_follow_its_procedure_is_held(tmp_path: Path, change: Any) -> None:
    folder = case_folder(tmp_path)
    edit(folder, change)
    found = _findings(_judge(folder), "procedure.qualified_first")
    assert any(f.outcome is Outcome.UNDETERMINED for f in found)


def test_a_peel_beside_a_section_is_asked_whether_it_serves(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def peel(document: Doc) -> None:
        joint = document["coupons"][0]["joints"][1]
        joint.pop("faces")
        figures = {"parted": "yes", "area": "5 %", "line": "5 %", "through_path": "no"}
        joint["tests"] = [{"id": "P1", "kind": "peel", "on": "2026-03-11", "figures": figures}]

    edit(folder, peel)
    assert any(f.outcome is Outcome.NOT_MET for f in _findings(_judge(folder), "test.form"))


def test_a_joint_whose_position_is_unknown_keeps_the_case_open(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["coupons"][1]["joints"][0].pop("cup") and None)
    judgement = _judge(folder).judged.judgement
    assert judgement.verdict.outcome is Outcome.UNDETERMINED
    assert {p.position: p.verdict.outcome for p in judgement.positions}["C"] is (
        Outcome.UNDETERMINED
    )


def test_the_worse_look_into_the_bore_answers(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(
        folder,
        lambda d: d["coupons"][0]["joints"][0]["bore"]["before_sawing"]["items"].update(
            {"excess-inside": "yes"}
        ),
    )
    assert any(
        f.outcome is Outcome.UNDETERMINED for f in _findings(_judge(folder), "excess.filler")
    )


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d["roles"].update(certifier="ines"),
        lambda d: d["roles"].update(employer_representative="ines"),
        lambda d: d["roles"].update(lead="ines"),
        lambda d: d["basis"].update(adopted_by="ines"),
        lambda d: d["basis"]["range_tables"][0].update(adopted_by="ines"),
        lambda d: d["roles"].update(certifier="teal"),
        lambda d: d["roles"].update(examiners=["teal"]),
        lambda d: d["coupons"][0]["brazed"].update(supervisor="hollis"),
    ],
)
def test_roles_that_run_into_each_other_are_held(tmp_path: Path, change: Any) -> None:
    folder = case_folder(tmp_path)
    edit(folder, change)
    found = _findings(_judge(folder), "roles.kept_apart")
    assert [f.why for f in found if f.outcome is not Outcome.MET] == [Why.HOLD]


def test_a_range_table_of_another_coupon_kind_gives_no_walls(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["basis"]["range_tables"][0].update(coupon_kind="2 K ASME B16.50"))
    sizes = _judge(folder).judged.sizes
    assert not [s for s in sizes if s.verdict.outcome is Outcome.MET]


def test_a_range_table_speaks_for_its_own_coupon_kind_only(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def small(document: Doc) -> None:
        table = document["basis"]["range_tables"][0]
        small_table = copy.deepcopy(table)
        small_table.update(table="RT-2", coupon_kind="3/4 L ASME B16.50", sizes=["1/2", "3/4"])
        small_table["fitting_walls"] = {"1/2": "0.029 in", "3/4": "0.034 in"}
        document["basis"]["range_tables"].append(small_table)
        for coupon in document["coupons"][1:]:
            for member, wall in (("tube", "0.045 in"), ("fitting", "0.034 in")):
                coupon[member].update(size="3/4", wall=wall)
            coupon["joints"][0]["overlap"] = "0.26 in"
            for face in coupon["joints"][0]["faces"]:
                face["readings"][0]["loupe"].update(overlap="6.6 mm", unbrazed=["0.2 mm"])

    edit(folder, small)
    covered = {
        (s.size, s.position)
        for s in _judge(folder).judged.sizes
        if s.verdict.outcome is Outcome.MET
    }
    assert ("1/2", "C") in covered  # the 3/4 coupon in upflow, by its own table
    assert ("1/2", "D") not in covered  # the 1-1/2 coupon in horizontal-flow does not reach it
    assert ("2", "D") in covered


def test_procedure_records_are_asked_one_at_a_time(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def apart(document: Doc) -> None:
        small, large = document["procedure"]["pqr"]
        small["positions"], large["positions"] = ["D"], ["C"]

    edit(folder, apart)
    covered = {
        (s.size, s.position)
        for s in _judge(folder).judged.sizes
        if s.verdict.outcome is Outcome.MET
    }
    assert ("5/8", "D") in covered
    assert ("5/8", "C") not in covered  # shorter than the only record made in upflow


def test_entries_after_the_day_are_told(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    text = "\n".join(case_lines(judge_case(folder, as_of=date(2026, 3, 10))))
    assert "happened after 2026-03-10" in text
