"""Peel, tension, bend, substitution, workmanship; limits and missing data."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from lapwright.core.outcomes import Outcome, Subject
from lapwright.core.quantities import Quantity
from lapwright.rules.mechanical import (
    Bend,
    ChosenTest,
    Peel,
    Tension,
    Workmanship,
    judge_bend,
    judge_peel,
    judge_tension,
    judge_tension_form,
    judge_test_form,
    judge_workmanship,
)
from unit.rules.examining import AWS, BARE, BOTH, HOUSE, IX, MEDICAL, NONE, inch, ksi, mm, short

PEEL = Peel("S", "yes", Decimal("0.25"), Decimal("0.25"), "no", "yes")
PULL = Tension("S", ksi("30"), ksi("30"), "annealed", "braze", "full-section", inch("3"))
BEND = Bend("S", "butt", "yes", mm("3.0"))
K = Subject("coupon", "K")
MISSING = ("undetermined", "needs-data", "rules.missing")


@pytest.mark.parametrize(
    ("change", "answer"),
    [
        ({}, ("met", "")),
        ({"area_share": Decimal("0.2501")}, ("not-met", "")),
        ({"line_share": Decimal("0.2501")}, ("not-met", "")),
        ({"through_path": "yes"}, ("not-met", "")),
        ({"filler_at_edges": "no"}, ("not-met", "")),
        ({"parted": "no"}, ("undetermined", "needs-data")),
        ({"parted": ""}, ("undetermined", "needs-data")),
        ({"area_share": None}, ("undetermined", "needs-data")),
        ({"line_share": None}, ("undetermined", "needs-data")),
        ({"through_path": ""}, ("undetermined", "needs-data")),
        ({"filler_at_edges": "partly"}, ("undetermined", "needs-data")),
        ({"area_share": None, "line_share": Decimal("0.3")}, ("not-met", "")),
    ],
)
def test_peel_at_its_limits(change: dict[str, object], answer: tuple[str, str]) -> None:
    verdict = judge_peel(replace(PEEL, **change), adopted=IX)  # type: ignore[arg-type]
    assert short(verdict)[:2] == answer


def test_each_peel_refusal_says_its_own_sentence() -> None:
    for change, message in (
        ({"area_share": Decimal("0.3")}, "peel.area_not_met"),
        ({"line_share": Decimal("0.3")}, "peel.line_not_met"),
        ({"through_path": "yes"}, "peel.through_path_yes"),
        ({"filler_at_edges": "no"}, "peel.filler_at_edges_no"),
    ):
        verdict = judge_peel(replace(PEEL, **change), adopted=IX)  # type: ignore[arg-type]
        assert short(verdict)[2] == message


def test_peel_under_aws_asks_area_and_line_only() -> None:
    verdict = judge_peel(replace(PEEL, through_path="", filler_at_edges=""), adopted=AWS)
    assert short(verdict)[0] == "met"
    assert {f.rule for f in verdict.findings} == {"peel.max_area_share", "peel.max_line_share"}
    assert short(judge_peel(PEEL, adopted=NONE))[1] == "unread"


def test_peel_from_memory_alone_is_unconfirmed_and_keeps_its_answer() -> None:
    verdict = judge_peel(PEEL, adopted=BARE)
    assert (verdict.outcome, verdict.computed) == (Outcome.UNDETERMINED, Outcome.MET)


@pytest.mark.parametrize(
    ("strength", "broke_in", "outcome"),
    [
        (ksi("30"), "braze", "met"),
        (ksi("29.999"), "braze", "not-met"),
        (ksi("28.5"), "base-metal", "met"),
        (ksi("28.499"), "base-metal", "not-met"),
        (Quantity.parse("207 MPa", "pressure"), "braze", "met"),
        (Quantity.parse("206.8 MPa", "pressure"), "braze", "not-met"),
    ],
)
def test_tension_at_its_limits(strength: Quantity, broke_in: str, outcome: str) -> None:
    pull = replace(PULL, strength=strength, broke_in=broke_in)
    assert short(judge_tension(pull, adopted=IX))[0] == outcome


@pytest.mark.parametrize(
    "change", [{"strength": None}, {"minimum": None}, {"temper": ""}, {"broke_in": ""}]
)
def test_tension_names_what_is_missing(change: dict[str, object]) -> None:
    pull = replace(PULL, **change)  # type: ignore[arg-type]
    assert short(judge_tension(pull, adopted=IX)) == MISSING


def test_tension_wants_the_annealed_minimum() -> None:
    pull = replace(PULL, temper="hard-drawn")
    assert short(judge_tension(pull, adopted=IX))[1:] == ("needs-data", "tension.temper")
    assert short(judge_tension(PULL, adopted=AWS))[1] == "unread"


@pytest.mark.parametrize(
    ("form", "od", "answer"),
    [
        ("full-section", inch("3"), "met"),
        ("full-section", inch("3.001"), "not-met"),
        ("reduced-section", inch("4.125"), "met"),
        ("reduced-section", None, "met"),
        ("full-section", None, "undetermined"),
        ("", inch("3"), "undetermined"),
    ],
)
def test_a_full_section_specimen_is_for_small_tube(
    form: str, od: Quantity | None, answer: str
) -> None:
    for editions in (IX, AWS, BOTH):
        finding = judge_tension_form(replace(PULL, form=form, tube_od=od), adopted=editions)
        assert short(finding)[0] == answer


@pytest.mark.parametrize(
    ("change", "answer"),
    [
        ({}, ("met", "", "bend.met")),
        ({"longest_opening": inch("0.125")}, ("met", "", "bend.met")),
        ({"longest_opening": inch("0.1251")}, ("not-met", "", "bend.not_met")),
        ({"joint_type": "scarf"}, ("met", "", "bend.met")),
        ({"joint_type": "lap"}, ("not-met", "", "bend.wrong_test")),
        ({"joint_type": ""}, MISSING),
        ({"joint_within_bend": ""}, MISSING),
        ({"longest_opening": None}, MISSING),
        ({"joint_within_bend": "no"}, ("undetermined", "needs-data", "bend.outside")),
        ({"corner_crack": mm("5")}, MISSING),
        ({"corner_crack": mm("5"), "corner_from_flaw": "no"}, ("met", "", "bend.met")),
        ({"corner_crack": mm("5"), "corner_from_flaw": "yes"}, ("not-met", "", "bend.not_met")),
        ({"corner_crack": mm("1"), "corner_from_flaw": "yes"}, ("met", "", "bend.met")),
    ],
)
def test_bend(change: dict[str, object], answer: tuple[str, str, str]) -> None:
    bend = replace(BEND, **change)  # type: ignore[arg-type]
    assert short(judge_bend(bend, adopted=IX)) == answer


def test_an_unconfirmed_wrong_bend_is_still_not_asked_further() -> None:
    finding = judge_bend(replace(BEND, joint_type="socket"), adopted=BARE)
    assert (finding.outcome, finding.computed) == (Outcome.UNDETERMINED, Outcome.NOT_MET)


@pytest.mark.parametrize(
    ("chosen", "editions", "answer"),
    [
        (ChosenTest("section"), MEDICAL, ("met", "")),
        (ChosenTest("peel"), MEDICAL, ("not-met", "")),
        (ChosenTest("visual"), MEDICAL, ("not-met", "")),
        (ChosenTest("bend"), MEDICAL, ("not-met", "")),
        (ChosenTest("tension"), MEDICAL, ("undetermined", "hold")),
        (ChosenTest("peel"), IX, ("met", "")),
        (ChosenTest("section"), IX, ("undetermined", "needs-data")),
        (ChosenTest("section", impractical="socket on small tube"), IX, ("met", "")),
        (ChosenTest("visual"), IX, ("undetermined", "hold")),
        (ChosenTest("section"), AWS, ("met", "")),
        (ChosenTest("peel", "plate"), AWS, ("met", "")),
        (ChosenTest("peel"), AWS, ("undetermined", "needs-data")),
        (ChosenTest("peel", tube_od=inch("3")), AWS, ("not-met", "")),
        (ChosenTest("peel", tube_od=inch("3.001")), AWS, ("met", "")),
        (ChosenTest("peel", tube_od=inch("1.125")), BOTH, ("undetermined", "conflict")),
        (ChosenTest("section"), HOUSE, ("undetermined", "unread")),
        (ChosenTest(""), IX, ("undetermined", "needs-data")),
        (ChosenTest("macroetch"), IX, ("undetermined", "needs-data")),
    ],
)
def test_which_test_serves(chosen: ChosenTest, editions: object, answer: tuple[str, str]) -> None:
    verdict = judge_test_form(chosen, subject=K, adopted=editions)  # type: ignore[arg-type]
    assert short(verdict)[:2] == answer


def test_a_workmanship_coupon_answers_for_its_own_shape() -> None:
    same = Workmanship("K", "tee", "tee")
    assert short(judge_workmanship(same, adopted=IX))[0] == "met"
    assert short(judge_workmanship(same, adopted=AWS))[1:] == ("hold", "workmanship.if_allowed")
    other = Workmanship("K", "tee", "socket")
    assert short(judge_workmanship(other, adopted=IX))[1:] == ("hold", "workmanship.other")
    for gap in (Workmanship("K", "", "tee"), Workmanship("K", "tee", "")):
        assert short(judge_workmanship(gap, adopted=IX)) == MISSING
