"""Write the drawn examples of ``docs/explanation/what-the-method-cannot-see.md``.

``python scripts/limits.py`` draws one face for each limit that can be drawn, reads it, and puts
picture and figures between the marks ``<!-- drawn: NAME -->`` and ``<!-- end: NAME -->`` of the
page. The prose around them is written by hand and names no figure of these faces.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "scripts")]

from faceplate import (  # noqa: E402
    Point,
    Record,
    dump,
    figures,
    load,
    outcome_words,
    plate,
    read,
    write_jpeg,
)
from lapmap import lap_map  # noqa: E402

from lapwright.measure.drawing.camera import spoil  # noqa: E402
from lapwright.measure.drawing.geometry import joint_fields, picture_point  # noqa: E402
from lapwright.measure.drawing.looks import copper, filler, mottle, resin  # noqa: E402
from lapwright.measure.drawing.paint import paint_field  # noqa: E402
from lapwright.measure.drawing.plan import FacePlan, Span  # noqa: E402
from lapwright.measure.synthetic import DrawnFace, draw_demo_face  # noqa: E402

PAGE = ROOT / "docs" / "explanation" / "what-the-method-cannot-see.md"
PICTURES = ROOT / "docs" / "images" / "limits"
RECORDS = PICTURES / "faces.json"
WIDTH_PX = 1600
Painter = Callable[[FacePlan, np.ndarray], np.ndarray]


def tidy(voids: tuple[Span, ...], *, seed: int, **more: float) -> FacePlan:
    """Return the plan of a tidy face: fine finish, even light, sharp lens."""
    return draw_demo_face(voids, seed=seed, width_px=WIDTH_PX, **more).plan


def shoot(plan: FacePlan, truth: tuple[Span, ...], paint: Painter | None = None) -> DrawnFace:
    """Paint and photograph a plan whose true voids may differ from those that show."""
    picture = paint_field(plan)
    if paint is not None:
        picture = paint(plan, picture)
    return DrawnFace(
        pixels=spoil(plan, picture),
        tube_end=picture_point(plan, 0.0),
        cup_face=picture_point(plan, plan.overlap_mm),
        truth_share=float(sum(end - start for start, end, _ in truth)),
        segments=truth,
        px_per_mm=plan.px_per_mm,
        plan=plan,
    )


def cover(
    spans: tuple[Span, ...],
    colour: np.ndarray,
    *,
    across: float,
    rough: float,
    beside: float = 0.0,
) -> Painter:
    """Return a painter that covers stretches of the gap with one colour.

    ``across`` gaps wide, ``beside`` gaps off its middle.
    """

    def paint(plan: FacePlan, picture: np.ndarray) -> np.ndarray:
        s, t = joint_fields(plan)
        out = picture.copy()
        grain = mottle(plan.rng(91), (s.shape[0], s.shape[1]), max(2.0, 0.03 * plan.px_per_mm))
        tone = (1 + np.float32(rough) * grain)[..., None] * colour.astype(np.float32)
        for start, end, _ in spans:
            inside = np.minimum(s - start * plan.overlap_mm, end * plan.overlap_mm - s)
            inside = np.minimum(
                inside, across * plan.clearance_mm / 2 - np.abs(t - beside * plan.clearance_mm)
            )
            alpha = np.clip(inside * plan.px_per_mm + 0.5, 0, 1)[..., None]
            out += alpha.astype(np.float32) * (tone - out)
        return out

    return paint


def looking(plan: FacePlan, **looks: object) -> FacePlan:
    return replace(plan, looks={**plan.looks, **looks})


# ---------------------------------------------------------------- one face a limit
HIDDEN: tuple[Span, ...] = ((0.2, 0.25, "like"), (0.52, 0.6, "like"))


def copper_coloured() -> DrawnFace:
    """Filler of nearly the colour of copper, and two voids whose fill has it too."""
    plan = looking(tidy((), seed=35), filler="near_copper")
    return shoot(plan, HIDDEN, cover(HIDDEN, copper(plan.looks) * 1.02, across=1.0, rough=0.015))


def smeared() -> DrawnFace:
    """An open void, part of which polishing has covered with copper, and one covered whole."""
    voids: tuple[Span, ...] = ((0.3, 0.42, "open"), (0.7, 0.73, "open"))
    plan = looking(tidy(voids, seed=22), filler="lighter")
    over: tuple[Span, ...] = ((0.36, 0.425, "like"), (0.695, 0.735, "like"))
    return shoot(plan, voids, cover(over, copper(plan.looks), across=1.25, rough=0.01))


def filler_like() -> DrawnFace:
    """Residue with the colour and the grain of the filler."""
    plan = looking(tidy((), seed=23), filler="darker")
    rough = plan.looks["filler_texture"]
    return shoot(plan, HIDDEN, cover(HIDDEN, filler(plan), across=1.0, rough=rough))


def empty() -> DrawnFace:
    """No filler anywhere: one even, filler-coloured fill from end to end, and no fillet."""
    whole: tuple[Span, ...] = ((0.0, 1.0, "like"),)
    plan = replace(tidy((), seed=52), fillet_mm=0.01)
    pale = filler(plan) * np.array([0.95, 1.0, 0.97])
    return shoot(plan, whole, cover(whole, pale, across=1.0, rough=0.03))


def unwetted() -> DrawnFace:
    """Filler that fills the gap and has not wetted the cup: a fine line along the wall."""
    voids: tuple[Span, ...] = ((0.3, 0.75, "unwetted"),)
    plan = looking(tidy((), seed=29), filler="lighter")
    dark = resin(plan.looks) * 0.9
    return shoot(plan, voids, cover(voids, dark, across=0.06, rough=0.02, beside=0.47))


def thin() -> DrawnFace:
    """A gap of two pixels."""
    voids: tuple[Span, ...] = ((0.25, 0.33, "open"), (0.6, 0.68, "residue"))
    plan = tidy(voids, seed=24)
    plan = replace(plan, clearance_mm=2.0 / plan.px_per_mm, wave_mm=0.0)
    return shoot(plan, voids)


def slanted() -> DrawnFace:
    """A void near the mouth, photographed from the side of the tube end."""
    voids: tuple[Span, ...] = ((0.72, 0.9, "open"),)
    plan = replace(tidy(voids, seed=25), perspective=(0.15, 0.0))
    return shoot(plan, voids)


def short() -> DrawnFace:
    """Twelve voids of a quarter of a percent of the overlap each."""
    voids: tuple[Span, ...] = tuple(
        (round(0.06 + 0.075 * n, 4), round(0.0625 + 0.075 * n, 4), "open") for n in range(12)
    )
    plan = tidy(voids, seed=26, clearance_mm=0.05)
    return shoot(plan, voids)


def wrong_ends() -> tuple[DrawnFace, tuple[Point, Point]]:
    """The cup face given 6 % of the overlap too far in, where nothing marks an end."""
    voids: tuple[Span, ...] = ((0.93, 1.0, "open"),)
    face = shoot(tidy(voids, seed=27), voids)
    a, b = np.array(face.tube_end), np.array(face.cup_face)
    x, y = a + 0.93 * (b - a)
    return face, (face.tube_end, (float(x), float(y)))


def one_plane() -> DrawnFace:
    """The sound plane of a joint that holds a void elsewhere."""
    return shoot(looking(tidy((), seed=28), filler="lighter"), ())


def cases() -> dict[str, tuple[DrawnFace, tuple[Point, Point]]]:
    """Return name -> face and the ends given."""
    plain = {
        "copper": copper_coloured(),
        "smear": smeared(),
        "like-filler": filler_like(),
        "empty": empty(),
        "unwetted": unwetted(),
        "thin": thin(),
        "slant": slanted(),
        "short": short(),
        "plane": one_plane(),
    }
    out = {name: (face, (face.tube_end, face.cup_face)) for name, face in plain.items()}
    return {**out, "ends": wrong_ends()}


# ---------------------------------------------------------------- the page
ALT = "Drawn face of this limit; the bar that was read stands above the true one."


def written() -> list[Record]:
    """Return the records as they were last written."""
    return load(RECORDS)


def block(record: Record) -> str:
    """Return what stands between the marks of one limit."""
    alt = ALT
    if record.label == "plane":
        alt = "A joint unrolled, with a void between the two planes that are cut; " + (
            "beneath it the face of one plane, which shows none of it."
        )
    said = outcome_words(record)
    ending = "Here no number is given." if said == "refused" else f"Here {said}."
    if record.label == "plane":
        ending = ending.replace("truth.", "truth of the plane, not of the joint.")
    return f"![{alt}](../images/limits/{record.picture})\n\n{figures(record)}\n{ending}\n"


def filled(text: str, records: list[Record]) -> str:
    """Return the page with every drawn block as the records say."""
    for record in records:
        marks = (f"<!-- drawn: {record.label} -->\n", f"<!-- end: {record.label} -->")
        pattern = re.escape(marks[0]) + ".*?" + re.escape(marks[1])
        if len(re.findall(pattern, text, flags=re.S)) != 1:
            raise SystemExit(f"{PAGE.name} needs the marks of {record.label} once")
        inside = f"{marks[0]}{block(record)}{marks[1]}"
        text = re.sub(pattern, lambda _, new=inside: new, text, flags=re.S)
    return text


def main() -> None:
    records = []
    for name, (face, ends) in cases().items():
        record, reading = read(face, ends, label=name)
        picture = plate(face, record, reading)
        if name == "plane":
            picture = np.vstack([lap_map(), picture])
        digest = write_jpeg(PICTURES / f"{name}.jpg", picture)
        records.append(replace(record, picture=f"{name}.jpg", sha256=digest))
        print(name, figures(record))
    dump(RECORDS, records)
    PAGE.write_text(filled(PAGE.read_text(encoding="utf-8"), records), encoding="utf-8")
    print(f"wrote {len(records)} examples into {PAGE.name}")


if __name__ == "__main__":
    main()
