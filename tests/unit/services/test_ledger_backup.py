"""Backups, restores and drills."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from lapwright.ledger.checker import check
from lapwright.ledger.errors import LedgerDamaged
from lapwright.ledger.keys import open_keys
from lapwright.ledger.log import Entry, MemoryLog
from lapwright.services.ledgerexport import back_up
from lapwright.services.ledgerimport import drill, restore
from records.ledgers import AT, Ledger, small_ledger, some_keys

KEY = some_keys().token_key.public_key().public_bytes_raw()


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    return small_ledger(tmp_path / "data")


def _kept_keys(folder: Path) -> None:
    open_keys(folder / "keys", made_at=AT, passphrase=b"long enough")


def test_a_backup_with_keys_is_put_back_whole(tmp_path: Path) -> None:
    ledger = small_ledger(tmp_path / "data")
    _kept_keys(tmp_path / "data")
    report = back_up(tmp_path / "out", ledger, keys=some_keys(), at=AT, with_keys="yes")
    assert report.keys == "locked"
    assert check(tmp_path / "out", keys=[KEY]).outcome == "met"
    made: list[Ledger] = []

    def opener(folder: Path) -> Ledger:
        made.append(Ledger(folder))
        return made[-1]

    assert restore(tmp_path / "out", tmp_path / "new", opener).keys == "yes"
    assert list(made[0].log.entries()) == list(ledger.log.entries())
    assert made[0].log.heads() == ledger.log.heads()
    assert made[0].log.side_records() == ledger.log.side_records()
    for name in ("signing-key.pem", "token-key.pem", "salt.bin", "certificate.pem", "trust.pem"):
        kept, again = tmp_path / "data" / "keys" / name, tmp_path / "new" / "keys" / name
        assert again.read_bytes() == kept.read_bytes()
        assert again.stat().st_mode & 0o777 == 0o600
    assert list(Ledger(tmp_path / "new").files.names()) == list(ledger.files.names())


def test_a_backup_without_keys_says_so(ledger: Ledger, tmp_path: Path) -> None:
    report = back_up(tmp_path / "out", ledger, keys=some_keys(), at=AT)
    assert (report.keys, report.names) == ("no", "yes")
    assert restore(tmp_path / "out", tmp_path / "new", Ledger).keys == "no"
    assert not (tmp_path / "new" / "keys").exists()


def test_a_drill_keeps_nothing(
    ledger: Ledger, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    back_up(tmp_path / "out", ledger, keys=some_keys(), at=AT)
    (tmp_path / "drills").mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "drills"))
    report = drill(tmp_path / "out", Ledger, trust=some_keys().trust)
    assert report.taken.checked.acts == 6
    assert not list((tmp_path / "drills").iterdir())


def test_what_is_read_back_otherwise_is_not_put_in_place(ledger: Ledger, tmp_path: Path) -> None:
    back_up(tmp_path / "out", ledger, keys=some_keys(), at=AT)

    class Forgetful(MemoryLog):
        def entries(self, **asked: Any) -> Iterator[Entry]:
            yield from list(super().entries(**asked))[:-1]

    with pytest.raises(LedgerDamaged, match="entry 5"):
        restore(tmp_path / "out", tmp_path / "new", lambda folder: Ledger(folder, Forgetful()))
    assert not (tmp_path / "new").exists()
