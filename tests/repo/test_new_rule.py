"""``make rule`` writes a rule that loads and a case that is not yet an answer."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import yaml

from lapwright.rules.rulefiles import parse_rule
from repo.scripts import script
from repo.tree import ROOT

CODE, EDITION, ID = "asme-bpvc-ix", "2015", "made_up.rule"


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """Return a folder with one edition and no rule."""
    place = Path("src/lapwright/rules/data") / CODE / EDITION
    (tmp_path / place).mkdir(parents=True)
    shutil.copy(ROOT / place / "edition.yaml", tmp_path / place)
    return tmp_path


def test_the_rule_skeleton_loads_and_answers_unread(tree: Path) -> None:
    made = script("new_rule").write_skeletons(tree, CODE, edition=EDITION, rule_id=ID)
    text = made[0].read_text(encoding="utf-8")
    (rule,) = parse_rule(text, CODE, edition=EDITION, where=f"{CODE}/{EDITION}/{ID}.yaml")
    assert rule.id == ID
    assert rule.value is None
    assert rule.unread


def test_the_case_skeleton_names_a_check_that_is_not_there(tree: Path) -> None:
    made = script("new_rule").write_skeletons(tree, CODE, edition=EDITION, rule_id=ID)
    (case,) = yaml.safe_load(made[1].read_text(encoding="utf-8"))
    assert case["id"] == yaml.safe_load(made[2].read_text(encoding="utf-8"))[0]
    assert case["adopted"] == [f"{CODE} {EDITION}"]
    assert case["check"] == "name-one"


def test_nothing_is_overwritten_and_unknown_places_are_refused(tree: Path) -> None:
    maker = script("new_rule")
    maker.write_skeletons(tree, CODE, edition=EDITION, rule_id=ID)
    for edition, rule_id, said in (
        (EDITION, ID, "there already"),
        ("1066", ID, "expected one of: asme-bpvc-ix 2015"),
        (EDITION, "Bad Name", "expected topic.name"),
    ):
        with pytest.raises(maker.Refused, match=said):
            maker.write_skeletons(tree, CODE, edition=edition, rule_id=rule_id)
