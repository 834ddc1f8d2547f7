"""The rule list, one rule in full, and the booklet to tick."""

from __future__ import annotations

import re
from datetime import date

import pytest

from lapwright.rules.catalogue import booklet, in_words, list_rules, show_rule
from lapwright.rules.errors import EditionUnknown, RuleUnknown
from lapwright.rules.rulebook import Adopted, Confirmation, load_edition
from repo.messages import catalogue

EDITIONS = [load_edition("asme-bpvc-ix", "2023"), load_edition("nfpa-99", "2018")]
_SENTENCES = catalogue()[0]


def test_the_list_has_a_row_for_every_rule_of_the_editions() -> None:
    rows = list_rules(EDITIONS)
    assert len(rows) == sum(len(e.rules) for e in EDITIONS)
    row = next(r for r in rows if r.key == "asme-bpvc-ix/2023/section.max_unbrazed_share")
    assert row.as_dict() == {
        "rule": row.key,
        "title": row.title,
        "kind": "upper_limit",
        "figure": "0.20",
        "unit": "-",
        "cite": "ASME BPVC IX 2023, QB-181, QB-182 (carried from the 2015 edition)",
        "basis": "memory",
        "sure": "H",
    }


def test_one_rule_is_shown_with_its_citation() -> None:
    (row,) = show_rule("nfpa-99", "2012", "cleaning.max_hours")
    assert (row["key"], row["figure"], row["operator"]) == (
        "nfpa-99/2012/cleaning.max_hours",
        "8 h",
        "<=",
    )
    assert row["cite"]["basis"] == "secondary"


def test_a_rule_that_the_edition_does_not_state_is_refused_with_its_neighbours() -> None:
    with pytest.raises(RuleUnknown, match=r"purge\.max_oxygen.*RULE-003"):
        show_rule("nfpa-99", "2012", "purge.oxygen")
    with pytest.raises(RuleUnknown, match=r"section\.…"):
        show_rule("asme-bpvc-ix", "2023", "torch.tip")
    with pytest.raises(EditionUnknown):
        show_rule("nfpa-99", "2015", "purge.gas")


def test_the_booklet_holds_the_figures_first_then_the_wordings_each_once() -> None:
    entries = booklet(EDITIONS)
    figures = [e for e in entries if e.part == "figure"]
    assert 20 <= len(figures) <= 32
    assert [e.number for e in entries] == list(range(1, len(entries) + 1))
    assert {e.part for e in entries[len(figures) :]} == {"wording"}
    assert len({e.key for e in entries}) == len(entries)


def test_a_rule_that_a_decision_leans_on_joins_the_booklet_under_its_title() -> None:
    key = "nfpa-99/2018/purge.gas"
    assert key not in {e.key for e in booklet(EDITIONS)}
    entry = next(e for e in booklet(EDITIONS, also=[key]) if e.key == key)
    assert (entry.label, entry.part) == ("Purge gas", "wording")
    assert len(booklet(EDITIONS, also=[key])) == len(booklet(EDITIONS)) + 1


def test_every_booklet_line_has_label_citation_and_a_sentence() -> None:
    every = [*EDITIONS, load_edition("aws-b2.2", "2016")]
    for entry in booklet(every):
        assert entry.label
        assert entry.citation.where
        assert {n for n, _ in entry.words.params} == _SENTENCES[entry.words.id]
        assert entry.as_dict()["rule"] == entry.key


def test_a_tick_that_repeats_an_entry_confirms_its_rule() -> None:
    day = date(2026, 1, 5)
    for entry in booklet(EDITIONS):
        code, edition, rule = entry.key.split("/")
        tick = Confirmation(code, edition, rule, entry.figure, "lead", day)
        adopted = Adopted(tuple(EDITIONS), day, (tick,))
        ruled = next(r for r in adopted.all(rule) if r.code == code)
        assert ruled.cite.confirmed_by == "lead"


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        (
            "thickness.bands",
            "T < 0.125 in: 0.5 T to 2 T, 2 specimens; T ≤ 0.375 in: 0.0625 in to 2 T,"
            " 2 specimens; T above: 0.1875 in to 2 T, 2 specimens",
        ),
        ("position.covers", "D: D, B; C: C, B; B: B"),
        ("section.max_unbrazed_share", "20 % (0.20 as a share)"),
        ("overlap.max_increase", "25 % (0.25 as a share)"),
        ("section.min_magnification", "4 ×"),
        ("specimens.small_tube_od", "3 in"),
    ],
)
def test_figures_are_said_in_plain_words(rule: str, text: str) -> None:
    words = in_words(EDITIONS[0].rules[rule][0])
    assert dict(words.params)["figure"] == text


def test_no_line_shows_an_id_for_a_word_or_a_share_without_its_unit() -> None:
    every = [*EDITIONS, load_edition("aws-b2.2", "2016"), load_edition("programme", "1")]
    for entry in booklet(every, also=[r[-1].key for e in every for r in e.rules.values()]):
        figure = dict(entry.words.params).get("figure", "")
        assert not re.search(r"(?<![\w-])[a-z]{2,}[-_][a-z]+", figure), (entry.key, figure)
        assert not re.fullmatch(r"0\.\d+", figure), entry.key


def test_what_is_not_known_says_why() -> None:
    words = in_words(EDITIONS[0].rules["retest.immediate_pieces"][0])
    assert words.id == "booklet.unread"
