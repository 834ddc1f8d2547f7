"""Ledgers that somebody changed behind the program's back are refused, every time.

Whoever changes them here holds the database and not the keys: guards are dropped
and put back, entries changed, chained anew, cut off, rolled back.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from desk.acts import filled, raw, trained
from desk.conftest import Opener
from desk.test_guards import unguarded
from lapwright.cli.main import cli
from lapwright.core.errors import LapwrightError
from lapwright.desk.boot import Store, open_store
from lapwright.desk.errors import AlarmStands, ChainBroken, RowRefused
from lapwright.desk.store import guards
from lapwright.ledger.checker import check
from lapwright.ledger.errors import (
    HeadBeyond,
    HeadForged,
    HeadOther,
    HeadsUnread,
    LedgerDamaged,
    SideOther,
)
from lapwright.ledger.held import check_whole
from lapwright.ledger.keys import open_keys
from lapwright.ledger.tree import tree_head
from lapwright.services.ledgerexport import back_up, export_ledger
from lapwright.services.ledgerproofs import Asked, prove
from lapwright.services.sealing import place_of
from records.ledgers import AT, NAME, some_keys

KEYS = some_keys()


@pytest.fixture
def signed(store: Store) -> Store:
    """Return a ledger of five entries with a signed head of all of them."""
    prove(filled(store).log, asked=Asked(), keys=KEYS, at=AT)
    return store


def changed(store: Store, *statements: str, back: str = "guards put back") -> None:
    """Change tables with the guards off; the last step puts them back as they were."""
    unguarded(store)
    for statement in statements:
        raw(store, statement)
    if back:
        guards.install(store.log.connection)


def rechained(store: Store, number: int) -> None:
    """Change an entry and chain all others anew, as whoever holds the database can."""
    unguarded(store)
    prev = bytes(32)
    for entry in list(store.log.entries()):
        act = trained("another day") if entry.seq == number else entry.act
        digest = hashlib.sha256(prev + act.to_bytes()).digest()
        sql = "UPDATE ledger_act SET raw = %s, prev_sha256 = %s, sha256 = %s WHERE seq = %s"
        raw(store, sql, act.to_bytes(), prev, digest, entry.seq)
        prev = digest
    guards.install(store.log.connection)


def readers(store: Store, out: Path) -> list[Callable[[], object]]:
    """Return what reads a ledger whole."""
    return [
        lambda: prove(store.log, asked=Asked(), keys=KEYS, at=AT),
        lambda: export_ledger(out / "export", store, keys=KEYS, at=AT),
        lambda: back_up(out / "backup", store, keys=KEYS, at=AT),
        lambda: check_whole(store.log, public=KEYS.token_key.public_key()),
    ]


# ------------------------------------------------------------------ heads


def test_head_beyond(signed: Store, opener: Opener, tmp_path: Path) -> None:
    """LEDG-060: entries that a signed head covers were cut off; nothing new is signed."""
    changed(
        signed,
        "DELETE FROM ledger_act WHERE seq = 4",
        "DELETE FROM ledger_subject WHERE seq = 4",
    )
    for _ in range(2):
        with pytest.raises(HeadBeyond, match=r"got 4 entries.*at least the 5 .*LEDG-060"):
            opener()
    for read in readers(signed, tmp_path / "out"):
        with pytest.raises(HeadBeyond):
            read()
    assert [head.size for head in signed.log.heads()] == [5]
    assert not list(tmp_path.glob("out/*"))


def test_a_database_rolled_back_with_its_heads_is_noticed(tmp_path: Path) -> None:
    """The file of heads beside it remembers what the copied database has forgotten."""
    data = tmp_path / "data"
    with filled(open_store(data)) as store:
        prove(store.log, asked=Asked(), keys=KEYS, at=AT)
    old = shutil.copy(data / "ledger.sqlite3", tmp_path / "old")
    with open_store(data) as store:
        store.log.append([trained("withdrawn")])
        prove(store.log, asked=Asked(), keys=KEYS, at=AT)
    for left in data.glob("ledger.sqlite3*"):
        left.unlink()
    with pytest.raises(HeadBeyond, match="got 0 entries"):
        open_store(data)
    assert not (data / "ledger.sqlite3").exists()
    shutil.copy(old, data / "ledger.sqlite3")
    with pytest.raises(HeadBeyond, match="got 5 entries, expected at least the 6"):
        open_store(data)


def test_a_rolled_back_database_that_grew_again_is_noticed(tmp_path: Path) -> None:
    """Other entries at the same places: found at the opening by one row."""
    data = tmp_path / "data"
    filled(open_store(data)).close()
    old = shutil.copy(data / "ledger.sqlite3", tmp_path / "old")
    with open_store(data) as store:
        store.log.append([trained("record 3 for one case")])
        prove(store.log, asked=Asked(), keys=KEYS, at=AT)
    beside = (data / "heads.jsonl").rename(tmp_path / "aside")
    shutil.copy(old, data / "ledger.sqlite3")
    with open_store(data) as store:
        store.log.append([trained("record 3 for another"), trained("and more")])
    beside.rename(data / "heads.jsonl")
    with pytest.raises(HeadOther, match=r"first 6 entries.*LEDG-061"):
        open_store(data)


def test_head_other(signed: Store, opener: Opener, tmp_path: Path) -> None:
    """LEDG-061: a history that was changed and chained anew does not fit what was signed."""
    rechained(signed, 1)
    assert signed.log.first_broken() is None
    with pytest.raises(HeadOther, match=r"first 5 entries are not those.*LEDG-061"):
        opener()
    for place in signed.data.glob("heads*.jsonl"):
        place.unlink()  # whoever reaches the folder too; then the database's own heads tell it
    opener()
    for read in readers(signed, tmp_path / "out"):
        with pytest.raises(HeadOther, match="first 5 entries are not those"):
            read()
    assert len(signed.log.heads()) == 1
    assert not list(tmp_path.glob("out/*"))


def test_the_first_head_that_does_not_fit_is_named(store: Store) -> None:
    for number in range(4):
        store.log.append([trained(f"day {number}")])
        prove(store.log, asked=Asked(), keys=KEYS, at=AT)
    rechained(store, 2)
    with pytest.raises(HeadOther, match="first 3 entries"):
        check_whole(store.log)


def test_head_forged(signed: Store) -> None:
    """LEDG-062: a head whose time was changed does not carry its key's signature any more."""
    changed(signed, "UPDATE ledger_head SET at = '2020-01-01T00:00:00Z'")
    public = KEYS.token_key.public_key()
    with pytest.raises(HeadForged, match=r"5 entries was changed after signing.*LEDG-062"):
        check_whole(signed.log, public=public)
    with pytest.raises(HeadForged):
        prove(signed.log, asked=Asked(), keys=KEYS, at=AT)
    check_whole(signed.log, public=None)  # without the key only the roots can be compared


