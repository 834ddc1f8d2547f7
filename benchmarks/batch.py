"""Wall time of a batch on one core and on two, measured in turn on this machine.

``python benchmarks/batch.py [FACES] [ROUNDS]`` draws photographs of 3 to 12 megapixels and runs
``lapwright face --batch`` over them, start-up and all, with one worker and with two in turn.
It also prints a plain loop over the same readings in one process, overlays left out, and what
start-up costs: a batch of one photograph, and one where all answers are kept. Both cores have to be
free: on a machine that others use, the ratio says nothing. How many cores one and two processes
get that only count says so beforehand, and the loop's processor time (in brackets) beside its wall
time while it runs.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

WIDTHS_PX = (2000, 2600, 3300, 4000)  # 4:3, so 3 to 12 megapixels
AIM = 0.6

LOOP = """
import sys
from pathlib import Path
import cv2
cv2.setNumThreads(1)
from lapwright.core.errors import LapwrightError
from lapwright.services.facereading import read_photo
from lapwright.services.sidecars import Sidecars
sidecars = Sidecars()
for photo in sorted(Path(sys.argv[1]).glob("*.jpg")):
    ask = sidecars.ask_for(photo)
    try:
        read_photo(photo.read_bytes(), ask.tube_end, ask.cup_face)
    except LapwrightError:
        pass
"""


def draw(folder: Path, faces: int) -> float:
    """Draw the photographs with their sidecars; return their megapixels."""
    import cv2

    from lapwright.measure.synthetic import draw_face

    total = 0
    for n in range(faces):
        style = ("field", "plate")[n % 2]
        drawn = draw_face(n, stream="demo", width_px=WIDTHS_PX[n // 2 % 4], style=style)
        height, width = drawn.pixels.shape[:2]
        rows = max(0, round(0.75 * width) - height)
        pixels = cv2.copyMakeBorder(drawn.pixels, 0, rows, 0, 0, cv2.BORDER_REFLECT_101)
        total += pixels.shape[0] * width
        photo = folder / f"{n:03}.jpg"
        cv2.imwrite(str(photo), pixels, [cv2.IMWRITE_JPEG_QUALITY, 92])
        ends = zip(("tube_end", "cup_face"), (drawn.tube_end, drawn.cup_face), strict=True)
        text = "".join(f"{name}: [{x:.2f}, {y:.2f}]\n" for name, (x, y) in ends)
        photo.with_name(f"{photo.name}.face.yaml").write_text(text)
    return total / 1e6


def seconds(*args: object) -> tuple[float, float]:
    """Return wall time and processor time of a command and the processes it waits for, [s]."""
    start, before = time.perf_counter(), os.times()
    subprocess.run([sys.executable, *map(str, args)], check=True, capture_output=True)
    after = os.times()
    spent = (after.children_user + after.children_system) - (
        before.children_user + before.children_system
    )
    return time.perf_counter() - start, spent


def count(for_s: float) -> float:
    """Count for a while; return the share of a core that this process got."""
    start, spent = time.perf_counter(), time.process_time()
    while time.perf_counter() - start < for_s:
        sum(range(10_000))
    return (time.process_time() - spent) / (time.perf_counter() - start)


def cores(processes: int) -> float:
    """Return how many cores so many processes get that do nothing but count."""
    with ProcessPoolExecutor(processes) as pool:
        list(pool.map(count, [0.05] * processes))  # until all are started
        return sum(pool.map(count, [2.0] * processes))


def main() -> int:
    faces = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "photos"
        folder.mkdir()
        megapixels = draw(folder, faces)
        print(f"{faces} photographs, {megapixels:.0f} megapixels, {os.cpu_count()} cores")
        print(f"one process gets {cores(1):.2f} cores, two get {cores(2):.2f}", flush=True)
        ratios = []
        for n in range(rounds):
            loop, loop_cpu = seconds("-c", LOOP, folder)
            times = [
                seconds("-m", "lapwright", "face", "--batch", folder, "--workers", workers,
                        "--out", Path(name) / f"out-{n}-{workers}")
                for workers in (1, 2)
            ]  # fmt: skip
            (one, _), (two, _) = times
            ratios.append(two / one)
            print(
                f"serial {one:.2f} s, two cores {two:.2f} s, ratio {ratios[-1]:.3f}; plain loop "
                f"without overlays {loop:.2f} s ({loop_cpu:.2f})",
                flush=True,
            )
        for what, told, out in (
            (folder / "000.jpg", "one photograph alone, start-up and all", "out-single"),
            (folder, "the same run again, all kept", "out-0-2"),
        ):
            wall, _ = seconds("-m", "lapwright", "face", "--batch", what, "--workers", 2,
                                "--out", Path(name) / out)  # fmt: skip
            print(f"{told}: {wall:.2f} s")
        load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"
        print(f"ratio median {statistics.median(ratios):.3f}, aim {AIM} or less; load {load}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
