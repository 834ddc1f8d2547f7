"""Programs that write to one ledger at once, and are killed while they write.

Run as a program of its own (``python writers.py kill FOLDER DATABASE ROUNDS SEED``), because a
process that forks must hold no connections and no threads. Prints what it found as JSON.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

from lapwright.core.acts import Act
from lapwright.core.errors import LapwrightError
from lapwright.desk.boot import Store, open_store
from lapwright.desk.settings import configure
from lapwright.ledger.errors import StreamMoved

MANY = 40
AT = datetime(2026, 3, 13, tzinfo=UTC)


def act(number: int, tag: str, *, of: int = 1, file: str = "") -> Act:
    """Return one of the ``of`` acts that are filed together under ``tag``."""
    body = {"person": f"p{number % 7}", "what": f"{tag} of {of}"}
    files = (file,) if file else ()
    day = date(2026, 3, 4)
    return Act("TrainingGiven", body, day, "lead", AT, files=files, stream="programme")


def forked(deed: Callable[[int], None]) -> tuple[int, int]:
    """Return the id of a child that runs ``deed`` and the end of its pipe to read from."""
    reader, writer = os.pipe()
    child = os.fork()
    if child:
        os.close(writer)
        return child, reader
    os.close(reader)
    try:
        deed(writer)
    except BaseException as fault:
        os.write(2, f"{fault!r}\n".encode())
        os._exit(1)
    os._exit(0)


# ---------------------------------------------------------------- killed while writing
def write_for_ever(folder: Path, database: str, tag: str, pipe: int) -> None:
    """File acts with a file each, one or many at a time; tell each return through the pipe."""
    store = open_store(folder, database=database)
    for turn in range(1_000_000):
        file = store.files.put(os.urandom(2000))
        of = 1 if turn % 3 else MANY
        store.log.append([act(n, f"{tag}.{turn}", of=of, file=file) for n in range(of)])
        os.write(pipe, bytes([of]))


def killed(folder: Path, database: str, tag: str, chance: random.Random) -> int:
    """Start a writer, kill it at a random moment, return how many acts it was told are filed."""
    child, pipe = forked(lambda writer: write_for_ever(folder, database, tag, writer))
    told = os.read(pipe, 1) if chance.random() < 0.7 else b""  # else maybe while it opens
    time.sleep(chance.uniform(0, 0.04))
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while part := os.read(pipe, 65536):
        told += part
    os.close(pipe)
    return sum(told)


def kill(folder: Path, database: str, rounds: int, seed: int) -> dict[str, int]:
    """Kill writers again and again; return what was lost, torn or broken (all 0 is well)."""
    chance = random.Random(seed)
    found: Counter[str] = Counter(rounds=rounds, lost=0, torn=0, broken=0, fileless=0)
    held = 0
    for number in range(rounds):
        told = killed(folder, database, f"r{number}", chance)
        store = open_store(folder, database=database)
        size = store.log.size()
        found["told"] += told
        found["lost"] += size < held + told
        found["broken"] += store.log.first_broken() is not None
        look(store, held, found)
        held = size
        store.close()
    store = open_store(folder, database=database)
    found["unindexed"] = int(store.compare().same != "yes")
    store.close()
    return {**found, "acts": held}


def look(store: Store, since: int, found: Counter[str]) -> None:
    """Count appends that are there in part, and acts whose file is not."""
    fresh = [entry.act for entry in store.log.entries(since=since)]
    together = Counter(a.body["what"] for a in fresh)
    found["torn"] += sum(count != int(tag.rsplit(" ", 1)[1]) for tag, count in together.items())
    for name in {name for a in fresh for name in a.files}:
        try:
            store.files.get(name)
        except LapwrightError:
            found["fileless"] += 1


# ---------------------------------------------------------------- writing at once
def take_turns(folder: Path, database: str, tag: str, count: int) -> None:
    """File ``count`` acts, each behind what was seen last; look again when somebody was first."""
    store = open_store(folder, database=database)
    filed = 0
    while filed < count:
        seen = store.log.size()
        try:
            store.log.append([act(filed, f"{tag}.{filed}")], expect={"programme": seen})
        except StreamMoved:
            continue
        filed += 1
        store.log.append([act(0, f"{tag}.{filed}.more")])


def race(folder: Path, database: str, writers: int, count: int) -> dict[str, int]:
    """Let several programs open a new ledger and write to it at once."""
    started = [
        forked(lambda _, w=number: take_turns(folder, database, f"w{w}", count))  # type: ignore[misc]
        for number in range(writers)
    ]
    failed = sum(os.waitpid(child, 0)[1] != 0 for child, _ in started)
    store = open_store(folder, database=database)
    entries = list(store.log.entries())
    answer = {
        "failed": failed,
        "acts": len(entries),
        "different": len({e.act.body["what"] for e in entries}),
        "forks": sum(e.seq != e.version for e in entries),
        "broken": int(store.log.first_broken() is not None),
        "unindexed": int(store.compare().same != "yes"),
    }
    store.close()
    return answer


# ---------------------------------------------------------------- without rights
def without_rights(folder: Path, database: str, *_: int) -> dict[str, str]:
    """Try to file in folders that only somebody else may write; return the refusals."""
    open_store(folder / "own").close()
    kept = folder / "kept"
    store = open_store(kept)
    store.log.append([act(0, "first")])
    store.close()
    folder.chmod(0o555)
    for place, mode in ((kept / "ledger.sqlite3", 0o444), (kept, 0o555)):
        place.chmod(mode)
    if os.getuid() == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)
    return {
        "new": refused(lambda: open_store(folder / "new").close()),
        "kept": refused(lambda: open_store(kept).log.append([act(1, "second")])),
        "read": str(open_store(kept).log.size()),
    }


def refused(deed: Callable[[], object]) -> str:
    """Return the refusal of a deed, or empty text."""
    try:
        deed()
    except LapwrightError as refusal:
        return str(refusal)
    return ""


def main() -> None:
    deeds = {"kill": kill, "race": race, "without-rights": without_rights}
    deed, folder, database, *numbers = sys.argv[1:]
    configure()
    found = deeds[deed](Path(folder), database, *map(int, numbers))  # type: ignore[operator]
    sys.stdout.write(json.dumps(found) + "\n")


if __name__ == "__main__":
    main()
