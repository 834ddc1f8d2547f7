"""Write a ledger out: as an export to hand out, or as a backup with names and, on wish, keys."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Protocol

from lapwright import __version__
from lapwright.ledger.export import Exported, Making, write_export
from lapwright.ledger.files import FileStore
from lapwright.ledger.keys import SIGNING, TOKEN, Keys, key_files
from lapwright.ledger.log import Log

from .atomic import new_folder
from .text import word

Tell = Callable[[str], None]


class OpenLedger(Protocol):
    """An open ledger: its folder, its log, its files."""

    @property
    def data(self) -> Path:
        """The folder."""

    @property
    def log(self) -> Log:
        """The acts."""

    @property
    def files(self) -> FileStore:
        """The files."""


@dataclass(frozen=True)
class ExportReport:
    """What was written and where; ``keys`` is ``no``, ``locked`` or ``open``."""

    out: Path
    written: Exported
    names: str
    keys: str = "no"

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document."""
        return {
            "out": str(self.out),
            "entries": str(self.written.head.size),
            "files": str(self.written.evidence),
            "names": self.names,
            "keys": self.keys,
            "bytes": str(self.written.size),
            "head": self.written.head.as_dict(),
        }

    def lines(self) -> Iterator[str]:
        """Yield the report as lines for a terminal."""
        head = self.written.head
        yield word(
            "ledger.exported",
            out=str(self.out),
            entries=str(head.size),
            files=str(self.written.evidence),
            mb=f"{self.written.size / 1e6:.1f}",
        )
        yield word("ledger.head", size=str(head.size), root=head.root, at=head.at, key=head.key)
        with_names = word("ledger.exported.names", count=str(self.written.names))
        yield with_names if self.names == "yes" else word("ledger.exported.no_names")
        if self.keys != "no":
            yield word("ledger.exported.keys")
        if self.keys == "open":
            yield word("ledger.exported.open_keys")
        yield word("ledger.exported.check", out=str(self.out))


def export_ledger(
    out: Path,
    ledger: OpenLedger,
    *,
    keys: Keys,
    at: datetime,
    names: str = "no",
    tell: Tell = lambda _: None,
) -> ExportReport:
    """Write a ledger to a new folder, whole or not at all; it may be written meanwhile.

    Parameters
    ----------
    out : Path
        The folder; it does not exist yet, or is empty.
    ledger : OpenLedger
        The ledger.
    keys : Keys
        Its token key signs the list of files and the tree head.
    at : datetime
        The present moment.
    names : str, optional
        ``yes`` writes names and other personal values too.
    tell : callable, optional
        Told how far it has come.

    Raises
    ------
    OutputRefused
        If the folder holds something, cannot be written, or the disk is full.
    LedgerDamaged, FileGone
        If an entry or a file is not as it was put there.
    """
    return _written(out, ledger, _making(keys, at, names, {}), tell)


def back_up(
    out: Path,
    ledger: OpenLedger,
    *,
    keys: Keys,
    at: datetime,
    with_keys: str = "no",
    tell: Tell = lambda _: None,
) -> ExportReport:
    """Write a backup: an export with names and, on wish, the key files as they lie.

    Parameters
    ----------
    out, ledger, keys, at
        As for `export_ledger`.
    with_keys : str, optional
        ``yes`` copies the key folder, locked by its passphrase or not, as it is.
    tell : callable, optional
        Told how far it has come.

    Raises
    ------
    OutputRefused, LedgerDamaged, FileGone
        As for `export_ledger`.
    """
    kept = key_files(ledger.data / "keys") if with_keys == "yes" else {}
    beside = {f"keys/{name}": data for name, data in kept.items()}
    return _written(out, ledger, _making(keys, at, "yes", beside), tell)


def _making(keys: Keys, at: datetime, names: str, beside: Mapping[str, bytes]) -> Making:
    return Making(keys, at, f"lapwright {__version__}", names, beside)


def _written(out: Path, ledger: OpenLedger, making: Making, tell: Tell) -> ExportReport:
    # Names and keys are nobody else's business: such a folder is readable by its owner only.
    private = making.names == "yes" or making.beside
    with new_folder(out, mode=0o700 if private else 0o755) as folder:
        written = write_export(folder, ledger.log, ledger.files, making=making, tell=tell)
    ledger.log.put_head(written.head)
    return ExportReport(out, written, making.names, _locked(making.beside))


def _locked(beside: Mapping[str, bytes]) -> str:
    if not beside:
        return "no"
    private = (beside[f"keys/{name}"] for name in (SIGNING, TOKEN))
    return "locked" if all(b"BEGIN ENCRYPTED" in pem for pem in private) else "open"
