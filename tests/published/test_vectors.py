"""Every published vector is run; a vector we judge wrong asserts our own answer and says why."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import pytest

from lapwright.core.messages import Message
from lapwright.core.outcomes import Outcome, Subject, settled
from repo.messages import catalogue

from .reading import Case, cases, checks, differences, findings_of, indexed, run

CASES = cases()
CHECKS = checks()
SENTENCES = catalogue()[0]
_PART = re.compile(r"^(.+\d)([a-z])$")


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.id)
def test_vector_gives_the_expected_answer(case: Case) -> None:
    wrong = differences(case, run(case, CHECKS[case.check]))
    assert not wrong, f"{case.id} ({case.says}): " + "; ".join(wrong)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.id)
def test_without_confirmations_memory_alone_gives_no_unqualified_answer(case: Case) -> None:
    for finding in findings_of(run(case, CHECKS[case.check], confirmed="none")):
        if finding.unconfirmed:
            assert finding.outcome is Outcome.UNDETERMINED, finding


def test_every_indexed_vector_is_a_case_exactly_once() -> None:
    ids = [case.id for case in CASES]
    listed = indexed()
    answered = {*ids, *map(_whole, ids)}
    missing = sorted(i for i in listed if i not in answered)
    stray = sorted(i for i in ids if i not in listed and _whole(i) not in listed)
    twice = [i for group in (ids, listed) for i, n in Counter(group).items() if n > 1]
    assert (missing, stray, twice) == ([], [], [])


def test_a_vector_in_parts_has_them_from_a_without_a_gap() -> None:
    parts: dict[str, list[str]] = {}
    for case in CASES:
        if case.id not in indexed() and (match := _PART.match(case.id)):
            parts.setdefault(match.group(1), []).append(match.group(2))
    for whole, letters in parts.items():
        assert len(letters) > 1, f"{whole} has one part only: {letters}"
        assert sorted(letters) == [chr(97 + n) for n in range(len(letters))], whole
        assert whole not in {case.id for case in CASES}, f"{whole} is there whole and in parts"


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.id)
def test_every_answer_has_a_sentence_with_its_parameters(case: Case) -> None:
    for finding in findings_of(run(case, CHECKS[case.check])):
        wanted = SENTENCES.get(finding.message.id)
        assert wanted is not None, f"{finding.message.id} has no sentence"
        assert {name for name, _ in finding.message.params} == wanted, finding.message.id


def test_a_doubt_is_a_sentence_and_the_count_is_told(record_property: object) -> None:
    doubts = {case.id: case.doubt for case in CASES if case.doubt}
    assert all(len(text.split()) >= 5 for text in doubts.values()), doubts
    record_property("vectors", len(CASES))  # type: ignore[operator]
    record_property("doubts", len(doubts))  # type: ignore[operator]


def test_a_wrong_expectation_is_told() -> None:
    finding = settled("x", Subject("joint", "J"), Outcome.MET, Message("x.y", share="0.20"))
    case = replace(
        CASES[0],
        within=None,
        expect={
            "outcome": "not-met",
            "message": "x.z",
            "why": "hold",
            "share": "0.21",
            "depth": "1",
        },
    )
    assert len(differences(case, finding)) == 5
    right = {"outcome": "met", "message": "x.y", "why": "", "share": "0.2"}
    assert differences(replace(case, expect=right), finding) == []
    near = replace(case, expect={"share": "0.21"}, within={"share": "0.01"})
    assert differences(near, {"share": "0.2"}) == []
    assert differences(replace(near, within={"share": "0.009"}), {"share": "0.2"})


def _whole(case_id: str) -> str:
    match = _PART.match(case_id)
    return match.group(1) if match else case_id
