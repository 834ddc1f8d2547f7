"""Which 95 % intervals hold the truth, by what decides their width; which part is out of measure.

``python benchmarks/coverage.py [--faces 120] [--first 9200] [--stream tuning]`` reads drawn faces
of both styles and prints, with Clopper-Pearson bounds, the share of intervals that hold the truth:
for all, by the largest part of the budget, and by width. Below, each part's stated spread beside
the error that part really made (see ``errorparts.py``), and where void ends really lie, by the
width of the gap: the spread within a face, and what all void ends of a face have in common.

A tuning stream says what to change; only a stream never looked at says what it is worth.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import cv2
import numpy as np
from errorparts import ErrorParts, parts_of_error, read_drawn

from lapwright.measure.quantiles import clopper_pearson
from lapwright.measure.values import FaceMeasurement

WIDTHS = (1200, 1600)
BY_WIDTH = (0.0, 0.01, 0.02, 0.04, 0.08, 1.0)
BY_GAP = (0.0, 5.0, 8.0, 12.0, 100.0)
PLACES = ("ends", "line", "segment_ends", "pixel")


@dataclass(frozen=True)
class Case:
    """One answered face: reading without its line, truth, and its error by parts."""

    reading: FaceMeasurement
    truth: float
    parts: ErrorParts

    @property
    def held(self) -> int:
        """1 where the interval holds the truth, else 0."""
        low, high = self.reading.interval95
        return int(low <= self.truth <= high)

    @property
    def width(self) -> float:
        """Width of the 95 % interval, [-]."""
        return self.reading.interval95[1] - self.reading.interval95[0]

    @property
    def decides(self) -> str:
        """Name what takes most of the interval: a part of the budget, or unsure stretches."""
        reach = {name: 2 * 1.96 * u for name, u in self.reading.budget if name != "scale"}
        reach["unsure"] = self.reading.unsure_share
        return max(reach, key=lambda name: reach[name])


def measure(seed: int, *, style: str, stream: str) -> Case | None:
    cv2.setNumThreads(1)
    width = WIDTHS[seed % len(WIDTHS)]
    drawn, reading = read_drawn(seed, style=style, stream=stream, width_px=width)
    if reading is None:
        return None
    return Case(reading, drawn.truth_share, parts_of_error(drawn, reading))


def told(name: str, cases: Sequence[Case]) -> str:
    held = sum(case.held for case in cases)
    low, high = clopper_pearson(held, len(cases))
    width = 100 * np.median([case.width for case in cases])
    return (
        f"  {name:22s} {held:4d} of {len(cases):4d} = {held / len(cases):6.1%}  "
        f"(95 % bounds {low:.1%} to {high:.1%})  median width {width:.2f} points"
    )


def grouped(cases: Sequence[Case], name_of: Callable[[Case], str]) -> dict[str, list[Case]]:
    groups: dict[str, list[Case]] = {}
    for case in cases:
        groups.setdefault(name_of(case), []).append(case)
    return dict(sorted(groups.items()))


def width_name(case: Case) -> str:
    at = min(int(np.searchsorted(BY_WIDTH, case.width, side="right")), len(BY_WIDTH) - 1)
    return f"width {100 * BY_WIDTH[at - 1]:3.0f} to {100 * BY_WIDTH[at]:3.0f} points"


def rms(values: Sequence[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def report_parts(cases: Sequence[Case]) -> None:
    """Print stated spread of each part and, where it can be told, the error it made."""
    budgets = [dict(case.reading.budget) for case in cases]
    errors = {
        "ends": [case.parts.ends for case in cases],
        "segment_ends": [case.parts.segment_ends for case in cases],
        "class_doubt": [case.parts.classes for case in cases],
    }
    for name in (*PLACES, "class_doubt"):
        stated = [budget[name] for budget in budgets]
        line = (
            f"  {name:13s} stated median {100 * np.median(stated):.3f} rms {100 * rms(stated):.3f}"
        )
        if name in errors:
            made = 100 * np.array(errors[name])
            line += (
                f"; error made: median size {np.median(np.abs(made)):.3f}, rms {rms(made):.3f}, "
                f"mean {made.mean():+.3f}"
            )
        print(line)
    pulls = [(c.reading.unbrazed_share - c.truth) / c.reading.u for c in cases]
    print(f"  error / u: rms {rms(pulls):.2f} (1 would be right), median {np.median(pulls):+.2f}")


def report_void_ends(cases: Sequence[Case]) -> None:
    """Print the spread of void ends within faces and what they have in common, [px]."""
    for low, high in itertools.pairwise(BY_GAP):
        faces = [
            np.array(c.parts.void_ends_px)
            for c in cases
            if low <= c.reading.gap_px < high and len(c.parts.void_ends_px) >= 3
        ]
        if len(faces) < 4:
            continue
        own = sum(((f - f.mean()) ** 2).sum() for f in faces) / sum(len(f) - 1 for f in faces)
        means = np.array([f.mean() for f in faces])
        alike = max(0.0, float((means**2).mean()) - own * np.mean([1 / len(f) for f in faces]))
        print(
            f"  gap {low:3.0f} to {high:3.0f} px: {len(faces)} faces, own spread {own**0.5:.2f} px,"
            f" alike on a face {alike**0.5:.2f} px, mean outward {means.mean():+.2f} px"
        )


def report(style: str, cases: Sequence[Case], faces: int) -> None:
    print(f"{style}: {len(cases)} of {faces} answered, {cases[0].reading.method}")
    print(told("all", cases))
    for name_of in (lambda case: f"largest: {case.decides}", width_name):
        for name, group in grouped(cases, name_of).items():
            print(told(name, group))
    report_parts(cases)
    report_void_ends(cases)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", type=int, default=120, help="of each style")
    parser.add_argument("--first", type=int, default=9200)
    parser.add_argument("--stream", default="tuning", choices=["testing", "tuning"])
    parser.add_argument("--workers", type=int, default=1)
    options = parser.parse_args()
    seeds = range(options.first, options.first + options.faces)
    for style in ("field", "plate"):
        work = partial(measure, style=style, stream=options.stream)
        with ProcessPoolExecutor(options.workers) as pool:
            cases = [case for case in pool.map(work, seeds, chunksize=4) if case is not None]
        report(style, cases, options.faces)


if __name__ == "__main__":
    main()
