"""Figures of what a face shows beside its share, on drawn faces with known additions.

    python benchmarks/besides.py --faces 30 --first 9100 --style field

Of each seed one plain face and one with a fillet of known size, filler behind the tube
end, a drop in the bore and a crack is drawn, on the stream never used for tuning.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter

import numpy as np

from lapwright.core.errors import LapwrightError
from lapwright.measure.besides.look import look_besides
from lapwright.measure.drawing.camera import spoil
from lapwright.measure.drawing.extras import Crack, Extras, paint_with
from lapwright.measure.drawing.geometry import picture_point
from lapwright.measure.drawing.plan import FacePlan, draw_plan
from lapwright.measure.face import read_face
from lapwright.measure.image import photo_from_pixels


def bare() -> Extras:
    """A face with nothing beside its share, not even a fillet."""
    return Extras(fillet_mm=(1e-4, 1e-4))


def furnished(plan: FacePlan) -> Extras:
    """A face with one of everything, sizes by lot."""
    lots = plan.rng(950)
    side = 1 if lots.uniform() < 0.5 else -1
    wall = plan.wall_cup_mm if side > 0 else plan.wall_tube_mm
    width = lots.uniform(1.5, 4.0) / plan.px_per_mm
    crack = Crack(
        plan.overlap_mm * lots.uniform(0.1, 0.9),
        side * wall * lots.uniform(0.3, 0.9),
        width,
        lots.uniform(-1, 1),
    )
    place = plan.overlap_mm * lots.uniform(0.05, 0.6)
    size = plan.wall_tube_mm * lots.uniform([0.3, 0.15], [1.0, 0.6])
    legs = lots.uniform([0.3, 0.3], [1.2, 0.9]) * [plan.wall_tube_mm, plan.wall_cup_mm]
    return Extras(
        fillet_mm=(float(legs[0]), float(legs[1])),
        behind=float(lots.uniform(0.3, 1.0)),
        drops=((place, float(size[0]), float(size[1])),),
        cracks=(crack,),
    )


def main() -> None:
    """Draw, read and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", type=int, default=30)
    parser.add_argument("--first", type=int, default=9100)
    parser.add_argument("--style", default="field")
    parser.add_argument("--width", type=int, default=1200)
    parser.add_argument("--stream", default="testing")
    asked = parser.parse_args()
    counts: Counter[tuple[str, ...]] = Counter()
    legs: list[tuple[float, float]] = []
    seconds: list[float] = []
    for seed in range(asked.first, asked.first + asked.faces):
        plan = draw_plan(seed, asked.stream, asked.width, None)
        for kind, extras in (("bare", bare()), ("furnished", furnished(plan))):
            photo = photo_from_pixels(spoil(plan, paint_with(plan, asked.style, extras)))
            ends = picture_point(plan, 0.0), picture_point(plan, plan.overlap_mm)
            try:
                m = read_face(photo, *ends)
            except LapwrightError:
                counts[kind, "unread"] += 1
                continue
            start = time.process_time()
            found = look_besides(photo, m)
            seconds.append(time.process_time() - start)
            for name in ("fillet", "behind", "bore", "lines"):
                counts[kind, name, getattr(found, name).state] += 1
            if kind == "furnished" and found.fillet.state == "seen" and extras.fillet_mm:
                gap = plan.clearance_mm
                along, up = extras.fillet_mm
                truth = np.array([along * (1 + gap / up), up + gap]) * plan.px_per_mm
                legs.append(
                    tuple(np.array([found.fillet.along_px, found.fillet.up_px]) / truth - 1)
                )
    for key in sorted(counts):
        print(*key, counts[key])
    off = np.array(legs)
    print("legs, relative: median", np.round(np.median(off, axis=0), 3))
    print("legs, relative: 10th and 90th percentile", np.round(np.percentile(off, [10, 90]), 3))
    print(f"processor time, median {np.median(seconds) * 1000:.0f} ms")


if __name__ == "__main__":
    main()
