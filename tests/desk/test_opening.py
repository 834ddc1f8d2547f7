"""Opening ledgers: making them, finding them again, and being told why not."""

from __future__ import annotations

import re
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from django.db import DatabaseError

from databases import Server
from desk.acts import filled, raw, told, trained
from desk.conftest import Opener
from lapwright.desk.addresses import address_of
from lapwright.desk.boot import Store, open_log, open_store
from lapwright.desk.errors import (
    AddressRefused,
    StoreBusy,
    StoreDamaged,
    StoreFull,
    StoreReadOnly,
    StoreTooNew,
    StoreUnreachable,
    TextRefused,
)
from lapwright.desk.store.faults import told as telling
from repo.tree import ROOT


def test_a_ledger_is_found_again(store: Store, opener: Opener) -> None:
    filled(store)
    store.close()
    again = opener()
    assert told(again) == [f"day {n}" for n in range(5)]
    assert again.mended == ()
    assert again.files.folder == again.data / "files"


def test_two_ledgers_are_open_at_once(tmp_path: Path) -> None:
    one, two = open_log(tmp_path / "one"), open_log(tmp_path / "two")
    one.append([trained("in one")])
    two.append([trained("in two"), trained("in two again")])
    assert (one.size(), two.size()) == (1, 2)
    one.close()
    two.close()


def test_a_new_ledger_holds_its_database_and_a_note_of_it(tmp_path: Path) -> None:
    open_store(tmp_path / "deep" / "ledger").close()
    found = sorted(p.name for p in (tmp_path / "deep" / "ledger").iterdir())
    assert found == ["ledger.json", "ledger.sqlite3"]
    assert (tmp_path / "deep" / "ledger").stat().st_mode & 0o077 == 0


def test_an_sqlite_ledger_flushes_at_every_commit_and_wipes_what_it_deletes(
    tmp_path: Path,
) -> None:
    store = open_store(tmp_path)
    found = {
        name: raw(store, f"PRAGMA {name}")[0][0]
        for name in ("journal_mode", "synchronous", "recursive_triggers", "secure_delete")
    }
    assert found == {
        "journal_mode": "wal",
        "synchronous": 2,
        "recursive_triggers": 1,
        "secure_delete": 1,
    }
    store.close()


def test_a_removed_name_leaves_no_trace_in_the_files(tmp_path: Path) -> None:
    store = open_store(tmp_path)
    store.log.put_side("ab" * 32, "Ines Marlowe of Tidewater Lane", b"s" * 16)
    assert any(b"Ines Marlowe" in path.read_bytes() for path in tmp_path.glob("ledger*"))
    store.log.remove_side("ab" * 32)
    assert not any(b"Ines Marlowe" in path.read_bytes() for path in tmp_path.glob("ledger*"))
    store.close()


