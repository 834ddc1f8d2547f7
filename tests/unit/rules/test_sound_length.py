"""Depth of sound filler from the mouth, from filed readings."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from lapwright.core.evidence import Face
from lapwright.rules.soundlength import SoundLength, judge_sound_length, sound_lengths
from published.adopting import adopted
from published.checks.faces import _BLANK
from unit.rules.examining import IX, mm, short

HTM = adopted(["htm-02-01 2006"])
UNCONFIRMED = adopted(["htm-02-01 2006"], "none")


@pytest.mark.parametrize(
    ("sound", "answer"),
    [
        (SoundLength("F", mm("2.7"), mm("2.7"), mm("0.9")), ("met", "", "sound.deep")),
        (SoundLength("F", mm("2.6"), mm("2.69"), mm("0.9")), ("not-met", "", "sound.shallow")),
        (
            SoundLength("F", mm("2.6"), mm("2.7"), mm("0.9")),
            ("undetermined", "hold", "sound.unsure"),
        ),
        (SoundLength("F", None, None, mm("0.9")), ("undetermined", "needs-data", "rules.missing")),
        (SoundLength("F", mm("2.6"), mm("2.6")), ("undetermined", "needs-data", "rules.missing")),
    ],
)
def test_the_least_depth_is_set_against_three_walls(sound, answer) -> None:
    assert short(judge_sound_length(sound, adopted=HTM)) == answer


def test_memory_alone_gives_no_unqualified_answer() -> None:
    sound = SoundLength("F", mm("2.7"), mm("2.7"), mm("0.9"))
    assert short(judge_sound_length(sound, adopted=UNCONFIRMED))[:2] == (
        "undetermined",
        "unconfirmed",
    )


def test_an_edition_that_does_not_ask_gives_no_text() -> None:
    sound = SoundLength("F", mm("2.7"), mm("2.7"), mm("0.9"))
    assert short(judge_sound_length(sound, adopted=IX)) == (
        "undetermined",
        "unread",
        "rules.no_text",
    )


def test_the_least_of_several_readings_counts() -> None:
    one = replace(_BLANK, overlap=mm("10"), sound=tuple(map(Decimal, ("0.5", "0.4", "0.6"))))
    two = replace(_BLANK, overlap=mm("10"), sound=tuple(map(Decimal, ("0.3", "0.2", "0.9"))))
    face = Face("F", "J", "", "", "", date(2026, 1, 5), readings=(one, _BLANK, two))
    found = sound_lengths(face, mm("0.9"))
    assert (found.low, found.high) == (mm("2"), mm("9"))
    assert sound_lengths(replace(face, readings=(_BLANK,)), None) == SoundLength("F")
