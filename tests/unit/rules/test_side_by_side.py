"""Variables side by side: relations by hand, spans against membership of single points."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.outcomes import Outcome, Why
from lapwright.core.quantities import length
from lapwright.rules.sidebyside import (
    Compared,
    Relation,
    SameWords,
    Side,
    Span,
    common_spans,
    compare,
    failing,
    merged,
)
from published.adopting import adopted

BOTH = adopted(["asme-bpvc-ix 2023", "nfpa-99 2018", "programme 1"])
WORDS = {
    "process": ("TB",),
    "manner": ("manual",),
    "joint_type": ("socket",),
    "p_numbers": ("107-107",),
    "f_number": ("103",),
    "form": ("rod",),
    "flux": ("none",),
    "positions": ("C", "D"),
}
TOPICS = {"cleaning": "pad", "clearance": "0.002 in", "purge-gas": "N2", "purge-flow": "12 ft3/h"}


def _span(low: str | None, high: str | None) -> Span:
    return Span(length(low) if low else None, length(high) if high else None)


SPANS = {
    "tube_wall": (_span("0.030 in", "0.120 in"),),
    "fitting_wall": (_span("0.024 in", "0.096 in"),),
    "overlap": (_span(None, "0.45 in"),),
}
OLD = Side("Quillon Pipeworks", "QP-4", WORDS, SPANS, TOPICS)


def _row(variable: str, old: Side, new: Side, stated: SameWords | None = None) -> Compared:
    rows = {r.variable: r for r in compare(old, new, stated=stated, adopted=BOTH)}
    assert len(rows) == 15
    return rows[variable]


def _with(name: str, *values: str) -> Side:
    return replace(OLD, words={**WORDS, name: values})


def test_the_same_on_both_sides_is_equal_and_met() -> None:
    rows = compare(OLD, OLD, adopted=BOTH)
    assert {r.relation for r in rows} == {Relation.EQUAL}
    assert {r.finding.outcome for r in rows} == {Outcome.MET}
    assert failing(rows) == ()


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("process", "IB"),
        ("manner", "machine"),
        ("joint_type", "butt"),
        ("p_numbers", "107-108"),
        ("f_number", "102"),
        ("form", "ring"),
        ("flux", "FB3-A"),
    ],
)
def test_another_value_of_a_variable_asks_for_a_new_test(name: str, other: str) -> None:
    row = _row(name, OLD, _with(name, other))
    assert (row.relation, row.finding.outcome) == (Relation.DIFFERS, Outcome.NOT_MET)
    assert failing([row]) == (name,)


def test_what_the_new_procedure_also_allows_is_accepted_in_part() -> None:
    row = _row("f_number", OLD, _with("f_number", "102", "103"))
    assert (row.relation, row.common) == (Relation.IN_PART, "103")
    assert row.finding.outcome is Outcome.MET


def test_two_metals_each_tested_alone_serve_the_pair() -> None:
    old = _with("p_numbers", "107-107", "108-108")
    assert _row("p_numbers", old, _with("p_numbers", "107-108")).relation is Relation.WITHIN


def test_tested_positions_cover_by_the_rule_and_not_by_their_letters() -> None:
    within = _row("positions", OLD, _with("positions", "B", "C", "D"))
    assert within.relation is Relation.WITHIN
    part = _row("positions", _with("positions", "D"), _with("positions", "B", "C", "D"))
    assert (part.relation, part.common) == (Relation.IN_PART, "B, D")
    none = _row("positions", _with("positions", "B"), _with("positions", "D"))
    assert none.finding.outcome is Outcome.NOT_MET


def test_an_overlap_window_that_is_empty_differs() -> None:
    deep = replace(OLD, spans={**SPANS, "overlap": (_span("0.50 in", None),)})
    assert _row("overlap", OLD, deep).finding.outcome is Outcome.NOT_MET
    shallow = replace(OLD, spans={**SPANS, "overlap": (_span("0.30 in", None),)})
    row = _row("overlap", OLD, shallow)
    assert (row.relation, row.common) == (Relation.IN_PART, "0.30 in to 0.45 in")


def test_what_one_side_does_not_say_is_unknown_and_asked_for() -> None:
    for side, old, new in (
        ("former", _with("form"), OLD),
        ("new", OLD, _with("form")),
        ("both", _with("form"), _with("form")),
    ):
        row = _row("form", old, new)
        assert (row.relation, row.finding.why) == (Relation.UNKNOWN, Why.NEEDS_DATA)
        assert row.finding.message.id == f"compare.unknown_{side}"


def test_a_topic_worded_otherwise_is_held_until_a_person_states_it_in_writing() -> None:
    new = replace(OLD, topics={**TOPICS, "purge-flow": "10 to 15 ft3/h"})
    row = _row("purge-flow", OLD, new)
    assert (row.relation, row.finding.why) == (Relation.DIFFERS, Why.HOLD)
    stated = SameWords("marlow", {"purge-flow": "12 lies within"})
    settled = _row("purge-flow", OLD, new, stated)
    assert settled.finding.outcome is Outcome.MET
    assert dict(settled.finding.message.params)["by"] == "marlow"


def test_a_statement_never_settles_a_variable_of_the_test() -> None:
    stated = SameWords("marlow", {"form": "much the same"})
    assert _row("form", OLD, _with("form", "ring"), stated).finding.outcome is Outcome.NOT_MET


def test_spaces_and_capitals_make_no_difference_of_words() -> None:
    new = replace(OLD, topics={**TOPICS, "cleaning": " PAD "})
    assert _row("cleaning", OLD, new).relation is Relation.EQUAL


def test_unconfirmed_rules_give_no_unqualified_answer() -> None:
    bare = adopted(["asme-bpvc-ix 2023", "nfpa-99 2018", "programme 1"], "none")
    for row in compare(OLD, OLD, adopted=bare):
        assert row.finding.why is Why.UNCONFIRMED
        assert row.finding.before_confirmation is Outcome.MET


ends = st.integers(0, 30)
spans = st.builds(lambda a, b: Span(*(length(f"{n} mm") for n in sorted((a, b)))), ends, ends)
opened = st.one_of(
    spans,
    ends.map(lambda n: Span(None, length(f"{n} mm"))),
    ends.map(lambda n: Span(length(f"{n} mm"), None)),
)


def _holds(found: tuple[Span, ...] | list[Span], at: int) -> bool:
    here = length(f"{at} mm")
    return any(
        (s.low is None or s.low <= here) and (s.high is None or here <= s.high) for s in found
    )


@given(st.lists(opened, max_size=4), st.lists(opened, max_size=4), st.integers(-1, 31))
def test_what_two_sets_of_spans_share_is_what_lies_in_both(
    one: list[Span], two: list[Span], at: int
) -> None:
    point = max(at, 0)
    both = common_spans(one, two)
    assert _holds(both, point) == (_holds(one, point) and _holds(two, point))
    assert _holds(merged(one), point) == _holds(one, point)
    tops = [s.high for s in merged(one)]
    assert all(
        a is not None and b.low is not None and a < b.low
        for a, b in zip(tops, merged(one)[1:], strict=False)
    )