def test_threads_have_connections_of_their_own(store: Store) -> None:
    def file(name: str) -> None:
        for number in range(10):
            store.log.append([trained(f"{name}{number}")])
        store.close()

    threads = [threading.Thread(target=file, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(told(store)) == sorted(f"{name}{n}" for name in "abcd" for n in range(10))
    assert store.log.first_broken() is None


def test_opening_loads_no_web_and_no_pictures() -> None:
    code = (
        "import sys, tempfile, pathlib\nfrom lapwright.desk.boot import open_store\n"
        "folder = tempfile.TemporaryDirectory()\n"
        "open_store(pathlib.Path(folder.name)).close()\n"
        "heavy = ['numpy', 'cv2', 'typst', 'pyhanko', 'psycopg', 'django.contrib.admin',"
        " 'django.contrib.auth', 'django.contrib.sessions', 'django.test']\n"
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stdout.strip() == "[]", done.stderr


# ------------------------------------------------------------------ refusals
def one_line(refusal: pytest.ExceptionInfo[Exception], code: str) -> str:
    said = str(refusal.value)
    assert "\n" not in said
    assert said.endswith(f"[{code}]")
    return said


def test_store_full_on_sqlite(tmp_path: Path) -> None:
    """DESK-001: SQLite is given no more pages, as on a full disk."""
    store = filled(open_store(tmp_path))
    pages = raw(store, "PRAGMA page_count")[0][0]
    raw(store, f"PRAGMA max_page_count = {pages}")
    before = store.log.size()
    with pytest.raises(StoreFull) as caught:
        store.log.append([trained("x" * 500) for _ in range(400)])
    assert "Free some room" in one_line(caught, "DESK-001")
    assert store.log.size() == before
    raw(store, "PRAGMA max_page_count = 1000000")
    store.log.append([trained("room again")])
    assert store.log.first_broken() is None
    assert store.compare().same == "yes"
    store.close()


def test_store_full_on_postgresql(tmp_path: Path, postgresql: Server) -> None:
    """DESK-001: a trigger raises what PostgreSQL raises on a full disk."""
    name = postgresql.fresh()
    store = filled(open_store(tmp_path, database=postgresql.url(name)))
    postgresql.run(
        "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS "
        "$$BEGIN RAISE EXCEPTION 'no space left on device' USING ERRCODE = 'disk_full'; END$$",
        "CREATE TRIGGER full_disk BEFORE INSERT ON ledger_subject "
        "FOR EACH ROW EXECUTE FUNCTION full_disk()",
        database=name,
    )
    with pytest.raises(StoreFull) as caught:
        store.log.append([trained("day 5")])
    assert "no space left" in one_line(caught, "DESK-001")
    assert told(store) == [f"day {n}" for n in range(5)]
    store.close()


def test_store_read_only_on_postgresql(tmp_path: Path, postgresql: Server) -> None:
    """DESK-002: a role without rights is told so."""
    name = postgresql.fresh()
    postgresql.run("DROP ROLE IF EXISTS guest", "CREATE ROLE guest LOGIN")
    with pytest.raises(StoreReadOnly) as caught:
        open_store(tmp_path, database=postgresql.url(name, "guest"))
    assert "permission denied" in one_line(caught, "DESK-002")


def test_store_busy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """DESK-003: a lock that is held too long."""
    monkeypatch.setattr("lapwright.desk.addresses.WAIT_SECONDS", 0.1)
    store = filled(open_store(tmp_path))
    other = sqlite3.connect(tmp_path / "ledger.sqlite3", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(StoreBusy) as caught:
        store.log.append([trained("day 5")])
    one_line(caught, "DESK-003")
    other.execute("ROLLBACK")
    other.close()
    store.log.append([trained("day 5")])
    assert store.log.size() == 6
    store.close()


def test_store_busy_on_postgresql(
    tmp_path: Path, postgresql: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    """DESK-003: a lock that is held too long."""
    monkeypatch.setattr("lapwright.desk.addresses.WAIT_SECONDS", 0.1)
    url = postgresql.url(postgresql.fresh())
    store = filled(open_store(tmp_path, database=url))
    monkeypatch.setattr("lapwright.desk.addresses.WAIT_SECONDS", 20)
    other = open_store(tmp_path, database=url)
    raw(other, "BEGIN")
    raw(other, "LOCK TABLE ledger_act")
    with pytest.raises(StoreBusy) as caught:
        store.log.append([trained("day 5")])
    one_line(caught, "DESK-003")
    raw(other, "ROLLBACK")
    store.log.append([trained("day 5")])
    assert store.log.size() == 6
    store.close()
    other.close()


def test_store_unreachable(tmp_path: Path) -> None:
    """DESK-004: no folder can be made here, no server answers there."""
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(StoreUnreachable) as caught:
        open_store(tmp_path / "file" / "ledger")
    one_line(caught, "DESK-004")
    with pytest.raises(StoreUnreachable) as caught:
        open_store(tmp_path, database=f"postgresql://me:geheim@/x?host={tmp_path}")
    assert "geheim" not in one_line(caught, "DESK-004")


def test_a_cut_connection_is_told_and_made_anew(tmp_path: Path, postgresql: Server) -> None:
    name = postgresql.fresh()
    store = filled(open_store(tmp_path, database=postgresql.url(name)))
    postgresql.run(
        f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'"
    )
    with pytest.raises(StoreUnreachable) as caught:
        store.log.append([trained("day 5")])
    one_line(caught, "DESK-004")
    store.close()
    store.log.append([trained("day 5")])
    assert store.log.size() == 6
    store.close()


def test_store_damaged(tmp_path: Path) -> None:
    """DESK-005: a file that is no database is neither used nor overwritten."""
    path = tmp_path / "ledger.sqlite3"
    path.write_bytes(b"these are not the acts you look for" * 100)
    before = path.read_bytes()
    with pytest.raises(StoreDamaged) as caught:
        open_store(tmp_path)
    one_line(caught, "DESK-005")
    assert path.read_bytes() == before


def test_store_too_new(store: Store, opener: Opener) -> None:
    """DESK-008: tables of a later release are left alone."""
    raw(
        store,
        "INSERT INTO django_migrations (app, name, applied) "
        "VALUES ('store', '9999_later', CURRENT_TIMESTAMP)",
    )
    with pytest.raises(StoreTooNew, match="9999_later") as caught:
        opener()
    one_line(caught, "DESK-008")


@pytest.mark.parametrize(
    "database",
    ["mysql://x/y", "ledger.db", "postgresql://me:geheim@[host/x", "postgresql://me@host"],
)
def test_address_refused(tmp_path: Path, database: str) -> None:
    """DESK-009: addresses are not repeated, they may hold a password."""
    with pytest.raises(AddressRefused) as caught:
        address_of(tmp_path, database)
    assert "geheim" not in one_line(caught, "DESK-009")


def test_address_refused_without_the_driver(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """DESK-009: the extra that brings the driver is named."""
    monkeypatch.setitem(sys.modules, "psycopg", None)
    with pytest.raises(AddressRefused, match=r"pip install 'lapwright\[postgres\]'"):
        address_of(tmp_path, "postgresql://me@host/x")


@pytest.mark.parametrize("stream", ["case/" + "ü" * 130, "case/\0"])
def test_text_refused(store: Store, stream: str) -> None:
    """DESK-011: what one database cannot index, none takes."""
    with pytest.raises(TextRefused) as caught:
        store.log.append([trained("a"), trained("b", stream=stream)])
    one_line(caught, "DESK-011")
    with pytest.raises(TextRefused):
        store.log.append([trained("a")], expect={stream: 0})
    with pytest.raises(TextRefused):
        store.log.put_side("ab" * 32, "Ines\0Marlowe", b"s" * 16)
    assert store.log.size() == 0


def test_faults_of_our_own_are_not_dressed_up(store: Store) -> None:
    with pytest.raises(DatabaseError, match="nonsense"), telling("here"):
        raw(store, "SELECT nonsense FROM ledger_act")


# ------------------------------------------------------------------ the how-to
def test_the_roles_of_the_how_to_file_acts_and_cannot_undo_them(
    tmp_path: Path, postgresql: Server
) -> None:
    page = (ROOT / "docs/how-to/run-on-postgresql.md").read_text(encoding="utf-8")
    first, grants = re.findall(r"```sql\n(.*?)```", page, re.DOTALL)
    postgresql.run("DROP DATABASE IF EXISTS ledger")
    postgresql.run(*filter(None, map(str.strip, first.split(";"))))
    open_store(tmp_path, database=postgresql.url("ledger", "lapwright_owner")).close()
    postgresql.run(
        "SET ROLE lapwright_owner; " + grants,
        database="ledger",
    )
    store = filled(open_store(tmp_path, database=postgresql.url("ledger", "lapwright_desk")))
    store.log.put_side("ab" * 32, "Ines Marlowe", b"s" * 16)
    store.log.put_side("ab" * 32, "Ines Marlowe-Quayle", b"s" * 16)
    store.log.remove_side("ab" * 32)
    assert store.rebuild() == 10
    assert store.compare().same == "yes"
    for deed in (
        "UPDATE ledger_act SET raw = raw",
        "DELETE FROM ledger_act",
        "TRUNCATE ledger_act",
        "ALTER TABLE ledger_act DISABLE TRIGGER ALL",
        "DROP TRIGGER ledger_act_next ON ledger_act",
        "DROP TABLE ledger_act",
        "CREATE OR REPLACE FUNCTION ledger_check() RETURNS trigger LANGUAGE plpgsql AS 'x'",
        "CREATE TABLE mine (x int)",
        "SET session_replication_role = 'replica'",
    ):
        with pytest.raises(Exception, match=r"permission denied|must be owner"):
            raw(store, deed)
    # a temporary table of the same name does not mislead the guards
    raw(store, "CREATE TEMP TABLE ledger_act AS SELECT * FROM public.ledger_act")
    raw(store, "UPDATE pg_temp.ledger_act SET sha256 = decode(repeat('01', 32), 'hex')")
    with pytest.raises(Exception, match="not linked"):
        raw(
            store,
            "INSERT INTO public.ledger_act SELECT 5, stream, 5, type, sha256, "
            "sha256(sha256 || raw), raw FROM pg_temp.ledger_act WHERE seq = 4",
        )
    store.close()
