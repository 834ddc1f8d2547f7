"""The signed heads of a ledger kept a second time, in a file beside its database.

A database that is put back to an older copy of itself has forgotten its later
heads; this file has not. Each line holds a head and the chain digest of its last
entry, so that opening a ledger can compare one row instead of reading it all.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from lapwright.core.acts import canonical_json
from lapwright.ledger.errors import HeadsUnread
from lapwright.ledger.files import flush_folder
from lapwright.ledger.heads import SignedHead

from .addresses import Address

_TAIL = 1 << 14  # bytes: about 40 heads; two programs may add theirs out of order


@dataclass(frozen=True)
class KeptHead:
    """A signed head, and the chain digest of the last entry it covers (empty where unknown)."""

    head: SignedHead
    chain: str

    def line(self) -> bytes:
        """Return the line of the file."""
        return canonical_json({"chain": self.chain, "head": self.head.as_dict()}) + b"\n"


class HeadFile:
    """The file of heads beside a database.

    Parameters
    ----------
    path : Path
        Made when the first head is kept.
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    @classmethod
    def beside(cls, data: Path, address: Address) -> HeadFile:
        """Return the file of a database in the ledger's folder; each database has its own."""
        if address.path is not None:
            return cls(data / "heads.jsonl")
        return cls(data / f"heads-{hashlib.sha256(address.name.encode()).hexdigest()[:12]}.jsonl")

    def heads(self) -> tuple[KeptHead, ...]:
        """Return every head.

        Raises
        ------
        HeadsUnread
            If the file cannot be read, or a line is none of it.
        """
        return self._kept(0)

    def latest(self) -> KeptHead | None:
        """Return the head of the most entries, from the end of the file, or None.

        Raises
        ------
        HeadsUnread
            As for `heads`.
        """
        size = self.path.stat().st_size if self.path.is_file() else 0
        return max(self._kept(max(size - _TAIL, 0)), key=lambda k: k.head.size, default=None)

    def add(self, kept: Iterable[KeptHead]) -> None:
        """Add heads and flush them; a line that was cut off before is taken away.

        Raises
        ------
        OSError
            If the file cannot be written.
        """
        lines = b"".join(one.line() for one in kept)
        handle = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
        with os.fdopen(handle, "r+b", buffering=0) as out:
            whole = out.read()
            if whole and not whole.endswith(b"\n"):
                out.truncate(whole.rfind(b"\n") + 1)
            out.write(lines)
            os.fsync(out.fileno())
        if not whole:
            flush_folder(self.path.parent)

    def _kept(self, start: int) -> tuple[KeptHead, ...]:
        try:
            with self.path.open("rb") as stream:
                stream.seek(start)
                data = stream.read()
            lines = data[: data.rfind(b"\n") + 1].splitlines()  # the last one may have been cut off
            return tuple(_read(line) for line in (lines[1:] if start else lines))
        except FileNotFoundError:
            return ()
        except (OSError, ValueError, KeyError, TypeError) as fault:
            raise HeadsUnread(
                "the file of signed heads beside the ledger cannot be read",
                got=str(fault) or type(fault).__name__,
                expected="one head a line, as the ledger wrote them",
                where=str(self.path),
                do="Put the file back from a copy of this folder; without one, restore the latest "
                "backup into another folder.",
            ) from fault


def _read(line: bytes) -> KeptHead:
    row = json.loads(line)
    return KeptHead(SignedHead.from_dict(row["head"]), str(row["chain"]))
