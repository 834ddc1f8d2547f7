"""Accuracy of the face reader on drawn faces, and its time beside a bare decode.

``python benchmarks/accuracy.py [--faces 120] [--first 5400] [--style field|plate]`` prints, for
faces whose lots were never used for tuning: mean and 95th percentile of the absolute error, share
answered, coverage of the intervals, plain "Met" above 20 % by stratum, residue voids called
brazed, and the time for a 12-megapixel JPEG. ``--stratum 0.205,0.22`` draws the share evenly
between two values and adds the bounds of the share of plain "Met"; ``--alone`` gives no ends and
counts the right and the wrong joints; ``--workers 2`` reads on two cores.

Figures are published once for each range of seeds:
a range that was looked at is used up. Drawn faces are not coupons: see "How a face is read".
"""

from __future__ import annotations

import argparse
import math
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial

import cv2
import numpy as np

from lapwright.core.errors import LapwrightError
from lapwright.measure.alone import read_alone
from lapwright.measure.face import read_face
from lapwright.measure.image import open_photo, photo_from_pixels
from lapwright.measure.quantiles import clopper_pearson
from lapwright.measure.synthetic import STYLES, DrawnFace, draw_face
from lapwright.measure.values import FaceMeasurement

WIDTHS = (1200, 1600, 2000, 2800)
STRATA = ((0.0, 0.195), (0.195, 0.205), (0.205, 0.22), (0.22, 0.25), (0.25, 0.4), (0.4, 1.01))
LIMIT = 0.2
JITTER = 0.0025  # spread of each end, of the picture's longer side


@dataclass
class Tally:
    """What was counted over all faces."""

    errors: list[float] = field(default_factory=list)
    truths: list[float] = field(default_factory=list)
    held: list[int] = field(default_factory=list)
    met_guarded: list[int] = field(default_factory=list)
    met_simple: list[int] = field(default_factory=list)
    readers: int = 0
    seconds: list[float] = field(default_factory=list)
    refused: Counter[str] = field(default_factory=Counter)
    residue: int = 0
    residue_missed: int = 0
    residue_brazed: int = 0
    right: int = 0
    wrong: int = 0


def jittered(face: DrawnFace, seed: int) -> list[tuple[float, float]]:
    rng = np.random.default_rng([17, seed])
    spread = JITTER * max(face.pixels.shape[:2]) / np.sqrt(2)
    ends = np.array([face.tube_end, face.cup_face]) + rng.normal(0, spread, (2, 2))
    return [(float(x), float(y)) for x, y in ends]


def missed_residue(face: DrawnFace, reading: FaceMeasurement) -> tuple[int, int, int]:
    """Count residue voids over 3 % of the overlap, and those of which most is P > 0.8 brazed.

    The third figure leaves out what is at that probability but called unsure.
    """
    count = missed = brazed = 0
    for start, end, kind in face.segments:
        if kind != "residue" or end - start < 0.03:
            continue
        count += 1
        sound = {"brazed": 0.0, "unsure": 0.0, "unbrazed": 0.0}
        for s in reading.segments:
            if s.probability < 0.2:
                sound[s.state] += max(0.0, min(s.end, end) - max(s.start, start))
        missed += int(sum(sound.values()) > 0.5 * (end - start))
        brazed += int(sound["brazed"] > 0.5 * (end - start))
    return count, missed, brazed


@dataclass(frozen=True)
class Answer:
    """One face as drawn and as read; ``reading`` is None and ``code`` set where it was refused."""

    face: DrawnFace
    reading: FaceMeasurement | None
    code: str
    seconds: float


def measure(seed: int, *, options: argparse.Namespace) -> Answer:
    cv2.setNumThreads(1)
    width = WIDTHS[seed % len(WIDTHS)]
    share = None
    if options.stratum:
        low, high = (float(v) for v in options.stratum.split(","))
        share = float(np.random.default_rng([29, seed]).uniform(low, high))
    drawn = draw_face(
        seed, stream=options.stream, style=options.style, width_px=width, unbrazed_share=share
    )
    photo = photo_from_pixels(drawn.pixels)
    start = time.perf_counter()
    try:
        ends = jittered(drawn, seed)
        reading = read_alone(photo) if options.alone else read_face(photo, *ends)
    except LapwrightError as refusal:
        return Answer(without_pixels(drawn), None, refusal.code, time.perf_counter() - start)
    return Answer(without_pixels(drawn), reading, "", time.perf_counter() - start)


def without_pixels(face: DrawnFace) -> DrawnFace:
    return DrawnFace(
        np.zeros((1, 1, 3), np.uint8),
        face.tube_end,
        face.cup_face,
        face.truth_share,
        face.segments,
        face.px_per_mm,
        face.plan,
    )