def test_heads_unread(signed: Store, opener: Opener) -> None:
    """LEDG-064: the file of heads beside the database was damaged."""
    place = next(signed.data.glob("heads*.jsonl"))
    whole = place.read_bytes()
    place.write_bytes(b"{}\n" + whole)
    with pytest.raises(HeadsUnread, match=r"heads.*LEDG-064") as caught:
        opener()
    assert "\n" not in str(caught.value)
    place.write_bytes(whole + whole[:40])  # a line that a stop has cut off is none
    store = opener()
    store.log.append([trained("day 5")])
    prove(store.log, asked=Asked(), keys=KEYS, at=AT)
    assert [head.size for head in store.log.heads()] == [5, 6]
    assert place.read_bytes().startswith(whole)
    assert place.read_bytes().count(b"\n") == 2


def test_many_heads_are_read_from_their_end(store: Store, opener: Opener) -> None:
    for number in range(70):
        store.log.append([trained(f"day {number}")])
        prove(store.log, asked=Asked(), keys=KEYS, at=AT)
    latest = opener().log.latest_heads()
    assert [kept.head.size for kept in latest] == [70, 70]
    assert latest[1].chain == list(store.log.entries())[-1].sha256


def test_growth_is_proved_from_the_stored_head(signed: Store) -> None:
    signed.log.append([trained("day 5")])
    proof = prove(signed.log, asked=Asked(from_size=5), keys=KEYS, at=AT)
    leaves = [entry.raw for entry in signed.log.entries()]
    assert proof.document["consistency"]["root"] == signed.log.heads()[0].root
    assert proof.document["consistency"]["root"] == tree_head(leaves[:5]).root_hex


# ------------------------------------------------------------------ guards


def test_alarm_stands(store: Store, opener: Opener) -> None:
    """DESK-013: what was found once is refused until a person deals with it."""
    filled(store)
    unguarded(store)
    raw(store, "UPDATE ledger_act SET raw = %s WHERE seq = 3", trained("day 9").to_bytes())
    with pytest.raises(ChainBroken, match="entry 3"):
        opener()
    guards.install(store.log.connection)
    for _ in range(2):
        with pytest.raises(AlarmStands, match=r"entry 3 does not.*DESK-010.*DESK-013") as caught:
            opener()
        assert "\n" not in str(caught.value)
    unguarded(store)
    raw(store, "UPDATE ledger_act SET raw = %s WHERE seq = 3", trained("day 3").to_bytes())
    (store.data / "alarm.txt").unlink()  # the untouched entry was put back
    assert opener().mended
    assert opener().mended == ()


def test_a_tail_cut_off_with_the_guards_away_is_held_against_the_heads(
    signed: Store, opener: Opener
) -> None:
    changed(signed, "DELETE FROM ledger_act WHERE seq = 4", back="")
    with pytest.raises(HeadBeyond):
        opener()
    with pytest.raises(AlarmStands, match="LEDG-060"):
        opener()
    assert guards.faults(signed.log.connection)


def test_a_changed_last_entry_is_found_at_the_opening(store: Store, opener: Opener) -> None:
    filled(store)
    unguarded(store)
    raw(store, "UPDATE ledger_act SET raw = %s WHERE seq = 4", trained("day 9").to_bytes())
    guards.install(store.log.connection)
    for _ in range(2):
        with pytest.raises(ChainBroken, match="entry 4 does not fit"):
            opener()


