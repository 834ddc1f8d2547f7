"""Time and memory of one face on a 12-megapixel JPEG, beside a bare decode and plain scikit-image.

``python benchmarks/face.py [--repeats 7] [--plain 2]`` draws one photograph of each style, 4000 x
3000 px, and prints for each, measured in turn in one process and on one core after import:
OpenCV's bare decode of the same bytes, the reading with ends and without, and a plain
scikit-image version of the same steps (``plainface.py``). Then the peak memory of a fresh process
that reads the photograph, after import and in all. Wall time counts; the processor's own time
stands beside it, because on a machine that others use the wall time says little. scikit-image
comes with the development requirements.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from plainface import read_plain, read_plain_alone

from lapwright.core.errors import LapwrightError
from lapwright.measure.synthetic import draw_face
from lapwright.services.facereading import read_photo

SEEDS = {"field": 3, "plate": 2}
ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
WIDTH_PX, HEIGHT_PX = 4000, 3000
AIMS = {"reading with ends": "0.6 s", "reading without ends": "1.5 s"}

PEAK = """
import resource, sys
from pathlib import Path
import cv2
cv2.setNumThreads(1)
import lapwright.measure.alone, lapwright.measure.image
from lapwright.core.errors import LapwrightError
from lapwright.services.facereading import read_photo
unit = 1e6 if sys.platform == "darwin" else 1e3  # bytes there, kilobytes elsewhere
imported = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit
given = [float(v) for v in sys.argv[2:]]
ends = (given[:2], given[2:]) if given else (None, None)
try:
    read_photo(Path(sys.argv[1]).read_bytes(), *ends)
except LapwrightError:
    pass
print(f"{imported:.0f} {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit:.0f}")
"""

# a process counts what its parent held when it was started: a small one in between starts it
FRESH = "import subprocess, sys; subprocess.run([sys.executable, *sys.argv[1:]], check=True)"

Deed = Callable[[], object]


def drawn(style: str) -> tuple[bytes, tuple[tuple[float, float], tuple[float, float]], float]:
    """Return a photograph's bytes, its true ends and its true share."""
    face = draw_face(SEEDS[style], stream="demo", style=style, width_px=WIDTH_PX)
    rows = max(0, HEIGHT_PX - face.pixels.shape[0])
    pixels = cv2.copyMakeBorder(face.pixels, 0, rows, 0, 0, cv2.BORDER_REFLECT_101)[:HEIGHT_PX]
    data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()
    return data, (face.tube_end, face.cup_face), face.truth_share


def answer(deed: Deed) -> str:
    """Say what a reading answers; the first call of all is also the one that warms up."""
    try:
        found = deed()
    except LapwrightError as refusal:
        return refusal.code
    return f"{getattr(found, 'unbrazed_share', found):.1%}"


def in_turn(deeds: dict[str, Deed], rounds: dict[str, int]) -> dict[str, list[tuple[float, float]]]:
    """Return wall and processor times of every deed, all done once a round in turn, [s]."""
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in deeds}
    for n in range(max(rounds.values())):
        for name, deed in deeds.items():
            if n >= rounds[name]:
                continue
            wall, spent = time.perf_counter(), time.process_time()
            with contextlib.suppress(LapwrightError):
                deed()
            times[name].append((time.perf_counter() - wall, time.process_time() - spent))
    return times


def show(times: dict[str, list[tuple[float, float]]], answers: dict[str, str]) -> None:
    columns = ("", "best", "median", "processor", "decodes", "answer", "aim")
    print("  {:<28}{:>9}{:>9}{:>11}{:>9}{:>10}{:>8}".format(*columns))
    decode = min(wall for wall, _ in times["bare decode"])
    for name, measured in times.items():
        walls = [wall for wall, _ in measured]
        spent = min(cpu for _, cpu in measured)
        print(
            f"  {name:<28}{min(walls):>7.3f} s{statistics.median(walls):>7.3f} s{spent:>9.3f} s"
            f"{min(walls) / decode:>9.1f}{answers.get(name, ''):>10}{AIMS.get(name, ''):>8}"
        )
    for how in ("with ends", "without ends"):
        ours, plain = (min(t for t, _ in times[f"{n} {how}"]) for n in ("reading", "plain"))
        print(f"  plain scikit-image takes {plain / ours:.1f} times as long {how}")


def peak(photo: Path, ends: tuple[tuple[float, float], ...]) -> str:
    """Return memory of a fresh process after import and at its peak, [MB]."""
    given = [str(v) for end in ends for v in end]
    command = [sys.executable, "-c", FRESH, "-c", PEAK, str(photo), *given]
    told = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    imported, most = told.split()
    return f"{most} MB at most, of these {imported} MB after import"


def bench(style: str, repeats: int, plain: int, folder: Path) -> None:
    data, ends, truth = drawn(style)
    raw = np.frombuffer(data, np.uint8)
    deeds: dict[str, Deed] = {
        "bare decode": lambda: cv2.imdecode(raw, cv2.IMREAD_COLOR),
        "reading with ends": lambda: read_photo(data, *ends),
        "reading without ends": lambda: read_photo(data, None, None),
        "plain with ends": lambda: read_plain(data, ends),
        "plain without ends": lambda: read_plain_alone(data, ends),
    }
    print(f"{style}: {WIDTH_PX} x {HEIGHT_PX} px, {len(data) / 1e6:.1f} MB, truly {truth:.1%}")
    answers = {name: answer(deed) for name, deed in deeds.items() if name != "bare decode"}
    rounds = {name: plain if name.startswith("plain") else repeats for name in deeds}
    show(in_turn(deeds, rounds), answers)
    photo = folder / f"{style}.jpg"
    photo.write_bytes(data)
    if platform.system() == "Windows":
        print("  peak memory: not measured on this system")
        return
    print(f"  memory with ends: {peak(photo, ends)} (aim 400 MB)")
    print(f"  memory without ends: {peak(photo, ())} (aim 400 MB)")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=7)
    parser.add_argument("--plain", type=int, default=2, help="repeats of the plain version")
    options = parser.parse_args()
    if not ONE_THREAD.items() <= os.environ.items():  # has to be said before numpy is loaded
        again = [sys.executable, *sys.argv]
        return subprocess.run(again, check=False, env=os.environ | ONE_THREAD).returncode
    cv2.setNumThreads(1)
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"
    print(f"Python {platform.python_version()}, {platform.machine()}, one core, load {load} before")
    with tempfile.TemporaryDirectory() as name:
        for style in SEEDS:
            bench(style, options.repeats, options.plain, Path(name))
    return 0


if __name__ == "__main__":
    sys.exit(main())
