"""The strict YAML reader: text stays text, and every trap is refused with its place."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from lapwright.reference import strictyaml
from lapwright.reference.errors import (
    EmptyDocument,
    FileUnreadable,
    KeyNotText,
    KeyTwice,
    SeveralDocuments,
    YamlFeatureRefused,
    YamlRefused,
    YamlTooDeep,
    YamlTooLarge,
)
from lapwright.reference.strictyaml import MAX_BYTES, MAX_DEPTH, load_yaml, read_yaml

PLAIN = ["14:59", "007", "NO", "yes", "1e3", "2026-03-04", "0x1F", "1_000", "null", "~", ".inf"]
FORBIDDEN = ["!!str x", "!!python/object:os.system x", "! x", "&a x", "*a", "{<<: {b: c}}"]


def load(text: str) -> object:
    """Read a text as the file ``case.yaml``."""
    return load_yaml(text, where="case.yaml")


@pytest.fixture(params=["CBaseLoader", "BaseLoader"])
def parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Run a test with the C parser and with the Python one: answers must not differ."""
    monkeypatch.setattr(strictyaml, "_LOADER", getattr(yaml, request.param))
    return str(request.param)


@pytest.mark.parametrize("scalar", PLAIN)
def test_a_plain_scalar_stays_the_text_that_was_written(scalar: str, parser: str) -> None:
    assert load(f"key: {scalar}\n") == {"key": scalar}


def test_the_ordinary_loader_would_have_changed_these() -> None:
    changed = yaml.safe_load("[14:59, 007, NO, 2026-03-04]")
    assert changed[:3] == [899, 7, False]
    assert not isinstance(changed[3], str)


def test_an_empty_scalar_stays_empty(parser: str) -> None:
    assert load("a:\nb: ''\n") == {"a": "", "b": ""}


def test_lists_and_mappings_keep_their_order(parser: str) -> None:
    value = load("b: [2, {c: d}]\na:\n  - x\n  - y\n")
    assert value == {"b": ["2", {"c": "d"}], "a": ["x", "y"]}
    assert list(value) == ["b", "a"]


def test_a_key_like_no_stays_a_word(parser: str) -> None:
    assert load("NO: 1\n007: 2\n") == {"NO": "1", "007": "2"}


def test_a_key_written_twice_is_refused_with_its_place(parser: str) -> None:
    with pytest.raises(KeyTwice, match=r"case\.yaml: line 3, column 1: .*got a") as caught:
        load("a: 1\nb: 2\na: 3\n")
    assert caught.value.code == "REF-004"


def test_a_key_twice_deep_inside_is_refused(parser: str) -> None:
    with pytest.raises(KeyTwice, match="line 2, column 12"):
        load("a:\n  - {b: 1, b: 2}\n")


@pytest.mark.parametrize("value", FORBIDDEN)
def test_anchors_aliases_tags_and_merge_keys_are_refused(value: str, parser: str) -> None:
    with pytest.raises(YamlFeatureRefused):
        load(f"key: {value}\n")


def test_an_alias_bomb_is_refused_before_it_grows(parser: str) -> None:
    lines = ["a: &a [x, x, x, x, x, x, x, x, x]"]
    lines += [
        f"{n}: &{n} [{', '.join(['*' + p] * 9)}]" for p, n in zip("abcdefg", "bcdefgh", strict=True)
    ]
    with pytest.raises(YamlFeatureRefused, match=r"line 1, column 4: .*an anchor"):
        load("\n".join(lines))


@pytest.mark.parametrize("text", ["%YAML 1.1\n---\na: b\n", "%TAG ! tag:x,2000:\n---\na: b\n"])
def test_a_directive_is_refused(text: str, parser: str) -> None:
    with pytest.raises(YamlFeatureRefused, match="a directive"):
        load(text)


def test_several_documents_are_refused(parser: str) -> None:
    with pytest.raises(SeveralDocuments, match="line 2"):
        load("a: b\n---\nc: d\n")


@pytest.mark.parametrize("text", ["", "\n\n", "# only a comment\n", "---\n", "---\n...\n"])
def test_an_empty_document_is_refused(text: str, parser: str) -> None:
    with pytest.raises(EmptyDocument, match=r"case\.yaml"):
        load(text)


@pytest.mark.parametrize("text", ["? [a]\n: b\n", "? {a: b}\n: c\n", "'': b\n", "? \n: b\n"])
def test_a_key_that_is_no_word_is_refused(text: str, parser: str) -> None:
    with pytest.raises(KeyNotText, match=r"case\.yaml: line 1"):
        load(text)


@pytest.mark.parametrize(
    "text", ["a:\n\t- b\n", "a: [b\n", "a: 'b\n", "a: b: c\n", ": b\n", "@x\n", "a\x00b"]
)
def test_garbage_is_one_coded_line(text: str, parser: str) -> None:
    with pytest.raises(YamlRefused) as caught:
        load(text)
    line = str(caught.value)
    assert line.startswith("case.yaml")
    assert line.endswith("[REF-001]")
    assert "\n" not in line


