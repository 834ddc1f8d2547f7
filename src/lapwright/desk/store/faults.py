"""Faults of the databases told as refusals: one coded line that says what to do."""

from __future__ import annotations

import errno
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import Error, InterfaceError, OperationalError

from lapwright.core.errors import LapwrightError
from lapwright.desk import errors

# how a database names a fault: SQLite's error names, PostgreSQL's SQLSTATE (by their starts)
_KINDS: tuple[tuple[tuple[str, ...], type[LapwrightError]], ...] = (
    (("SQLITE_FULL", "53100"), errors.StoreFull),
    (("SQLITE_READONLY", "SQLITE_PERM", "SQLITE_AUTH", "42501", "25006"), errors.StoreReadOnly),
    (("SQLITE_BUSY", "SQLITE_LOCKED", "55P03", "40P01", "40001"), errors.StoreBusy),
    (("SQLITE_CONSTRAINT", "23"), errors.ActsRefused),
    (("SQLITE_CANTOPEN", "08", "28", "3D", "53", "57P"), errors.StoreUnreachable),
    (("SQLITE_IOERR", "SQLITE_NOTADB", "SQLITE_CORRUPT", "58", "XX"), errors.StoreDamaged),
)
_SYSTEM: dict[int, type[LapwrightError]] = {
    errno.ENOSPC: errors.StoreFull,
    errno.EDQUOT: errors.StoreFull,
    errno.EACCES: errors.StoreReadOnly,
    errno.EPERM: errors.StoreReadOnly,
    errno.EROFS: errors.StoreReadOnly,
}
_WORDS: dict[type[LapwrightError], tuple[str, str, str]] = {
    errors.StoreFull: (
        "no room is left for the ledger",
        "free room on its disk",
        "Nothing of this was filed. Free some room, then file it again.",
    ),
    errors.StoreReadOnly: (
        "the ledger cannot be written",
        "a folder and file, or a role of the database, that may write",
        "Nothing of this was filed. Correct the rights, then file it again.",
    ),
    errors.StoreBusy: (
        "another program keeps the ledger locked",
        "a free turn within 20 seconds",
        "Nothing of this was filed. Close the other program or wait, then file it again.",
    ),
    errors.ActsRefused: (
        "the database refused these entries",
        "entries that continue the chain",
        "Nothing of this was filed. Check the ledger, then file it again.",
    ),
    errors.StoreUnreachable: (
        "the ledger cannot be opened",
        "a database that answers",
        "Check that the folder exists or the server runs, and the address and rights.",
    ),
    errors.StoreDamaged: (
        "the ledger cannot be read from its disk",
        "an undamaged database",
        "Keep this folder as it is, and restore the latest backup into another one.",
    ),
}


@contextmanager
def told(name: str) -> Iterator[None]:
    """Turn what a database raises into a refusal.

    Parameters
    ----------
    name : str
        The database as people know it, without secrets.

    Raises
    ------
    StoreFull, StoreReadOnly, StoreBusy, ActsRefused, StoreUnreachable, StoreDamaged
        What has happened.
    """
    try:
        yield
    except (Error, OSError) as fault:
        refusal = refusal_of(fault, name)
        if refusal is None:
            raise
        raise refusal from fault


def refusal_of(fault: Exception, name: str) -> LapwrightError | None:
    """Return the refusal that fits a fault of a database or its folder, or None."""
    kind = _kind(fault)
    if kind is None:
        return None
    what, expected, do = _WORDS[kind]
    lines = str(fault).strip().splitlines()
    return kind(what, got=lines[0] if lines else "no reason", expected=expected, do=do, where=name)


def named(fault: BaseException) -> str:
    """Return how the database names a fault, or empty text."""
    cause = fault.__cause__ or fault
    name = getattr(cause, "sqlite_errorname", None) or getattr(cause, "sqlstate", None)
    return str(name or "")


def _kind(fault: Exception) -> type[LapwrightError] | None:
    if isinstance(fault, OSError):
        return _SYSTEM.get(fault.errno or 0, errors.StoreUnreachable)
    name = named(fault)
    for starts, kind in _KINDS:
        if name.startswith(starts):
            return kind
    # a connection that was never made, or was cut, has no name
    lost = not name and isinstance(fault, OperationalError | InterfaceError)
    return errors.StoreUnreachable if lost else None
