"""Depth of sound filler from the mouth, from filed readings."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from uncertainties import ufloat

from lapwright.core.evidence import Face, Reading
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


def _photo(low: str, high: str, **more: object) -> Reading:
    filed = {"way": "photo", "overlap": mm("6.0"), "overlap_u": mm("0.1"), "accepted_by": "one"}
    return replace(_BLANK, **(filed | {"sound": tuple(map(Decimal, (low, low, high)))} | more))  # type: ignore[arg-type]


def _face(*readings: Reading) -> Face:
    return Face("F", "J", "", "", "", date(2026, 1, 5), readings=readings)


def _judged(*readings: Reading, wall: str = "1.0"):
    return short(judge_sound_length(sound_lengths(_face(*readings), mm(wall)), adopted=HTM))


def test_the_ends_of_the_length_hold_the_spread_of_the_overlap() -> None:
    found = sound_lengths(_face(_photo("0.5", "0.6")), mm("1.0"))
    assert found.low is not None
    assert found.high is not None
    spread = 1.96 * ufloat(6.0, 0.1).s
    assert float(found.low.base) == pytest.approx(3.0 - spread)
    assert float(found.high.base) == pytest.approx(3.6 + spread)
    assert sound_lengths(_face(_photo("0.01", "0.6")), mm("1.0")).low == mm("0")


@pytest.mark.parametrize(
    ("low", "high", "answer"),
    [
        ("0.54", "0.54", ("met", "", "sound.deep")),
        ("0.51", "0.51", ("undetermined", "hold", "sound.unsure")),  # 3.06 mm of 3 mm, u 0.1 mm
        ("0.49", "0.49", ("undetermined", "hold", "sound.unsure")),
        ("0.46", "0.46", ("not-met", "", "sound.shallow")),
    ],
)
def test_what_the_overlaps_spread_leaves_unsure_stays_open(low, high, answer) -> None:
    assert _judged(_photo(low, high)) == answer


@pytest.mark.parametrize("more", [{}, {"needs_reader": "unsure-stretches"}])
def test_a_reading_that_nobody_accepted_says_no_sound_length(more: dict[str, str]) -> None:
    proposal = _photo("0.9", "0.9", accepted_by="", **more)
    assert _judged(proposal) == ("undetermined", "hold", "sound.proposal")


def test_a_shallower_proposal_beside_a_counted_reading_holds_a_pass() -> None:
    counted, shallow = _photo("0.9", "0.9"), _photo("0.3", "0.3", accepted_by="")
    assert _judged(counted, shallow) == ("undetermined", "hold", "sound.unaccepted")
    deep = replace(shallow, sound=counted.sound)
    assert _judged(counted, deep) == ("met", "", "sound.deep")
    assert _judged(_photo("0.3", "0.3"), deep) == ("not-met", "", "sound.shallow")


def test_a_refused_reading_says_nothing() -> None:
    assert _judged(_photo("0.9", "0.9", refused="MEAS-012"))[2] == "rules.missing"
