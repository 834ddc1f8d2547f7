"""Take an export into a ledger, put a backup back, and try that out without keeping anything."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from lapwright.ledger.importing import (
    Imported,
    checked_export,
    import_export,
    key_files,
    must_be_as_checked,
)
from lapwright.ledger.trust import Trust

from .atomic import new_folder, write_bytes
from .ledgerexport import OpenLedger
from .text import word

Tell = Callable[[str], None]


class ClosableLedger(OpenLedger, Protocol):
    """An open ledger that can be closed."""

    def close(self) -> None:
        """Close it."""


Opener = Callable[[Path], ClosableLedger]


@dataclass(frozen=True)
class ImportReport:
    """What was taken in; ``way`` is ``import``, ``restore`` or ``drill``."""

    way: str
    data: Path
    taken: Imported
    keys: str = "no"

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document."""
        checked = self.taken.checked
        return {
            "way": self.way,
            "data": str(self.data),
            "entries": str(checked.acts),
            "root": checked.root,
            "key": checked.key,
            "files": str(self.taken.evidence),
            "names": str(self.taken.names),
            "heads": str(self.taken.heads),
            "keys": self.keys,
            "checked": checked.outcome,
        }

    def lines(self) -> Iterator[str]:
        """Yield the report as lines for a terminal."""
        checked = self.taken.checked
        yield word(
            f"ledger.taken.{self.way}",
            data=str(self.data),
            entries=str(checked.acts),
            files=str(self.taken.evidence),
            names=str(self.taken.names),
            heads=str(self.taken.heads),
        )
        yield word("ledger.root", root=checked.root, key=checked.key)
        if checked.outcome == "open":
            yield word("ledger.taken.open")
        if self.way != "import":
            yield word("ledger.taken.keys" if self.keys == "yes" else "ledger.taken.no_keys")


def import_ledger(
    source: Path,
    opener: Callable[[], OpenLedger],
    *,
    trust: Trust | None = None,
    tell: Tell = lambda _: None,
) -> ImportReport:
    """Take an export into an empty ledger; one that does not hold opens none.

    Parameters
    ----------
    source : Path
        Folder or zip of the export.
    opener : callable
        Opens a ledger that is empty, or in which this very import was cut off.
    trust : Trust, optional
        Of the programme that made the export; without it the key inside counts.
    tell : callable, optional
        Told how far it has come.

    Raises
    ------
    LedgerNotEmpty, ExportUnsound
        Nothing is taken then.
    """
    checked = checked_export(source, keys=_keys(trust), tell=tell)
    ledger = opener()
    taken = import_export(source, ledger.log, ledger.files, checked=checked, tell=tell)
    return ImportReport("import", ledger.data, taken)


def restore(
    source: Path,
    data: Path,
    opener: Opener,
    *,
    trust: Trust | None = None,
    tell: Tell = lambda _: None,
) -> ImportReport:
    """Put a backup back into a new folder, read everything back, then give it its name.

    Parameters
    ----------
    source : Path
        Folder or zip of the backup.
    data : Path
        Folder of the ledger; it does not exist yet, or is empty.
    opener : callable
        Opens the ledger of a folder.
    trust, tell
        As for `import_ledger`.

    Raises
    ------
    OutputRefused
        If the folder holds something or cannot be written.
    ExportUnsound, LedgerDamaged, FileGone
        If backup or restored ledger do not hold; nothing is left behind.
    """
    with new_folder(data, mode=0o700) as folder:
        taken, keys = _filled(source, folder, opener, trust=trust, tell=tell)
    return ImportReport("restore", data, taken, keys)


def drill(
    source: Path, opener: Opener, *, trust: Trust | None = None, tell: Tell = lambda _: None
) -> ImportReport:
    """Restore a backup into a folder that is deleted afterwards.

    Parameters
    ----------
    source, opener, trust, tell
        As for `restore`.
    """
    with tempfile.TemporaryDirectory(prefix="lapwright-drill-") as made:
        place = Path(made) / "ledger"
        place.mkdir(mode=0o700)
        taken, keys = _filled(source, place, opener, trust=trust, tell=tell)
    return ImportReport("drill", source, taken, keys)


def _filled(
    source: Path, folder: Path, opener: Opener, *, trust: Trust | None, tell: Tell
) -> tuple[Imported, str]:
    """Fill an empty folder with a ledger, read it back; say whether keys came with it."""
    checked = checked_export(source, keys=_keys(trust), tell=tell)
    with closing(opener(folder)) as ledger:
        taken = import_export(source, ledger.log, ledger.files, checked=checked, tell=tell)
        tell(word("ledger.reading_back"))
        must_be_as_checked(ledger.log, ledger.files, taken.checked)
    kept = key_files(source)
    if kept:
        (folder / "keys").mkdir(mode=0o700)
    for name, data in kept.items():
        write_bytes(folder / "keys" / name, data)
        (folder / "keys" / name).chmod(0o600)
    return taken, "yes" if kept else "no"


def _keys(trust: Trust | None) -> list[bytes]:
    return [] if trust is None else [trust.token_key.public_bytes_raw()]
