"""What every log must do; a new store adds its maker to MAKERS."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from lapwright.core.acts import Act
from lapwright.ledger.log import GENESIS, Log, MemoryLog, first_broken

MAKERS: dict[str, Callable[[], Log]] = {"memory": MemoryLog}
AT = datetime(2026, 3, 13, tzinfo=UTC)


@pytest.fixture(params=sorted(MAKERS))
def log(request: pytest.FixtureRequest) -> Log:
    return MAKERS[request.param]()


def _acts(count: int) -> list[Act]:
    return [
        Act("TrainingGiven", {"person": "p", "what": f"day {n}"}, date(2026, 3, 4), "lead", AT)
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
    log.put_side("ab" * 32, "Ines Marlowe", b"s" * 16)
    assert log.side("ab" * 32) == "Ines Marlowe"
    assert log.side("cd" * 32) is None
    assert not list(log.entries())
