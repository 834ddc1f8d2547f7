"""Take an export into an empty ledger: checked first, then files, names, acts, the heads last.

Acts are filed in lots, so that a large ledger does not fill the memory. An import
that was cut off is continued when it is started again: a ledger that holds the
beginning of the very export is as good as an empty one. While the acts pass,
their tree is grown again and must end in the root that was checked.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from lapwright.core.acts import Act
from lapwright.core.errors import ActFromNewer, ActRefused

from . import checker
from .errors import ExportUnsound, LedgerNotEmpty
from .files import FileStore
from .heads import SignedHead
from .held import damaged
from .log import GENESIS, Log, chain_digest

Tell = Callable[[str], object]
LOT = 5000
_LONGEST = 255  # bytes of the name of a stream; databases index no longer ones


@dataclass(frozen=True)
class Imported:
    """What was taken in; ``checked`` are the answers of the check before."""

    checked: checker.Checked
    evidence: int
    names: int
    heads: int


def checked_export(
    source: Path, *, keys: Sequence[bytes] = (), tell: Tell | None = None
) -> checker.Checked:
    """Check an export and refuse one that does not hold.

    Parameters
    ----------
    source : Path
        Folder or zip.
    keys : sequence of bytes, optional
        Public keys that may have signed it; without any, the one inside counts.
    tell : callable, optional
        Told how far it has come.

    Raises
    ------
    ExportUnsound
        With the first bad entry, or file where no entry is bad.
    ActFromNewer
        If a later version of this program wrote an entry.
    """
    found = checker.check(source, keys=keys, tell=tell)
    if found.faults:
        first = next((f for f in found.faults if f.entry is not None), found.faults[0])
        raise ExportUnsound(
            "the export does not hold, so nothing is taken from it",
            got=f"{first.file}: {first.says}",
            expected="an export in which every check holds",
            where=str(source),
            do="Run 'lapwright verify' on it for the whole list, and take another copy.",
        )
    _must_be_kept(source)
    return found


def _must_be_kept(source: Path) -> None:
    """Refuse what a ledger would not take, before a ledger is opened."""
    with closing(checker.Source(source)) as opened:
        for seq, line in enumerate(opened.lines(checker.ACTS)):
            try:
                stream = Act.from_bytes(_raw(line)).stream
            except ActRefused as refusal:
                raise _not_kept(source, f"entry {seq}: {refusal.what}, {refusal.got}") from None
            except ActFromNewer as refusal:
                raise refusal.at(f"{source}: entry {seq}") from None
            if "\0" in stream or len(stream.encode()) > _LONGEST:
                raise _not_kept(source, f"entry {seq}: the name of its stream")
        rows = _rows(opened, checker.SIDE) if checker.SIDE in opened.names else ()
        for number, row in enumerate(rows, start=1):
            if "\0" in row["value"]:
                raise _not_kept(source, f"line {number} of {checker.SIDE}: a NUL character")


def _not_kept(source: Path, got: str) -> ExportUnsound:
    return ExportUnsound(
        "the export holds what no ledger takes, so nothing is taken from it",
        got=got,
        expected="acts in their form, in streams of at most 255 bytes, and text without NUL",
        where=str(source),
        do="Ask whoever wrote it how it was made, and take another copy.",
    )


def import_export(
    source: Path,
    log: Log,
    files: FileStore,
    *,
    checked: checker.Checked,
    tell: Tell = lambda _: None,
) -> Imported:
    """Take an export into an empty ledger.

    Parameters
    ----------
    source : Path
        Folder or zip.
    log, files : Log, FileStore
        The ledger.
    checked : Checked
        What `checked_export` answered.
    tell : callable, optional
        Told how far it has come.

    Raises
    ------
    LedgerNotEmpty
        If the ledger holds entries that are not the beginning of this export.
    ExportUnsound
        If the export was changed since it was checked.
    """
    with closing(checker.Source(source)) as opened:
        begun = _begun(opened, log, checked)
        evidence = _put_files(opened, files)
        names = _put_names(opened, log)
        _file_acts(opened, log, checked, begun=begun, tell=tell)
        heads = [SignedHead.from_dict(row) for row in _rows(opened, checker.HEADS)]
        for head in heads:  # the entries hold: their root is the one that was checked
            log.put_head(head)
    return Imported(checked, evidence, names, len(heads))


def key_files(source: Path) -> dict[str, bytes]:
    """Return the key files that a backup carries: plain name -> bytes; none in a mere export."""
    with closing(checker.Source(source)) as opened:
        kept = [name for name in opened.names if name.startswith("keys/")]
        return {name.removeprefix("keys/"): _whole(opened, name) for name in kept}


def must_be_as_checked(log: Log, files: FileStore, checked: checker.Checked) -> None:
    """Read a ledger back and refuse one that is not, byte by byte, what was checked.

    Parameters
    ----------
    log, files : Log, FileStore
        The ledger after the import.
    checked : Checked
        The answers about the export.

    Raises
    ------
    LedgerDamaged, FileGone
        If an entry or a file came out otherwise.
    """
    tree, prev = checker.Tree(), GENESIS
    for seq, entry in enumerate(log.entries()):
        if entry.seq != seq or entry.sha256 != chain_digest(prev, entry.raw):
            raise damaged(seq)
        tree.add(entry.raw)
        prev = entry.sha256
    if tree.root().hex() != checked.root:
        raise damaged(tree.size)
    for name in files.names():
        files.get(name)


def _put_files(opened: checker.Source, files: FileStore) -> int:
    kept = [name for name in opened.names if name.startswith("files/")]
    for name in kept:
        if files.put(_whole(opened, name)) != name[9:]:
            raise _changed(name)
    return len(kept)


def _put_names(opened: checker.Source, log: Log) -> int:
    rows = list(_rows(opened, checker.SIDE)) if checker.SIDE in opened.names else []
    for row in rows:
        log.put_side(row["commitment"], row["value"], bytes.fromhex(row["salt"]))
    return len(rows)


def _begun(opened: checker.Source, log: Log, checked: checker.Checked) -> int:
    """Return how many entries of the export the ledger holds from an import that was cut off."""
    size = log.size()
    if not size:
        return 0
    heads = [SignedHead.from_dict(row) for row in _rows(opened, checker.HEADS)]
    if size < checked.acts or (size == checked.acts and not set(heads) <= set(log.heads())):
        line = next(islice(opened.lines(checker.ACTS), size - 1, None))
        last = next(log.entries(since=size - 1))
        if json.loads(line)["sha256"] == last.sha256:  # a chain: the earlier ones are the same too
            return size
    raise _not_empty(size)


def _file_acts(
    opened: checker.Source, log: Log, checked: checker.Checked, *, begun: int, tell: Tell
) -> None:
    tree, lot = checker.Tree(), []
    for line in opened.lines(checker.ACTS):
        raw = _raw(line)
        tree.add(raw)
        if tree.size > begun:
            lot.append(Act.from_bytes(raw))
        if len(lot) == LOT:
            _file_lot(log, lot, tree.size)
            tell(f"{tree.size} of {checked.acts} entries filed")
            lot = []
    if (tree.size, tree.root().hex()) != (checked.acts, checked.root):
        raise _changed(checker.ACTS)
    _file_lot(log, lot, tree.size)


def _raw(line: bytes) -> bytes:
    """Return the bytes of the act of a line; it is canonical, so that they stand in it as is."""
    return line[7 : line.rfind(b',"prev":"')]


def _file_lot(log: Log, lot: list[Act], size: int) -> None:
    if lot and log.append(lot)[-1].seq != size - 1:
        raise _not_empty(log.size())


def _not_empty(size: int) -> LedgerNotEmpty:
    return LedgerNotEmpty(
        "the ledger holds other entries already",
        got=f"{size} entries",
        expected="an empty ledger, and nobody else who writes to it meanwhile",
        do="Name an empty folder with --data, or an empty database; two ledgers are never mixed.",
    )


def _rows(opened: checker.Source, name: str) -> Iterator[dict[str, str]]:
    return (json.loads(line) for line in opened.lines(name))


def _whole(opened: checker.Source, name: str) -> bytes:
    with opened.open(name) as stream:
        return stream.read()


def _changed(name: str) -> ExportUnsound:
    return ExportUnsound(
        "the export was changed while it was taken in",
        got=name,
        expected="an export that nobody touches meanwhile",
        do="Nothing was filed; start again.",
    )
