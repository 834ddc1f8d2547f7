"""Small invented ledgers for the tests of exports, and the ways to change a copy."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from lapwright.core.acts import Act, commitment
from lapwright.ledger.files import FileStore
from lapwright.ledger.heads import sign_head
from lapwright.ledger.keys import Keys, open_keys
from lapwright.ledger.log import Log, MemoryLog
from lapwright.ledger.tree import tree_head

AT = datetime(2026, 3, 13, 7, 30, tzinfo=UTC)
SALT = b"invented salt, 24 bytes!"
NAME = commitment("Ines Marlowe", SALT)


@dataclass
class Ledger:
    """An open ledger of the tests; closing it does nothing."""

    data: Path
    log: Log = field(default_factory=MemoryLog)

    @property
    def files(self) -> FileStore:
        return FileStore(self.data / "files")

    def close(self) -> None:
        """Nothing is open."""


@cache
def some_keys() -> Keys:
    """Return the keys of an invented programme, made once a run."""
    place = Path(mkdtemp(prefix="lapwright-keys-"))
    try:
        return open_keys(place / "keys", made_at=AT)
    finally:
        shutil.rmtree(place)


def act(kind: str, body: dict[str, object], **more: object) -> Act:
    """Return an act of the lead on an invented day."""
    return Act(kind, body, date(2026, 3, 4), "lead", AT, **more)  # type: ignore[arg-type]


def some_acts(files: FileStore) -> Iterator[Act]:
    """Yield acts of three streams, with files, old shapes, other scripts and unknown keys."""
    photo, scan = files.put(b"a photograph"), files.put(b"a scan")
    yield act("PersonEnrolled", {"person": "ines", "name_commitment": NAME, "role": "brazer"})
    yield act("FaceRead", {"face": "H1-1", "reader": "omar", "way": "loupe"}, files=(photo,))
    yield act("TrainingGiven", {"person": "ines", "what": "Löten – 練習"}, stream="case/A")
    yield act("TrainingGiven", {"person": "ines", "what": "again", "new": {"x": ["1"]}})
    yield act(
        "DecisionMade", {"joint": "H1", "outcome": "met"}, stream="case/A", files=(photo, scan)
    )
    yield act("MethodChecked", {"method": "face-trace/1", "faces": "30"}, stream="case/B")


def small_ledger(folder: Path) -> Ledger:
    """Return a ledger of six acts, two files, one name and a signed head of the first three."""
    ledger = Ledger(folder)
    ledger.log.append(list(some_acts(ledger.files)))
    ledger.log.put_side(NAME, "Ines Marlowe", SALT)
    leaves = [entry.raw for entry in ledger.log.entries()]
    ledger.log.put_head(sign_head(tree_head(leaves[:3]), some_keys().token_key, at=AT))
    return ledger


def large_ledger(folder: Path, count: int) -> Ledger:
    """Return a ledger of many acts in many streams."""
    ledger = Ledger(folder)
    ledger.log.append(
        act("TrainingGiven", {"person": f"p{n % 97}", "what": f"day {n}"}, stream=f"case/{n % 61}")
        for n in range(count)
    )
    return ledger