def test_a_tab_is_refused_with_line_and_column(parser: str) -> None:
    with pytest.raises(YamlRefused, match=r"case\.yaml: line 2, column 1"):
        load("a:\n\t- b\n")


def test_the_deepest_allowed_nesting_is_read_and_one_more_refused(parser: str) -> None:
    assert load("[" * MAX_DEPTH + "]" * MAX_DEPTH)
    with pytest.raises(YamlTooDeep, match=str(MAX_DEPTH + 1)):
        load("[" * (MAX_DEPTH + 1) + "]" * (MAX_DEPTH + 1))


def test_thousands_of_brackets_do_not_exhaust_the_stack(parser: str) -> None:
    with pytest.raises(YamlTooDeep):
        load("[" * 3000)


def test_a_lone_surrogate_is_refused(parser: str) -> None:
    with pytest.raises(YamlRefused):
        load("a: \ud800\n")


def test_a_text_over_the_limit_is_refused() -> None:
    with pytest.raises(YamlTooLarge, match="REF-002"):
        load("#" * (MAX_BYTES + 1))


def test_a_file_is_read_and_named_in_refusals(tmp_path: Path) -> None:
    path = tmp_path / "case.yaml"
    path.write_bytes("\ufeffmark: ä7\n".encode())
    assert read_yaml(path) == {"mark": "ä7"}
    path.write_text("a: 1\na: 2\n", encoding="utf-8")
    with pytest.raises(KeyTwice, match=r"case\.yaml: line 2, column 1"):
        read_yaml(path)


def test_a_missing_file_a_folder_and_other_bytes_are_refused(tmp_path: Path) -> None:
    other = tmp_path / "latin.yaml"
    other.write_bytes("a: ä\n".encode("latin-1"))
    for path in (tmp_path / "none.yaml", tmp_path, other):
        with pytest.raises(FileUnreadable, match="REF-009"):
            read_yaml(path)


def test_a_name_that_no_file_can_have_is_refused() -> None:
    with pytest.raises(FileUnreadable, match="REF-009"):
        read_yaml(Path("a\x00b.yaml"))


def test_a_file_that_may_not_be_read_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "case.yaml"
    path.write_text("a: b\n", encoding="utf-8")

    def denied(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", denied)
    with pytest.raises(FileUnreadable, match="got Permission denied"):
        read_yaml(path)


def test_a_huge_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "big.yaml"
    path.write_bytes(b"#" * (MAX_BYTES + 1))
    with pytest.raises(YamlTooLarge):
        read_yaml(path)


WORDS = st.text(
    st.characters(
        exclude_categories=["Cc", "Cn", "Co", "Cs", "Zl", "Zp"], exclude_characters="\ufeff"
    )
)
TREES = st.recursive(
    WORDS,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(WORDS.filter(lambda k: k not in ("", "<<")), inner, max_size=4)
    ),
    max_leaves=20,
)


@given(TREES)
def test_what_is_written_in_quotes_comes_back_unchanged(tree: object) -> None:
    assert load(json.dumps({"tree": tree}, ensure_ascii=False)) == {"tree": tree}


@given(st.text(alphabet=list("ab01:-?,[]{}#&*!|>'\"%@`~ \n\t\r\x00\x85\u2028é\ud800"), max_size=40))
def test_any_text_is_answered_or_refused_in_one_line(text: str) -> None:
    line = "case.yaml"
    try:
        load(text)
    except YamlRefused as error:
        line = str(error)
    assert "\n" not in line
    assert line.startswith("case.yaml")


@pytest.mark.parametrize("text", ["a:\tb\n", "a: b\t\n", "a: 'b\tc'\n", "# note\there\na: b\n"])
def test_a_tab_is_refused_wherever_it_stands(text: str) -> None:
    with pytest.raises(YamlRefused, match="got a tab, expected spaces"):
        load(text)


@pytest.mark.parametrize("text", ["a: |#note\n  b\n", "é: >-#note\n  b\n"])
def test_a_comment_glued_to_a_block_mark_is_refused(text: str, parser: str) -> None:
    with pytest.raises(YamlRefused, match=r"case\.yaml: line 1"):
        load(text)


@given(st.text(alphabet=list("ab01:-?,[]{}#'\"|> \n\r~\x85é"), max_size=30))
def test_the_two_parsers_never_read_different_values(text: str) -> None:
    answers = set()
    for name in ("CBaseLoader", "BaseLoader"):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(strictyaml, "_LOADER", getattr(yaml, name))
            try:
                answers.add(repr(load(text)))
            except YamlRefused:
                continue  # in odd flow lists one of the two refuses what the other reads
    assert len(answers) <= 1
