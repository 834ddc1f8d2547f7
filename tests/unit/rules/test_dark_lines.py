"""Crack-like lines that the program flagged: held until a person has said what they are."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from types import SimpleNamespace

import pytest

from lapwright.core.bodies import reading_of
from lapwright.core.evidence import Face, Reading
from lapwright.rules.darklines import judge_dark_lines
from published.checks.faces import _BLANK
from unit.rules.examining import AWS, BOTH, IX, short

LINE = {"start": "441,384", "end": "477,346", "length_px": "53"}
FLAGGED = replace(_BLANK, act="a", pixels_sha256="p", dark_lines=(LINE,))


def face(*readings: Reading, crack: str = "no") -> Face:
    return Face(
        "F", "J", "1000", "no", "10", date(2026, 1, 5), half="a", crack=crack, readings=readings
    )


def test_a_face_without_a_flagged_line_has_no_finding() -> None:
    assert list(judge_dark_lines(face(_BLANK), adopted=IX)) == []


@pytest.mark.parametrize(
    ("said", "adopted", "answer"),
    [
        ({}, IX, ("undetermined", "hold", "crack.look")),
        ({}, AWS, ("undetermined", "hold", "crack.look")),
        ({"dark_line": "scratch"}, IX, ("undetermined", "needs-data", "rules.missing")),
        (
            {"dark_line": "scratch", "dark_line_reason": "gone at another light"},
            BOTH,
            ("met", "", "crack.line_is"),
        ),
        (
            {"dark_line": "stain", "dark_line_reason": "wiped off"},
            IX,
            ("undetermined", "needs-data", "rules.word"),
        ),
        (
            {"dark_line": "crack", "dark_line_reason": "seen at 20x"},
            IX,
            ("undetermined", "hold", "crack.hold"),
        ),
        (
            {"dark_line": "crack", "dark_line_reason": "seen at 20x"},
            AWS,
            ("not-met", "", "crack.refused"),
        ),
    ],
)
def test_what_a_person_says_of_the_line_answers(said, adopted, answer) -> None:
    (finding,) = judge_dark_lines(face(replace(FLAGGED, **said)), adopted=adopted)
    assert short(finding) == answer


def test_the_hold_names_the_place() -> None:
    (finding,) = judge_dark_lines(face(FLAGGED), adopted=IX)
    assert finding.observed == "441,384"


def test_a_crack_stated_for_the_face_is_judged_once() -> None:
    assert list(judge_dark_lines(face(FLAGGED, crack="yes"), adopted=IX)) == []


def test_of_two_readers_of_one_picture_the_one_who_says_crack_counts() -> None:
    scratch = replace(FLAGGED, dark_line="scratch", dark_line_reason="straight")
    crack = replace(FLAGGED, act="b", dark_line="crack", dark_line_reason="kinked")
    (finding,) = judge_dark_lines(face(scratch, crack), adopted=AWS)
    assert short(finding) == ("not-met", "", "crack.refused")


def test_two_pictures_are_each_looked_at() -> None:
    other = replace(FLAGGED, act="b", pixels_sha256="q")
    scratch = replace(FLAGGED, dark_line="scratch", dark_line_reason="straight")
    found = [short(f) for f in judge_dark_lines(face(scratch, other), adopted=IX)]
    assert found == [("met", "", "crack.line_is"), ("undetermined", "hold", "crack.look")]


OTHER = {"start": "500,9", "end": "540,30", "length_px": "45"}


def test_an_answer_holds_for_the_lines_of_its_own_reading_only() -> None:
    scratch = replace(FLAGGED, dark_line="scratch", dark_line_reason="straight")
    both = replace(FLAGGED, act="b", dark_lines=(LINE, OTHER))
    (finding,) = judge_dark_lines(face(scratch, both), adopted=IX)
    assert short(finding) == ("undetermined", "hold", "crack.look")
    assert finding.observed == "500,9"
    (turned,) = judge_dark_lines(face(both, scratch), adopted=IX)
    assert turned == finding


def test_every_line_of_a_picture_answered_is_met_with_all_their_places() -> None:
    scratch = replace(FLAGGED, dark_line="scratch", dark_line_reason="straight")
    stain = replace(
        FLAGGED, act="b", dark_lines=(OTHER,), dark_line="other", dark_line_reason="wiped off"
    )
    (finding,) = judge_dark_lines(face(scratch, stain), adopted=IX)
    assert short(finding) == ("met", "", "crack.line_is")
    told = dict(finding.message.params)
    assert (told["at"], told["what"], told["reason"]) == (
        "441,384; 500,9",
        "scratch; other",
        "straight; wiped off",
    )


def test_an_answer_without_a_reason_is_asked_for_beside_a_whole_one() -> None:
    scratch = replace(FLAGGED, dark_line="scratch", dark_line_reason="straight")
    bare = replace(FLAGGED, act="b", dark_lines=(OTHER,), dark_line="other")
    (finding,) = judge_dark_lines(face(scratch, bare), adopted=IX)
    assert short(finding) == ("undetermined", "needs-data", "rules.missing")


def filed(**more: object) -> SimpleNamespace:
    body = {"reader": "one", "way": "photo", **more}
    return SimpleNamespace(body=body, sha256="x", happened_on=date(2026, 1, 5), files=())


def test_an_act_of_before_loads_and_one_of_now_keeps_its_sound_length() -> None:
    assert reading_of(filed()).sound == () == reading_of(filed()).dark_lines
    new = reading_of(filed(sound={"from_mouth": ["0.4", "0.3", "0.5"]}, dark_lines=[LINE]))
    assert new.sound == (Decimal("0.4"), Decimal("0.3"), Decimal("0.5"))
    assert new.dark_lines == (LINE,)
