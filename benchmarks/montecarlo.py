"""The closed form of a face's uncertainty beside a Monte Carlo of all its parts.

``python benchmarks/montecarlo.py [--faces 40] [--first 7300]`` reads drawn faces of the testing
stream, half of each style, ends jittered as in ``accuracy.py``. For each face two models are
thrown (JCGM 101:2008): *places*, in which every stretch counts with its probability and only ends,
boundaries, stubs, pixel, line and scale are thrown, against the closed form of those parts; and
*all*, in which the states of the runs are thrown too, against the whole ``u``. Printed are both
``u``, their ratio (in brackets with the throws beyond the 95 % interval drawn in to its ends, as
the class doubt of the budget is), and the verdict by clause 8. The last column of *all* says by how
much the printed 95 % interval of the reading is wider (+) or narrower (-) than the thrown one at
each end.
"""

from __future__ import annotations

import argparse
import math
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from accuracy import jittered

from lapwright.core.errors import LapwrightError
from lapwright.measure import face as reader
from lapwright.measure.budget import combined
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.montecarlo import FaceModel, Thrown, Tolerance, throw, validated
from lapwright.measure.synthetic import draw_face
from lapwright.measure.values import FaceMeasurement


@dataclass(frozen=True)
class Compared:
    """One model of one face: closed form and throws."""

    value: float
    u: float
    thrown: Thrown

    @property
    def ratio(self) -> float:
        """Thrown ``u`` over that of the closed form, [-]."""
        return self.thrown.u / self.u

    @property
    def drawn_in(self) -> float:
        """Thrown ``u``, remote throws drawn in, over that of the closed form, [-]."""
        return self.thrown.drawn_in_u / self.u

    def verdict(self, digits: int) -> str:
        """Say whether both agree within so many digits: ``yes``, ``no`` or ``open``."""
        return validated(self.value, self.u, self.thrown, digits=digits).agrees


@contextmanager
def inputs_kept() -> Iterator[dict[str, Any]]:
    """Keep what the reader hands to its budget and its throws while it reads."""
    kept: dict[str, Any] = {}
    budget, throws = reader.share_budget, reader.throw_runs

    def share_budget(segments: Any, **parts: Any) -> Any:
        kept.update(parts)
        return budget(segments, **parts)

    def throw_runs(runs: Any, classed: Any, steps: int, settings: Any) -> Any:
        kept.update(runs=runs, classed=classed, steps=steps)
        return throws(runs, classed, steps, settings)

    reader.share_budget, reader.throw_runs = share_budget, throw_runs
    try:
        yield kept
    finally:
        reader.share_budget, reader.throw_runs = budget, throws


def whole_model(reading: FaceMeasurement, kept: dict[str, Any]) -> FaceModel:
    """Model of all parts, runs as the reader threw them."""
    runs, classed = kept["runs"], kept["classed"]
    edges = [run.start for run in runs] + [runs[-1].end]
    return FaceModel(
        np.array(edges) / kept["steps"] * reading.overlap_px,
        classed.weight,
        classed.under,
        kept["positions"],
        line_u=kept["line_u"],
        relative_scale_u=0.01,
    )


def places_model(reading: FaceMeasurement, kept: dict[str, Any]) -> FaceModel:
    """Model of the parts of the closed form: segments held at their probabilities."""
    segments = reading.segments
    edges = [s.start for s in segments] + [segments[-1].end]
    return FaceModel(
        np.array(edges) * reading.overlap_px,
        np.ones(1),
        np.array([[s.probability for s in segments]]),
        kept["positions"],
        line_u=kept["line_u"],
        relative_scale_u=0.01,
        classes="held",
    )


def compare(seed: int, style: str, tolerance: Tolerance) -> tuple[FaceMeasurement, list[Compared]]:
    drawn = draw_face(seed, stream="testing", style=style, width_px=1200)
    with inputs_kept() as kept:
        reading = reader.read_face(photo_from_pixels(drawn.pixels), *jittered(drawn, seed))
    places_u = combined(reading.budget, without=("scale", "class_doubt"))
    return reading, [
        Compared(model.share, u, throw(model, tolerance))
        for model, u in (
            (places_model(reading, kept), places_u),
            (whole_model(reading, kept), reading.u),
        )
    ]


def line_of(name: str, found: Compared) -> str:
    low, high = found.thrown.symmetric
    short = found.thrown.shortest
    return (
        f"{name:7s} u {100 * found.u:6.3f} thrown {100 * found.thrown.u:6.3f} "
        f"ratio {found.ratio:5.3f} ({found.drawn_in:5.3f})  "
        f"95 % {100 * low:6.2f} to {100 * high:6.2f}, "
        f"shortest {100 * short[0]:6.2f} to {100 * short[1]:6.2f}  "
        f"{found.thrown.throws:7d} throws, stable {found.thrown.stable:3s}  "
        f"agrees at 1 digit: {found.verdict(1):4s} at 2: {found.verdict(2):4s}"
    )


def wider(reading: FaceMeasurement, thrown: Thrown) -> tuple[float, float]:
    low, high = (min(1.0, max(0.0, end)) for end in thrown.symmetric)
    return low - reading.interval95[0], reading.interval95[1] - high


def summary(name: str, found: list[Compared]) -> None:
    print(f"{name}: {len(found)} faces")
    for told, ratios in (
        ("as thrown", [one.ratio for one in found]),
        ("remote throws drawn in", [one.drawn_in for one in found]),
    ):
        print(
            f"  thrown u / closed form u, {told}: median {np.median(ratios):.3f}, "
            f"5 % to 95 % {np.quantile(ratios, 0.05):.3f} to {np.quantile(ratios, 0.95):.3f}"
        )
    for digits in (1, 2):
        told = Counter(one.verdict(digits) for one in found)
        print(
            f"  agree at {digits} digit(s): {told['yes']}, not: {told['no']}, open: {told['open']}"
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", type=int, default=40)
    parser.add_argument("--first", type=int, default=7300)
    parser.add_argument("--most", type=int, default=500_000, help="throws of one model")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    tolerance = Tolerance(part=0.2, most=options.most)
    found: list[list[Compared]] = []
    margins: list[tuple[float, float]] = []
    half = math.ceil(options.faces / 2)
    for number in range(options.faces):
        style, seed = ("field", "plate")[number // half], options.first + number % half
        try:
            reading, both = compare(seed, style, tolerance)
        except LapwrightError as refusal:
            print(f"{style} {seed}: refused, {refusal.code}")
            continue
        found.append(both)
        margins.append(wider(reading, both[1].thrown))
        print(f"{style} {seed}: {line_of('places', both[0])}")
        print(f"{'':12s} {line_of('all', both[1])}  {margins[-1][0]:+.4f} {margins[-1][1]:+.4f}")
    summary("places", [both[0] for both in found])
    summary("all", [both[1] for both in found])
    ends = 100 * np.array(margins)
    print(
        "printed interval beside the thrown one, points: low end out by median "
        f"{np.median(ends[:, 0]):+.2f} (least {ends[:, 0].min():+.2f}), high end by "
        f"{np.median(ends[:, 1]):+.2f} (least {ends[:, 1].min():+.2f})"
    )


if __name__ == "__main__":
    main()
