"""Take a case folder into the ledger: file its entries, then sign the tree head over all of them.

That is the moment at which a session is closed for the ledger: what its people saw and
read stands in it. A folder that was filed before and adds nothing gets no second head,
unless the ledger has grown since its last one or the signing was cut off.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from lapwright.ledger.heads import SignedHead

from .filing import Filed, file_case
from .ledgerproofs import Asked, prove
from .programme import Programme
from .text import word

Tell = Callable[[str], None]


@dataclass(frozen=True)
class CaseImported:
    """What filing did, and the latest signed head, which covers it."""

    filed: Filed
    head: SignedHead

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document."""
        return {**self.filed.as_dict(), "head": self.head.as_dict()}

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        head = self.head
        yield self.filed.line()
        yield word("ledger.head", size=str(head.size), root=head.root, at=head.at, key=head.key)


def import_case(
    folder: Path, programme: Programme, *, at: datetime, progress: Tell = lambda _: None
) -> CaseImported:
    """File a case folder and sign the tree head that covers it.

    Parameters
    ----------
    folder : Path
        The case folder.
    programme : Programme
        The ledger, its files, the keys.
    at : datetime
        The present moment, UTC.
    progress : callable, optional
        Told before each photograph is measured, and how far the head has come.

    Raises
    ------
    LapwrightError
        What filing refuses; see `lapwright.services.filing.file_case`.
    LedgerDamaged
        If an entry is not as it was chained; nothing is signed then.
    """
    log, files, salt = programme.log, programme.files, programme.keys.salt
    filed = file_case(folder, log=log, files=files, secret=salt, at=at, progress=progress)
    latest = log.heads()[-1:]
    if latest and latest[0].size == log.size():
        return CaseImported(filed, latest[0])
    return CaseImported(
        filed, prove(log, asked=Asked(), keys=programme.keys, at=at, tell=progress).head
    )
