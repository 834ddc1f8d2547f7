"""``faces.jsonl``: one canonical JSON document a line, one line a photograph.

While a run goes on, each line is appended and flushed to the disk as soon as
its photograph is settled; at the end the file is written anew in the order of
the names, whole or not at all. A kill can tear only the last line: it is
dropped by the next run. Any other line that cannot be read is somebody's, and
nothing is written over it. One run at a time holds the folder.
"""

from __future__ import annotations

import contextlib
import json
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

from .atomic import write_bytes
from .errors import OutputRefused, ResultsBusy, ResultsDamaged

NAME = "faces.jsonl"
Line = dict[str, Any]


def canonical(document: object) -> bytes:
    """Return the one way to write a document: sorted keys, no spaces, UTF-8, no NaN."""
    return json.dumps(
        document, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
    ).encode()


class Results:
    """The lines of one results folder, by photograph."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.lines: dict[str, Line] = {}
        self.dropped = 0
        if path.exists():
            self._read()
        self._end: IO[bytes] | None = None

    def _read(self) -> None:
        data = self.path.read_bytes()
        whole = data.rfind(b"\n") + 1
        for number, raw in enumerate(data[:whole].split(b"\n")[:-1], 1):
            line = _line(raw)
            if line is None:
                raise _damaged(self.path, number, raw)
            self.lines[line["photo"]] = line
        tail = data[whole:]
        if tail:
            if not _torn(tail):
                raise _damaged(self.path, data.count(b"\n") + 1, tail)
            self.dropped = 1
            os.truncate(self.path, whole)

    def add(self, line: Line) -> None:
        """Append a line and flush it to the disk."""
        try:
            self._end = self._end or self.path.open("ab")
            self._end.write(canonical(line) + b"\n")
            self._end.flush()
            os.fsync(self._end.fileno())
        except OSError as fault:
            raise _full(self.path, fault) from fault
        self.lines[line["photo"]] = line

    def finish(self, lines: list[Line]) -> None:
        """Write the file anew: these lines in place of the old, all in the order of the names."""
        self.lines.update({line["photo"]: line for line in lines})
        ordered = [self.lines[name] for name in sorted(self.lines)]
        write_bytes(self.path, b"".join(canonical(line) + b"\n" for line in ordered))

    def close(self) -> None:
        """Close the file."""
        if self._end is not None:
            self._end.close()


@contextlib.contextmanager
def open_results(folder: Path) -> Iterator[Results]:
    """Hold a results folder and give its lines.

    Raises
    ------
    ResultsBusy
        If another run holds the folder.
    ResultsDamaged
        If the file holds what this tool did not write.
    """
    with _held(folder):
        try:
            results = Results(folder / NAME)
        except OSError as fault:
            raise _full(folder / NAME, fault) from fault
        try:
            yield results
        finally:
            results.close()


def _line(raw: bytes) -> Line | None:
    try:
        line = json.loads(raw)
    except ValueError:
        return None
    texts = ("photo", "key", "outcome", "code")
    if isinstance(line, dict) and all(isinstance(line.get(name), str) for name in texts):
        return line
    return None


def _torn(tail: bytes) -> bool:  # the beginning of a line of ours, or a page never filled
    return tail.startswith(b'{"') or tail == b"{" or not tail.strip(b"\0")


def _damaged(path: Path, number: int, raw: bytes) -> ResultsDamaged:
    return ResultsDamaged(
        "not a line of results",
        got=raw[:60].decode("utf-8", "replace"),
        expected="one document of 'lapwright face --batch' a line",
        where=f"{path}: line {number}",
        do="Name another folder, or take this file out of the way.",
    )


def _full(path: Path, fault: OSError) -> OutputRefused:
    return OutputRefused(
        "cannot write there",
        got=f"{path} ({fault.strerror})",
        expected="a file that can be written, and room",
        do="Free room or name another place; what is written stays, run again to go on.",
    )


@contextlib.contextmanager
def _held(folder: Path) -> Iterator[None]:
    """Lock a folder for this process; the system frees it however the process ends."""
    if sys.platform == "win32":
        import msvcrt

        with (folder / ".held").open("wb") as handle:
            try:
                msvcrt.locking(handle.fileno(), msvcrt.LK_NBLCK, 1)
            except OSError:
                raise _busy(folder) from None
            yield
    else:
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
        try:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                raise _busy(folder) from None
            except OSError:
                pass  # a file system without locks: nothing to hold
            yield
        finally:
            os.close(handle)


def _busy(folder: Path) -> ResultsBusy:
    return ResultsBusy(
        "another run writes there",
        got=str(folder),
        expected="one run at a time in a results folder",
        do="Wait for the other run, or name another folder.",
    )
