"""A raised wall holds its face; nothing seen changes nothing; a person's word decides."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lapwright.rules.walls import judge_face_walls
from unit.rules.examining import HOUSE, MEDICAL, NONE, param, short
from unit.rules.raised import face_with

DIP = {"member": "tube", "at": "0.413", "depth": "0.062 mm", "least": "0.020 mm"}


def test_a_wall_at_which_nothing_was_seen_changes_nothing() -> None:
    assert list(judge_face_walls(face_with("F"), adopted=MEDICAL)) == []


def test_raised_walls_of_a_picture_hold_the_face_once_with_every_place() -> None:
    cup = DIP | {"member": "cup", "at": "0.700"}
    (found,) = judge_face_walls(face_with("F", raised=(DIP, cup)), adopted=HOUSE)
    assert short(found) == ("undetermined", "hold", "erosion.look")
    places = "tube 0.413 (0.062 mm, > 0.020 mm); cup 0.700 (0.062 mm, > 0.020 mm)"
    assert param(found, "at") == found.observed == places


def test_two_readers_of_one_picture_are_asked_once() -> None:
    face = face_with("F", raised=(DIP,))
    twice = replace(face, readings=face.readings * 2)
    assert len(list(judge_face_walls(twice, adopted=HOUSE))) == 1


def test_walls_that_only_a_second_reading_of_the_picture_raises_are_told_too() -> None:
    faces = [face_with("F", raised=(DIP | {"at": at},)) for at in ("0.413", "0.700")]
    both = tuple(replace(f.readings[0], pixels_sha256="p") for f in faces)
    (found,) = judge_face_walls(replace(faces[0], readings=both), adopted=HOUSE)
    assert "0.413" in found.observed
    assert "0.700" in found.observed


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
