"""The ledger on both databases: durable appends, bulk import, verifying, folding one brazer.

``python benchmarks/ledger.py [--acts 1000000] [--rounds 200] [--database sqlite]`` makes a ledger
of that many acts in a temporary folder, measures on it, and kills writers in another one. A single
append waits for the disk: its own flushes a second are printed beside. PostgreSQL is a server that
is started for the run, with its ordinary, durable settings. On a machine that others use, wall
times say little: in brackets stands what this process would reach with a core of its own (the
server's work is not in it).
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from itertools import islice
from pathlib import Path

from run import say, seconds

TESTS = Path(__file__).resolve().parents[1] / "tests"
sys.path.insert(0, str(TESTS))

BATCH = 5000
BRAZERS = 10_000
SESSION = 20  # acts in a row about one brazer, in one stream
SINGLE_S = 3.0
DATABASES = ("sqlite", "postgresql")


def acts(count: int) -> Iterator[object]:
    """Yield acts in sessions, each about one brazer: enrolled once, trained, at work mostly."""
    from lapwright.core.acts import Act

    at, day = datetime(2026, 3, 13, tzinfo=UTC), date(2024, 1, 1)
    for n in range(count):
        session, turn = divmod(n, SESSION)
        person = f"brazer-{session * 7919 % BRAZERS}"
        if turn == 0 and session < BRAZERS:
            body = {"person": person, "role": "brazer", "name_commitment": f"{n:064x}"}
            kind = "PersonEnrolled"
        elif turn == 1:
            kind, body = "TrainingGiven", {"person": person, "what": "practice", "by": "lead"}
        else:
            kind = "UseAttested"
            body = {"person": person, "process": "torch", "procedure": "BPS-1", "by": f"s{n % 50}"}
        happened = day + timedelta(days=session // BRAZERS)
        yield Act(kind, body, happened, "lead", at, stream=f"case/{session}")


@contextmanager
def place(database: str) -> Iterator[tuple[Path, str, str]]:
    """Yield a folder and the addresses of two empty databases."""
    with tempfile.TemporaryDirectory(prefix="lapwright-bench-") as name:
        if database == "sqlite":
            yield Path(name), "", ""
            return
        from databases import running_server

        with running_server("-c max_wal_size=4GB") as server:
            yield Path(name), *(server.url(server.empty()) for _ in range(2))


def flushes(folder: Path) -> float:
    """Return how often the disk flushes a small write in a second."""
    with (folder / "flushed").open("wb") as out:

        def flush() -> None:
            for _ in range(200):
                out.write(b"x" * 400)
                out.flush()
                os.fdatasync(out.fileno())

        return 200 / seconds(flush)


def bench_open(folder: Path, database: str) -> None:
    code = (
        "import sys, time\nstart = time.perf_counter()\nfrom pathlib import Path\n"
        "from lapwright.desk.boot import open_log\n"
        "open_log(Path(sys.argv[1]), database=sys.argv[2])\nprint(time.perf_counter() - start)"
    )
    command = [sys.executable, "-c", code, str(folder), database]
    done = [subprocess.run(command, check=True, capture_output=True, text=True) for _ in range(6)]
    first, *later = (float(run.stdout) for run in done)
    say("  opening in a new process", f"first {first:.2f}, then best {min(later):.2f} s", "told")


class Clock:
    """Adds up wall and processor time of what is done under it."""

    def __init__(self) -> None:
        self.wall = self.processor = 0.0

    def __enter__(self) -> None:
        self.wall -= time.perf_counter()
        self.processor -= time.process_time()

    def __exit__(self, *_: object) -> None:
        self.wall += time.perf_counter()
        self.processor += time.process_time()

    def rate(self, count: int) -> str:
        """Return acts a second, and (acts a second of processor time)."""
        return f"{count / self.wall:,.0f} acts/s ({count / self.processor:,.0f})"


def bench_bulk(log: object, count: int) -> None:
    from lapwright.core.acts import Act

    appended, whole, given = Clock(), Clock(), acts(count)
    while batch := list(islice(given, BATCH)):
        raw = [act.to_bytes() for act in batch]
        with whole:
            batch = [Act.from_bytes(data) for data in raw]
            with appended:
                log.append(batch)
    say(f"  appending {count:,} acts", appended.rate(count), "20,000 acts/s")
    say("  the same, read from bytes first", whole.rate(count), "20,000 acts/s")


def bench_single(log: object) -> None:
    times, given = [], acts(1_000_000)
    while sum(times) < SINGLE_S:
        act = next(given)
        times.append(seconds(lambda act=act: log.append([act])))
    times.sort()
    middle, late = times[len(times) // 2] * 1000, times[len(times) * 99 // 100] * 1000
    figure = f"{len(times) / sum(times):,.0f}/s, p50 {middle:.2f}, p99 {late:.2f} ms"
    say("  durable single appends", figure, "300/s")


def bench_verify(log: object) -> None:
    from lapwright.ledger.log import first_broken

    size = log.size()
    for name, deed, aim in (
        ("  verifying the stored bytes", log.first_broken, "200,000 acts/s"),
        ("  the same through the entries", lambda: first_broken(log.entries()), "told"),
    ):
        clock = Clock()
        with clock:
            broken = deed()
        say(name, f"{clock.rate(size)}, {'whole' if broken is None else 'BROKEN'}", aim)


def bench_fold(log: object) -> None:
    from lapwright.core.fold import fold

    counted, times = 0, []
    for n in range(1, BRAZERS, 499):
        start = time.perf_counter()
        found = [entry.act for entry in log.about(f"person:brazer-{n}")]
        evidence = fold(found, as_of=date(2030, 1, 1))
        times.append(time.perf_counter() - start)
        counted += len(found)
        if found and f"brazer-{n}" not in evidence.people:
            raise LookupError(f"brazer-{n}")
    times.sort()
    figure = f"median {times[len(times) // 2] * 1000:.1f}, worst {times[-1] * 1000:.1f} ms"
    say(f"  one brazer ({counted // len(times)} acts each)", figure, "under 50 ms")


def bench_read_models(store: object) -> None:
    start = time.perf_counter()
    made = store.rebuild()
    middle = time.perf_counter()
    same = store.compare().same
    figure = f"{middle - start:.1f} s, compared in {time.perf_counter() - middle:.1f} s: {same}"
    say(f"  index of {made:,} rows rebuilt in", figure, "yes")


def bench_kill(folder: Path, database: str, rounds: int) -> None:
    program = [sys.executable, str(TESTS / "desk" / "writers.py"), "kill"]
    command = [*program, str(folder / "killed"), database, str(rounds), "1"]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    found = json.loads(done.stdout)
    named = ("lost", "torn", "broken", "fileless", "unindexed")
    figure = ", ".join(f"{name} {found[name]}" for name in named)
    say(f"  {rounds} writers killed, {found['acts']} acts", figure, "all 0")


def bench(database: str, count: int, rounds: int) -> None:
    from lapwright.desk.boot import open_store

    with place(database) as (folder, first, second):
        print(f"{database}, load {os.getloadavg()[0]:.1f}, {flushes(folder):,.0f} flushes/s")
        bench_open(folder, first)
        with open_store(folder, database=first) as store:
            bench_bulk(store.log, count)
            bench_fold(store.log)
            bench_single(store.log)
            bench_verify(store.log)
            bench_read_models(store)
        bench_kill(folder, second, rounds)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--acts", type=int, default=1_000_000)
    parser.add_argument("--rounds", type=int, default=200)
    parser.add_argument("--database", choices=DATABASES)
    asked = parser.parse_args()
    for database in DATABASES if asked.database is None else (asked.database,):
        bench(database, asked.acts, asked.rounds)
    return 0


if __name__ == "__main__":
    sys.exit(main())
