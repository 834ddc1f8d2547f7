"""What every log must do; a new store adds its maker to MAKERS."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from databases import Server
from lapwright.core.acts import Act, commitment
from lapwright.desk.boot import open_store
from lapwright.ledger.errors import SideOther, StreamMoved
from lapwright.ledger.heads import SignedHead
from lapwright.ledger.log import GENESIS, Log, MemoryLog, first_broken

Maker = Callable[[pytest.FixtureRequest], Iterator[Log]]


def in_memory(_: pytest.FixtureRequest) -> Iterator[Log]:
    yield MemoryLog()


def on_sqlite(request: pytest.FixtureRequest) -> Iterator[Log]:
    folder: Path = request.getfixturevalue("tmp_path")
    store = open_store(folder / "ledger")
    yield store.log
    store.close()


def on_postgresql(request: pytest.FixtureRequest) -> Iterator[Log]:
    server: Server = request.getfixturevalue("postgresql")
    folder: Path = request.getfixturevalue("tmp_path")
    name = server.fresh()
    store = open_store(folder / "ledger", database=server.url(name))
    yield store.log
    store.close()
    server.drop(name)


MAKERS: dict[str, Maker] = {
    "memory": in_memory,
    "sqlite": on_sqlite,
    "postgresql": on_postgresql,
}
AT = datetime(2026, 3, 13, tzinfo=UTC)


@pytest.fixture(params=sorted(MAKERS))
def log(request: pytest.FixtureRequest) -> Iterator[Log]:
    with contextmanager(MAKERS[request.param])(request) as made:
        yield made


def _acts(count: int, *, person: str = "p", stream: str = "case/A") -> list[Act]:
    return [
        Act(
            "TrainingGiven",
            {"person": person, "what": f"day {n}"},
            date(2026, 3, 4),
            "lead",
            AT,
            stream=stream,
        )
        for n in range(count)
    ]


def test_entries_come_back_in_order_with_their_bytes(log: Log) -> None:
    acts = _acts(5)
    log.append(acts[:2])
    log.append(acts[2:])
    assert [e.act for e in log.entries()] == acts
    assert [e.seq for e in log.entries()] == [0, 1, 2, 3, 4]


def test_the_chain_starts_from_nothing_and_holds(log: Log) -> None:
    log.append(_acts(3))
    entries = list(log.entries())
    assert entries[0].prev_sha256 == GENESIS
    assert first_broken(entries) is None


def test_an_edited_entry_breaks_the_chain_there(log: Log) -> None:
    log.append(_acts(4))
    entries = list(log.entries())
    entries[2] = replace(entries[2], raw=entries[2].raw.replace(b"day 2", b"day 9"))
    assert first_broken(entries) == 2


def test_a_dropped_entry_breaks_the_chain_where_it_was(log: Log) -> None:
    log.append(_acts(4))
    entries = list(log.entries())
    assert first_broken(entries[:1] + entries[2:]) == 1


def test_swapped_entries_break_the_chain(log: Log) -> None:
    log.append(_acts(4))
    one, two, three, four = log.entries()
    assert first_broken([one, three, two, four]) == 1


def test_side_values_stand_beside_the_chain(log: Log) -> None:
    name = commitment("Ines Marlowe", b"s" * 16)
    log.put_side(name, "Ines Marlowe", b"s" * 16)
    assert log.side(name) == "Ines Marlowe"
    assert log.side("cd" * 32) is None
    assert not list(log.entries())


def test_side_other(log: Log) -> None:
    """LEDG-063: a value that does not open its commitment is refused, and not repeated."""
    log.put_side("ab" * 32, "Mallory Vane", b"s" * 16)
    for read in (lambda: log.side("ab" * 32), log.side_records):
        with pytest.raises(SideOther, match=r"LEDG-063") as caught:
            read()
        assert "Mallory" not in str(caught.value)


def test_a_removed_side_value_is_gone_and_the_chain_is_whole(log: Log) -> None:
    log.append(_acts(2))
    name = commitment("Ines Marlowe", b"s" * 16)
    log.put_side(name, "Ines Marlowe", b"s" * 16)
    log.remove_side(name)
    assert log.side(name) is None
    assert not log.side_records()
    assert first_broken(log.entries()) is None


def test_each_stream_counts_its_own_entries(log: Log) -> None:
    log.append([*_acts(2), *_acts(1, stream="case/B"), *_acts(1)])
    assert [(e.stream, e.version) for e in log.entries()] == [
        ("case/A", 0),
        ("case/A", 1),
        ("case/B", 0),
        ("case/A", 2),
    ]
    assert [e.seq for e in log.entries(stream="case/A")] == [0, 1, 3]
    assert [e.seq for e in log.entries(since=2)] == [2, 3]


def test_what_is_looked_at_first_leaves_nothing_when_it_refuses(log: Log) -> None:
    def refuse() -> None:
        log.put_side("ab", "Ines Marlowe", b"salt" * 4)
        raise LookupError(log.size())

    log.append(_acts(2))
    with pytest.raises(LookupError, match="2"):
        log.append(_acts(1), first=refuse)
    assert log.size() == 2
    seen: list[int] = []
    log.append(_acts(1), first=lambda: seen.append(log.size()))
    assert (seen, log.size()) == ([2], 3)


def test_a_writer_who_has_not_seen_the_stream_is_refused(log: Log) -> None:
    log.append(_acts(2), expect={"case/A": 0})
    with pytest.raises(StreamMoved, match="LEDG-005"):
        log.append(_acts(1), expect={"case/A": 1})
    assert log.size() == 2
    log.append(_acts(1), expect={"case/A": 2, "case/B": 0})
    assert log.size() == 3


def test_what_names_a_person_is_found(log: Log) -> None:
    log.append([*_acts(2, person="ines"), *_acts(2, person="omar")])
    assert [e.seq for e in log.about("person:omar")] == [2, 3]
    assert [e.seq for e in log.about("person:omar", "person:ines")] == [0, 1, 2, 3]
    assert not list(log.about("person:nobody"))


def test_heads_are_kept_smallest_first(log: Log) -> None:
    heads = [SignedHead(n, f"{n:064x}", "2026-03-13T00:00:00Z", "k" * 16, "00") for n in (3, 1)]
    for head in (*heads, heads[0]):
        log.put_head(head)
    assert [h.size for h in log.heads()] == [1, 3]


def test_a_reader_sees_the_entries_that_were_there_when_it_asked(log: Log) -> None:
    log.append(_acts(3))
    reader, found = log.entries(), log.about("person:p")
    assert next(reader).seq == 0
    log.append(_acts(2))
    assert [e.seq for e in reader] == [1, 2]
    assert [e.seq for e in found] == [0, 1, 2]
    assert not list(log.entries(since=9))


def test_nothing_is_written_when_an_act_of_many_cannot_be(log: Log) -> None:
    def cut_off() -> Iterator[Act]:
        yield from _acts(3)
        raise KeyError("the third photograph")

    with pytest.raises(KeyError):
        log.append(cut_off())
    assert log.size() == 0
    assert log.append([]) == ()


def test_odd_texts_come_back_as_they_were(log: Log) -> None:
    odd = ["", "p\u0000q", "ü" * 2000, "'; DROP TABLE ledger_act; --", "%s", "a\nb", "😀"]
    log.append([act for person in odd for act in _acts(1, person=person)])
    assert [e.act.body["person"] for e in log.entries()] == odd
    for number, person in enumerate(odd[1:], start=1):
        assert [e.seq for e in log.about(f"person:{person}")] == [number]
