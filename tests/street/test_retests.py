"""Retests: a failed position answers by its own next round, a passed one is left alone."""

from __future__ import annotations

import copy
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.outcomes import Outcome, Why
from lapwright.rules.decision import PositionResult
from lapwright.services.judging import judge_case

from .building import case_folder, confirm_all, edit

Doc = dict[str, Any]
WIDE = ((0.10, 0.40, "open"),)
AS_OF = date(2026, 4, 20)


def _renamed(coupon: Doc, id_: str, round_: str, day: str) -> Doc:
    """Copy a coupon into a later round, everything moved to ``day`` and after."""
    again = copy.deepcopy(coupon)
    again.update(id=id_, mark=id_, round=round_)
    again["brazed"].update(on=day, started=f"{day}T08:30-06:00", ended=f"{day}T08:38-06:00")
    again["cleaning"]["at"] = f"{day}T07:10-06:00"
    again["purge"]["oxygen_at"] = f"{day}T08:27-06:00"
    again["marking"]["at"] = f"{day}T07:05-06:00"
    for number, joint in enumerate(again["joints"], start=1):
        joint["id"] = f"{id_}{number}"
        for look in (joint["visual"], *joint["bore"].values(), joint["cut"]):
            look["on"] = day
        joint["cut"]["fixed_on"] = day
        for place, face in enumerate(joint["faces"], start=1):
            face["id"] = f"{id_}{number}-{place}"
            face["prepared"] = day
            for reading in face["readings"]:
                reading["on"] = day
    return again


def _fail(coupon: Doc) -> None:
    coupon["joints"][0]["faces"][0]["readings"][0]["loupe"]["unbrazed"] = ["3.0 mm"]


def _case(
    tmp_path: Path,
    *,
    coupons: int = 2,
    round_: str = "immediate",
    failing: bool = False,
    day: str = "2026-03-20",
    training: str = "",
    pieces: str = "2",
) -> Path:
    """A case whose H coupon failed in D, with a further round of ``coupons`` coupons."""
    folder = case_folder(tmp_path, voids={0: WIDE})

    def change(document: Doc) -> None:
        document["written"]["on"] = "2026-04-10"
        if pieces:
            document["basis"]["options"]["immediate_retest_pieces"] = pieces
        sound = copy.deepcopy(document["coupons"][0])
        for joint in sound["joints"]:
            for face in joint["faces"]:
                face["readings"][0]["loupe"]["unbrazed"] = ["0.4 mm"]
        for number in range(coupons):
            again = _renamed(sound, f"R{number}", round_, day)
            if failing and number == coupons - 1:
                _fail(again)
            document["coupons"].append(again)
        if training:
            document["training"] = [{"on": training, "what": "a day at the bench", "by": "lead"}]

    edit(folder, change)
    confirm_all(folder)
    return folder


def _position(folder: Path, letter: str = "D") -> PositionResult:
    judgement = judge_case(folder, as_of=AS_OF).judged.judgement
    return next(p for p in judgement.positions if p.position == letter)


def test_two_good_coupons_in_a_row_qualify_the_failed_position(tmp_path: Path) -> None:
    stands = _position(_case(tmp_path))
    assert stands.verdict.outcome is Outcome.MET
    assert stands.joints == ("R01", "R02", "R11", "R12")


def test_the_position_that_passed_is_left_alone(tmp_path: Path) -> None:
    passed = _position(_case(tmp_path), "C")
    assert (passed.verdict.outcome, passed.joints) == (Outcome.MET, ("V1", "V2"))


def test_one_bad_coupon_of_the_retest_fails_it(tmp_path: Path) -> None:
    assert _position(_case(tmp_path, failing=True)).verdict.outcome is Outcome.NOT_MET


def test_one_coupon_is_too_few(tmp_path: Path) -> None:
    stands = _position(_case(tmp_path, coupons=1))
    assert (stands.verdict.outcome, stands.verdict.why) == (Outcome.UNDETERMINED, Why.NEEDS_DATA)


def test_on_small_tube_two_or_four_pieces_is_the_programmes_choice(tmp_path: Path) -> None:
    stands = _position(_case(tmp_path, pieces=""))
    assert (stands.verdict.outcome, stands.verdict.why) == (Outcome.UNDETERMINED, Why.HOLD)


def test_training_between_makes_it_no_immediate_retest(tmp_path: Path) -> None:
    stands = _position(_case(tmp_path, training="2026-03-10"))
    assert stands.verdict.outcome is Outcome.NOT_MET


@pytest.mark.parametrize(
    ("training", "outcome"),
    [
        ("2026-03-15", Outcome.MET),
        ("2026-03-10", Outcome.UNDETERMINED),  # the failing face was read on 2026-03-12
        ("2026-03-20", Outcome.UNDETERMINED),
        ("", Outcome.UNDETERMINED),
    ],
)
def test_after_training_one_full_retest_answers(
    tmp_path: Path, training: str, outcome: Outcome
) -> None:
    stands = _position(_case(tmp_path, coupons=1, round_="after-training", training=training))
    assert stands.verdict.outcome is outcome


def test_a_retest_day_not_yet_reached_leaves_the_failure_standing(tmp_path: Path) -> None:
    folder = _case(tmp_path, day="2026-04-01")
    judgement = judge_case(folder, as_of=date(2026, 3, 25)).judged.judgement
    assert {p.position: p.verdict.outcome for p in judgement.positions}["D"] is Outcome.NOT_MET


