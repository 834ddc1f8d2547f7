"""Exports of a ledger: written, checked, taken in again, an entry proved.

``python benchmarks/exports.py [--acts 200000]`` makes a ledger of that many acts on SQLite in a
temporary folder and measures on it. In brackets stands what this process would reach with a core
of its own.
"""

from __future__ import annotations

import argparse
import resource
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path

from ledger import BATCH, Clock, acts
from run import say

AT = datetime(2026, 3, 13, tzinfo=UTC)


def measured(name: str, count: int, deed: Callable[[], object], aim: str = "told") -> None:
    clock = Clock()
    with clock:
        deed()
    say(name, clock.rate(count), aim)


def main(count: int) -> None:
    from lapwright.desk.boot import open_store
    from lapwright.ledger.checker import check
    from lapwright.ledger.keys import open_keys
    from lapwright.services.ledgerexport import export_ledger
    from lapwright.services.ledgerimport import import_ledger
    from lapwright.services.ledgerproofs import Asked, prove

    with tempfile.TemporaryDirectory(prefix="lapwright-bench-") as made:
        place = Path(made)
        keys = open_keys(place / "keys", made_at=AT)
        public = keys.token_key.public_key().public_bytes_raw()
        store, given = open_store(place / "data"), acts(count)
        while batch := list(islice(given, BATCH)):
            store.log.append(batch)
        out = place / "out"
        print(f"Exports of {count:,} acts")
        measured("  export", count, lambda: export_ledger(out, store, keys=keys, at=AT))
        measured("  check.py on it", count, lambda: check(out, keys=[public]), "200,000 acts/s")
        asked = Asked(entry=count // 2, from_size=count // 3)
        measured("  proving", count, lambda: prove(store.log, asked=asked, keys=keys, at=AT))
        again = open_store(place / "again")
        measured("  import, checked first", count, lambda: import_ledger(out, lambda: again))
        store.close()
        again.close()
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        say("  most memory of the process", f"{peak:,.0f} MB", "told")


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--acts", type=int, default=200_000)
    main(parser.parse_args().acts)
