"""Programs that are killed while they write, write at once, or may not write."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from databases import Server

PROGRAM = Path(__file__).with_name("writers.py")


def run(*words: str) -> dict[str, object]:
    """Run the writers as a program of its own and return what it found."""
    command = [sys.executable, str(PROGRAM), *words]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    found: dict[str, object] = json.loads(done.stdout)
    return found


@pytest.fixture(params=["postgresql", "sqlite"])
def empty(request: pytest.FixtureRequest) -> str:
    """Return the address of a database without tables; empty text is a file."""
    if request.param == "sqlite":
        return ""
    server: Server = request.getfixturevalue("postgresql")
    return server.url(server.empty())


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """Return a folder that every user may enter."""
    with tempfile.TemporaryDirectory(prefix="lapwright-") as name:
        Path(name).chmod(0o755)
        yield Path(name)


def test_killed_writers_lose_and_tear_nothing(tmp_path: Path, empty: str) -> None:
    found = run("kill", str(tmp_path / "ledger"), empty, "20", "7")
    told, acts = int(str(found.pop("told"))), int(str(found.pop("acts")))
    assert found == {
        "rounds": 20,
        "lost": 0,
        "torn": 0,
        "broken": 0,
        "fileless": 0,
        "unindexed": 0,
    }
    assert 40 < told <= acts


def test_four_programs_open_and_write_one_new_ledger_at_once(tmp_path: Path, empty: str) -> None:
    found = run("race", str(tmp_path / "ledger"), empty, "4", "15")
    assert found == {
        "failed": 0,
        "acts": 120,
        "different": 120,
        "forks": 0,
        "broken": 0,
        "unindexed": 0,
    }


def test_store_read_only(open_folder: Path) -> None:
    """DESK-002: folders and files that only somebody else may write."""
    found = run("without-rights", str(open_folder), "")
    assert found.pop("read") == "1"  # what may not be written is read all the same
    for said in found.values():
        assert str(said).endswith("[DESK-002]")
        assert "Nothing of this was filed" in str(said)
    for path in (open_folder, open_folder / "kept"):
        path.chmod(0o755)
    assert {path.name for path in open_folder.iterdir()} == {"own", "kept"}
