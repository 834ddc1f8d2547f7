"""A raised wall holds its face; nothing seen changes nothing; a person's word decides."""

from __future__ import annotations

import pytest

from lapwright.rules.walls import judge_face_walls
from unit.rules.examining import HOUSE, MEDICAL, NONE, param, short
from unit.rules.raised import face_with

DIP = {"member": "tube", "at": "0.413", "depth": "0.062 mm", "least": "0.020 mm"}


def test_a_wall_at_which_nothing_was_seen_changes_nothing() -> None:
    assert list(judge_face_walls(face_with("F"), adopted=MEDICAL)) == []


def test_every_raised_wall_holds_the_face() -> None:
    cup = DIP | {"member": "cup", "at": "0.700"}
    found = list(judge_face_walls(face_with("F", raised=(DIP, cup)), adopted=HOUSE))
    assert [short(f) for f in found] == [("undetermined", "hold", "erosion.look")] * 2
    assert [param(f, "member") for f in found] == ["tube", "cup"]
    assert param(found[0], "depth") == found[0].observed == "0.062 mm"


@pytest.mark.parametrize(
    ("word", "answer"),
    [("yes", ("not-met", "", "erosion.face")), ("no", ("met", "", "erosion.face_none"))],
)
@pytest.mark.parametrize("raised", [(), (DIP,)])
def test_a_persons_word_decides(word: str, answer: tuple[str, str, str], raised) -> None:
    found = list(judge_face_walls(face_with("F", raised=raised, erosion=word), adopted=HOUSE))
    assert [short(f) for f in found] == [answer]


def test_without_an_adopted_rule_a_raised_wall_is_held_all_the_same() -> None:
    found = list(judge_face_walls(face_with("F", raised=(DIP,)), adopted=NONE))
    assert [short(f)[:2] for f in found] == [("undetermined", "hold")]
