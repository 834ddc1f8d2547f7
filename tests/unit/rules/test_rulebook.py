"""Rule files are read strictly, editions inherit, and a record's rows make the rules again."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from lapwright.core.citations import Basis
from lapwright.rules.errors import EditionUnknown, RuleFileRefused, RuleUnknown
from lapwright.rules.rulebook import (
    Adopted,
    Confirmation,
    Edition,
    Rule,
    library,
    load_edition,
    parse_rule,
    rulebook_from_rows,
    rules_digest,
    source_title,
    sources,
)
from lapwright.rules.rulefiles import edition_head

DAY = date(2026, 1, 5)
GOOD = """\
id: made.up
title: A figure that was made up for this test
unit: in
kind: upper_limit
operator: "<="
values:
  - from: "2015-07-01"
    value: "3 in"
    cite: {source: asme-bpvc-ix-2015, where: "QB-1", basis: memory, sure: M}
"""
WHERE = "asme-bpvc-ix/2015/made.up.yaml"
EVERY = [(code, edition) for code, held in library().items() for edition in held]


def read(text: str, where: str = WHERE) -> tuple[Rule, ...]:
    return parse_rule(text, "asme-bpvc-ix", edition="2015", where=where)


def every_rule() -> list[Rule]:
    return [
        r
        for code, edition in EVERY
        for dated in load_edition(code, edition).rules.values()
        for r in dated
    ]


def refused(text: str, about: str, where: str = WHERE) -> None:
    with pytest.raises(RuleFileRefused) as told:
        read(text, where)
    assert told.value.code == "RULE-001"
    assert about in str(told.value), told.value


def test_the_form_of_a_rule_file_is_read() -> None:
    (rule,) = read(GOOD)
    assert (rule.id, rule.value, rule.operator, rule.unit) == ("made.up", "3 in", "<=", "in")
    assert (rule.since, rule.sure, rule.cite.basis) == (date(2015, 7, 1), "M", Basis.MEMORY)
    assert str(rule.cite) == "ASME BPVC IX 2015, QB-1"
    assert rule.key == "asme-bpvc-ix/2015/made.up"


def test_an_unknown_key_is_refused_with_the_allowed_ones() -> None:
    refused(GOOD + "limit: 3\n", "unknown key")


def test_an_unknown_key_of_a_dated_value_is_refused() -> None:
    ended = '    value: "3 in"\n    until: "2019-01-01"'
    refused(GOOD.replace('    value: "3 in"', ended), "until")


def test_an_unknown_key_of_a_citation_is_refused() -> None:
    refused(GOOD.replace("sure: M", "page: 12"), "page")


@pytest.mark.parametrize("key", ["id", "title", "kind"])
def test_a_missing_key_is_refused(key: str) -> None:
    lines = [line for line in GOOD.splitlines() if not line.startswith(f"{key}:")]
    refused("\n".join(lines), f"key '{key}' is missing")


def test_missing_values_are_refused() -> None:
    refused(GOOD[: GOOD.index("values:")] + "values: []\n", "key 'values' is missing")


def test_values_that_are_no_list_are_refused() -> None:
    refused(GOOD[: GOOD.index("values:")] + "values: 3 in\n", "not a list")


def test_a_dated_value_without_its_citation_is_refused() -> None:
    refused(GOOD[: GOOD.index("    cite:")], "key 'cite' is missing")


def test_a_citation_without_its_place_is_refused() -> None:
    refused(GOOD.replace(', where: "QB-1"', ""), "key 'where' is missing")


def test_an_id_that_is_not_the_file_name_is_refused() -> None:
    refused(GOOD, "id or kind", where="asme-bpvc-ix/2015/other.yaml")


def test_a_kind_that_does_not_exist_is_refused() -> None:
    refused(GOOD.replace("upper_limit", "maximum"), "maximum")


def test_an_operator_that_does_not_exist_is_refused() -> None:
    refused(GOOD.replace('"<="', '"=<"'), "no such operator")


def test_a_basis_that_does_not_exist_is_refused() -> None:
    refused(GOOD.replace("basis: memory", "basis: hearsay"), "no such basis")


def test_a_degree_of_sureness_that_does_not_exist_is_refused() -> None:
    refused(GOOD.replace("sure: M", "sure: very"), "H, M or L")


def test_a_source_that_is_not_listed_is_refused() -> None:
    refused(GOOD.replace("source: asme-bpvc-ix-2015", "source: a-friend"), "a-friend")


def test_a_value_that_is_both_known_and_unread_is_refused() -> None:
    refused(GOOD.replace('value: "3 in"', 'value: "3 in"\n    unread: not seen'), "known or unread")


def test_a_value_that_is_neither_known_nor_unread_is_refused() -> None:
    refused(GOOD.replace('    value: "3 in"\n', ""), "known or unread")


@pytest.mark.parametrize("value", ["about 3 in", "three", "[1, 2]", "3 in or so"])
def test_a_limit_that_is_not_a_number_is_refused(value: str) -> None:
    text = value if value.startswith("[") else f'"{value}"'
    refused(GOOD.replace('"3 in"', text), "not a number")


def test_a_citation_that_is_no_mapping_is_refused() -> None:
    start = GOOD.index("    cite:")
    refused(GOOD[:start] + "    cite: QB-1\n", "not a mapping")


def test_dated_values_come_oldest_first_and_the_day_picks_one() -> None:
    later = (
        GOOD[GOOD.index("  - from:") :].replace("2015-07-01", "2016-07-01").replace("3 in", "4 in")
    )
    dated = read(GOOD.replace("  - from:", later + "  - from:", 1))
    edition = Edition("asme-bpvc-ix", "2015", "", date(2015, 7, 1), "", {"made.up": dated})
    days = {"2010-01-01": "3 in", "2016-06-30": "3 in", "2016-07-01": "4 in"}
    for day, value in days.items():
        rule = edition.rule("made.up", on=date.fromisoformat(day))
        assert rule is not None
        assert rule.value == value
    assert edition.rule("other", on=DAY) is None


def test_the_library_lists_every_code_with_its_editions_oldest_first() -> None:
    assert library() == {
        "asme-bpvc-ix": ("2015", "2023"),
        "aws-b2.2": ("2016",),
        "htm-02-01": ("2006",),
        "nfpa-99": ("2012", "2018", "2021", "2024"),
        "programme": ("1",),
    }


@pytest.mark.parametrize(("code", "edition"), [("asme-bpvc-ix", "2019"), ("iso-13585", "2021")])
def test_an_edition_that_is_not_held_is_refused_with_those_that_are(
    code: str, edition: str
) -> None:
    with pytest.raises(EditionUnknown, match=r"asme-bpvc-ix: 2015, 2023.*RULE-002"):
        load_edition(code, edition)


def test_a_newer_edition_inherits_and_overrides() -> None:
    old, new = load_edition("asme-bpvc-ix", "2015"), load_edition("asme-bpvc-ix", "2023")
    assert set(old.rules) < set(new.rules)
    carried, own = new.rules["overlap.max_increase"][0], new.rules["position.tolerance_flat"][0]
    assert carried.value == old.rules["overlap.max_increase"][0].value == "0.25"
    assert str(carried.cite) == "ASME BPVC IX 2023, QB-408.1 (carried from the 2015 edition)"
    assert (own.edition, str(own.cite)) == ("2023", "ASME BPVC IX 2023, QB-121")


def test_a_carried_figure_rests_on_memory_even_where_the_older_page_was_read() -> None:
    old, new = load_edition("asme-bpvc-ix", "2015"), load_edition("asme-bpvc-ix", "2023")
    assert old.rules["overlap.max_increase"][0].cite.basis is Basis.PRIMARY
    assert new.rules["overlap.max_increase"][0].cite.basis is Basis.MEMORY
    assert new.rules["overlap.max_increase"][0].cite.needs_confirming
    assert new.rules["position.tolerance_flat"][0].cite.basis is Basis.PRIMARY


def test_a_figure_of_another_source_keeps_its_basis_when_it_is_carried() -> None:
    old, new = load_edition("nfpa-99", "2012"), load_edition("nfpa-99", "2024")
    for rule in ("overlap.min_walls", "tube.type_k_size_variant", "purge.touch_limit"):
        assert new.rules[rule][0].cite == old.rules[rule][0].cite
        assert new.rules[rule][0].edition == "2024"


def test_a_chain_of_editions_names_the_one_that_stated_the_figure() -> None:
    cite = load_edition("nfpa-99", "2024").rules["cleaning.max_hours"][0].cite
    assert cite.title == "NFPA 99 2024"
    assert cite.where.count("carried from the") == 1
    assert "carried from the 2012 edition" in cite.where


def test_every_value_is_cited_from_a_listed_source() -> None:
    for rule in every_rule():
        assert rule.cite.source in sources(), rule.key
        assert rule.cite.where, rule.key
        assert rule.cite.title == source_title(rule.cite.source), rule.key


def test_every_value_is_known_or_says_why_not() -> None:
    for rule in every_rule():
        assert (rule.value is None) == bool(rule.unread), rule.key
        assert rule.figure, rule.key


def test_only_pages_that_were_read_are_called_primary() -> None:
    read_pages = {
        "asme-bpvc-ix-2015": ("QB-408", "QB-410"),
        "asme-bpvc-ix-2023": ("QB-101", "QB-121"),
        "aws-b2.2-2016": ("4.2.",),
    }
    for rule in every_rule():
        if rule.cite.basis is Basis.PRIMARY:
            places = read_pages.get(rule.cite.source, ())
            assert rule.cite.where.startswith(places), rule.key


def test_no_figure_of_the_medical_code_is_called_read() -> None:
    bases = {r.cite.basis for r in every_rule() if r.cite.source.startswith("nfpa-99")}
    assert Basis.PRIMARY not in bases


def test_a_house_rule_is_never_a_figure_of_a_standard() -> None:
    standards = [k for k, row in sources().items() if row["kind"] in ("standard", "code")]
    for dated in load_edition("programme", "1").rules.values():
        assert dated[0].cite.source not in standards, dated[0].key


def test_a_choice_of_the_programme_has_its_default_among_its_choices() -> None:
    for dated in load_edition("programme", "1").rules.values():
        value = dated[0].value
        if isinstance(value, dict) and "choices" in value:
            default = value["default"]
            given = default if isinstance(default, list) else [default]
            assert set(given) <= set(value["choices"]), dated[0].key


def test_rows_make_the_same_rules_again_through_json() -> None:
    for code, edition in EVERY:
        held = load_edition(code, edition)
        rows = [r.as_row() for dated in held.rules.values() for r in dated]
        (again,) = rulebook_from_rows(json.loads(json.dumps(rows)))
        assert (again.code, again.edition) == (code, edition)
        assert dict(again.rules) == dict(held.rules)


def test_a_row_without_a_field_is_refused() -> None:
    row = read(GOOD)[0].as_row()
    for key in ("id", "cite", "since"):
        with pytest.raises(RuleFileRefused, match="RULE-001"):
            rulebook_from_rows([{k: v for k, v in row.items() if k != key}])
    with pytest.raises(RuleFileRefused):
        rulebook_from_rows([{**row, "cite": {**row["cite"], "basis": "hearsay"}}])


def test_the_digest_of_rows_does_not_depend_on_their_order_but_on_each_figure() -> None:
    rows = [r.as_row() for dated in load_edition("aws-b2.2", "2016").rules.values() for r in dated]
    changed = [{**rows[0], "value": "0.21"}, *rows[1:]]
    assert rules_digest(rows) == rules_digest(list(reversed(rows)))
    assert rules_digest(rows) != rules_digest(changed)


def test_a_confirmation_counts_for_its_figure_from_its_day_on() -> None:
    edition = load_edition("asme-bpvc-ix", "2023")
    tick = Confirmation("asme-bpvc-ix", "2023", "section.max_unbrazed_share", "0.20", "lead", DAY)

    def open_on(tick: Confirmation, day: date) -> object:
        adopted = Adopted((edition,), day, (tick,))
        return adopted.first("section.max_unbrazed_share").cite.needs_confirming

    assert open_on(tick, DAY) is False
    assert open_on(tick, date(2026, 1, 4)) is True
    assert open_on(replace(tick, figure="0.25"), DAY) is True
    assert open_on(replace(tick, edition="2015"), DAY) is True
    assert open_on(replace(tick, rule="section.min_magnification"), DAY) is True


def test_a_rule_that_no_adopted_edition_states_is_refused() -> None:
    adopted = Adopted((load_edition("asme-bpvc-ix", "2015"),), DAY)
    with pytest.raises(RuleUnknown, match=r"asme-bpvc-ix 2015.*RULE-003"):
        adopted.first("purge.gas")
    assert (adopted.all("purge.gas"), adopted.has("purge.gas")) == ((), 0)


def test_the_rows_used_are_those_asked_for() -> None:
    adopted = Adopted((load_edition("asme-bpvc-ix", "2015"), load_edition("nfpa-99", "2012")), DAY)
    adopted.all("continuity.max_gap")
    assert [(r["code"], r["operator"]) for r in adopted.rows_used()] == [
        ("asme-bpvc-ix", ">="),
        ("nfpa-99", ">"),
    ]


HEAD = 'code: x\nedition: "1"\ntitle: T\npublished: "2015-01-01"\nsource: programme\n'


@pytest.mark.parametrize(
    ("text", "about"),
    [
        ('code: x\nedition: "1"\n', "key 'title' is missing"),
        (HEAD.replace("code: x", "code: y"), "another"),
        (HEAD + 'year: "1"\n', "unknown key"),
        (HEAD + "carried_basis: hearsay\n", "no such basis"),
        (HEAD + "withdraws: all\n", "not a list"),
        (HEAD.replace("source: programme", "source: nowhere"), "nowhere"),
    ],
)
def test_an_edition_file_that_does_not_fit_is_refused(
    text: str, about: str, tmp_path: Path
) -> None:
    folder = tmp_path / "1"
    folder.mkdir()
    (folder / "edition.yaml").write_text(text)
    with pytest.raises(RuleFileRefused) as told:
        edition_head(folder, "x", "1")
    assert about in str(told.value)


def test_an_edition_may_withdraw_what_it_would_inherit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    head = 'code: made-up\nedition: "{0}"\ntitle: T\npublished: "{0}-01-01"\nsource: programme\n'
    rule = GOOD.replace("asme-bpvc-ix-2015", "programme")
    for year, rest in (("2001", ""), ("2002", 'inherits: "2001"\nwithdraws: [made.gone]\n')):
        folder = tmp_path / "data" / "made-up" / year
        folder.mkdir(parents=True)
        (folder / "edition.yaml").write_text(head.format(year) + rest)
    for name in ("made.up", "made.gone"):
        text = rule.replace("made.up", name)
        (tmp_path / "data" / "made-up" / "2001" / f"{name}.yaml").write_text(text)
    monkeypatch.setattr("lapwright.rules.rulebook.files", lambda _: tmp_path)
    assert set(load_edition("made-up", "2001").rules) == {"made.up", "made.gone"}
    assert set(load_edition("made-up", "2002").rules) == {"made.up"}
