"""Write a file whole or not at all: temporary name in the same folder, then rename."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from lapwright.ledger.files import flush_folder

from .errors import OutputRefused


def write_bytes(path: Path, data: bytes) -> None:
    """Write ``data`` to ``path``; on failure nothing is left behind.

    Raises
    ------
    OutputRefused
        If the folder does not exist or cannot be written, or the disk is full.
    """
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    except OSError as fault:
        raise _refused(path, fault) from fault
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
            out.flush()
            os.fsync(out.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except OSError as fault:
        raise _refused(path, fault) from fault
    finally:
        Path(temporary).unlink(missing_ok=True)


def write_made(path: Path, data: bytes, *, suffix: str, source: Path | None = None) -> None:
    """Write a file that was made here, and never over something else.

    Parameters
    ----------
    path : Path
        Where to write; its name must end in ``suffix``.
    data : bytes
        The file.
    suffix : str
        ``.png`` or ``.pdf``.
    source : Path, optional
        The evidence it was made from, which is never written over.

    Raises
    ------
    OutputRefused
        If the name has another ending or is that of the source.
    """
    own = source is not None and path.resolve() == source.resolve()
    if own or path.suffix.lower() != suffix:
        raise OutputRefused(
            "not a name to write to",
            got=str(path),
            expected=f"a name that ends in {suffix} and is not the evidence itself",
            do="Name another file: evidence and case files are never written over.",
        )
    write_bytes(path, data)


def write_new(path: Path, data: bytes, *, suffix: str) -> None:
    """Write a file that was made here under a name that nothing has yet.

    Raises
    ------
    OutputRefused
        If something has that name, or it has another ending.
    """
    if path.exists():
        raise OutputRefused(
            "a file that is there already",
            got=str(path),
            expected="a new name",
            do="Name another file: what is there is never written over.",
        )
    write_made(path, data, suffix=suffix)


def make_folder(path: Path) -> None:
    """Make a folder with its parents, or refuse with one coded line."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise _refused(path, fault) from fault


def write_folder(path: Path, files: Mapping[str, bytes]) -> None:
    """Write a new folder of files whole or not at all.

    Parameters
    ----------
    path : Path
        The folder; it does not exist yet, or is empty.
    files : mapping
        Plain file name to bytes.

    Raises
    ------
    OutputRefused
        If the folder holds something, or cannot be written.
    """
    with new_folder(path) as whole:
        for name, data in files.items():
            write_bytes(whole / name, data)


@contextmanager
def new_folder(path: Path, *, mode: int = 0o755) -> Iterator[Path]:
    """Fill a new folder; it appears under its name whole or not at all.

    Parameters
    ----------
    path : Path
        The folder; it does not exist yet, or is empty.
    mode : int, optional
        Its rights.

    Yields
    ------
    Path
        The folder to fill, beside the one named; it is gone after an error.

    Raises
    ------
    OutputRefused
        If the folder holds something, or cannot be written.
    """
    path = path.resolve()
    try:
        if path.exists() and (not path.is_dir() or any(path.iterdir())):
            raise OutputRefused(
                "a folder that holds something already",
                got=str(path),
                expected="a new or an empty folder",
                do="Name another folder: what is there is never written over.",
            )
        make_folder(path.parent)
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=f".{path.name}.") as made:
            whole = Path(made) / "whole"
            whole.mkdir(mode=mode)
            yield whole
            os.replace(whole, path)
        flush_folder(path.parent)
    except OSError as fault:
        raise _refused(path, fault) from fault


def _refused(path: Path, fault: OSError) -> OutputRefused:
    return OutputRefused(
        "cannot write there",
        got=f"{path} ({fault.strerror})",
        expected="a folder that exists, can be written and has room",
        do="Make the folder, free room, or name another place.",
    )
