"""Where the ledger of a data folder is kept, written down in the folder itself.

A folder that holds keys or files has had a ledger. If its database is then not
found, a new and empty one would give number 1 a second time; so the first opening
writes ``ledger.json``, which names the database without user and password, and
every later one compares.
"""

from __future__ import annotations

import json
import os
import tempfile
from contextlib import suppress
from pathlib import Path

from .addresses import FILE, Address
from .errors import LedgerElsewhere, LedgerGone, PlaceUnread

MARK = "ledger.json"
FORMAT = "lapwright place of a ledger, version 1"
_HOLDS = ("files", "keys")


def signs_of(data: Path) -> tuple[str, ...]:
    """Return what in a folder says that there was a ledger: look before the database is sought.

    Parameters
    ----------
    data : Path
        Folder of the ledger.
    """
    held = [n for n in _HOLDS if (data / n).is_dir() and any((data / n).iterdir())]
    return (*([MARK] if (data / MARK).is_file() else []), *(f"{n}/" for n in held))


def must_be_named(data: Path, address: Address) -> None:
    """Refuse another database than the one in which the folder's ledger is kept.

    Raises
    ------
    LedgerElsewhere
        If the folder names another database, or holds one itself and names none.
    PlaceUnread
        If the folder's note cannot be read.
    """
    noted = read(data)
    own = data / FILE
    if not noted and address.path is None and own.is_file() and own.stat().st_size:
        noted = FILE
    if noted and noted != _named(address):
        raise LedgerElsewhere(
            "the ledger of this folder is kept in another database",
            got=_named(address),
            expected=noted,
            where=str(data),
            do="Unset LAPWRIGHT_DATABASE for this folder."
            if noted == FILE
            else "Name that database with LAPWRIGHT_DATABASE (or --database of 'ledger').",
        )


def must_be_first(data: Path, signs: tuple[str, ...], address: Address) -> None:
    """Refuse to make a database where the folder says that there was one.

    Parameters
    ----------
    data : Path
        Folder of the ledger.
    signs : tuple of str
        As `signs_of` found them before.
    address : Address
        The database that is missing or holds no tables.

    Raises
    ------
    LedgerGone
    """
    own = data / FILE
    empty = own.is_file() and not own.stat().st_size
    if signs or (empty and address.path is not None):
        raise LedgerGone(
            "the database of this ledger is missing or empty",
            got=f"{', '.join(signs) or 'an empty file'}, and no entries in {address.name}",
            expected="the database that belongs to them",
            where=str(data),
            do="Name the database with LAPWRIGHT_DATABASE if it is in PostgreSQL; if it is lost, "
            "restore the latest backup into another folder.",
        )


def read(data: Path) -> str:
    """Return the database that a folder names, or empty text.

    Raises
    ------
    PlaceUnread
        If there is a note that cannot be read.
    """
    path = data / MARK
    if not path.is_file():
        return ""
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        if told["format"] != FORMAT or not isinstance(told["database"], str):
            raise ValueError(str(told["format"]))
        return str(told["database"])
    except (ValueError, KeyError, TypeError) as fault:
        raise PlaceUnread(
            "the note that says where this ledger is kept cannot be read",
            got=str(fault) or "no such note",
            expected=FORMAT,
            where=str(path),
            do="Take it back from a backup; or take it away, and open the ledger with the "
            "database that holds its entries.",
        ) from fault


def note(data: Path, address: Address) -> None:
    """Write down where the ledger is kept; what stands there stays."""
    path = data / MARK
    if path.exists():
        return
    text = json.dumps({"database": _named(address), "format": FORMAT}, indent=2) + "\n"
    handle, name = tempfile.mkstemp(prefix=f".{MARK}.", dir=data)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        os.chmod(name, 0o644)  # no secret stands in it; the folder says who may look
        os.replace(name, path)
    finally:
        with suppress(FileNotFoundError):
            os.unlink(name)


def _named(address: Address) -> str:
    """Return a database as the note names it: a file by its name, since folders are moved."""
    return FILE if address.path is not None else address.name
