"""The database itself refuses to change what was filed."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import IntegrityError, transaction

from databases import Server
from desk.acts import filled, raw, told, trained
from desk.conftest import Opener
from lapwright.desk.boot import Store, open_store
from lapwright.desk.errors import ActsRefused, ChainBroken, GuardsRefused, StoreDamaged
from lapwright.desk.store.guards import faults
from lapwright.ledger.heads import SignedHead
from lapwright.ledger.tree import tree_head

ROOT = tree_head([trained("day 0").to_bytes()]).root_hex
HEAD = SignedHead(1, ROOT, "2026-03-13T00:00:00Z", "k" * 16, "00")
SAME = "SELECT seq, stream, version, type, prev_sha256, sha256, raw FROM ledger_act WHERE seq = 2"
COLUMNS = "(seq, stream, version, type, prev_sha256, sha256, raw)"
CHANGES = [
    "UPDATE ledger_act SET raw = raw",
    "UPDATE ledger_act SET stream = 'x' WHERE seq = 4",
    "DELETE FROM ledger_act WHERE seq = 4",
    "DELETE FROM ledger_act",
    "UPDATE ledger_head SET at = 'later'",
    "DELETE FROM ledger_head",
]
# each by itself, since PostgreSQL and SQLite say some of them differently
ON_SQLITE = [
    f"INSERT OR REPLACE INTO ledger_act {SAME}",
    f"REPLACE INTO ledger_act {COLUMNS} SELECT 5, stream, version, type, "
    "(SELECT sha256 FROM ledger_act WHERE seq = 4), sha256, raw FROM ledger_act WHERE seq = 2",
    "UPDATE OR REPLACE ledger_act SET seq = 1 WHERE seq = 2",
    "INSERT OR REPLACE INTO ledger_head SELECT * FROM ledger_head",
    "INSERT OR REPLACE INTO ledger_head SELECT 9, size, 'x', at, key, signature FROM ledger_head",
    f"INSERT OR IGNORE INTO ledger_act {COLUMNS} SELECT 9, 'z', 0, type, sha256, sha256, raw "
    "FROM ledger_act WHERE seq = 4",
]
ON_POSTGRESQL = [
    "TRUNCATE ledger_act",
    "TRUNCATE ledger_head",
    f"INSERT INTO ledger_act {SAME} ON CONFLICT (seq) DO UPDATE SET raw = excluded.raw",
    "SET LOCAL session_replication_role = 'replica'; DELETE FROM ledger_act",
    f"INSERT INTO ledger_act {COLUMNS} SELECT 9, 'z', 0, type, sha256, "
    "sha256(sha256 || raw), raw FROM ledger_act WHERE seq = 4",
]


def refusals(store: Store) -> list[str]:
    """Try every change; return those that the database let through."""
    other = ON_POSTGRESQL if store.log.connection.vendor == "postgresql" else ON_SQLITE
    before = raw(store, "SELECT * FROM ledger_act ORDER BY seq")
    passed = []
    for change in [*CHANGES, *other]:
        try:
            with transaction.atomic(using=store.log.alias):
                raw(store, change)
            passed.append(change)
        except IntegrityError:
            pass
    assert raw(store, "SELECT * FROM ledger_act ORDER BY seq") == before
    assert store.log.heads() == (HEAD,)
    return passed


def test_what_was_filed_is_neither_changed_nor_replaced_nor_removed(store: Store) -> None:
    filled(store).log.put_head(HEAD)
    assert refusals(store) == []


def test_the_check_of_changes_sees_what_passes_without_guards(store: Store) -> None:
    filled(store).log.put_head(HEAD)
    unguarded(store)
    # the ledger is thrown away: a real one would be refused at its next opening
    with pytest.raises(AssertionError):
        refusals(store)


def unguarded(store: Store) -> None:
    """Take the guards away, as an owner of the tables can."""
    if store.log.connection.vendor == "postgresql":
        for table in ("ledger_act", "ledger_head"):
            raw(store, f"ALTER TABLE {table} DISABLE TRIGGER ALL")
        return
    for name, *_ in raw(store, "SELECT name FROM sqlite_master WHERE type = 'trigger'"):
        raw(store, f"DROP TRIGGER {name}")


@pytest.mark.parametrize(
    ("number", "version", "prev", "what"),
    [
        (5, 5, b"\0" * 32, "not linked"),
        (6, 5, None, "number|not linked"),
        (5, 6, None, "version"),
        (5, 4, None, "version|already exists"),
    ],
)
def test_acts_that_do_not_continue_the_chain_are_refused(
    store: Store, number: int, version: int, prev: bytes | None, what: str
) -> None:
    last = list(filled(store).log.entries())[-1]
    before = bytes.fromhex(last.sha256) if prev is None else prev
    digest = hashlib.sha256(before + last.raw).digest()
    row = (number, "case/A", version, "TrainingGiven", before, digest, last.raw)
    with pytest.raises(IntegrityError, match=what):
        raw(store, f"INSERT INTO ledger_act {COLUMNS} VALUES ({', '.join(['%s'] * 7)})", *row)


def test_postgresql_checks_the_digest_too(tmp_path: Path, postgresql: Server) -> None:
    store = filled(open_store(tmp_path, database=postgresql.url(postgresql.fresh())))
    last = list(store.log.entries())[-1]
    row = (5, "case/A", 5, "TrainingGiven", bytes.fromhex(last.sha256), b"\1" * 32, last.raw)
    with pytest.raises(IntegrityError, match="not linked"):
        raw(store, f"INSERT INTO ledger_act {COLUMNS} VALUES ({', '.join(['%s'] * 7)})", *row)
    store.close()


def test_acts_refused(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """DESK-006: what the guards refuse in our own writing is told in one line."""
    filled(store)
    monkeypatch.setattr("lapwright.desk.store.reading.tip", lambda _: (5, b"\1" * 32))
    with pytest.raises(ActsRefused, match=r"DESK-006") as caught:
        store.log.append([trained("day 5")])
    assert "\n" not in str(caught.value)


def test_altering_the_table_in_a_migration_leaves_the_guards(
    store: Store, opener: Opener, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled(store).log.put_head(HEAD)
    package = tmp_path / "later_migrations"
    package.mkdir()
    first = Path(sys.modules["lapwright.desk.store.apps"].__file__ or "").parent / "migrations"
    for path in first.glob("*.py"):
        (package / path.name).write_text(path.read_text())
    (package / "0002_altered.py").write_text(
        "from django.db import migrations, models\n"
        "class Migration(migrations.Migration):\n"
        "    dependencies = [('store', '0001_ledger')]\n"
        "    operations = [migrations.AlterField('ActRow', 'type',"
        " models.CharField(max_length=200))]\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setattr(settings, "MIGRATION_MODULES", {"store": "later_migrations"})
    call_command("migrate", "store", database=store.log.alias, interactive=False, verbosity=0)
    assert "0002_altered" in [row[0] for row in raw(store, "SELECT name FROM django_migrations")]
    assert refusals(store) == []
    assert told(store) == [f"day {n}" for n in range(5)]


@pytest.mark.parametrize("deed", ["drop", "alter", "off"])
def test_missing_guards_are_found_and_put_back_at_the_next_opening(
    store: Store, opener: Opener, deed: str
) -> None:
    filled(store).log.put_head(HEAD)
    spoilt(store, deed)
    mended = opener().mended
    assert len(mended) == 1
    assert mended[0].startswith("ledger_act_n")
    assert refusals(store) == []
    assert opener().mended == ()


def spoilt(store: Store, deed: str) -> None:
    """Drop a guard, make it toothless, or switch it off (SQLite: drop another one)."""
    if store.log.connection.vendor == "postgresql":
        empty = "BEGIN RETURN NULL; END"
        raw(
            store,
            {
                "drop": "DROP TRIGGER ledger_act_no_change ON ledger_act",
                "alter": "CREATE OR REPLACE FUNCTION ledger_check() RETURNS trigger "
                f"LANGUAGE plpgsql AS '{empty}'",
                "off": "ALTER TABLE ledger_act DISABLE TRIGGER ledger_act_no_change",
            }[deed],
        )
        return
    name = {"drop": "ledger_act_no_UPDATE", "alter": "ledger_act_next"}.get(
        deed, "ledger_act_no_DELETE"
    )
    raw(store, f"DROP TRIGGER {name}")
    if deed == "alter":
        raw(store, f"CREATE TRIGGER {name} BEFORE INSERT ON ledger_act BEGIN SELECT 1; END")


def test_guards_refused(store: Store, opener: Opener) -> None:
    """DESK-007: a trigger that is not ours is named, and nothing is filed behind its back."""
    filled(store)
    if store.log.connection.vendor == "postgresql":
        raw(
            store,
            "CREATE FUNCTION odd() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'",
        )
        raw(
            store,
            "CREATE TRIGGER odd BEFORE INSERT ON ledger_act FOR EACH ROW EXECUTE FUNCTION odd()",
        )
    else:
        raw(store, "CREATE TRIGGER odd AFTER INSERT ON ledger_act BEGIN SELECT 1; END")
    with pytest.raises(GuardsRefused, match=r"odd is not ours.*DESK-007"):
        opener()


def test_chain_broken(store: Store, opener: Opener) -> None:
    """DESK-010: whoever takes the guards off and changes an act is found at the next opening."""
    filled(store)
    unguarded(store)
    other = trained("day 9").to_bytes()
    raw(store, "UPDATE ledger_act SET raw = %s WHERE seq = 3", other)
    with pytest.raises(ChainBroken, match=r"entry 3 does not fit.*DESK-010"):
        opener()
    assert refusals_left(store), "the guards stay away as a second alarm"
    (store.data / "alarm.txt").unlink()
    with pytest.raises(ChainBroken):
        opener()


def refusals_left(store: Store) -> tuple[str, ...]:
    return faults(store.log.connection)


def test_a_file_without_tables_is_not_taken_for_an_empty_ledger(
    store: Store, opener: Opener
) -> None:
    filled(store)
    raw(store, "DROP TABLE ledger_act")
    with pytest.raises(StoreDamaged, match=r"no ledger_act.*DESK-005"):
        opener()