def test_row_refused(tmp_path: Path) -> None:
    """DESK-012: SQLite keeps text where bytes were; that is told, not a traceback."""
    store = filled(open_store(tmp_path))
    changed(store, "UPDATE ledger_act SET raw = CAST(raw AS TEXT) WHERE seq = 2")
    assert store.log.first_broken() == 2
    with pytest.raises(RowRefused, match=r"entry 2: .*DESK-012") as caught:
        list(open_store(tmp_path).log.entries())
    assert "\n" not in str(caught.value)
    changed(store, "UPDATE ledger_act SET sha256 = 'x' WHERE seq = 4")
    with pytest.raises(ChainBroken, match="entry 4"):
        open_store(tmp_path)
    store.close()


def test_text_in_a_row_without_guards_is_refused_each_time(tmp_path: Path) -> None:
    store = filled(open_store(tmp_path))
    changed(store, "UPDATE ledger_act SET raw = CAST(raw AS TEXT) WHERE seq = 2", back="")
    with pytest.raises(ChainBroken, match="entry 2"):
        open_store(tmp_path)
    with pytest.raises(AlarmStands):
        open_store(tmp_path)
    store.close()


def test_a_head_of_another_kind_is_refused(tmp_path: Path) -> None:
    store = filled(open_store(tmp_path))
    prove(store.log, asked=Asked(), keys=KEYS, at=AT)
    changed(store, "UPDATE ledger_head SET size = 'many'")
    with pytest.raises(RowRefused, match="a signed head"):
        open_store(tmp_path)
    store.close()


# ------------------------------------------------------------------ names and commands


def test_a_backup_refuses_a_name_that_was_changed(store: Store, tmp_path: Path) -> None:
    filled(store).log.put_side(NAME, "Ines Marlowe", b"invented salt, 24 bytes!")
    back_up(tmp_path / "good", store, keys=KEYS, at=AT)
    assert check(tmp_path / "good").faults == []
    raw(store, "UPDATE ledger_side SET value = 'Mallory Vane'")
    with pytest.raises(SideOther, match=NAME):
        back_up(tmp_path / "bad", store, keys=KEYS, at=AT)
    assert not (tmp_path / "bad").exists()
    export_ledger(tmp_path / "without", store, keys=KEYS, at=AT)


def test_a_salt_of_another_kind_opens_nothing(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    store.log.put_side(NAME, "Ines Marlowe", b"invented salt, 24 bytes!")
    raw(store, "UPDATE ledger_side SET salt = 'invented salt, 24 bytes!'")
    with pytest.raises(SideOther):
        store.log.side(NAME)
    with pytest.raises(SideOther):
        store.log.side_records()
    store.close()


def _run(data: Path, *arguments: object) -> Result:
    return CliRunner().invoke(cli, [*map(str, arguments), "--data", str(data)])


def test_commands_say_that_guards_were_put_back(tmp_path: Path) -> None:
    store = filled(open_store(tmp_path))
    open_keys(tmp_path / "keys", made_at=AT)
    for command in (["ledger", "rebuild"], ["record", "list"], ["instruments", "list"]):
        asked = ["--as-of", "2026-03-13"] if command[0] != "ledger" else []
        unguarded(store)
        done = _run(tmp_path, *command, *asked)
        assert done.exit_code == 0, done.output
        assert "ledger_act_no_DELETE is missing" in done.stderr
        assert done.stderr.count("\n") == 1
        assert _run(tmp_path, *command, *asked).stderr == ""
    store.close()


def test_rebuild_refuses_a_broken_chain(tmp_path: Path) -> None:
    store = filled(open_store(tmp_path))
    assert "nothing had gone wrong" in _run(tmp_path, "ledger", "rebuild").output
    changed(store, "UPDATE ledger_act SET prev_sha256 = zeroblob(32) WHERE seq = 2")
    done = _run(tmp_path, "ledger", "rebuild")
    assert isinstance(done.exception, LedgerDamaged)
    assert "nothing had gone wrong" not in done.output
    store.close()


def test_rebuild_refuses_heads_that_do_not_fit(tmp_path: Path) -> None:
    store = filled(open_store(tmp_path))
    keys = open_keys(tmp_path / "keys", made_at=AT)
    prove(store.log, asked=Asked(), keys=keys, at=AT)
    changed(store, "UPDATE ledger_head SET signature = '00'")
    done = _run(tmp_path, "ledger", "rebuild")
    assert isinstance(done.exception, HeadForged)
    assert isinstance(done.exception, LapwrightError)
    store.close()


def test_no_record_is_placed_over_a_changed_history(signed: Store) -> None:
    signed.log.append([trained("issued")])
    last = list(signed.log.entries())[-1]
    assert place_of(signed.log, last, KEYS).head.size == 6
    rechained(signed, 1)
    with pytest.raises(HeadOther, match="first 5 entries"):
        place_of(signed.log, last, KEYS)
