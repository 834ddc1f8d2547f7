"""What is kept beside the acts equals what is made anew from them."""

from __future__ import annotations

import pytest

from desk.acts import filled, raw, trained
from desk.test_guards import unguarded
from lapwright.desk.boot import Store


def test_live_and_rebuilt_read_models_are_equal(store: Store) -> None:
    filled(store).log.append([trained("x" * 400, person="p" * 400, stream="case/B")])
    live = raw(store, "SELECT subject, seq FROM ledger_subject ORDER BY subject, seq")
    assert store.compare().same == "yes"
    assert store.rebuild() == store.compare().rows == 12
    assert raw(store, "SELECT subject, seq FROM ledger_subject ORDER BY subject, seq") == live


@pytest.mark.parametrize(
    ("deed", "missing", "surplus"),
    [
        ("DELETE FROM ledger_subject WHERE subject = 'person:ines' AND seq = 3", 1, 0),
        ("DELETE FROM ledger_subject", 10, 0),
        ("INSERT INTO ledger_subject (subject, seq) VALUES ('person:eve', 3)", 0, 1),
        ("INSERT INTO ledger_subject (subject, seq) VALUES ('person:eve', 99)", 0, 1),
        ("UPDATE ledger_subject SET subject = 'person:eve' WHERE subject = 'person:omar'", 5, 5),
    ],
)
def test_a_changed_index_is_found_and_made_anew(
    store: Store, deed: str, missing: int, surplus: int
) -> None:
    raw(filled(store), deed)
    found = store.compare()
    assert (found.same, found.missing, found.surplus) == ("no", missing, surplus)
    store.rebuild()
    assert store.compare().same == "yes"
    assert [e.seq for e in store.log.about("person:ines")] == [0, 1, 2, 3, 4]


def test_columns_that_belie_their_bytes_are_found(store: Store) -> None:
    filled(store)
    unguarded(store)
    raw(store, "UPDATE ledger_act SET stream = 'case/B', version = 0 WHERE seq = 4")
    found = store.compare()
    assert (found.same, found.mislabelled) == ("no", (4,))
