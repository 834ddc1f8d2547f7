"""Flow position of a joint, tilt, and cover; limits and missing data."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.rules import positions
from lapwright.rules.positions import (
    FaceOfJoint,
    Stand,
    flow_position,
    judge_kept_apart,
    judge_planned,
    judge_position,
    judge_special,
    judge_tolerance,
    positions_covered,
)
from unit.rules.examining import AWS, BARE, BOTH, IX, NONE, deg, param, short

J = Subject("joint", "J")
FLAT = Stand("J", deg("0"), cup="side")
DOWN = Stand("J", deg("90"), cup="up", feed="above")
UP = Stand("J", deg("90"), cup="down", feed="below")
HOLD = ("undetermined", "hold")


def cover(
    asked: str, tested: str, *, on: str = "tube", of: str = "tube", adopted: object = IX
) -> Finding:
    done = [positions.Tested(letter, of) for letter in tested]
    return judge_position(positions.Tested(asked, on), done, subject=J, adopted=adopted)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("stand", "letter"),
    [
        (FLAT, "D"),
        (DOWN, "B"),
        (UP, "C"),
        (replace(FLAT, cup=""), "D"),
        (replace(FLAT, axis_angle=deg("44.9")), "D"),
        (replace(DOWN, axis_angle=deg("45.1")), "B"),
        (replace(FLAT, planned="D"), "D"),
        (replace(UP, planned="B"), "C"),
    ],
)
def test_the_position_follows_from_angle_cup_and_feed(stand: Stand, letter: str) -> None:
    found = flow_position(stand, adopted=IX)
    assert (found.position, found.joint) == (letter, "J")
    assert short(found.finding) == ("met", "", "position.is")


@pytest.mark.parametrize(
    "stand",
    [
        replace(FLAT, axis_angle=deg("45")),  # half-way between two positions
        replace(FLAT, cup="up"),
        replace(FLAT, cup="down"),
        replace(DOWN, feed="below"),
        replace(UP, feed="above"),
        replace(DOWN, feed="side"),
        replace(DOWN, cup="side"),
    ],
)
def test_a_contradiction_is_held(stand: Stand) -> None:
    found = flow_position(stand, adopted=IX)
    assert found.position == ""
    assert short(found.finding) == (*HOLD, "position.contradiction")


@pytest.mark.parametrize("word", ["flat", "horizontal", "Horizontal-flow", "d", "upflow", "2G"])
def test_no_word_is_translated_into_a_letter(word: str) -> None:
    found = flow_position(replace(FLAT, planned=word), adopted=IX)
    assert short(found.finding) == (*HOLD, "position.word")


@pytest.mark.parametrize(
    ("stand", "field"),
    [
        (replace(FLAT, axis_angle=None), "axis_angle"),
        (replace(DOWN, cup=""), "cup"),
        (replace(DOWN, feed=""), "feed"),
        (replace(UP, feed=""), "feed"),
        (replace(FLAT, product="plate"), "position"),
    ],
)
def test_a_missing_field_is_named(stand: Stand, field: str) -> None:
    found = flow_position(stand, adopted=IX)
    assert short(found.finding) == ("undetermined", "needs-data", "rules.missing")
    assert param(found.finding, "field") == field


@pytest.mark.parametrize("angle", ["-1", "90.1", "180"])
def test_an_angle_outside_0_to_90_is_asked_again(angle: str) -> None:
    found = flow_position(replace(FLAT, axis_angle=deg(angle)), adopted=IX)
    assert short(found.finding)[1:] == ("needs-data", "position.angle_range")
    assert short(judge_tolerance(replace(FLAT, axis_angle=deg(angle)), adopted=IX))[1] == (
        "needs-data"
    )


def test_a_plate_has_the_position_that_its_sheet_names() -> None:
    assert (
        flow_position(Stand("J", deg("3"), planned="A", product="plate"), adopted=IX).position
        == "A"
    )


def test_without_an_edition_the_letter_is_known_but_its_finding_is_open() -> None:
    assert short(flow_position(FLAT, adopted=NONE).finding)[1] == "unread"


def test_the_planned_position_is_compared_with_the_real_one() -> None:
    assert short(judge_planned(replace(UP, planned="C"), adopted=IX))[0] == "met"
    wrong = judge_planned(replace(DOWN, planned="C"), adopted=IX)
    assert short(wrong) == ("not-met", "", "position.not_as_planned")
    assert short(judge_planned(FLAT, adopted=IX))[1] == "needs-data"
    assert short(judge_planned(replace(UP, planned="up"), adopted=IX))[1] == "hold"


@pytest.mark.parametrize(
    ("letter", "angle", "outcome"),
    [
        ("D", "15", "met"),
        ("D", "15.1", "met"),
        ("D", "45", "met"),
        ("D", "45.1", "not-met"),
        ("B", "75", "met"),
        ("C", "45", "met"),
        ("C", "44.9", "not-met"),
        ("A", "15", "met"),
        ("A", "15.1", "not-met"),
    ],
)
def test_tilt_at_its_limits_with_every_figure_confirmed(
    letter: str, angle: str, outcome: str
) -> None:
    stand = Stand("J", deg(angle), planned=letter)
    assert short(judge_tolerance(stand, adopted=IX))[0] == outcome


@pytest.mark.parametrize(
    ("letter", "angle", "answer", "computed"),
    [
        ("D", "15", ("met", ""), Outcome.MET),
        ("D", "15.1", HOLD, Outcome.MET),
        ("D", "45", HOLD, Outcome.MET),
        ("D", "45.1", ("undetermined", "unconfirmed"), Outcome.NOT_MET),
        ("A", "15.1", ("not-met", ""), Outcome.NOT_MET),
    ],
)
def test_tilt_with_nothing_confirmed(
    letter: str, angle: str, answer: tuple[str, str], computed: Outcome
) -> None:
    finding = judge_tolerance(Stand("J", deg(angle), planned=letter), adopted=BARE)
    assert short(finding)[:2] == answer
    assert finding.computed is computed


def test_tilt_without_a_letter_uses_the_real_position_or_says_why_not() -> None:
    assert short(judge_tolerance(replace(UP, axis_angle=deg("80")), adopted=IX))[0] == "met"
    assert short(judge_tolerance(replace(UP, axis_angle=None), adopted=IX))[1] == "needs-data"
    assert short(judge_tolerance(replace(UP, cup=""), adopted=IX))[1] == "needs-data"
    assert short(judge_tolerance(FLAT, adopted=AWS))[1] == "unread"


def test_readings_are_kept_apart_by_joint() -> None:
    stands = [replace(DOWN, joint="V1"), replace(UP, joint="V2")]
    good = [FaceOfJoint("a", "V1"), FaceOfJoint("b", "V2")]
    assert short(judge_kept_apart("V", stands, good, adopted=IX))[0] == "met"
    stray = [*good, FaceOfJoint("c", ""), FaceOfJoint("d", "H1")]
    finding = judge_kept_apart("V", stands, stray, adopted=IX)
    assert short(finding) == ("undetermined", "needs-data", "position.faces_not_apart")
    assert param(finding, "faces") == "c, d"
    unknown = [replace(stands[0], axis_angle=None)]
    assert short(judge_kept_apart("V", unknown, stray, adopted=IX))[1] == "needs-data"
    half_way = [replace(FLAT, joint="V1", axis_angle=deg("45"))]
    assert short(judge_kept_apart("V", half_way, stray, adopted=IX))[1] == "needs-data"
    lying = [replace(FLAT, joint="H1"), replace(FLAT, joint="H2")]
    assert short(judge_kept_apart("H", lying, stray, adopted=IX))[0] == "met"
    assert short(judge_kept_apart("V", [], good, adopted=IX))[1] == "needs-data"
    assert short(judge_kept_apart("V", stands, [], adopted=IX))[1] == "needs-data"


def test_a_downflow_face_never_supports_upflow() -> None:
    assert short(cover("C", "B"))[0] == "not-met"
    assert "C" not in positions_covered({"B"}, adopted=IX)


@pytest.mark.parametrize(
    ("tested", "covered"),
    [
        ("D", {"B": "D", "D": "D"}),
        ("C", {"B": "C", "C": "C"}),
        ("B", {"B": "B"}),
        ("CD", {"B": "C, D", "C": "C", "D": "D"}),
        ("", {}),
        ("A", {}),
    ],
)
def test_positions_covered_on_tube(tested: str, covered: dict[str, str]) -> None:
    assert positions_covered(set(tested), adopted=IX) == covered
    for letter in "BCD":
        assert short(cover(letter, tested))[0] == ("met" if letter in covered else "not-met")


def test_one_more_tested_position_never_takes_cover_away() -> None:
    for tested in ("", "B", "C", "D", "BC", "CD"):
        for more in "BCD":
            wider = positions_covered({*tested, more}, adopted=IX)
            assert set(positions_covered(set(tested), adopted=IX)) <= set(wider)


def test_an_edition_whose_cover_is_unread_covers_nothing() -> None:
    assert positions_covered({"C", "D"}, adopted=AWS) == {}
    assert positions_covered({"C", "D"}, adopted=BOTH) == {}
    assert positions_covered({"C", "D"}, adopted=NONE) == {}
    assert short(cover("D", "D", adopted=BOTH))[1] == "unread"


def test_plate_and_tube() -> None:
    assert short(cover("B", "A", on="plate", of="plate"))[0] == "met"
    assert short(cover("C", "A", on="plate", of="plate"))[0] == "not-met"
    assert short(cover("A", "D", on="plate", of="tube"))[0] == "met"
    assert short(cover("A", "C", on="plate", of="tube"))[0] == "not-met"
    assert short(cover("C", "ACD", on="tube", of="plate"))[0] == "not-met"
    assert positions_covered({"A"}, adopted=IX, product="plate") == {"A": "A", "B": "A"}


def test_an_unknown_or_missing_letter_needs_data() -> None:
    assert short(cover("", "D"))[2] == "rules.missing"
    assert short(cover("E", "D"))[2] == "rules.word"


@pytest.mark.parametrize(
    ("production", "outcome"),
    [("60", "met"), ("75", "met"), ("45", "met"), ("75.1", "not-met"), ("44.9", "not-met")],
)
def test_a_special_orientation_covers_itself_within_its_tolerance(
    production: str, outcome: str
) -> None:
    finding = judge_special(deg("60"), deg(production), subject=J, adopted=IX)
    assert short(finding)[0] == outcome


def test_a_special_orientation_needs_both_angles() -> None:
    one = judge_special(None, deg("60"), subject=J, adopted=IX)
    other = judge_special(deg("60"), None, subject=J, adopted=IX)
    assert (param(one, "field"), param(other, "field")) == ("qualified", "production")
