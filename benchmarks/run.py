"""Times and sizes, measured side by side on this machine; nothing here is a test.

``python benchmarks/run.py`` prints one line a measure: what was measured, against what, and the
aim. A part that the tree does not have yet is said to be "not built yet".
"""

from __future__ import annotations

import importlib.util
import os
import platform
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from importlib import metadata
from pathlib import Path

RUNS = 7
AS_OF = "2026-03-20"


def say(name: str, figure: str, aim: str) -> None:
    print(f"{name:<42} {figure:<44} aim {aim}")


def seconds(deed: Callable[[], object]) -> float:
    start = time.perf_counter()
    deed()
    return time.perf_counter() - start


def best_and_median(deed: Callable[[], object], runs: int = RUNS) -> tuple[float, float]:
    times = sorted(seconds(deed) for _ in range(runs))
    return times[0], times[len(times) // 2]


def built(*names: str) -> bool:
    return all(importlib.util.find_spec(name) is not None for name in names)


# ------------------------------------------------------------------ the command line
def command(*args: str) -> list[str]:
    return [sys.executable, "-m", "lapwright", *args]


def bench_help() -> None:
    def bare() -> None:
        subprocess.run([sys.executable, "-c", "pass"], check=True)

    def ours() -> None:
        subprocess.run(command("--help"), check=True, capture_output=True)

    best, median = best_and_median(ours)
    empty, _ = best_and_median(bare)
    figure = f"best {best:.3f} s, median {median:.3f} s (bare Python {empty:.3f})"
    say("lapwright --help", figure, "under 0.25 s")


# ------------------------------------------------------------------ one face, 12 megapixels
def bench_face() -> None:
    import cv2

    from lapwright.measure.synthetic import draw_face
    from lapwright.services.facereading import read_photo

    drawn = draw_face(1, stream="tuning", width_px=4000)
    height, width = drawn.pixels.shape[:2]
    rows = max(0, 3000 - height)
    pixels = cv2.copyMakeBorder(drawn.pixels, 0, rows, 0, 0, cv2.BORDER_REFLECT_101)
    data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 92])[1]
    photo = data.tobytes()

    decode, _ = best_and_median(lambda: cv2.imdecode(data, cv2.IMREAD_COLOR))
    first = seconds(lambda: read_photo(photo, drawn.tube_end, drawn.cup_face))
    best, median = best_and_median(lambda: read_photo(photo, drawn.tube_end, drawn.cup_face))
    megapixels = width * (height + rows) / 1e6
    figure = f"first {first:.3f}, best {best:.3f}, median {median:.3f} s"
    say(f"face, {megapixels:.1f} MP JPEG with ends", figure, "under 0.6 s")
    say("  against OpenCV's bare decode", f"{best / decode:.1f} times {decode:.3f} s", "told")


# ------------------------------------------------------------------ a second record
def cases_of_the_demo(folder: Path) -> Iterator[Path]:
    subprocess.run(command("demo", "--no-serve"), check=True, capture_output=True, cwd=folder)
    yield from sorted(path.parent for path in folder.rglob("case.yaml"))


def issued(case: Path, home: Path) -> tuple[float, float] | None:
    """Return the times of reading all photographs, and of filing, judging and the record."""
    from lapwright.cli.common import open_data
    from lapwright.core.errors import LapwrightError
    from lapwright.services.casefolder import open_case
    from lapwright.services.issuing import issue_judged, judge_filed

    at = datetime.now(UTC)
    programme = open_data(home, at=at)
    start = time.perf_counter()
    loaded = open_case(case, secret=programme.keys.salt)
    middle = time.perf_counter()
    try:
        judged, held, _ = judge_filed(loaded, programme, as_of=date.fromisoformat(AS_OF), at=at)
        issue_judged(judged, programme, held=held, out=home / "records", at=at)
    except LapwrightError:
        return None
    return middle - start, time.perf_counter() - middle


