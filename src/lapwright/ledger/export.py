"""Write a ledger out whole: plain lines, its files, a signed list of all, a checker, a note.

The format is `checker.FORMAT`, described in ``docs/reference/ledger-export.md``.
Entries are read once and never all at once; memory grows with the number of
files (about 200 bytes each), not with that of entries. What is written is what
the ledger held when the export began.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from importlib import resources
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from lapwright.core.acts import canonical_json

from . import checker
from .errors import FileGone
from .files import FileStore
from .heads import SignedHead, sign_head
from .held import HeldHeads, damaged
from .log import GENESIS, Entry, Log, SideRecord, chain_digest
from .tree import TreeHead
from .trust import trust_pem

if TYPE_CHECKING:
    from .keys import Keys

Tell = Callable[[str], object]
_EVERY = 100_000


@dataclass(frozen=True)
class Making:
    """How an export is made.

    ``names`` is ``yes`` where side records are written; ``beside`` holds further
    files by name (``keys/…``, for a backup).
    """

    keys: Keys
    at: datetime
    made_by: str
    names: str = "no"
    beside: Mapping[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True)
class Exported:
    """What was written: the signed head of the entries, files and bytes in all."""

    head: SignedHead
    evidence: int
    names: int
    size: int


def write_export(
    folder: Path, log: Log, files: FileStore, *, making: Making, tell: Tell
) -> Exported:
    """Write an export into an empty folder.

    Parameters
    ----------
    folder : Path
        There and empty; a caller gives it its name once it is whole.
    log, files : Log, FileStore
        The ledger; it may grow meanwhile.
    making : Making
        Keys, moment, names or not.
    tell : callable
        Told how far it has come.

    Raises
    ------
    LedgerDamaged
        If an entry is not as it was chained; its number is named.
    FileGone
        If a file that an entry names is missing or changed; both are named.
    HeadBeyond, HeadOther, HeadForged
        If a head that the ledger has signed does not fit its entries.
    SideOther
        If a personal value does not open its commitment.
    OSError
        If the folder cannot be written.
    """
    out = _Out(folder)
    held = HeldHeads(log.heads())  # before the entries are counted: none of them is left out
    entries = islice(log.entries(), log.size())
    with out.lines(checker.ACTS) as write:
        _entries(entries, write, _Evidence(files, out), tell, held=held)
    held.check(public=making.keys.token_key.public_key())
    head = _head(TreeHead(held.tree.size, held.tree.root()), held.heads, making)
    evidence = len(out.rows) - 1
    earlier = [h for h in held.heads if h != head]
    out.put(checker.HEADS, b"".join(head_line(h) for h in [*earlier, head]))
    names = log.side_records() if making.names == "yes" else {}
    if making.names == "yes":
        out.put(checker.SIDE, b"".join(side_line(c, names[c]) for c in sorted(names)))
    _put_fixed(out, head, making)
    out.put(checker.MANIFEST, manifest(out.rows, head, making))
    return Exported(head, evidence, len(names), sum(int(row["size"]) for row in out.rows))


def act_line(entry: Entry) -> bytes:
    """Return the line of an entry: canonical JSON in which the act's bytes stand as they are."""
    return b'{"act":%s,"prev":"%s","seq":"%d","sha256":"%s","version":"%d"}\n' % (
        entry.raw,
        entry.prev_sha256.encode(),
        entry.seq,
        entry.sha256.encode(),
        entry.version,
    )


def head_line(head: SignedHead) -> bytes:
    """Return the line of a signed tree head."""
    return canonical_json(head.as_dict()) + b"\n"


def side_line(commitment: str, record: SideRecord) -> bytes:
    """Return the line of a personal value."""
    row = {"commitment": commitment, "salt": record.salt.hex(), "value": record.value}
    return canonical_json(row) + b"\n"


def manifest(rows: Iterable[Mapping[str, str]], head: SignedHead, making: Making) -> bytes:
    """Return the signed list of files.

    Parameters
    ----------
    rows : iterable of mapping
        Name, size and SHA-256 of every other file.
    head : SignedHead
        Of the entries written.
    making : Making
        Keys, moment, maker.
    """
    bare = {
        "format": checker.FORMAT,
        "acts": str(head.size),
        "at": _utc(making.at),
        "made_by": making.made_by,
        "names": making.names,
        "public_key": making.keys.token_key.public_key().public_bytes_raw().hex(),
        "files": sorted(rows, key=lambda row: row["name"]),
    }
    signature = making.keys.token_key.sign(canonical_json(bare)).hex()
    return canonical_json(bare | {"signature": signature}) + b"\n"


class _Out:
    """The files of an export, each with its row for the list."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.rows: list[dict[str, str]] = []

    def put(self, name: str, data: bytes) -> None:
        with self.lines(name) as write:
            write(data)

    @contextmanager
    def lines(self, name: str) -> Iterator[Callable[[bytes], object]]:
        path, hashed = self.folder / name, hashlib.sha256()
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb", buffering=1 << 20) as out:

            def write(data: bytes) -> None:
                hashed.update(data)
                out.write(data)

            yield write
            out.flush()
            os.fsync(out.fileno())
            size = out.tell()
        self.rows.append({"name": name, "sha256": hashed.hexdigest(), "size": str(size)})


class _Evidence:
    """Copies the files that entries name, each once."""

    def __init__(self, files: FileStore, out: _Out) -> None:
        self.files, self.out = files, out

    def copy(self, entry: Entry) -> None:
        if b'"files":[' not in entry.raw:
            return
        for name in json.loads(entry.raw).get("files", ()):
            place = f"files/{name[:2]}/{name}"
            if not (self.out.folder / place).exists():
                self.out.put(place, self._read(name, entry))

    def _read(self, name: str, entry: Entry) -> bytes:
        try:
            return self.files.get(name)
        except FileGone as fault:
            raise fault.at(f"entry {entry.seq} ({entry.act.type})") from None


def _entries(
    entries: Iterable[Entry],
    write: Callable[[bytes], object],
    evidence: _Evidence,
    tell: Tell,
    *,
    held: HeldHeads,
) -> None:
    """Write the lines of entries that fit their chain; their tree grows in ``held``."""
    prev = GENESIS
    for seq, entry in enumerate(entries):
        fits = entry.seq == seq and entry.prev_sha256 == prev
        if not fits or entry.sha256 != chain_digest(prev, entry.raw):
            raise damaged(seq)
        write(act_line(entry))
        evidence.copy(entry)
        held.add(entry.raw)
        prev = entry.sha256
        if held.tree.size % _EVERY == 0:
            tell(f"{held.tree.size} entries")


def _head(head: TreeHead, heads: Iterable[SignedHead], making: Making) -> SignedHead:
    """Return the signed head; one that the ledger has signed already serves again."""
    public = making.keys.token_key.public_key()
    for known in heads:
        if known.head == head and known.holds(public) == "yes":
            return known
    return sign_head(head, making.keys.token_key, at=making.at)


def _put_fixed(out: _Out, head: SignedHead, making: Making) -> None:
    """Write what every export carries, and what a backup has beside it."""
    package = resources.files("lapwright.ledger")
    note = (package / "reader_note.txt").read_text("utf-8")
    told = {"acts": str(head.size), "root": head.root, "key": head.key, "at": _utc(making.at)}
    out.put(checker.TRUST, trust_pem(making.keys.trust))
    out.put(checker.CHECKER, (package / "checker.py").read_bytes())
    out.put(checker.NOTE, note.format(**told, made_by=making.made_by).encode())
    for name, data in making.beside.items():
        out.put(name, data)
        (out.folder / name).chmod(0o600)


def _utc(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
