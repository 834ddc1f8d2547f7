"""How well lengths from drawn scale cards and stage micrometers keep their stated uncertainty.

``python benchmarks/scale.py [--views 240] [--first 0]`` prints the share answered, the error of a
length beside the card (with and without correction for perspective), and how often the truth lay
within twice the stated standard uncertainty. Truth: exact geometry of the drawing camera.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from lapwright.core.errors import LapwrightError
from lapwright.measure.drawing.views import Camera, Wear, draw_graduations
from lapwright.measure.graduations import micrometer_scale
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.scale import length_along
from lapwright.measure.scalecard import card_scale
from unit.measure.card_views import view_by_lot


def cards(first: int, count: int) -> None:
    refused: Counter[str] = Counter()
    rows = []
    for seed in range(first, first + count):
        view, printed = view_by_lot(seed)
        start = time.perf_counter()
        try:
            scale = card_scale(view.photo, printed=printed)
            length = length_along(scale, view.line_px, arc_px=view.arc_px)
        except LapwrightError as refusal:
            refused[refusal.code] += 1
            continue
        off = length.mm - view.line_mm
        flat = view.arc_px / view.camera.scale
        tilt = dict(scale.facts)["tilt_deg"]
        rows.append(
            (
                off / length.u_mm,
                off / view.line_mm,
                flat / view.line_mm - 1,
                float(printed is not None),
                tilt - view.camera.tilt_deg,
                time.perf_counter() - start,
            )
        )
    table = np.array(rows)
    print(f"cards: {count} views, {len(rows)} answered, refused {dict(refused)}")
    for name, kept in (("check line measured", 1), ("print unchecked", 0), ("both", None)):
        part = table if kept is None else table[table[:, 3] == kept]
        held = float(np.mean(np.abs(part[:, 0]) <= 2))
        rms = float(np.sqrt((part[:, 1] ** 2).mean()))
        print(
            f"  {name:<20} {len(part):4d} views: within 2 u {held:.1%}, error rms {rms:.3%},"
            f" largest {np.abs(part[:, 1]).max():.3%}"
        )
    flat = np.percentile(np.abs(table[:, 2]), [50, 95])
    tilt = np.percentile(np.abs(table[:, 4]), [50, 95])
    print(f"  without perspective, scale of the middle: median {flat[0]:.2%}, 95th {flat[1]:.2%}")
    print(f"  tilt: error median {tilt[0]:.2f} deg, 95th {tilt[1]:.2f} deg")
    print(f"  time of one view: median {np.median(table[:, 5]):.2f} s")


def micrometers(first: int, count: int) -> None:
    refused: Counter[str] = Counter()
    ratios, errors = [], []
    for seed in range(first, first + count):
        rng = np.random.default_rng([20260302, seed])
        wide, pitch = int(rng.integers(700, 1200)), float(rng.choice([0.01, 0.05, 0.1]))
        spacing = rng.uniform(8, 40)
        camera = Camera(
            (wide, int(wide * 0.7)),
            spacing / pitch,
            tilt_deg=rng.uniform(0, 2),
            axis_deg=rng.uniform(0, 360),
            turn_deg=rng.uniform(-180, 180),
            focal_px=4.0 * wide,
        )
        picture = draw_graduations(
            camera,
            pitch_mm=pitch,
            divisions=int(rng.integers(40, 101)),
            line_mm=pitch * rng.uniform(0.15, 0.4),
            wear=Wear(rng.uniform(0.3, spacing / 10), rng.uniform(1, 8), 90),
            seed=seed,
        )
        try:
            scale = micrometer_scale(photo_from_pixels(picture), pitch_mm=pitch)
        except LapwrightError as refusal:
            refused[refusal.code] += 1
            continue
        errors.append(scale.px_per_mm / camera.scale - 1)
        ratios.append(errors[-1] / scale.relative_u)
    held = float(np.mean(np.abs(ratios) <= 2))
    print(f"micrometers: {count} pictures, {len(errors)} answered, refused {dict(refused)}")
    print(f"  within 2 u {held:.1%}, largest error {np.abs(errors).max():.3%}")


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--views", type=int, default=240)
    options.add_argument("--first", type=int, default=0)
    asked = options.parse_args()
    cards(asked.first, asked.views)
    micrometers(asked.first, asked.views // 4)
