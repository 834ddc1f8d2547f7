"""What a face shows beside its share, in words and in the body of a reading."""

from __future__ import annotations

from typing import Any

from lapwright.measure.besides.sound import in_walls
from lapwright.measure.values import Segment
from lapwright.services.besidesview import besides_marks, besides_rows, sound_body
from lapwright.services.facerows import told

NOTHING = {"state": "nothing-seen", "reason": "", "spots": [], "found": []}
SOUND = {"share": 0.4, "low": 0.3, "high": 0.5, "px": 400.0, "mm": 4.0}


def document(**parts: Any) -> dict[str, Any]:
    sound = {"from_mouth": SOUND, "longest": {**SOUND, "start": 0.6, "end": 1.0}}
    found = dict.fromkeys(("fillet", "behind_tube_end", "bore", "crack_like_lines"), NOTHING)
    return {"sound": {**sound, "three_walls": None}, **found, **parts}


def lines(**parts: Any) -> list[str]:
    return told(besides_rows(document(**parts)))


def test_two_lines_say_it_all() -> None:
    first, second = lines()
    assert first.startswith("Sound ")
    assert "40.0 % of the overlap = 4.00 mm (30.0 to 50.0 %)" in first
    unseen = "fillet; filler behind the tube end; filler in the bore; crack-like line"
    assert second == f"Nothing seen  {unseen}. This clears nothing."


def test_a_flagged_line_is_told_with_its_place_and_no_verdict() -> None:
    line = {"start_px": [441.2, 383.6]}
    found = lines(crack_like_lines={**NOTHING, "state": "seen", "found": [line]})
    assert found[1] == "Look at       dark line at 441,384: a crack or a scratch"
    assert "crack" not in found[2]


def test_what_stands_where_no_filler_should_be_is_told_with_its_place() -> None:
    spots = [{"place_px": [372.4, 499.6]}]
    found = lines(bore={**NOTHING, "state": "seen", "spots": spots})
    assert found[1] == "Look at       filler in the bore, or dirt, at 372,500"


def test_every_place_to_look_at_is_marked_in_the_order_of_its_row() -> None:
    line = {"start_px": [441.2, 383.6], "end_px": [440.0, 420.0]}
    spot = {**NOTHING, "state": "seen", "spots": [{"place_px": [372.4, 499.6]}]}
    found = {**NOTHING, "state": "seen", "found": [line]}
    marks = besides_marks(document(bore=spot, crack_like_lines=found))
    assert [m.place for m in marks] == [(372.4, 499.6), (440.0, 420.0)]
    assert [m.label for m in marks] == [
        "filler in the bore, or dirt",
        "dark line: crack or scratch",
    ]


def test_what_was_not_measured_says_why_once() -> None:
    part = {**NOTHING, "state": "not-measured", "reason": "no-contrast"}
    found = lines(bore=part, fillet=part)
    why = "the surroundings look like copper"
    assert found[-1] == f"Not measured  fillet, filler in the bore ({why})"


def test_the_walls_stand_beside_the_length_from_the_mouth_and_not_the_longest() -> None:
    whole = document()
    whole["sound"]["three_walls"] = in_walls(SOUND, 10.0, 0.9)
    told_first = told(besides_rows(whole))[0]
    assert "= 4.00 mm, 4.4 walls of 0.9 mm (30.0 to 50.0 %); longest" in told_first


def test_a_reading_keeps_its_sound_lengths_as_text() -> None:
    body = sound_body([Segment(0, 0.5, "brazed", 0.0), Segment(0.5, 1, "unbrazed", 1.0)])
    assert body == {"from_mouth": ["0.00000"] * 3, "longest": ["0.50000"] * 3}
