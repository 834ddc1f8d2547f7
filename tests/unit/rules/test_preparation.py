"""Cut plane, finish, magnification, cracks; limits and missing data."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from lapwright.core.outcomes import Outcome
from lapwright.rules.preparation import (
    Crack,
    CutPlane,
    Finish,
    Repreparation,
    judge_crack,
    judge_cut_plane,
    judge_finish,
    judge_magnification,
    judge_repreparation,
)
from unit.rules.examining import AWS, BOTH, HOUSE, IX, mm, short

PLANE = CutPlane("J", "through the top mark", date(2026, 1, 5), "yes", date(2026, 1, 6))
FINE = Finish("F", "1200", "photograph", "no")


@pytest.mark.parametrize(
    ("cut", "answer"),
    [
        (PLANE, ("met", "", "cut.fixed_first")),
        (replace(PLANE, first_look_on=None), ("met", "", "cut.fixed_first")),
        (replace(PLANE, first_look_on=date(2026, 1, 5)), ("met", "", "cut.fixed_first")),
        (
            replace(PLANE, first_look_on=date(2026, 1, 4)),
            ("undetermined", "hold", "cut.dates_disagree"),
        ),
        (replace(PLANE, before_looking="no"), ("undetermined", "hold", "cut.chosen_by_looks")),
        (replace(PLANE, before_looking=""), ("undetermined", "needs-data", "rules.missing")),
        (replace(PLANE, plane=""), ("undetermined", "needs-data", "rules.missing")),
        (replace(PLANE, fixed_on=None), ("undetermined", "needs-data", "rules.missing")),
    ],
)
def test_the_cut_plane_is_fixed_before_looking(cut: CutPlane, answer: tuple[str, str, str]) -> None:
    assert short(judge_cut_plane(cut, adopted=HOUSE)) == answer


@pytest.mark.parametrize(
    ("finish", "answer"),
    [
        (FINE, ("met", "", "finish.fine")),
        (replace(FINE, grit="121"), ("met", "", "finish.fine")),
        (replace(FINE, grit="120"), ("undetermined", "needs-data", "finish.coarse")),
        (replace(FINE, grit="80"), ("undetermined", "needs-data", "finish.coarse")),
        (replace(FINE, grit="80", read_by="loupe"), ("met", "", "finish.loupe")),
        (replace(FINE, grit="", read_by="loupe"), ("met", "", "finish.loupe")),
        (replace(FINE, over_ground="yes"), ("undetermined", "needs-data", "finish.over_ground")),
        (replace(FINE, over_ground=""), ("undetermined", "needs-data", "rules.missing")),
        (replace(FINE, read_by=""), ("undetermined", "needs-data", "rules.missing")),
        (replace(FINE, grit=""), ("undetermined", "needs-data", "rules.missing")),
        (replace(FINE, grit="P1200"), ("undetermined", "needs-data", "rules.missing")),
        (replace(FINE, grit="١٢٠"), ("undetermined", "needs-data", "rules.missing")),
    ],
)
def test_a_coarse_finish_is_never_met_in_a_photograph(
    finish: Finish, answer: tuple[str, str, str]
) -> None:
    assert short(judge_finish(finish, adopted=HOUSE)) == answer


@pytest.mark.parametrize(
    ("result", "kept", "outcome"),
    [
        ("no", "yes", "met"),
        ("yes", "yes", "not-met"),
        ("no", "no", "not-met"),
        ("", "yes", "undetermined"),
        ("no", "", "undetermined"),
    ],
)
def test_nobody_prepares_again_because_of_a_result(result: str, kept: str, outcome: str) -> None:
    again = Repreparation("F", "smear", result, kept)
    assert short(judge_repreparation(again, adopted=HOUSE))[0] == outcome


def test_preparing_again_needs_a_reason() -> None:
    again = Repreparation("F", "", "no", "yes")
    assert short(judge_repreparation(again, adopted=HOUSE))[2] == "rules.missing"


@pytest.mark.parametrize(
    ("power", "outcome"),
    [
        ("4", "met"),
        ("4.0", "met"),
        ("10", "met"),
        ("3.99", "not-met"),
        ("", "undetermined"),
        ("4x", "undetermined"),
        ("NaN", "undetermined"),
        ("Infinity", "undetermined"),
    ],
)
def test_faces_are_viewed_at_four_times_or_more(power: str, outcome: str) -> None:
    for editions in (IX, AWS, BOTH):
        assert short(judge_magnification("F", power, adopted=editions))[0] == outcome


def test_a_crack_under_each_code_and_under_both() -> None:
    crack = Crack("F", "yes", mm("0.2"))
    assert short(judge_crack(crack, adopted=IX)) == ("undetermined", "hold", "crack.hold")
    assert short(judge_crack(crack, adopted=AWS)) == ("not-met", "", "crack.refused")
    both = judge_crack(crack, adopted=BOTH)
    assert short(both) == ("undetermined", "conflict", "rules.differ")
    assert both.act_on is Outcome.NOT_MET


@pytest.mark.parametrize(
    ("crack", "outcome"),
    [
        (Crack("F", "no"), "met"),
        (Crack("F", "no", mm("0")), "met"),
        (Crack("F", "no", mm("0.1")), "not-met"),
        (Crack("F", "yes"), "not-met"),
        (Crack("F", ""), "undetermined"),
        (Crack("F", "maybe"), "undetermined"),
    ],
)
def test_a_length_makes_a_crack_seen(crack: Crack, outcome: str) -> None:
    assert short(judge_crack(crack, adopted=AWS))[0] == outcome
