"""Files that no entry names: left by a writer who was cut off before filing."""

from __future__ import annotations

from datetime import datetime, timedelta

from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log

GRACE = timedelta(days=1)
"""Nobody takes a day between keeping a file and filing its act (house rule)."""


def sweep_orphans(log: Log, files: FileStore, *, at: datetime) -> tuple[str, ...]:
    """Delete files that no entry names and that are older than `GRACE`; return their SHA-256.

    A file that is filed meanwhile is younger than that.

    Parameters
    ----------
    log : Log
        The ledger.
    files : FileStore
        Its files.
    at : datetime
        The present moment.
    """
    named = {name for entry in log.entries() for name in entry.act.files}
    return files.sweep(named, at=at, after=GRACE)
