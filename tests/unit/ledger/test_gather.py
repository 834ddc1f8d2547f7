"""All that names somebody, with what corrects or voids it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.acts import Act
from lapwright.core.standing import standing
from lapwright.ledger.gather import AT_ONCE, case_entries, gather
from lapwright.ledger.log import MemoryLog

AT = datetime(2026, 3, 4, tzinfo=UTC)


def act(type_: str, body: dict[str, Any], stream: str = "case/A") -> Act:
    """Return an act of 4 March."""
    return Act(type_, body, date(2026, 3, 4), "lead", AT, stream=stream)


def trained(person: str, what: str = "x", stream: str = "case/A") -> Act:
    """Return the smallest act that names a person."""
    return act("TrainingGiven", {"person": person, "what": what}, stream)


def fix(named: Act, body: dict[str, Any]) -> Act:
    """Return a correction."""
    said = {"corrects": named.sha256, "body": body, "reason": "r"}
    return act("ActCorrected", said, named.stream)


def void(named: Act) -> Act:
    """Return a void."""
    return act("ActVoided", {"voids": named.sha256, "reason": "r"}, named.stream)


def gathered(acts: Sequence[Act], *subjects: str) -> list[Act]:
    """Return what is gathered from a log of these acts."""
    log = MemoryLog()
    log.append(acts)
    return [e.act for e in gather(log, *subjects)]


INES, OMAR = trained("ines"), trained("omar")


def test_a_void_that_names_nobody_is_found() -> None:
    assert gathered([INES, OMAR, void(INES)], "person:ines") == [INES, void(INES)]


def test_a_correction_to_another_person_is_found_from_both() -> None:
    moved = fix(INES, {"person": "omar", "what": "x"})
    for person in ("person:ines", "person:omar"):
        found = gathered([INES, trained("teal"), moved], person)
        assert found == [INES, moved]
        assert [s.act.body["person"] for s in standing(found, as_of=date(2026, 4, 1))] == ["omar"]


def test_chains_of_changes_are_followed_to_their_ends() -> None:
    one = fix(INES, {"person": "ines", "what": "y"})
    two = fix(one, {**one.body, "reason": "better"})
    gone = void(two)
    assert gathered([INES, one, two, gone, OMAR], "person:ines") == [INES, one, two, gone]


def test_acts_written_twice_are_both_found() -> None:
    assert len(gathered([INES, OMAR, INES, void(INES)], "person:ines")) == 3


def test_a_change_that_names_nothing_in_the_log_is_brought_as_it_is() -> None:
    stray = fix(trained("gone"), {"person": "ines", "what": "x"})
    assert gathered([stray, OMAR], "person:ines") == [stray]


def test_many_acts_are_asked_for_in_parts() -> None:
    acts = [trained("ines", str(n)) for n in range(AT_ONCE + 3)]
    assert gathered([*acts, void(acts[0]), void(acts[-1])], "person:ines")[-2:] == [
        void(acts[0]),
        void(acts[-1]),
    ]


def test_a_case_comes_with_the_programme_in_the_order_of_the_log() -> None:
    acts = [INES, trained("p", stream="programme"), trained("b", stream="case/B"), OMAR]
    log = MemoryLog()
    log.append([*acts, trained("q", stream="programme")])
    assert [e.seq for e in case_entries(log, "A")] == [0, 1, 3, 4]


@st.composite
def logs(draw: st.DrawFn) -> list[Act]:
    """Draw a log in which trainings are corrected to other people, and voided."""
    acts: list[Act] = []
    for step in range(draw(st.integers(1, 8))):
        person, kind = draw(st.sampled_from(["ines", "omar"])), draw(st.sampled_from("tcv"))
        body = {"person": person, "what": str(step)}
        able = [a for a in acts if a.type == "TrainingGiven"]
        if kind == "t" or not able:
            acts.append(trained(person, str(step)))
        else:
            named = draw(st.sampled_from(able))
            acts.append(void(named) if kind == "v" else fix(named, body))
    return acts


@given(logs())
def test_what_stands_about_a_person_is_the_same_from_the_whole_log(acts: list[Act]) -> None:
    def about(kept: list[Act]) -> list[dict[str, Any]]:
        stood = standing(kept, as_of=date(2026, 4, 1))
        return [dict(s.act.body) for s in stood if s.act.body["person"] == "ines"]

    assert about(gathered(acts, "person:ines")) == about(acts)


def test_a_text_that_looks_like_a_change_is_none() -> None:
    told = trained("ines", "how an ActCorrected is filed")
    assert gathered([told, OMAR], "person:ines") == [told]
