"""Exports of ledgers in databases: in use, killed, restored, carried from kind to kind."""

from __future__ import annotations

import functools
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from databases import Server
from lapwright.cli.main import cli
from lapwright.core.errors import LapwrightError
from lapwright.desk.boot import Store, open_store
from lapwright.ledger.checker import check
from lapwright.ledger.keys import open_keys
from lapwright.ledger.log import Log
from lapwright.services.errors import DataMissing
from lapwright.services.ledgerexport import export_ledger
from lapwright.services.ledgerimport import import_ledger, restore
from records.ledgers import AT, NAME, SALT, act, some_acts, some_keys

KEY = some_keys().token_key.public_key().public_bytes_raw()


def _filled(data: Path, database: str = "") -> Store:
    store = open_store(data, database=database)
    store.log.append(list(some_acts(store.files)))
    store.log.put_side(NAME, "Ines Marlowe", SALT)
    return store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    store = _filled(tmp_path / "data")
    yield store
    store.close()


def _same(one: Log, other: Log) -> None:
    assert list(one.entries()) == list(other.entries())
    assert one.heads() == other.heads()
    assert one.side_records() == other.side_records()


def test_a_ledger_goes_from_sqlite_to_postgresql_and_back(
    store: Store, tmp_path: Path, postgresql: Server
) -> None:
    export_ledger(tmp_path / "one", store, keys=some_keys(), at=AT, names="yes")
    moved = open_store(tmp_path / "moved", database=postgresql.url(postgresql.fresh()))
    import_ledger(tmp_path / "one", lambda: moved)
    _same(store.log, moved.log)
    export_ledger(tmp_path / "two", moved, keys=some_keys(), at=AT, names="yes")
    moved.close()
    for name in ("acts.jsonl", "heads.jsonl", "side.jsonl", "manifest.json"):
        assert (tmp_path / "two" / name).read_bytes() == (tmp_path / "one" / name).read_bytes()
    restore(tmp_path / "two", tmp_path / "back", open_store)
    back = open_store(tmp_path / "back")
    _same(store.log, back.log)
    assert back.compare().same == "yes"
    assert list(back.files.names()) == list(store.files.names())
    back.close()


def test_a_restore_into_postgresql_is_read_back(
    store: Store, tmp_path: Path, postgresql: Server
) -> None:
    export_ledger(tmp_path / "out", store, keys=some_keys(), at=AT, names="yes")
    opener = functools.partial(open_store, database=postgresql.url(postgresql.fresh()))
    restore(tmp_path / "out", tmp_path / "new", opener)
    again = opener(tmp_path / "new")
    _same(store.log, again.log)
    assert again.files.get(next(again.files.names()))
    again.close()


WRITER = """
import sys
from pathlib import Path
from lapwright.desk.boot import open_store
from records.ledgers import act
store = open_store(Path(sys.argv[1]))
print("ready", flush=True)
while True:
    store.log.append([act("TrainingGiven", {"person": "p", "what": "x"}, stream="case/W")])
"""


