"""Irregular evidence, out of order or left unsaid, keeps a case open and never passes."""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.rules.decision import Judgement
from lapwright.rules.faces import FaceResult
from lapwright.services.judging import judge_case

from .building import case_folder, confirm_all, edit

Doc = dict[str, Any]
AS_OF = date(2026, 3, 20)


def _judge(folder: Path, change: Callable[[Doc], object] | None = None) -> Judgement:
    if change is not None:
        edit(folder, lambda d: change(d) and None)
    confirm_all(folder)
    return judge_case(folder, as_of=AS_OF).judged.judgement


def _loupe(by: str, unbrazed: str, on: str = "2026-03-12", blind: str = "yes") -> Doc:
    read = {
        "overlap": "9.1 mm",
        "unbrazed": [unbrazed],
        "resolution": "0.1 mm",
        "instrument": "LOU-3",
    }
    return {"by": by, "on": on, "blind": blind, "loupe": read}


def _first_face(document: Doc) -> Doc:
    face: Doc = document["coupons"][0]["joints"][0]["faces"][0]
    return face


def _read(tmp_path: Path, *readings: Doc) -> FaceResult:
    judged = _judge(case_folder(tmp_path), lambda d: _first_face(d).update(readings=list(readings)))
    return judged.joints[0].faces[0]


def _of(judged: Judgement, rule: str) -> list[Finding]:
    return [f for f in judged.findings if f.rule == rule]


def _position(judged: Judgement, letter: str) -> Outcome:
    return next(p.verdict.outcome for p in judged.positions if p.position == letter)


@pytest.mark.parametrize("turned", [False, True])
def test_the_order_of_readings_in_the_file_decides_nothing(tmp_path: Path, turned: bool) -> None:
    near, low = _loupe("brindle", "1.82 mm"), _loupe("teal", "1.2 mm")
    pair = (low, near) if turned else (near, low)
    face = _read(tmp_path, *pair)
    assert (face.due, face.finding.outcome) == ("third", Outcome.UNDETERMINED)


def test_a_reading_at_the_limit_counts_after_one_that_passed(tmp_path: Path) -> None:
    low = _loupe("teal", "1.2 mm", on="2026-03-11")
    assert _read(tmp_path, low, _loupe("brindle", "1.82 mm")).due == "third"


@pytest.mark.parametrize("turned", [False, True])
def test_of_two_readings_on_one_day_both_must_be_blind(tmp_path: Path, turned: bool) -> None:
    pair = [_loupe("brindle", "1.81 mm", blind="no"), _loupe("teal", "1.80 mm")]
    face = _read(tmp_path, *(reversed(pair) if turned else pair))
    assert face.finding.message.id == "face.second_not_blind"


def test_two_clear_readings_of_one_day_answer_by_the_worse(tmp_path: Path) -> None:
    face = _read(tmp_path, _loupe("brindle", "0.5 mm"), _loupe("teal", "2.9 mm"))
    assert face.finding.outcome is Outcome.NOT_MET


def test_readings_of_one_day_whose_order_would_decide_are_held(tmp_path: Path) -> None:
    three = [_loupe(*r) for r in (("brindle", "1.89 mm"), ("teal", "1.63 mm"), ("lead", "1.77 mm"))]
    face = _read(tmp_path, *three)
    assert (face.finding.why, face.finding.message.id) == (Why.HOLD, "face.order")


@pytest.mark.parametrize(
    ("void", "message"),
    [((0.30, 0.46, "open"), "face.unaccepted"), ((0.30, 0.36, "open"), "face.met")],
)
def test_a_bad_reading_that_nobody_accepted_is_not_hidden_by_a_good_one(
    tmp_path: Path, void: tuple[float, float, str], message: str
) -> None:
    voids = {0: (void, (0.60, 0.60 + void[1] - void[0], "open"))}
    folder = case_folder(tmp_path, voids=voids, photos=(0,))

    def beside(document: Doc) -> None:
        readings = _first_face(document)["readings"]
        readings[0].pop("accepted_by")
        readings.append(_loupe("teal", "0.5 mm"))

    assert _judge(folder, beside).joints[0].faces[0].finding.message.id == message


@pytest.mark.parametrize(
    ("read_at", "why"),
    [
        ("", Why.NEEDS_DATA),
        ("2026-03-04T08:35-06:00", Why.HOLD),
        ("2026-03-03T08:20-06:00", Why.HOLD),
    ],
)
def test_an_oxygen_reading_counts_only_before_the_braze(
    tmp_path: Path, read_at: str, why: Why
) -> None:
    def move(document: Doc) -> None:
        purge = document["coupons"][0]["purge"]
        purge.pop("oxygen_at")
        purge.update({"oxygen_at": read_at} if read_at else {})

    judged = _judge(case_folder(tmp_path), move)
    assert [f.why for f in _of(judged, "purge.max_oxygen") if f.outcome is not Outcome.MET] == [why]
    assert _position(judged, "D") is Outcome.UNDETERMINED


