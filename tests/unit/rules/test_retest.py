"""Immediate retests, retests after training, counts; limits and missing data."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why, settled
from lapwright.rules.errors import ReadingUnknown, RuleUnknown
from lapwright.rules.retest import (
    AfterTraining,
    Immediate,
    Piece,
    Pieces,
    judge_after_training,
    judge_immediate,
    pieces_needed,
    stand_after,
)
from published.adopting import adopted
from unit.rules.examining import IX, MEDICAL, NONE, inch, short

DAY, LATER = date(2026, 1, 5), date(2026, 1, 9)


def pieces(letters: str) -> tuple[Piece, ...]:
    """Return pieces from ``p`` (passed), ``f`` (failed), ``o`` (open), ``-`` (no result)."""
    outcomes = {"p": Outcome.MET, "f": Outcome.NOT_MET, "o": Outcome.UNDETERMINED, "-": None}
    return tuple(Piece(f"R{n}", outcomes[x]) for n, x in enumerate(letters, 1))


def tried(letters: str, **change: object) -> Immediate:
    made = pieces(letters)
    one = Immediate("D", DAY, LATER, made, tuple(p.id for p in made), inch("1.625"))
    return replace(one, **change)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("letters", "choice", "answer"),
    [
        ("pp", "2", ("met", "", "retest.met")),
        ("pp", "", ("undetermined", "hold", "retest.two_or_four")),
        ("pp", "4", ("undetermined", "needs-data", "retest.too_few")),
        ("pppp", "4", ("met", "", "retest.met")),
        ("pppp", "", ("met", "", "retest.met")),
        ("ppp", "", ("undetermined", "hold", "retest.two_or_four")),
        ("ppp", "2", ("met", "", "retest.met")),
        ("p", "2", ("undetermined", "needs-data", "retest.too_few")),
        ("pf", "2", ("not-met", "", "retest.piece_failed")),
        ("pf", "", ("not-met", "", "retest.piece_failed")),
        ("ppf", "2", ("not-met", "", "retest.piece_failed")),
        ("po", "2", ("undetermined", "needs-data", "retest.piece_open")),
        ("p-", "2", ("undetermined", "needs-data", "retest.piece_open")),
        ("f-", "2", ("not-met", "", "retest.piece_failed")),
    ],
)
def test_an_immediate_retest_on_small_tube(
    letters: str, choice: str, answer: tuple[str, str, str]
) -> None:
    finding = judge_immediate(tried(letters), adopted=MEDICAL, pieces_choice=choice)
    assert short(finding) == answer


def test_large_tube_takes_two_pieces_whatever_was_chosen() -> None:
    large = tried("pp", tube_od=inch("4.125"))
    for choice in ("", "2", "4"):
        assert short(judge_immediate(large, adopted=MEDICAL, pieces_choice=choice))[0] == "met"


def test_only_small_tube_leans_on_the_choice_of_pieces() -> None:
    for od, leans in (("1.625", True), ("4.125", False)):
        in_force = adopted(["asme-bpvc-ix 2023", "programme 1"])
        judge_immediate(tried("pp", tube_od=inch(od)), adopted=in_force, pieces_choice="2")
        assert ("programme/1/retest.immediate_pieces" in in_force.used) is leans


def test_confirming_the_known_figures_is_enough() -> None:
    known = ["retest.immediate_count", "retest.consecutive", "specimens.small_tube_od"]
    in_force = adopted(["asme-bpvc-ix 2023", "programme 1"], known)
    finding = judge_immediate(tried("pp"), adopted=in_force, pieces_choice="2")
    assert short(finding)[0] == "met"


def test_every_coupon_brazed_in_the_retest_is_offered_in_order() -> None:
    for offered in (("R1", "R3"), ("R1", "R2"), ("R2", "R1", "R3"), ("R9",)):
        finding = judge_immediate(tried("pfp", offered=offered), adopted=MEDICAL, pieces_choice="2")
        assert short(finding) == ("not-met", "", "retest.not_consecutive")


@pytest.mark.parametrize(
    ("training", "outcome"),
    [
        (date(2026, 1, 4), "met"),
        (DAY, "not-met"),
        (date(2026, 1, 7), "not-met"),
        (LATER, "not-met"),
        (date(2026, 1, 10), "met"),
    ],
)
def test_training_between_failure_and_retest_makes_it_no_immediate_one(
    training: date, outcome: str
) -> None:
    finding = judge_immediate(tried("pp", training_on=training), adopted=MEDICAL, pieces_choice="2")
    assert short(finding)[0] == outcome


def test_a_basis_may_want_the_same_day() -> None:
    def judged(retest: Immediate) -> tuple[str, str, str]:
        return short(
            judge_immediate(retest, adopted=MEDICAL, pieces_choice="2", meaning="same-day")
        )

    assert judged(tried("pp"))[2] == "retest.not_same_day"
    assert judged(tried("pp", retested_on=DAY))[0] == "met"


def test_a_retest_before_the_failure_needs_other_dates() -> None:
    finding = judge_immediate(tried("pp", retested_on=date(2026, 1, 4)), adopted=MEDICAL)
    assert short(finding)[1:] == ("needs-data", "retest.dates")


@pytest.mark.parametrize("field", ["failed_on", "retested_on", "brazed", "offered", "tube_od"])
def test_an_immediate_retest_names_what_is_missing(field: str) -> None:
    empty: object = () if field in ("brazed", "offered") else None
    finding = judge_immediate(tried("pp", **{field: empty}), adopted=MEDICAL)
    assert short(finding)[1:] == ("needs-data", "rules.missing")
    assert dict(finding.message.params)["field"] == field


@pytest.mark.parametrize("choice", [{"pieces_choice": "3"}, {"meaning": "soon"}])
def test_another_choice_is_refused(choice: dict[str, str]) -> None:
    with pytest.raises(ReadingUnknown, match=r"RULE-004"):
        judge_immediate(tried("pp"), adopted=MEDICAL, **choice)


@pytest.mark.parametrize(
    ("retest", "answer"),
    [
        (AfterTraining("D", DAY, LATER, Outcome.MET), ("met", "", "retest.trained_met")),
        (
            AfterTraining("D", DAY, LATER, Outcome.NOT_MET),
            ("not-met", "", "retest.trained_not_met"),
        ),
        (
            AfterTraining("D", DAY, LATER, Outcome.UNDETERMINED),
            ("undetermined", "needs-data", "rules.missing"),
        ),
        (AfterTraining("D", DAY, LATER, None), ("undetermined", "needs-data", "rules.missing")),
        (
            AfterTraining("D", DAY, None, Outcome.MET),
            ("undetermined", "needs-data", "rules.missing"),
        ),
        (
            AfterTraining("D", None, LATER, Outcome.MET),
            ("undetermined", "needs-data", "retest.no_training"),
        ),
        (
            AfterTraining("D", DAY, DAY, Outcome.MET),
            ("undetermined", "hold", "retest.training_same_day"),
        ),
        (AfterTraining("D", LATER, DAY, Outcome.MET), ("not-met", "", "retest.training_late")),
    ],
)
def test_a_retest_after_training(retest: AfterTraining, answer: tuple[str, str, str]) -> None:
    assert short(judge_after_training(retest, adopted=IX)) == answer


def found(outcome: Outcome, position: str = "D") -> Finding:
    why = Why.HOLD if outcome is Outcome.UNDETERMINED else None
    return settled(
        "retest.immediate_count",
        Subject("position", position),
        outcome,
        Message("retest.trained_met", position=position),
        why=why,
    )


def test_a_failed_position_stands_on_its_last_retest_and_a_passed_one_stays() -> None:
    met, failed, held = (found(o) for o in (Outcome.MET, Outcome.NOT_MET, Outcome.UNDETERMINED))
    assert stand_after("D", met, (failed,)) is met
    assert stand_after("D", failed, ()) is failed
    assert stand_after("D", failed, (failed, held)) is held
    assert stand_after("D", failed, (failed, met)) is met
    with pytest.raises(ValueError, match="position D"):
        stand_after("D", failed, (found(Outcome.MET, "C"),))


def test_pieces_of_a_session() -> None:
    def counted(od: str, **more: int) -> Pieces:
        return pieces_needed(2, 2, adopted=MEDICAL, tube_od=inch(od), **more)

    assert counted("1.625") == Pieces(8, 10, 8, 16)
    assert counted("4.125") == Pieces(4, 5, 8, 8)
    assert counted("1.625", spare_percent=25) == Pieces(8, 10, 8, 16)
    assert counted("1.625", spare_percent=26).with_spares == 11
    with pytest.raises(RuleUnknown):
        pieces_needed(1, 1, adopted=NONE, tube_od=inch("1"))