def _hours(folder: Path, start: str) -> None:
    """Move the retest coupons to the hour ``start`` of the failed coupon's own day."""
    day = "2026-03-04"

    def move(document: Doc) -> None:
        for coupon in document["coupons"]:
            if coupon.get("round") == "immediate":
                coupon["brazed"].update(on=day, started=f"{day}T{start}-06:00")
                coupon["brazed"].pop("ended")
                coupon["purge"]["oxygen_at"] = f"{day}T07:11-06:00"
                coupon["cleaning"]["at"] = f"{day}T06:10-06:00"
                coupon["marking"]["at"] = f"{day}T06:05-06:00"

    edit(folder, move)


@pytest.mark.parametrize(
    ("start", "message"), [("07:20", "retest.dates"), ("10:00", "retest.before_found")]
)
def test_a_retest_before_the_failure_proves_nothing(
    tmp_path: Path, start: str, message: str
) -> None:
    folder = _case(tmp_path)
    _hours(folder, start)
    stands = _position(folder)
    assert stands.verdict.outcome is Outcome.UNDETERMINED
    assert [f.message.id for f in stands.verdict.findings] == [message]


def test_a_retest_brazed_on_the_day_of_the_failing_reading_is_held(tmp_path: Path) -> None:
    held = _position(_case(tmp_path / "same", day="2026-03-12"))
    assert [(f.why, f.message.id) for f in held.verdict.findings] == [
        (Why.HOLD, "retest.before_found")
    ]
    assert _position(_case(tmp_path / "next", day="2026-03-13")).verdict.outcome is Outcome.MET


@pytest.mark.parametrize(
    ("day", "outcome"), [("2026-03-12", Outcome.MET), ("2026-03-13", Outcome.UNDETERMINED)]
)
def test_a_piece_filed_first_after_a_known_failure_is_a_retest_piece(
    tmp_path: Path, day: str, outcome: Outcome
) -> None:
    folder = _case(tmp_path)

    def add(document: Doc) -> None:
        document["coupons"].append(_renamed(document["coupons"][-1], "Z", "first", day))

    edit(folder, add)
    confirm_all(folder)
    verdict = _position(folder).verdict
    assert verdict.outcome is outcome
    held = [f.message.id for f in verdict.findings] == ["retest.filed_first"]
    assert held is (outcome is Outcome.UNDETERMINED)


def _read_on(folder: Path, coupon: str, day: str) -> None:
    """Let a coupon fail, on a reading of ``day``."""

    def change(document: Doc) -> None:
        one = next(c for c in document["coupons"] if c["id"] == coupon)
        _fail(one)
        for joint in one["joints"]:
            for face in joint["faces"]:
                for reading in face["readings"]:
                    reading["on"] = day

    edit(folder, change)


def test_a_retest_follows_the_finding_of_every_failure(tmp_path: Path) -> None:
    folder = _case(tmp_path)

    def add(document: Doc) -> None:
        document["coupons"].append(_renamed(document["coupons"][-1], "Z", "first", "2026-03-05"))

    edit(folder, add)
    confirm_all(folder)
    _read_on(folder, "Z", "2026-03-20")
    assert [f.message.id for f in _position(folder).verdict.findings] == ["retest.before_found"]
    _read_on(folder, "Z", "2026-03-19")
    assert _position(folder).verdict.outcome is Outcome.MET


@pytest.mark.parametrize(
    ("read", "outcome"), [("2026-03-24", Outcome.UNDETERMINED), ("2026-03-23", Outcome.MET)]
)
def test_training_follows_the_finding_of_a_failed_immediate_retest(
    tmp_path: Path, read: str, outcome: Outcome
) -> None:
    folder = _case(tmp_path, training="2026-03-23")

    def add(document: Doc) -> None:
        again = _renamed(document["coupons"][-1], "T", "after-training", "2026-03-26")
        document["coupons"].append(again)

    edit(folder, add)
    confirm_all(folder)
    _read_on(folder, "R1", read)
    assert _position(folder).verdict.outcome is outcome


def test_a_failed_retest_stays_failed_whatever_its_day(tmp_path: Path) -> None:
    stands = _position(_case(tmp_path, day="2026-03-12", failing=True))
    assert stands.verdict.outcome is Outcome.NOT_MET


def test_training_on_the_day_of_the_failed_braze_is_no_answer_to_it(tmp_path: Path) -> None:
    folder = _case(tmp_path, coupons=1, round_="after-training", training="2026-03-04")
    stands = _position(folder)
    assert [f.message.id for f in stands.verdict.findings] == ["retest.before_found"]


@pytest.mark.parametrize("failing", [True, False])
def test_the_last_retest_by_its_day_stands(tmp_path: Path, failing: bool) -> None:
    folder = _case(
        tmp_path, coupons=1, round_="after-training", training="2026-03-15", failing=False
    )

    def later(document: Doc) -> None:
        for number in (1, 2):
            again = _renamed(document["coupons"][3], f"I{number}", "immediate", "2026-03-24")
            if failing:
                _fail(again)
            document["coupons"].insert(0, again)

    edit(folder, later)
    stands = _position(folder)
    assert [f.message.id for f in stands.verdict.findings] == ["retest.immediate_late"]
