"""Acts have one form of bytes; names stay outside; marks are no government numbers."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.acts import ACT_TYPES, SINCE, Act, canonical_json, check_mark, commitment
from lapwright.core.errors import ActFromNewer, ActRefused, MarkRefused
from lapwright.ledger.log import GENESIS, Entry, chain_digest, first_broken

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


NEWER = {
    "an unknown type": ("type", "RecordShredded"),
    "a later version": ("version", "9"),
    "a field of later": ("mood", "calm"),
}


@pytest.mark.parametrize("field", sorted(NEWER))
def test_an_act_of_a_later_program_is_told_in_a_line(field: str) -> None:
    key, value = NEWER[field]
    parts = json.loads(_act().to_bytes()) | {key: value}
    with pytest.raises(ActFromNewer, match=r"a later version of Lapwright.*CORE-010"):
        Act.from_bytes(canonical_json(parts))
    with pytest.raises(ActFromNewer, match=r"Open this ledger with Lapwright 7\.1\.0"):
        Act.from_bytes(canonical_json(parts | {"needs": "7.1.0"}))


def test_a_log_with_an_act_of_a_later_program_is_still_checked() -> None:
    newer = canonical_json(json.loads(_act().to_bytes()) | {"type": "RecordShredded"})
    prev, entries = GENESIS, []
    for seq, raw in enumerate([_act().to_bytes(), newer, _act(x="y").to_bytes()]):
        entries.append(Entry(seq, raw, prev, chain_digest(prev, raw)))
        prev = entries[-1].sha256
    assert first_broken(entries) is None
    assert first_broken([entries[0], replace(entries[1], raw=newer + b" "), entries[2]]) == 1
    with pytest.raises(ActFromNewer):
        _ = entries[1].act


def test_an_act_that_came_later_says_which_version_it_needs(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(SINCE, ("TrainingGiven", 1), "0.2.0")
    raw = _act().to_bytes()
    assert b'"needs":"0.2.0"' in raw
    assert Act.from_bytes(raw).to_bytes() == raw
    monkeypatch.delitem(SINCE, ("TrainingGiven", 1))
    with pytest.raises(ActRefused, match="not an act"):
        Act.from_bytes(raw)


# Each line differs from an act's bytes in one field that is not in its one form.
@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("version", "01"),
        ("version", "+1"),
        ("version", "0"),
        ("version", 1),
        ("version", "x"),
        ("happened_on", "20260304"),
        ("happened_on", "2026-W10-3"),
        ("happened_on", "2026-03-04T00:00:00"),
        ("recorded_at", "2026-03-13T23:59:59+00:00"),
        ("recorded_at", "2026-03-13T23:59:59.000000Z"),
        ("recorded_at", "2026-03-13 23:59:59Z"),
        ("recorded_at", "2026-03-13T23:59Z"),
        ("recorded_at", "2026-W11-5T23:59:59Z"),
        ("recorded_at", ["2026-03-13T23:59:59Z"]),
        ("happened_at", ""),
        ("happened_at", None),
        ("happened_at", "2026-03-04T09:30-06:00"),
        ("recorded_by", ["lead"]),
        ("recorded_by", None),
        ("stream", ""),
        ("stream", None),
        ("files", []),
        ("files", "a"),
        ("files", {"a": "b"}),
        ("files", [1]),
        ("type", ["TrainingGiven"]),
        ("body", []),
        ("body", "person what"),
        ("needs", "0.2.0"),
    ],
)
def test_a_field_in_another_form_is_refused(key: str, value: object) -> None:
    parts = json.loads(_act().to_bytes()) | {key: value}
    with pytest.raises((ActRefused, ActFromNewer)):
        Act.from_bytes(canonical_json(parts))


@pytest.mark.parametrize("key", ["type", "version", "body", "happened_on", "recorded_by"])
def test_a_missing_field_is_refused(key: str) -> None:
    parts = json.loads(_act().to_bytes())
    del parts[key]
    with pytest.raises(ActRefused, match="not an act"):
        Act.from_bytes(canonical_json(parts))


@pytest.mark.parametrize(
    "raw",
    [
        b'{"body":{"a":"b","a":"b"}}',
        b'{"body":"\\ud800"}',
        b"[" * 100_000,
        b'{"a":' * 50_000,
        b"\xef\xbb\xbf{}",
        "{}".encode("utf-16"),
        b"NaN",
        b"1" * 5000,
    ],
)
def test_bytes_made_to_trip_a_reader_are_refused(raw: bytes) -> None:
    with pytest.raises(ActRefused):
        Act.from_bytes(raw)


@pytest.mark.parametrize("value", [{1: "x"}, [{"a": [{"b": {None: "x"}}]}]])
def test_a_key_of_a_body_is_text(value: object) -> None:
    with pytest.raises(ActRefused, match="is not text"):
        _act(figure=value)


@pytest.mark.parametrize("version", [0, -1, 9])
def test_a_version_that_does_not_exist_is_refused(version: int) -> None:
    with pytest.raises(ActRefused, match="no such version of TrainingGiven"):
        replace(_act(), version=version)


def test_an_act_keeps_the_bytes_it_was_read_from() -> None:
    raw = _act(files="x").to_bytes()
    act = Act.from_bytes(raw)
    assert act.to_bytes() is raw
    assert replace(act, recorded_by="omar").to_bytes() != raw
    assert act == _act(files="x")


@given(
    st.datetimes(timezones=st.timezones() | st.just(UTC)),
    st.dates(),
    st.lists(TEXTS, max_size=2),
    TEXTS,
)
def test_every_field_comes_back_from_the_bytes(
    at: datetime, on: date, files: list[str], stream: str
) -> None:
    at = at.replace(microsecond=0, year=min(max(at.year, 1900), 9000))
    body = {"person": "p", "what": "x"}
    act = Act("TrainingGiven", body, on, "lead", at, at, tuple(files), stream=stream)
    again = Act.from_bytes(act.to_bytes())
    assert (again.recorded_at, again.happened_on) == (at.astimezone(UTC), on)
    assert again.happened_at == datetime.fromisoformat(at.isoformat())
    assert (again.files, again.stream, again.to_bytes()) == (act.files, stream, act.to_bytes())


FORMS = [
    "",
    "1",
    "01",
    "2026-03-04",
    "2026-W10-3",
    "2026-03-13T23:59:59Z",
    "2026-03-13T23:59:59+00:00",
]
PLACES = ["type", "version", "body", "happened_on", "happened_at", "recorded_at", "files", "stream"]


@given(st.dictionaries(st.sampled_from(PLACES), PLAIN | st.sampled_from(FORMS), max_size=3))
def test_what_is_accepted_is_the_one_form_of_its_fields(parts: dict[str, object]) -> None:
    _accepted_is_canonical(canonical_json(json.loads(_act().to_bytes()) | parts))


@given(st.data())
def test_a_changed_byte_is_refused_or_makes_another_act(data: st.DataObject) -> None:
    raw = bytearray(_act(note="größer", list=["a", {"b": "c"}]).to_bytes())
    raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    _accepted_is_canonical(bytes(raw))


def _accepted_is_canonical(raw: bytes) -> None:
    """Write an accepted act again from its fields alone: the bytes must be the same."""
    with suppress(ActRefused, ActFromNewer):
        assert replace(Act.from_bytes(raw)).to_bytes() == raw
