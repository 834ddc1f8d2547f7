"""How often a joint wholly full of residue is taken for a sound one, on drawn faces.

``python benchmarks/empty.py [--faces 40] [--first 45000]`` draws each face twice, with its fillet
and without, in both styles, fills the whole overlap with residue, and counts what is answered,
what asks for a reader, and what is plainly *Met*: upper end of the interval at most 20 % and no
reader asked for. The truth is 100 %. A range of seeds that was looked at is used up.
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

from lapwright.core.errors import LapwrightError
from lapwright.measure.drawing.plan import draw_plan
from lapwright.measure.face import read_face
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.quantiles import clopper_pearson
from lapwright.measure.settings import DEFAULT
from lapwright.measure.synthetic import render

LIMIT = 0.2
NO_FILLET_MM = 0.01

Task = tuple[str, str, int]


def read(task: Task) -> str:
    """Return ``refused``, ``met``, ``reader`` or ``over`` for one drawn joint of residue."""
    style, fillet, seed = task
    plan = replace(draw_plan(seed, "testing", 1400, 0.0), voids=((0.0, 1.0, "residue"),))
    if fillet == "without":
        plan = replace(plan, fillet_mm=NO_FILLET_MM)
    face = render(plan, style)
    try:
        m = read_face(photo_from_pixels(face.pixels), face.tube_end, face.cup_face)
    except LapwrightError:
        return "refused"
    if m.interval95[1] > LIMIT:
        return "over"
    return "reader" if m.needs_reader else "met"


def main() -> None:
    """Print the counts for both styles, with and without a fillet."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", type=int, default=40)
    parser.add_argument("--first", type=int, default=45000)
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    print(DEFAULT.method())
    seeds = range(asked.first, asked.first + asked.faces)
    total = plain = 0
    with ProcessPoolExecutor(asked.workers) as pool:
        for style in ("field", "plate"):
            for fillet in ("with", "without"):
                tasks = [(style, fillet, seed) for seed in seeds]
                found = list(pool.map(read, tasks, chunksize=4))
                count = {k: found.count(k) for k in ("refused", "over", "reader", "met")}
                print(f"{style} {fillet} fillet: {count}")
                total, plain = total + len(found), plain + count["met"]
    low, high = clopper_pearson(plain, total)
    print(f"plainly Met: {plain} of {total} (95 % bounds {low:.1%} to {high:.1%})")


if __name__ == "__main__":
    main()