def bench_record() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for case in cases_of_the_demo(folder):
            first = issued(case, folder / "first")
            if first is None:
                continue
            # a home of its own each time: the same record would only be found again
            later = [t for n in range(5) if (t := issued(case, folder / f"again-{n}"))]
            made = sorted(t[1] for t in later)
            judged = sorted(t[0] for t in later)
            figure = f"first {first[1]:.3f} s, later best {made[0]:.3f}, worst {made[-1]:.3f} s"
            say("a record (overlays, typeset, sign)", figure, "under 1 s after the first")
            photos = len(list(case.rglob("*.jpg")))
            figure = f"best {judged[0]:.3f}, worst {judged[-1]:.3f} s"
            say(f"  judging it, {photos} photographs read anew", figure, "told")
            return
    say("a record (overlays, typeset, sign)", "no demo case gave a record", "under 1 s")


# ------------------------------------------------------------------ installed size
def runtime_names(name: str, seen: set[str]) -> set[str]:
    """Return a distribution and everything it needs at run time on this machine."""
    from packaging.requirements import Requirement

    key = re.sub(r"[-_.]+", "-", name).lower()
    if key in seen:
        return seen
    seen.add(key)
    for line in metadata.requires(name) or []:
        need = Requirement(line)
        if need.marker is None or need.marker.evaluate({"extra": ""}):
            runtime_names(need.name, seen)
    return seen


def installed_bytes(name: str) -> int:
    files = metadata.files(name) or []
    places = (Path(str(file.locate())) for file in files if "__pycache__" not in str(file))
    return sum(place.stat().st_size for place in places if place.is_file())


def tree_bytes(folder: Path) -> int:
    files = (path for path in folder.rglob("*") if "__pycache__" not in path.parts)
    return sum(path.stat().st_size for path in files if path.is_file())


def bench_size() -> None:
    import lapwright

    sizes = {n: installed_bytes(n) for n in runtime_names("lapwright", set()) if n != "lapwright"}
    own = tree_bytes(Path(lapwright.__file__).parent)
    total = sum(sizes.values()) + own
    largest = sorted(sizes, key=lambda n: -sizes[n])[:3]
    shown = ", ".join(f"{name} {sizes[name] / 1e6:.0f}" for name in largest)
    say("installed runtime", f"{total / 1e6:.0f} MB (own {own / 1e6:.1f})", "under 480 MB")
    say("  largest of", f"{len(sizes)} packages: {shown} MB", "told")


def bench_ledger() -> None:
    print("the ledger, 1,000,000 acts (python benchmarks/ledger.py)", flush=True)
    subprocess.run([sys.executable, str(Path(__file__).with_name("ledger.py"))], check=True)
    subprocess.run([sys.executable, str(Path(__file__).with_name("exports.py"))], check=True)


def bench_in_force() -> None:
    print("who is in force (python benchmarks/inforce.py)", flush=True)
    command = [sys.executable, str(Path(__file__).with_name("inforce.py")), "--people", "20000"]
    subprocess.run(command, check=True)


PARTS: list[tuple[str, Callable[[], None], tuple[str, ...]]] = [
    ("lapwright --help", bench_help, ("lapwright.cli.main",)),
    (
        "face, 12 MP JPEG with ends",
        bench_face,
        ("lapwright.measure.synthetic", "lapwright.measure.face", "lapwright.services.facereading"),
    ),
    (
        "a record (overlays, typeset, sign)",
        bench_record,
        ("lapwright.cli.demo", "lapwright.cli.cases"),
    ),
    ("the ledger", bench_ledger, ("lapwright.desk.boot", "psycopg")),
    ("in force", bench_in_force, ("lapwright.services.inforce", "lapwright.desk.boot")),
    ("installed runtime", bench_size, ()),
]


def main() -> int:
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, {platform.machine()}")
    failed = False
    for name, deed, needs in PARTS:
        if not built(*needs):
            say(name, "not built yet", "-")
            continue
        try:
            deed()
        except Exception as error:
            failed = True
            say(name, f"failed: {type(error).__name__}: {error}", "-")
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
