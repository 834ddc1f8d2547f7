"""What the walls and the clearance of drawn faces are read as, beside the truth.

Faces of both styles as drawn must raise nothing; then a dip of known depth is
eaten out of one wall of each and must be seen when deeper than the stated
smallest detectable depth. Example::

    python benchmarks/members.py --faces 24 --first 9300
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lapwright.core.errors import LapwrightError
from lapwright.measure.drawing.eaten import Dip, eat
from lapwright.measure.face import read_face
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.members import Members, look_members
from lapwright.measure.synthetic import DrawnFace, draw_face
from lapwright.measure.values import FaceMeasurement

STEPS = (0.5, 0.8, 1.0, 1.3, 1.8, 2.6)


@dataclass
class Figures:
    """What was found, one entry a face, a wall or a dip."""

    faces: int
    raised: int
    unmeasured: int
    seconds: list[float]
    clearance: list[float]
    walls: list[float]
    least: dict[str, list[float]]
    dips: list[tuple[str, float, int]]


def answered(args: argparse.Namespace) -> Iterator[tuple[DrawnFace, FaceMeasurement]]:
    for style in ("field", "plate"):
        for seed in range(args.first, args.first + args.faces):
            face = draw_face(seed, stream=args.stream, width_px=args.width, style=style)
            try:
                yield (
                    face,
                    read_face(photo_from_pixels(face.pixels), face.tube_end, face.cup_face),
                )
            except LapwrightError:
                continue


def as_drawn(figures: Figures, face: DrawnFace, m: FaceMeasurement) -> Members:
    photo, scale = photo_from_pixels(face.pixels), face.plan.px_per_mm
    begin = time.process_time()
    members = look_members(photo, m)
    figures.seconds.append(time.process_time() - begin)
    figures.faces += 1
    figures.raised += bool(members.raised)
    middle = members.clearance.median
    if middle is not None:
        off = middle.width_px - face.plan.clearance_mm * scale
        figures.clearance.append(off / middle.u_px)
    truths = (face.plan.wall_tube_mm * scale, face.plan.wall_cup_mm * scale)
    for wall, truth in zip((members.tube, members.cup), truths, strict=True):
        figures.unmeasured += wall.state == "not-measured"
        if wall.profile_px:
            figures.walls.append(float(np.nanmedian(wall.profile_px)) / truth - 1)
        for surface in wall.surfaces:
            figures.least[surface.name].append(surface.detectable_px)
    return members


def with_dips(figures: Figures, face: DrawnFace, m: FaceMeasurement, clean: Members) -> None:
    rng = np.random.default_rng([face.plan.seed, figures.faces])
    for member in (clean.tube, clean.cup):
        for surface in member.surfaces:
            part = STEPS[int(rng.integers(len(STEPS)))]
            at, length = rng.uniform(0.12, 0.88), rng.uniform(0.06, 0.2)
            depth = part * surface.detectable_px
            dip = Dip(member.member, surface.name, float(at), float(length), float(depth))
            eaten = photo_from_pixels(eat(face.pixels, face.plan, dip))
            seen = look_members(eaten, m)
            found = seen.tube if member.member == "tube" else seen.cup
            figures.dips.append((surface.name, part, int(found.state == "raise")))


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--faces", type=int, default=24)
    ask.add_argument("--first", type=int, default=9300)
    ask.add_argument("--stream", default="testing")
    ask.add_argument("--width", type=int, default=1200)
    args = ask.parse_args()
    figures = Figures(0, 0, 0, [], [], [], {"outer": [], "joint": []}, [])
    for face, m in answered(args):
        with_dips(figures, face, m, as_drawn(figures, face, m))
    show(figures)


def show(figures: Figures) -> None:
    print(f"faces answered {figures.faces}, of these raised as drawn {figures.raised}")
    print(f"walls not measured {figures.unmeasured} of {2 * figures.faces}")
    print(f"processor time, median {1000 * float(np.median(figures.seconds)):.0f} ms")
    off = np.abs(figures.walls)
    print(f"wall, median of the profile: error {100 * np.median(off):.2f} %, ", end="")
    print(f"95 % of them under {100 * float(np.percentile(off, 95)):.2f} %")
    z = np.abs(figures.clearance)
    print(f"clearance within 2 u of the truth: {100 * float(np.mean(z < 2)):.0f} % of {z.size}")
    for name, least in figures.least.items():
        low, middle, high = np.percentile(least, [5, 50, 95])
        print(f"{name}: smallest detectable {middle:.1f} px ({low:.1f} to {high:.1f})")
        for part in STEPS:
            hits = [hit for n, p, hit in figures.dips if n == name and p == part]
            print(f"  {part:.1f} of it: raised {sum(hits)} of {len(hits)}")


if __name__ == "__main__":
    main()
