"""Who is in force, of all people of a ledger: ``python benchmarks/inforce.py [--people 20000]``.

The ledger lies in an SQLite file in a temporary folder. Each person has a record with two
flow positions that its employer certified, eight uses and a credential, about fifteen
entries; the basis is the programme's, with every rule confirmed. Reading and parsing the
entries, folding them and judging are told apart. On a machine that others use, wall times
say little: in brackets stands the processor time of this process.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

from run import say

TESTS = Path(__file__).resolve().parents[1] / "tests"
sys.path.insert(0, str(TESTS))
BATCH = 5000
AIM = "under 5 s"
DAY = date(2025, 9, 1)


def _acts(people: int) -> Iterator[object]:
    from street.forcework import act, basis, used

    yield from basis()
    for n in range(people):
        person, number = f"brazer-{n}", f"C{n}-QP7K"
        brazed = date(2025, 1, 2) + timedelta(days=n % 150)
        named = {"record": number, "revision": "1"}
        row = {"coupon": "H1", "on": brazed.isoformat(), "procedure": "BPS-1", "witness": "lead"}
        row |= {"process": "TB", "manner": "manual", "p_numbers": "107/107", "f_number": "103"}
        row |= {"form": "rod", "joint_type": "socket", "kind": "1-1/2 L ASME B16.50"}
        body = {**named, "register": str(n + 1), "payload_sha256": f"{n:064x}", "person": person}
        body |= {"case": f"C{n}", "employer": "Quillon Pipeworks"}
        body["tests"] = [{**row, "position": p} for p in "CD"]
        stream = f"record/{number}"
        name = {"person": person, "role": "brazer", "name_commitment": f"{n:064x}"}
        yield act("PersonEnrolled", name, brazed)
        yield act("RecordIssued", body, brazed, stream=stream)
        signed = {**named, "file_sha256": f"{n:064x}"}
        yield act("RecordSigned", signed, brazed, stream=stream)
        yield act(
            "RecordCertified", {**signed, "by": "hollis", "way": "key"}, brazed, stream=stream
        )
        noted = {"person": person, "kind": "installer ASSE 6010", "issuer": "x"}
        yield act("CredentialNoted", {**noted, "until": "2027-01-01"}, brazed)
        for k in range(8):
            yield used(person, brazed + timedelta(days=30 * k + n % 7), procedure="BPS-1")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--people", type=int, default=2000)
    people = parser.parse_args().people
    from lapwright.desk.boot import open_store
    from lapwright.services.inforce import Asked, answer, in_force_of_log
    from lapwright.services.inforceacts import every_act
    from lapwright.services.inforcefold import Days, known
    from lapwright.services.inforcereport import people_lines
    from lapwright.services.uncollected import uncollected

    asked = Asked(Days(DAY), 60)
    with (
        tempfile.TemporaryDirectory(prefix="lapwright-bench-") as name,
        open_store(Path(name)) as s,
    ):
        batch: list[object] = []
        for act in _acts(people):
            batch.append(act)
            if len(batch) == BATCH:
                s.log.append(batch)
                batch = []
        s.log.append(batch)
        size = s.log.size()
        steps = [("start", time.perf_counter(), time.process_time())]

        def step(what: str) -> None:
            steps.append((what, time.perf_counter(), time.process_time()))

        with uncollected():
            acts = every_act(s.log)
            step("reading and parsing")
            found = known(acts, asked.days, payload=s.files.get)
            step("folding")
            people_found = answer(found, asked, {})
            step("judging")
        lines = sum(1 for _ in people_lines(people_found))
        step("writing the lines")
        one = time.perf_counter()
        in_force_of_log(s.log, s.files, Asked(Days(DAY), person="brazer-7"))
        one = time.perf_counter() - one
    wall, busy = (steps[-1][k] - steps[0][k] for k in (1, 2))
    say(f"in force, {people:,} people, {size:,} entries", f"{wall:.2f} s ({busy:.2f})", AIM)
    for (_, w0, p0), (what, w1, p1) in pairwise(steps):
        say(f"  {what}", f"{w1 - w0:.2f} s ({p1 - p0:.2f})", "told")
    say(f"  one person of them ({lines:,} lines in all)", f"{one * 1000:.1f} ms", "under 50 ms")
    return 0


if __name__ == "__main__":
    sys.exit(main())
