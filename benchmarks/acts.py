"""Reading, writing and folding acts, in processor time of one core.

``python benchmarks/acts.py [--acts 20000]`` prints acts a second for writing bytes, for reading
them back strictly, and for reading into a chained log in memory; and the time in which the acts of
one brazer are read and folded. Aims: 20,000 acts/s with everything, one brazer under 50 ms.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.fold import fold
from lapwright.core.subjects import subjects_of
from lapwright.ledger.log import MemoryLog

AT = datetime(2026, 3, 13, 23, 59, 59, tzinfo=UTC)
DAY = date(2026, 3, 4)
TUBE = {"standard": "ASTM B819", "type": "L", "size": "3/4", "alloy": "C12200"}
SEGMENT = {"start": "0.000000", "end": "0.101000", "state": "brazed", "probability": "0.98"}
RUNS = 5


def act(type_: str, body: dict[str, Any], case: int, files: tuple[str, ...] = ()) -> Act:
    """Return an act of a case."""
    return Act(type_, body, DAY, "lead", AT, files=files, stream=f"case/C{case}")


def case_acts(case: int) -> Iterator[Act]:
    """Yield the acts of a brazer who brazed ten coupons: ten faces each, read twice."""
    for c in range(10):
        joints = [{"id": f"j{c}", "overlap": "0.62 in"}]
        body = {"coupon": f"c{c}", "tube": TUBE, "fitting": TUBE, "filler": {"class": "BCuP-5"}}
        yield act("CouponBrazed", {**body, "joints": joints}, case)
        for f in range(10):
            face = {"face": f"f{c}-{f}", "joint": f"j{c}", "grit": "600"}
            yield act("FacePrepared", face, case)
            for reader in ("teal", "rue"):
                read = {"face": f"f{c}-{f}", "reader": reader, "way": "photo", "share": "0.1234"}
                more = {"u": "0.01", "segments": [SEGMENT] * 6, "method": "face-trace/4+abc"}
                yield act("FaceRead", read | more, case, ("a" * 64,))


def best(deed: Callable[[], object]) -> float:
    """Return the least processor time of several runs, s."""
    times = []
    for _ in range(RUNS):
        start = time.process_time()
        deed()
        times.append(time.process_time() - start)
    return min(times)


def say(name: str, seconds: float, count: int) -> None:
    """Print acts a second and microseconds an act."""
    print(f"{name:<34} {count / seconds:>10,.0f} acts/s  {seconds / count * 1e6:6.1f} us/act")


def main() -> None:
    """Print one line a measure."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--acts", type=int, default=20_000)
    count = parser.parse_args().acts
    acts: list[Act] = []
    while len(acts) < count:
        acts += case_acts(len(acts))
    raws = [a.to_bytes() for a in acts]
    print(f"{len(acts)} acts, {sum(map(len, raws)) / len(raws):.0f} bytes on average")
    fresh = [a.lifted(a.body, a.version) for a in acts]  # acts that hold no bytes yet
    start = time.process_time()
    for a in fresh:
        a.to_bytes()
    say("write bytes", time.process_time() - start, len(acts))
    say("read bytes, strictly", best(lambda: [Act.from_bytes(raw) for raw in raws]), len(acts))
    say("read into a chained log", best(lambda: _read_in(raws)), len(acts))
    say("find subjects", best(lambda: [subjects_of(a) for a in acts]), len(acts))
    one = [a.to_bytes() for a in case_acts(1)]
    took = best(lambda: fold([Act.from_bytes(raw) for raw in one], as_of=date(2026, 4, 1)))
    print(f"{'one brazer read and folded':<34} {took * 1000:.1f} ms for {len(one)} acts")


def _read_in(raws: list[bytes]) -> MemoryLog:
    log = MemoryLog()
    log.append(Act.from_bytes(raw) for raw in raws)
    return log


if __name__ == "__main__":
    main()
