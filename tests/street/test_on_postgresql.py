"""The whole street on PostgreSQL by the commands, and the export taken into SQLite again."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from databases import Server
from lapwright.cli.common import open_ledger
from lapwright.services.errors import CaseOpen
from records.hands import write_pair

from .building import AS_OF, case_folder
from .conftest import Shell
from .paperwork import paper_document, scan, written


@pytest.fixture
def database(postgresql: Server, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """An empty database that the commands of this test use."""
    name = postgresql.empty()
    monkeypatch.setenv("LAPWRIGHT_DATABASE", postgresql.url(name))
    yield name
    postgresql.drop(name)


def test_from_the_case_to_the_verified_export(
    shell: Shell, tmp_path: Path, database: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    case, data, out = case_folder(tmp_path), tmp_path / "data", tmp_path / "out"
    at = ("--data", data)
    filed = shell.json("ledger", "import", case, *at)
    assert (filed["added"], filed["known"]) == ("97", "0")
    issue = ("issue", case, "--as-of", AS_OF, "--out", out, *at)
    made = shell.json(*issue)
    assert (made["number"], made["register"], made["issued"]) == ("TST-01-QP7K", "1", "new")
    assert shell.json(*issue)["file_sha256"] == made["file_sha256"]
    key = write_pair(tmp_path / "hollis.pem", "Hollis Wren")
    certify = ("record", "certify", "TST-01-QP7K", "--by", "hollis", "--key", key, "--out", out)
    signed = shell.json(*certify, *at)
    assert shell.json("verify", signed["path"], *at)["outcome"] == "undetermined"
    assert shell.run("verify", made["path"], *at).exit_code == 1  # cut back to the first signature
    paper = written(tmp_path / "paper.yaml", paper_document())
    entered = shell.run("paper", "enter", paper, "--scan", scan(tmp_path), *at)
    assert entered.exit_code == 0, (entered.output, entered.exception)
    dates = ("--since", "2026-01-10", "--found-on", "2026-05-04")
    shell.json("instruments", "doubt", "CAL-2", *dates, "--reason", "long", "--by", "lead", *at)
    later = ("issue", case, "--as-of", "2026-06-01", "--out", out, *at)
    assert isinstance(shell.run(*later).exception, CaseOpen)
    why = ("--by", "lead", "--reason", "mixed up", *at)
    shell.json("record", "withdraw", "TST-01-QP7K", *why)
    (row,) = shell.json("record", "list", *at)["records"]  # type: ignore[misc]
    assert row["state"] == "withdrawn"
    rebuilt = shell.json("ledger", "rebuild", *at)
    assert (rebuilt["was"], rebuilt["is"]) == ("yes", "yes")
    export, trust = tmp_path / "export", data / "keys" / "trust.pem"
    shell.json("ledger", "export", export, *at)
    assert shell.json("verify", export, "--trust", trust)["outcome"] == "met"
    assert not list(data.glob("*.sqlite3"))
    monkeypatch.delenv("LAPWRIGHT_DATABASE")
    shell.json("ledger", "import", export, "--trust", trust, "--data", tmp_path / "moved")
    moved = [e.sha256 for e in open_ledger(tmp_path / "moved").log.entries()]
    assert len(moved) == int(rebuilt["entries"])  # type: ignore[call-overload]
