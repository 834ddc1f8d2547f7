"""Bore, visual items, erosion, excess filler, corners; limits and missing data."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lapwright.core.outcomes import Outcome
from lapwright.rules.examination import (
    BoreLook,
    CornerRounding,
    Erosion,
    ExcessFiller,
    VisualLook,
    judge_bore_order,
    judge_corner_rounding,
    judge_erosion,
    judge_excess_filler,
    judge_oxide,
    judge_tube_end,
    judge_unmelted_filler,
    judge_visual,
)
from published.adopting import adopted
from unit.rules.examining import AWS, BOTH, HOUSE, IX, MEDICAL, mm, param, short

IN_TIME = BoreLook("J", "none", "before-sawing", "none", "before-polishing")
ITEMS = {
    "filler-continuity": "acceptable",
    "fillet-size": "acceptable",
    "fillet-contour": "acceptable",
    "fillet-wetting": "acceptable",
    "filler-through-to-far-side": "not-applicable",
}
RUNS = ExcessFiller("J", "inside", "yes")
NFPA = adopted(["nfpa-99 2018"])


@pytest.mark.parametrize(
    ("look", "answer"),
    [
        (IN_TIME, ("met", "", "bore.in_time")),
        (replace(IN_TIME, ends_stage="after-sawing"), ("undetermined", "hold", "bore.late")),
        (replace(IN_TIME, halves_stage="after-polishing"), ("undetermined", "hold", "bore.late")),
        (replace(IN_TIME, ends_stage=""), ("undetermined", "needs-data", "rules.missing")),
        (replace(IN_TIME, halves_stage=""), ("undetermined", "needs-data", "rules.missing")),
        (replace(IN_TIME, ends_stage="sawing"), ("undetermined", "needs-data", "rules.word")),
    ],
)
def test_the_bore_is_looked_at_in_time(look: BoreLook, answer: tuple[str, str, str]) -> None:
    assert short(judge_bore_order(look, adopted=MEDICAL)) == answer


@pytest.mark.parametrize(
    ("ends", "halves", "answer"),
    [
        ("none", "none", ("met", "", "bore.clean")),
        ("oxide", "none", ("not-met", "", "bore.oxide")),
        ("", "oxide", ("not-met", "", "bore.oxide")),
        ("none", "discoloured", ("undetermined", "hold", "bore.discoloured")),
        ("discoloured", "", ("undetermined", "needs-data", "rules.missing")),
        ("", "none", ("undetermined", "needs-data", "rules.missing")),
        ("clean", "none", ("undetermined", "needs-data", "rules.word")),
    ],
)
def test_oxide_inside_is_refused_and_silence_never_passes(
    ends: str, halves: str, answer: tuple[str, str, str]
) -> None:
    look = replace(IN_TIME, ends=ends, halves=halves)
    assert short(judge_oxide(look, adopted=MEDICAL)) == answer


def test_oxide_is_a_rule_of_the_medical_code_only() -> None:
    assert short(judge_oxide(IN_TIME, adopted=IX))[1] == "unread"


@pytest.mark.parametrize(
    ("change", "answer"),
    [
        ({}, ("met", "", "visual.met")),
        ({"fillet-contour": "remark"}, ("met", "", "visual.remark")),
        (
            {"fillet-contour": "remark", "fillet-size": "not-acceptable"},
            ("not-met", "", "visual.not_met"),
        ),
        ({"fillet-size": ""}, ("undetermined", "needs-data", "visual.blank")),
        ({"fillet-size": "fine"}, ("undetermined", "needs-data", "visual.blank")),
        ({"fillet-size": "not-applicable"}, ("undetermined", "needs-data", "visual.blank")),
    ],
)
def test_visual_items(change: dict[str, str], answer: tuple[str, str, str]) -> None:
    assert short(judge_visual(VisualLook("J", {**ITEMS, **change}), adopted=IX)) == answer


def test_every_edition_asks_for_its_own_items() -> None:
    assert short(judge_visual(VisualLook("J", ITEMS), adopted=AWS))[2] == "visual.blank"
    aws = {"crack": "acceptable", "base-metal-melting": "acceptable", "undercut": "acceptable"}
    assert short(judge_visual(VisualLook("J", aws), adopted=AWS))[0] == "met"
    assert short(judge_visual(VisualLook("J", {**ITEMS, **aws}), adopted=BOTH))[0] == "met"


@pytest.mark.parametrize("editions", [AWS, NFPA])
def test_unmelted_filler_is_refused(editions: object) -> None:
    def judged(seen: str) -> tuple[str, str, str]:
        return short(judge_unmelted_filler("J", seen, adopted=editions))  # type: ignore[arg-type]

    assert judged("yes")[0] == "not-met"
    assert judged("no")[0] == "met"
    assert judged("")[1] == "needs-data"


@pytest.mark.parametrize(
    ("erosion", "outcome"),
    [
        (Erosion("J", "yes"), "not-met"),
        (Erosion("J", "yes", mm("0")), "not-met"),
        (Erosion("J", "no", mm("0.01")), "not-met"),
        (Erosion("J", "", mm("0.01")), "not-met"),
        (Erosion("J", "no"), "met"),
        (Erosion("J", "no", mm("0")), "met"),
        (Erosion("J", ""), "undetermined"),
        (Erosion("J", "", mm("0")), "undetermined"),
    ],
)
def test_a_depth_may_raise_erosion_but_never_clear_it(erosion: Erosion, outcome: str) -> None:
    assert short(judge_erosion(erosion, adopted=HOUSE))[0] == outcome


def test_a_rolled_tube_end_is_no_erosion() -> None:
    assert short(judge_tube_end("J", "yes", adopted=NFPA)) == ("undetermined", "hold", "end.rolled")
    assert short(judge_tube_end("J", "", adopted=NFPA))[1] == "needs-data"
    finding = judge_tube_end("J", "no", adopted=NFPA)
    assert short(finding)[2] == "end.sound"
    assert finding.computed is Outcome.MET


@pytest.mark.parametrize(
    ("excess", "answer"),
    [
        (replace(RUNS, seen="no"), ("met", "", "excess.none")),
        (RUNS, ("undetermined", "hold", "excess.decide")),
        (replace(RUNS, decision="acceptable"), ("undetermined", "needs-data", "rules.missing")),
        (
            replace(RUNS, decision="acceptable", reason="thin run"),
            ("undetermined", "needs-data", "rules.missing"),
        ),
        (
            replace(RUNS, decision="acceptable", reason="thin run", photo="p1"),
            ("met", "", "excess.accepted"),
        ),
        (
            replace(RUNS, decision="not-acceptable", reason="droplets", photo="p1"),
            ("not-met", "", "excess.refused"),
        ),
        (
            replace(RUNS, decision="fine", reason="r", photo="p1"),
            ("undetermined", "needs-data", "rules.word"),
        ),
        (replace(RUNS, seen=""), ("undetermined", "needs-data", "rules.missing")),
        (replace(RUNS, where="beside"), ("undetermined", "needs-data", "rules.word")),
    ],
)
def test_the_examiner_decides_on_excess_filler(
    excess: ExcessFiller, answer: tuple[str, str, str]
) -> None:
    assert short(judge_excess_filler(excess, adopted=HOUSE)) == answer


@pytest.mark.parametrize(("size", "outcome"), [("2.0", "met"), ("2.01", "not-met")])
def test_an_adopted_limit_decides_on_excess_filler(size: str, outcome: str) -> None:
    excess = replace(RUNS, size=mm(size), decision="acceptable", reason="r", photo="p")
    assert short(judge_excess_filler(excess, adopted=HOUSE, limit=mm("2")))[0] == outcome
    assert short(judge_excess_filler(RUNS, adopted=HOUSE, limit=mm("2")))[1] == "needs-data"


def test_corner_rounding_by_metal_and_code() -> None:
    rounded = CornerRounding("J", "yes", "copper")
    assert short(judge_corner_rounding(rounded, adopted=AWS))[2] == "corner.allowed"
    assert short(judge_corner_rounding(rounded, adopted=NFPA))[2] == "corner.melted"
    steel = replace(rounded, metal="steel")
    assert short(judge_corner_rounding(steel, adopted=AWS))[0] == "not-met"
    none = CornerRounding("J", "no")
    assert short(judge_corner_rounding(none, adopted=AWS)) == ("met", "", "corner.none")
    both = judge_corner_rounding(rounded, adopted=adopted(["aws-b2.2 2016", "nfpa-99 2018"]))
    assert "AWS" in param(both, "answers")
    assert "NFPA" in param(both, "answers")


def test_corner_rounding_needs_the_look_and_the_metal() -> None:
    assert short(judge_corner_rounding(CornerRounding("J"), adopted=AWS))[1] == "needs-data"
    assert short(judge_corner_rounding(CornerRounding("J", "yes"), adopted=AWS))[1] == "needs-data"
    rounded = CornerRounding("J", "yes", "copper")
    assert short(judge_corner_rounding(rounded, adopted=IX))[1] == "unread"
