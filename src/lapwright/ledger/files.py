"""Files kept by what they hold: photographs, scans, signed PDFs under their SHA-256.

A file is written whole, with its folder flushed, before any act names it. It is
never changed; what is read is checked against its name. A file that no act
names (its writer was cut off) is an orphan and is swept once it is old enough.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from collections.abc import Collection, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from .errors import FileGone, FilesRefused

_NAME = re.compile(r"^[0-9a-f]{64}$")


class FileStore:
    """The folder ``files`` of a ledger: ``ab/ab12…`` for each file.

    Parameters
    ----------
    folder : Path
        Made when the first file is put.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def put(self, data: bytes) -> str:
        """Keep ``data`` and return its SHA-256; a second time changes nothing.

        Raises
        ------
        FilesRefused
            If the folder cannot be written or the disk is full; nothing is left behind.
        """
        name = hashlib.sha256(data).hexdigest()
        path = self._path(name)
        try:
            try:
                os.utime(path)  # young again: an old orphan that is put anew is not swept
            except FileNotFoundError:
                self._write(path, data)
        except OSError as fault:
            raise _refused(self.folder, fault) from fault
        return name

    def get(self, sha256: str) -> bytes:
        """Return the bytes of a file, checked against its name.

        Raises
        ------
        FileGone
            If it is not there, cannot be read, or holds something else.
        """
        try:
            data = self._path(sha256).read_bytes()
        except OSError as fault:
            raise _gone(sha256, fault.strerror or "unreadable") from fault
        found = hashlib.sha256(data).hexdigest()
        if found != sha256:
            raise _gone(sha256, f"a file whose SHA-256 is {found[:12]}…")
        return data

    def names(self) -> Iterator[str]:
        """Yield the SHA-256 of every file, in order."""
        for shelf in sorted(self.folder.glob("[0-9a-f][0-9a-f]")):
            yield from sorted(p.name for p in shelf.iterdir() if _NAME.match(p.name))

    def sweep(self, named: Collection[str], *, at: datetime, after: timedelta) -> tuple[str, ...]:
        """Delete files that no act names and that are older than ``after``; return them.

        Parameters
        ----------
        named : collection of str
            Every SHA-256 that an act names.
        at : datetime
            The present moment.
        after : timedelta
            Grace for a writer who has put a file and not yet filed its act.
        """
        swept = []
        for path in self._loose(set(named)):
            if _age(path, at) > after and _taken_away(path, at, after):
                swept.append(path.name)
        return tuple(swept)

    def _loose(self, named: set[str]) -> list[Path]:
        found = [p for p in self.folder.glob("[0-9a-f][0-9a-f]/*") if p.is_file()]
        return sorted(p for p in found if p.name not in named)

    def _path(self, sha256: str) -> Path:
        if not _NAME.match(sha256):
            raise _gone(sha256, "no SHA-256")
        return self.folder / sha256[:2] / sha256

    def _write(self, path: Path, data: bytes) -> None:
        path.parent.mkdir(mode=0o755, parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".new-")
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(data)
                out.flush()
                os.fsync(out.fileno())
            os.replace(temporary, path)
            flush_folder(path.parent)
            flush_folder(self.folder)
        finally:
            Path(temporary).unlink(missing_ok=True)


def flush_folder(folder: Path) -> None:
    """Make the names in a folder durable, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # folders cannot be opened on every system
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _age(path: Path, at: datetime) -> timedelta:
    return at - datetime.fromtimestamp(path.stat().st_mtime, UTC)


def _taken_away(path: Path, at: datetime, after: timedelta) -> str:
    """Delete an old file, unless somebody puts it anew at this moment; its name, or nothing.

    It is set aside first. Who puts it before that has made it young, and it is put back;
    who puts it after that finds it gone and writes it.
    """
    aside = path.with_name(f".old-{path.name}")
    os.replace(path, aside)
    if _age(aside, at) > after:
        aside.unlink()
        return path.name
    os.replace(aside, path)
    return ""


def _refused(folder: Path, fault: OSError) -> FilesRefused:
    return FilesRefused(
        "a file cannot be kept",
        got=fault.strerror or "no reason",
        expected="a folder that can be written, with room",
        where=str(folder),
        do="Free space or correct the folder's rights, then file it again.",
    )


def _gone(sha256: str, got: str) -> FileGone:
    return FileGone(
        "a file of the ledger is not as it was put there",
        got=got,
        expected=sha256,
        do="Take it from the latest backup; 'lapwright ledger restore BACKUP --drill' tries one.",
    )
