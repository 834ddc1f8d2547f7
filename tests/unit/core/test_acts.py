"""Acts have one form of bytes; names stay outside; marks are no government numbers."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.acts import ACT_TYPES, Act, check_mark, commitment
from lapwright.core.errors import ActRefused, MarkRefused

AT = datetime(2026, 3, 13, 23, 59, 59, tzinfo=UTC)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
PLAIN = st.recursive(
    TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=8,
)


def _act(**more: object) -> Act:
    return Act(
        "TrainingGiven", {"person": "p", "what": "practice", **more}, date(2026, 3, 4), "lead", AT
    )


@given(PLAIN)
def test_bytes_round_trip_with_unknown_keys_kept(value: object) -> None:
    act = _act(later_key=value)
    assert Act.from_bytes(act.to_bytes()).to_bytes() == act.to_bytes()


def test_bytes_are_sorted_compact_utf8() -> None:
    raw = _act().to_bytes()
    assert raw.startswith(b'{"body":{"person":"p"')
    assert b": " not in raw


def test_bytes_with_spaces_are_refused() -> None:
    loose = json.dumps(json.loads(_act().to_bytes())).encode()
    with pytest.raises(ActRefused, match="canonical"):
        Act.from_bytes(loose)


@pytest.mark.parametrize("raw", [b"", b"[]", b"{}", b'{"type":"TrainingGiven"}', b"\xff"])
def test_other_bytes_are_refused(raw: bytes) -> None:
    with pytest.raises(ActRefused):
        Act.from_bytes(raw)


@pytest.mark.parametrize("value", [1, 1.5, True, None])
def test_a_body_holds_text_only(value: object) -> None:
    with pytest.raises(ActRefused, match="expected text"):
        _act(figure=value)


def test_an_unknown_act_is_refused() -> None:
    with pytest.raises(ActRefused, match="no such act"):
        Act("RecordShredded", {}, date(2026, 3, 4), "lead", AT)


@pytest.mark.parametrize("type_", sorted(ACT_TYPES))
def test_every_act_asks_for_its_keys(type_: str) -> None:
    with pytest.raises(ActRefused, match="lacks"):
        Act(type_, {}, date(2026, 3, 4), "lead", AT, version=ACT_TYPES[type_][0])


def test_a_writing_time_without_offset_is_refused() -> None:
    with pytest.raises(ActRefused, match="offset"):
        Act(
            "TrainingGiven",
            {"person": "p", "what": "x"},
            date(2026, 3, 4),
            "lead",
            datetime(2026, 3, 4, 12),
        )


def test_a_name_is_hidden_behind_its_salt() -> None:
    one, two = commitment("Ines Marlowe", b"a" * 16), commitment("Ines Marlowe", b"b" * 16)
    assert one != two
    assert len(one) == 64


def test_a_short_salt_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="16"):
        commitment("Ines Marlowe", b"short")


@pytest.mark.parametrize("mark", ["QP7K", "A1", "KLM123"])
def test_marks_of_letters_and_digits_are_filed(mark: str) -> None:
    assert check_mark(mark) == mark


@pytest.mark.parametrize("mark", ["123", "AB1234", "123456789", "A", "qp7k", "QP-7", "X" * 13, ""])
def test_marks_that_could_be_government_numbers_are_refused(mark: str) -> None:
    with pytest.raises(MarkRefused, match="CORE-004"):
        check_mark(mark)
