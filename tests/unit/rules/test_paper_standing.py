"""What a record from paper is worth: its kind, its way, its checks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.core.paperfold import PaperCheck, PaperRecord
from lapwright.rules.paperstanding import (
    confirmation_of,
    documented,
    judge_compared,
    judge_paper,
    judge_provenance,
    judge_results,
    provenance_of,
)
from published.adopting import adopted

ALL = adopted(["asme-bpvc-ix 2023", "nfpa-99 2018", "programme 1"])
VARIABLES = {
    "filler": "BCuP-5",
    "p_numbers": ["107", "107"],
    "cleaning": "pad",
    "clearance": "0.002 in",
    "overlap": "0.36 in",
    "purge_gas": "nitrogen",
    "purge_flow": "12 ft3/h",
}
BODY: dict[str, Any] = {
    "variables": VARIABLES,
    "codes": ["asme-bpvc-ix 2019"],
    "signed_for_employer": "yes",
    "results": {"visual": "passed", "section": "passed", "oxide": "none"},
}
DAY = date(2025, 4, 15)
PAPER = PaperRecord(
    id="W-17",
    act="",
    person="wren",
    employer="Quillon Pipeworks",
    document="test-record",
    way="brazer",
    typed_by="hollis",
    typed_on=DAY,
    brazed=(date(2024, 11, 18),),
    body=BODY,
    files=("ab",),
)
AGREES = PaperCheck("teal", DAY, "agrees")
LETTER = PaperCheck(
    "teal", DAY, "agrees", employer="Quillon Pipeworks", files=("cd" * 32,), role="examiner"
)


def _with(**body: Any) -> PaperRecord:
    return replace(PAPER, body={**BODY, **body})


def _of_rule(paper: PaperRecord, rule: str) -> Finding:
    return next(f for f in judge_paper(paper, adopted=ALL) if f.rule == rule)


def test_through_the_brazer_it_is_held_until_the_employer_that_tested_confirms() -> None:
    held = judge_provenance(provenance_of(PAPER), adopted=ALL)
    assert (held.why, held.message.id) == (Why.HOLD, "paper.through_brazer")
    confirmed = replace(PAPER, checks=(LETTER,))
    assert judge_provenance(provenance_of(confirmed), adopted=ALL).outcome is Outcome.MET


def test_a_letter_of_another_employer_confirms_nothing() -> None:
    other = replace(PAPER, checks=(replace(LETTER, employer="Quillon North"),))
    assert judge_provenance(provenance_of(other), adopted=ALL).why is Why.HOLD


def test_a_confirmation_without_evidence_confirms_nothing() -> None:
    bare = replace(PAPER, checks=(replace(LETTER, files=()),))
    assert judge_provenance(provenance_of(bare), adopted=ALL).why is Why.HOLD


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"files": PAPER.files}, "own_scan"),
        ({"role": ""}, "nobody"),
        ({"role": "brazer"}, "brazer"),
        ({"role": "Second Brazer"}, "brazer"),
        ({"by": "Wren"}, "brazer"),
    ],
)
def test_a_confirmation_that_proves_nothing_is_held_and_says_why(
    change: dict[str, Any], told: str
) -> None:
    filed = replace(PAPER, checks=(AGREES, replace(LETTER, **change)))
    found = judge_provenance(provenance_of(filed), adopted=ALL)
    assert (found.why, found.message.id) == (Why.HOLD, f"paper.confirmed_by.{told}")
    assert confirmation_of(filed) is None


def test_a_worthless_confirmation_hides_no_answer_that_counts() -> None:
    hollow = replace(LETTER, role="", on=date(2025, 4, 20))
    sound = replace(PAPER, checks=(LETTER, hollow))
    assert judge_provenance(provenance_of(sound), adopted=ALL).outcome is Outcome.MET
    denied = replace(PAPER, way="employer", checks=(replace(LETTER, outcome="differs"), hollow))
    found = judge_provenance(provenance_of(denied), adopted=ALL)
    assert found.message.id == "paper.not_confirmed"


def test_an_answer_that_it_is_wrong_needs_no_proof() -> None:
    bare = replace(LETTER, outcome="differs", role="", files=())
    found = judge_provenance(provenance_of(replace(PAPER, checks=(bare,))), adopted=ALL)
    assert found.message.id == "paper.not_confirmed"


def test_of_two_looks_on_one_day_the_one_filed_last_counts() -> None:
    differs = PaperCheck("teal", DAY, "differs", "overlap is 0.30 in")
    found = judge_compared(replace(PAPER, checks=(AGREES, differs)), adopted=ALL)
    assert found.message.id == "paper.typed_wrongly"


def test_an_employer_that_does_not_confirm_holds_whatever_the_way() -> None:
    for way in ("brazer", "employer", "own-archive"):
        denied = replace(PAPER, way=way, checks=(replace(LETTER, outcome="differs"),))
        found = judge_provenance(provenance_of(denied), adopted=ALL)
        assert found.message.id == "paper.not_confirmed"


@pytest.mark.parametrize(
    ("way", "outcome"),
    [("employer", Outcome.MET), ("own-archive", Outcome.MET), ("", Outcome.UNDETERMINED)],
)
def test_other_ways_stand_by_themselves(way: str, outcome: Outcome) -> None:
    found = judge_provenance(provenance_of(replace(PAPER, way=way)), adopted=ALL)
    assert found.outcome is outcome


def test_typed_and_unchecked_is_held() -> None:
    found = judge_compared(PAPER, adopted=ALL)
    assert (found.why, found.message.id) == (Why.HOLD, "paper.unchecked")
    assert judge_compared(replace(PAPER, checks=(LETTER,)), adopted=ALL).why is Why.HOLD


def test_the_latest_comparison_counts() -> None:
    differs = PaperCheck("teal", date(2025, 4, 20), "differs", "overlap is 0.30 in")
    found = judge_compared(replace(PAPER, checks=(AGREES, differs)), adopted=ALL)
    assert (found.why, found.message.id) == (Why.HOLD, "paper.typed_wrongly")
    again = replace(AGREES, on=date(2025, 4, 21))
    done = judge_compared(replace(PAPER, checks=(differs, again)), adopted=ALL)
    assert done.outcome is Outcome.MET


@pytest.mark.parametrize("own", ["hollis", "wren"])
def test_who_typed_or_brazed_it_checks_nothing(own: str) -> None:
    checked = replace(PAPER, checks=(replace(AGREES, by=own),))
    assert judge_compared(checked, adopted=ALL).message.id == "paper.checked_by_own"


def test_a_card_is_not_met_and_nothing_else_is_asked_of_it() -> None:
    found = list(judge_paper(replace(PAPER, document="card"), adopted=ALL))
    assert (found[0].outcome, found[0].message.id) == (Outcome.NOT_MET, "paper.card")
    assert len(found) == 3


def test_a_whole_confirmed_and_checked_paper_is_met_throughout() -> None:
    whole = replace(PAPER, checks=(AGREES, LETTER))
    assert {f.outcome for f in judge_paper(whole, adopted=ALL)} == {Outcome.MET}


def test_a_school_without_an_employer_behind_it_is_held() -> None:
    assert _of_rule(_with(signed_for_employer="no"), "responsibility.own_tests").why is Why.HOLD


def test_another_base_standard_is_held_for_the_authority() -> None:
    assert _of_rule(_with(codes=["iso-13585 2021"]), "base.standards").why is Why.HOLD
    assert _of_rule(_with(codes=[]), "base.standards").why is Why.NEEDS_DATA
    both = _with(codes=["iso-13585 2021", "aws-b2.2 2016"])
    assert _of_rule(both, "base.standards").outcome is Outcome.MET


def test_a_paper_that_states_a_failed_test_is_not_met() -> None:
    failed = _with(results={**BODY["results"], "section": "failed"})
    assert _of_rule(failed, "record.fields").outcome is Outcome.NOT_MET


@pytest.mark.parametrize("gone", ["visual", "section"])
def test_results_that_are_not_stated_are_asked_for(gone: str) -> None:
    silent = _with(results={**BODY["results"], gone: "not-stated"})
    assert _of_rule(silent, "record.fields").why is Why.NEEDS_DATA


def test_oxide_on_the_paper_is_not_met() -> None:
    seen = _with(results={**BODY["results"], "oxide": "seen"})
    found = [f for f in judge_results(seen, adopted=ALL) if f.rule == "bore.no_oxide"]
    assert [f.outcome for f in found] == [Outcome.NOT_MET]


def test_a_topic_that_the_paper_leaves_out_holds_it() -> None:
    silent = _with(variables={**VARIABLES, "purge_flow": ""})
    assert _of_rule(silent, "record.topics").why is Why.HOLD
    unsaid = _with(results={**BODY["results"], "oxide": "not-stated"})
    assert _of_rule(unsaid, "record.topics").why is Why.NEEDS_DATA


def test_an_f_number_stands_for_the_filler() -> None:
    bare = {k: v for k, v in VARIABLES.items() if k != "filler"}
    assert documented({"variables": {**bare, "f_number": "103"}})["filler"] == "103"
