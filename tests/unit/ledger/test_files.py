"""Files by content: whole, checked when read, orphans swept."""

from __future__ import annotations

import hashlib
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from lapwright.ledger.errors import FileGone, FilesRefused
from lapwright.ledger.files import FileStore

HOUR = timedelta(hours=1)


def test_a_file_is_named_by_its_sha256_and_comes_back(tmp_path: Path) -> None:
    store = FileStore(tmp_path / "files")
    name = store.put(b"a photograph")
    assert name == hashlib.sha256(b"a photograph").hexdigest()
    assert store.put(b"a photograph") == name
    assert list(store.names()) == [name]
    assert store.get(name) == b"a photograph"


def test_a_changed_or_missing_file_is_refused_when_read(tmp_path: Path) -> None:
    store = FileStore(tmp_path)
    name = store.put(b"a photograph")
    (tmp_path / name[:2] / name).write_bytes(b"another one")
    with pytest.raises(FileGone, match="LEDG-007"):
        store.get(name)
    for absent in ("0" * 64, "../../etc/passwd"):
        with pytest.raises(FileGone, match="LEDG-007"):
            store.get(absent)


def test_a_folder_that_cannot_hold_files_is_refused(tmp_path: Path) -> None:
    (tmp_path / "files").write_text("not a folder")
    with pytest.raises(FilesRefused, match="LEDG-006"):
        FileStore(tmp_path / "files").put(b"x")


def test_a_write_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FilesRefused, match="No space left"):
        FileStore(tmp_path).put(b"x")
    assert not [p for p in tmp_path.rglob("*") if p.is_file()]


def test_only_old_orphans_are_swept(tmp_path: Path) -> None:
    store = FileStore(tmp_path)
    named, orphan = store.put(b"named"), store.put(b"orphan")
    now = datetime.now(UTC)  # noqa: TID251 - file times are the machine's
    assert store.sweep({named}, at=now, after=HOUR) == ()
    assert store.sweep({named}, at=now + 2 * HOUR, after=HOUR) == (orphan,)
    assert list(store.names()) == [named]


def test_an_old_orphan_that_is_put_anew_is_not_swept(tmp_path: Path) -> None:
    store = FileStore(tmp_path)
    name = store.put(b"left behind, then filed after all")
    long_ago = 1_700_000_000.0
    os.utime(tmp_path / name[:2] / name, (long_ago, long_ago))
    assert store.put(b"left behind, then filed after all") == name
    now = datetime.now(UTC)  # noqa: TID251 - file times are the machine's
    assert store.sweep((), at=now, after=HOUR) == ()
    assert store.get(name)


def test_a_file_put_anew_while_it_is_swept_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = FileStore(tmp_path)
    name = store.put(b"filed at this very moment")
    path = tmp_path / name[:2] / name
    os.utime(path, (1_700_000_000.0, 1_700_000_000.0))
    real = os.replace

    def put_just_before(source: Path, target: Path) -> None:
        if Path(source) == path:
            os.utime(path)
        real(source, target)

    monkeypatch.setattr(os, "replace", put_just_before)
    now = datetime.now(UTC)  # noqa: TID251 - file times are the machine's
    assert store.sweep((), at=now, after=HOUR) == ()
    assert store.get(name)
