"""A folder says where its ledger is kept: no second ledger starts silently under the same keys."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from databases import Server
from desk.acts import filled, told
from lapwright.desk.boot import open_store
from lapwright.desk.errors import LedgerElsewhere, LedgerGone, PlaceUnread


def one_line(refusal: pytest.ExceptionInfo[Exception], code: str) -> str:
    said = str(refusal.value)
    assert "\n" not in said
    assert said.endswith(f"[{code}]")
    return said


def with_keys(folder: Path) -> Path:
    (folder / "keys").mkdir(parents=True)
    (folder / "keys" / "salt").write_bytes(b"s" * 32)
    return folder


def test_ledger_elsewhere(tmp_path: Path, postgresql: Server) -> None:
    """DESK-030: the folder of a PostgreSQL ledger opens no file, and no other database."""
    name = postgresql.fresh()
    filled(open_store(tmp_path, database=postgresql.url(name))).close()
    noted = (tmp_path / "ledger.json").read_text(encoding="utf-8")
    assert name in noted
    assert "keeper" not in noted
    with pytest.raises(LedgerElsewhere) as caught:
        open_store(tmp_path)
    assert "LAPWRIGHT_DATABASE" in one_line(caught, "DESK-030")
    assert name in str(caught.value)
    assert not (tmp_path / "ledger.sqlite3").exists()
    other = postgresql.fresh()
    with pytest.raises(LedgerElsewhere):
        open_store(tmp_path, database=postgresql.url(other))
    again = open_store(tmp_path, database=postgresql.url(name))
    assert again.log.size() == 5
    again.close()


def test_a_folder_with_a_file_opens_no_server(tmp_path: Path, postgresql: Server) -> None:
    filled(open_store(tmp_path)).close()
    url = postgresql.url(postgresql.fresh())
    with pytest.raises(LedgerElsewhere, match="Unset LAPWRIGHT_DATABASE"):
        open_store(tmp_path, database=url)
    (tmp_path / "ledger.json").unlink()  # as in a folder made before there were notes
    with pytest.raises(LedgerElsewhere):
        open_store(tmp_path, database=url)
    store = open_store(tmp_path)
    assert told(store) == [f"day {n}" for n in range(5)]
    assert json.loads((tmp_path / "ledger.json").read_text())["database"] == "ledger.sqlite3"
    store.close()


@pytest.mark.parametrize("sign", ["keys", "files", "ledger.json"])
def test_ledger_gone(tmp_path: Path, sign: str) -> None:
    """DESK-031: a deleted database is not made anew as long as something tells of it."""
    store = filled(open_store(tmp_path))
    store.files.put(b"a scan")
    store.close()
    with_keys(tmp_path)
    for name in {"keys", "files", "ledger.json"} - {sign}:
        gone = tmp_path / name
        shutil.rmtree(gone) if gone.is_dir() else gone.unlink()
    for left in tmp_path.glob("ledger.sqlite3*"):
        left.unlink()
    with pytest.raises(LedgerGone) as caught:
        open_store(tmp_path)
    assert sign in one_line(caught, "DESK-031")
    assert not (tmp_path / "ledger.sqlite3").exists()


def test_an_empty_file_is_not_taken_for_a_ledger(tmp_path: Path) -> None:
    (tmp_path / "ledger.sqlite3").touch()
    with pytest.raises(LedgerGone, match="an empty file"):
        open_store(tmp_path)
    assert not (tmp_path / "ledger.sqlite3").stat().st_size


def test_an_emptied_server_is_not_taken_for_a_new_one(tmp_path: Path, postgresql: Server) -> None:
    name = postgresql.fresh()
    filled(open_store(tmp_path, database=postgresql.url(name))).close()
    postgresql.drop(name)
    postgresql.run(f"CREATE DATABASE {name}")
    with pytest.raises(LedgerGone):
        open_store(tmp_path, database=postgresql.url(name))
    (tmp_path / "ledger.json").unlink()
    with_keys(tmp_path)
    with pytest.raises(LedgerGone):
        open_store(tmp_path, database=postgresql.url(name))


def test_a_ledger_whose_folder_was_moved_is_found(tmp_path: Path) -> None:
    filled(open_store(tmp_path / "one")).close()
    (tmp_path / "one").rename(tmp_path / "two")
    store = open_store(tmp_path / "two")
    assert store.log.size() == 5
    store.close()


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"format": "another", "database": "x"}'])
def test_place_unread(tmp_path: Path, text: str) -> None:
    """DESK-032: a note that cannot be read is not written over."""
    filled(open_store(tmp_path)).close()
    (tmp_path / "ledger.json").write_text(text)
    with pytest.raises(PlaceUnread) as caught:
        open_store(tmp_path)
    one_line(caught, "DESK-032")
    assert (tmp_path / "ledger.json").read_text() == text
