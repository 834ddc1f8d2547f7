"""What a face shows beside its share, in words and in the body of a reading."""

from __future__ import annotations

from typing import Any

from lapwright.measure.besides.sound import in_walls
from lapwright.measure.values import Segment
from lapwright.services.besidesview import besides_lines, sound_body

NOTHING = {"state": "nothing-seen", "reason": "", "spots": [], "found": []}
SOUND = {"share": 0.4, "low": 0.3, "high": 0.5, "px": 400.0, "mm": 4.0}


def document(**parts: Any) -> dict[str, Any]:
    sound = {"from_mouth": SOUND, "longest": {**SOUND, "start": 0.6, "end": 1.0}}
    found = dict.fromkeys(("fillet", "behind_tube_end", "bore", "crack_like_lines"), NOTHING)
    return {"sound": {**sound, "three_walls": None}, **found, **parts}


def test_two_lines_say_it_all() -> None:
    first, second = besides_lines(document())
    assert "40.0 % of the overlap = 4.00 mm (30.0 to 50.0 %)" in first
    assert second.count("nothing seen") == 4


def test_a_flagged_line_is_told_with_its_place_and_no_verdict() -> None:
    line = {"start_px": [441.2, 383.6]}
    told = besides_lines(document(crack_like_lines={**NOTHING, "state": "seen", "found": [line]}))
    assert "look at the line at 441,384" in told[1]
    assert "crack" not in told[1].lower().replace("crack-like lines", "")


def test_what_was_not_measured_says_why() -> None:
    part = {**NOTHING, "state": "not-measured", "reason": "no-contrast"}
    assert (
        "not measured (the surroundings look like copper)" in besides_lines(document(bore=part))[1]
    )


def test_three_walls_are_set_beside_the_length() -> None:
    told = document()
    told["sound"]["three_walls"] = in_walls(SOUND, 10.0, 0.9)
    assert "4.4 walls of 0.9 mm" in besides_lines(told)[0]


def test_a_reading_keeps_its_sound_lengths_as_text() -> None:
    body = sound_body([Segment(0, 0.5, "brazed", 0.0), Segment(0.5, 1, "unbrazed", 1.0)])
    assert body == {"from_mouth": ["0.00000"] * 3, "longest": ["0.50000"] * 3}