def count(tally: Tally, answer: Answer) -> None:
    face, reading = answer.face, answer.reading
    if reading is None:
        tally.refused[answer.code] += 1
        return
    length = math.dist(face.tube_end, face.cup_face)
    off = max(
        math.dist(reading.tube_end_px, face.tube_end), math.dist(reading.cup_face_px, face.cup_face)
    )
    tally.right += int(off < 0.03 * length)
    tally.wrong += int(off >= 0.03 * length)
    tally.seconds.append(answer.seconds)
    low, high = reading.interval95
    tally.truths.append(face.truth_share)
    tally.errors.append(reading.unbrazed_share - face.truth_share)
    tally.held.append(int(low <= face.truth_share <= high))
    tally.met_guarded.append(int(high <= LIMIT))
    tally.met_simple.append(int(reading.unbrazed_share <= LIMIT and not reading.needs_reader))
    tally.readers += int(reading.needs_reader != "")
    voids, missed, brazed = missed_residue(face, reading)
    tally.residue += voids
    tally.residue_missed += missed
    tally.residue_brazed += brazed


def report(tally: Tally, faces: int) -> None:
    size = np.abs(tally.errors)
    answered = len(size)
    print(
        f"faces {faces}, answered {answered} ({answered / faces:.1%}), refused "
        f"{dict(tally.refused)}, of the answered {tally.readers} ask for a reader"
    )
    print(
        f"error: mean {100 * size.mean():.2f} points, median {100 * np.median(size):.2f}, "
        f"95th percentile {100 * np.percentile(size, 95):.2f}, bias "
        f"{100 * np.mean(tally.errors):+.2f}"
    )
    print(f"95 % intervals hold the truth in {np.mean(tally.held):.1%}")
    print(
        f"residue voids over 3 %: {tally.residue}, at P > 0.8 brazed: {tally.residue_missed}, "
        f"of them called brazed and not unsure: {tally.residue_brazed}"
    )
    truths, guarded, simple = (
        np.array(v) for v in (tally.truths, tally.met_guarded, tally.met_simple)
    )
    for low, high in STRATA:
        inside = (truths >= low) & (truths < high)
        if inside.any():
            bounds = clopper_pearson(int(guarded[inside].sum()), int(inside.sum()))
            print(
                f"  truth {low:6.1%} to {high:6.1%}: {inside.sum():4d} faces, plain Met "
                f"guarded {guarded[inside].sum():3d}, simple without reader's call "
                f"{simple[inside].sum():3d}; guarded, 95 % bounds "
                f"{bounds[0]:.2%} to {bounds[1]:.2%}"
            )
    print(f"ends within 3 % of the overlap: {tally.right}, farther off: {tally.wrong}")
    print(
        f"time a face: median {np.median(tally.seconds):.2f} s, "
        f"95th percentile {np.percentile(tally.seconds, 95):.2f} s"
    )


def time_large() -> None:
    """Time a 12-megapixel JPEG from bytes to reading beside OpenCV's bare decode."""
    face = draw_face(3, stream="testing", width_px=4240)
    data = cv2.imencode(".jpg", face.pixels, [cv2.IMWRITE_JPEG_QUALITY, 92])[1].tobytes()
    raw = np.frombuffer(data, np.uint8)
    bare, whole = [], []
    for _ in range(5):
        start = time.perf_counter()
        cv2.imdecode(raw, cv2.IMREAD_COLOR)
        middle = time.perf_counter()
        read_face(open_photo(data), face.tube_end, face.cup_face)
        bare.append(middle - start)
        whole.append(time.perf_counter() - middle)
    high, wide = face.pixels.shape[:2]
    print(
        f"{wide * high / 1e6:.1f} megapixels: bare decode {min(bare):.3f} s, open and read "
        f"{min(whole):.3f} s (aim 0.6 s), ratio {min(whole) / min(bare):.1f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", type=int, default=100)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument("--stream", default="testing", choices=["testing", "tuning"])
    parser.add_argument("--style", default="plate", choices=STYLES)
    parser.add_argument("--stratum", default="", help="LOW,HIGH of the share")
    parser.add_argument("--alone", action="store_true", help="give no ends")
    parser.add_argument("--workers", type=int, default=1)
    options = parser.parse_args()
    tally = Tally()
    seeds = range(options.first, options.first + options.faces)
    with ProcessPoolExecutor(options.workers) as pool:
        for answer in pool.map(partial(measure, options=options), seeds, chunksize=4):
            count(tally, answer)
    report(tally, options.faces)
    if not options.stratum and not options.alone:
        time_large()


if __name__ == "__main__":
    main()