def _one_coupling(document: Doc) -> Doc:
    """Put the demo's two upflow joints into one coupling; return the second one."""
    lower = document["coupons"].pop(2)["joints"][0]
    document["coupons"][1]["joints"].append(lower)
    joint: Doc = lower
    return joint


def test_two_cups_of_one_upright_coupling_never_open_the_same_way(tmp_path: Path) -> None:
    judged = _judge(case_folder(tmp_path), _one_coupling)
    held = [f for f in _of(judged, "position.letters") if f.outcome is not Outcome.MET]
    assert [(f.why, f.message.id) for f in held] == [(Why.HOLD, "position.cups_alike")]
    assert (_position(judged, "C"), _position(judged, "D")) == (Outcome.UNDETERMINED, Outcome.MET)


def test_an_upright_coupling_has_one_joint_in_upflow_and_one_in_downflow(tmp_path: Path) -> None:
    def real(document: Doc) -> None:
        _one_coupling(document).update(cup="up", feed="above", position="B")

    judged = _judge(case_folder(tmp_path), real)
    assert {j.joint: j.position for j in judged.joints if j.coupon == "VA"} == {
        "V1": "C",
        "V2": "B",
    }
    # one specimen in each: neither position has its two
    assert judged.qualified == ("D",)


@pytest.mark.parametrize(
    ("adopted_on", "outcome"), [("2026-03-13", Outcome.UNDETERMINED), ("2026-03-08", Outcome.MET)]
)
def test_a_basis_chosen_after_a_look_is_held(
    tmp_path: Path, adopted_on: str, outcome: Outcome
) -> None:
    judged = _judge(
        case_folder(tmp_path),
        lambda d: d["basis"].update(adopted_on=adopted_on, decision_rule="simple"),
    )
    assert judged.verdict.outcome is outcome


def _covered(folder: Path, change: Callable[[list[Doc]], object]) -> set[str]:
    edit(folder, lambda d: change(d["basis"]["range_tables"]) and None)
    confirm_all(folder)
    sizes = judge_case(folder, as_of=AS_OF).judged.sizes
    return {s.size for s in sizes if s.verdict.outcome is Outcome.MET}


def test_a_range_table_adopted_after_the_looks_covers_nothing(tmp_path: Path) -> None:
    late = _covered(case_folder(tmp_path), lambda t: t[0].update(adopted_on="2026-03-13"))
    assert late == set()


@pytest.mark.parametrize("adopted_on", ["2026-02-12", "2026-03-13"])
def test_of_two_range_tables_the_stricter_answers(tmp_path: Path, adopted_on: str) -> None:
    def narrower(tables: list[Doc]) -> None:
        second = copy.deepcopy(tables[0]) | {"table": "RT-2", "sizes": ["5/8", "3/4", "1"]}
        tables.append(second | {"adopted_on": adopted_on})

    assert _covered(case_folder(tmp_path), narrower) == {"5/8", "3/4", "1"}


def test_a_joint_that_was_cut_and_never_read_keeps_its_position_open(tmp_path: Path) -> None:
    def two_more(document: Doc) -> None:
        again = copy.deepcopy(document["coupons"][0]) | {"id": "H9", "mark": "H9"}
        for joint in again["joints"]:
            joint["id"] = f"X{joint['id']}"
            joint.pop("faces")
        document["coupons"].append(again)

    judged = _judge(case_folder(tmp_path), two_more)
    waiting = _of(judged, "specimens.every_joint") or [
        f for p in judged.positions for f in p.verdict.findings if f.rule == "specimens.every_joint"
    ]
    assert {f.subject.id for f in waiting} == {"XH1", "XH2"}
    assert (_position(judged, "D"), _position(judged, "C")) == (Outcome.UNDETERMINED, Outcome.MET)


def test_a_look_from_outside_after_the_cut_is_held(tmp_path: Path) -> None:
    def late(document: Doc) -> None:
        document["coupons"][0]["joints"][0]["visual"]["on"] = "2026-03-12"

    judged = _judge(case_folder(tmp_path), late)
    assert [f.why for f in _of(judged, "visual.before_sawing")] == [Why.HOLD]
    assert _position(judged, "D") is Outcome.UNDETERMINED