def _python(*arguments: object) -> subprocess.Popen[str]:
    places = os.pathsep.join(path for path in sys.path if path)
    return subprocess.Popen(
        [sys.executable, *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env=os.environ | {"PYTHONPATH": places},
    )


def test_an_export_while_another_process_writes_holds(store: Store, tmp_path: Path) -> None:
    with _python("-c", WRITER, tmp_path / "data") as writer:
        try:
            assert writer.stdout is not None
            assert writer.stdout.readline() == "ready\n"
            for number in range(5):
                out = tmp_path / f"out-{number}"
                export_ledger(out, store, keys=some_keys(), at=AT)
                assert check(out, keys=[KEY]).outcome == "met"
        finally:
            writer.kill()
    assert store.log.size() > 6


def test_a_killed_export_leaves_no_folder_under_its_name(store: Store, tmp_path: Path) -> None:
    store.log.append(
        act("TrainingGiven", {"person": "p", "what": str(n)}, stream="case/K")
        for n in range(20_000)
    )
    for delay in (0.0, 0.02, 0.1):
        command = ["-m", "lapwright", "ledger", "export", tmp_path / "out"]
        with _python(*command, "--data", tmp_path / "data") as export:
            until = time.monotonic() + 30
            while not list(tmp_path.glob(".out.*")) and time.monotonic() < until:
                time.sleep(0.002)
            time.sleep(delay)
            export.send_signal(signal.SIGKILL)
        assert export.returncode == -signal.SIGKILL
        assert not (tmp_path / "out").exists()
    export_ledger(tmp_path / "out", store, keys=some_keys(), at=AT)
    assert check(tmp_path / "out", keys=[KEY]).outcome == "met"


# ------------------------------------------------------------------ the commands


def _run(*arguments: object) -> Result:
    return CliRunner().invoke(cli, ["ledger", *map(str, arguments)])


def _told(*arguments: object) -> str:
    done = _run(*arguments)
    assert done.exit_code == 0, done.output
    return done.output


def test_the_commands_walk_from_a_ledger_to_its_copy_and_back(store: Store, tmp_path: Path) -> None:
    data, out = tmp_path / "data", tmp_path / "out"
    assert "6 entries and 2 files written" in _told("export", out, "--data", data)
    assert not (out / "side.jsonl").exists()
    backup = _told("backup", tmp_path / "bk", "--with-keys", "--data", data)
    assert "With 1 name and" in backup
    assert "not locked by a passphrase" in backup
    trust = tmp_path / "bk" / "trust.pem"
    assert "Drill passed: 6 entries" in _told("restore", tmp_path / "bk", "--drill")
    new = tmp_path / "new"
    assert "read back" in _told("restore", tmp_path / "bk", "--data", new, "--trust", trust)
    assert "6 entries, 2 files" in _told("import", out, "--data", tmp_path / "third")
    proof = _told("prove", "--entry", 1, "--from-size", 2, "--out", tmp_path / "p.json",
                  "--data", new)  # fmt: skip
    assert "Entry 1 (FaceRead) is proved" in proof
    assert "Tree head of 6 entries" in _told("prove", "--data", new)
    assert "made anew" in _told("rebuild", "--data", new)
    for thing in (out, tmp_path / "bk", tmp_path / "p.json"):
        done = CliRunner().invoke(cli, ["verify", str(thing), "--trust", str(trust)])
        assert done.exit_code == 0, done.output
        assert "Every check holds." in done.output


def test_rebuild_sweeps_old_files_that_no_entry_names(store: Store, tmp_path: Path) -> None:
    named = set(store.files.names())
    old, young = store.files.put(b"of a writer cut off"), store.files.put(b"about to be filed")
    long_ago = 1_700_000_000.0
    for name in (*named, old):
        os.utime(store.files.folder / name[:2] / name, (long_ago, long_ago))
    told = _told("rebuild", "--data", tmp_path / "data")
    assert "1 file that no entry names and that was older than a day is deleted." in told
    assert set(store.files.names()) == named | {young}


def test_json_answers_are_one_document(store: Store, tmp_path: Path) -> None:
    for arguments in (
        ("export", tmp_path / "out"),
        ("backup", tmp_path / "bk"),
        ("prove", "--act", next(iter(store.log.entries())).act.sha256),
        ("rebuild",),
        ("restore", tmp_path / "out", "--drill"),
    ):
        done = _run(*arguments, "--data", tmp_path / "data", "--json")
        assert done.exit_code == 0, done.output
        assert isinstance(json.loads(done.stdout), dict)


@pytest.mark.parametrize(
    "command", [("export", "out"), ("backup", "out"), ("prove",), ("rebuild",)]
)
def test_a_misspelt_folder_makes_no_ledger(tmp_path: Path, command: tuple[str, ...]) -> None:
    done = _run(*command, "--data", tmp_path / "nowhere")
    assert isinstance(done.exception, DataMissing)
    assert not (tmp_path / "nowhere").exists()


def test_a_refused_restore_or_import_leaves_nothing(store: Store, tmp_path: Path) -> None:
    _told("export", tmp_path / "out", "--data", tmp_path / "data")
    acts = tmp_path / "out" / "acts.jsonl"
    acts.write_bytes(acts.read_bytes()[:-1])
    for command in ("restore", "import"):
        done = _run(command, tmp_path / "out", "--data", tmp_path / "new")
        assert isinstance(done.exception, LapwrightError)
        assert "entry 5" in str(done.exception)
        assert not (tmp_path / "new").exists()


def test_locked_keys_are_opened_by_the_passphrase_of_the_environment(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    open_keys(tmp_path / "data" / "keys", made_at=AT, passphrase=b"long enough")
    done = _run("export", tmp_path / "out", "--data", tmp_path / "data")
    assert isinstance(done.exception, LapwrightError)
    monkeypatch.setenv("LAPWRIGHT_PASSPHRASE", "long enough")
    told = _told("backup", tmp_path / "bk", "--with-keys", "--data", tmp_path / "data")
    assert "With the keys" in told
    assert "not locked" not in told


def test_a_case_folder_is_filed_once(tmp_path: Path) -> None:
    from street.building import case_folder

    folder = case_folder(tmp_path)
    first = _told("import", folder, "--data", tmp_path / "data")
    again = _told("import", folder, "--data", tmp_path / "data")
    assert " 0 entries added" in again
    assert " 0 entries added" not in first
