"""The demo's invented cases: four brazers, what each of them brazed, as case folders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from string import Template

from .atomic import make_folder, write_bytes

Span = tuple[float, float, str]
_CLOCKS = {1: "12", 2: "6"}  # cut through the top mark: the two faces lie opposite each other
OVERLAP_MM = 9.144  # 0.360 in, the measured overlap of the demo's coupons


@dataclass(frozen=True)
class DemoFace:
    """A face of the demo: its voids, and whether it is photographed or read by loupe."""

    voids: tuple[Span, ...]
    way: str = "photo"


@dataclass(frozen=True)
class DemoCase:
    """One invented brazer's session; faces in the order H1, H2, V1, V2, two each.

    H is one coupling lying level. VA and VB are couplings standing upright with one tube
    each, brazed into the lower cup: an upright coupling has but one cup in upflow.
    """

    id: str
    person: str
    name: str
    mark: str
    faces: tuple[DemoFace, ...]
    oxide: str = "none"
    seed: int = 1


def _loupe(*voids: Span) -> DemoFace:
    return DemoFace(voids, "loupe")


def _photo(*voids: Span) -> DemoFace:
    return DemoFace(voids)


_SOUND = (
    _photo((0.18, 0.22, "open")),
    _photo(),
    _photo((0.61, 0.66, "residue")),
    _photo((0.35, 0.38, "open")),
    _photo((0.80, 0.84, "open")),
    _photo(),
    _photo((0.12, 0.15, "open"), (0.52, 0.56, "open")),
    _photo((0.44, 0.47, "residue")),
)
_BY_LOUPE = (
    _loupe((0.20, 0.24, "open")),
    _loupe((0.70, 0.74, "open")),
    _loupe(),
    _loupe((0.42, 0.45, "open")),
)

CASES = (
    DemoCase("TLH-01", "ines", "Ines Marlowe", "QP7K", _SOUND, seed=11),
    DemoCase(
        "TLH-02",
        "corvin",
        "Corvin Ashdale",
        "QP3M",
        (
            _photo((0.30, 0.46, "open"), (0.60, 0.76, "open")),
            _photo((0.22, 0.25, "open")),
            *_BY_LOUPE[:2],
            *_BY_LOUPE,
        ),
        seed=21,
    ),
    DemoCase(
        "TLH-03",
        "juno",
        "Juno Thackeray",
        "QP5T",
        (
            _photo((0.40, 0.50, "open"), (0.70, 0.795, "open")),
            _photo((0.15, 0.18, "open")),
            *_BY_LOUPE[:2],
            *_BY_LOUPE,
        ),
        seed=31,
    ),
    DemoCase(
        "TLH-04",
        "perrin",
        "Perrin Loxley",
        "QP8D",
        (*_BY_LOUPE, *_BY_LOUPE),
        oxide="oxide",
        seed=41,
    ),
)


def write_case(case: DemoCase, folder: Path) -> Path:
    """Write one case folder: ``case.yaml`` and its drawn photographs; edited ones are kept.

    Parameters
    ----------
    case : DemoCase
        The invented session.
    folder : Path
        Folder to hold the case folder.

    Returns
    -------
    Path
        The case folder.
    """
    home = folder / case.id
    make_folder(home / "photos")
    joints = {"H": ("H1", "H2"), "VA": ("V1",), "VB": ("V2",)}
    faces = iter(enumerate(case.faces))
    blocks = {
        j: [_face(case, next(faces), j, n, home) for n in (1, 2)]
        for pair in joints.values()
        for j in pair
    }
    coupons = "".join(
        _coupon(case, c, [_joint(case, j, blocks[j]) for j in pair]) for c, pair in joints.items()
    )
    text = _template("case.yaml.in").substitute(
        case=case.id,
        written="2026-03-13",
        person=case.person,
        name=case.name,
        mark=case.mark,
        coupons=coupons.rstrip(),
    )
    made = (text.rstrip() + "\n").encode()
    mine = home / "case.yaml"
    if not mine.exists() or mine.read_bytes() == made:  # a case that someone edited is kept
        write_bytes(mine, made)
        ticks = (files("lapwright.services") / "demodata" / "booklet.yaml").read_bytes()
        write_bytes(home / "booklet.yaml", ticks)
    return home


def _template(name: str) -> Template:
    return Template((files("lapwright.services") / "demodata" / name).read_text("utf-8"))


_TIMES = {
    "H": ("08:27", "08:30", "08:38"),
    "VA": ("09:12", "09:15", "09:20"),
    "VB": ("09:37", "09:40", "09:45"),
}
_UPRIGHT = "  # upright: one tube, in the lower cup; the purge leaves through the empty upper cup"


def _coupon(case: DemoCase, coupon: str, joints: Sequence[str]) -> str:
    proved, start, end = _TIMES[coupon]
    return _template("coupon.yaml.in").substitute(
        id=coupon,
        note="" if coupon == "H" else _UPRIGHT,
        brazed="2026-03-04",
        proved=proved,
        start=start,
        end=end,
        person=case.person,
        oxygen="0.6 %",
        joints="".join(joints).rstrip(),
    )


def _joint(case: DemoCase, joint: str, faces: Sequence[str]) -> str:
    stand = (
        {"angle": "2 deg", "cup": "side", "feed": "side", "position": "D"}
        if joint.startswith("H")
        else {"angle": "88 deg", "cup": "down", "feed": "below", "position": "C"}
    )
    return _template("joint.yaml.in").substitute(
        id=joint,
        overlap="0.360 in",
        looked="2026-03-09",
        cut="2026-03-10",
        oxide_before=case.oxide,
        oxide_opened=case.oxide,
        faces="".join(faces).rstrip(),
        **stand,
    )


def _face(
    case: DemoCase, numbered: tuple[int, DemoFace], joint: str, number: int, home: Path
) -> str:
    index, face = numbered
    id_ = f"{joint}-{number}"
    shared = {"prepared": "2026-03-11", "read": "2026-03-12", "clock": _CLOCKS[number]}
    if face.way == "loupe":
        runs = ", ".join(_run(span) for span in face.voids)
        return _template("face-loupe.yaml.in").substitute(
            id=id_, loupe_overlap=f"{OVERLAP_MM:.1f} mm", runs=runs, **shared
        )
    from lapwright.measure.synthetic import draw_demo_face

    drawn = draw_demo_face(face.voids, seed=case.seed + index, overlap_mm=OVERLAP_MM)
    name = f"photos/{id_.lower()}.jpg"
    write_bytes(home / name, _jpeg(drawn.pixels))
    (tx, ty), (cx, cy) = drawn.tube_end, drawn.cup_face
    return _template("face.yaml.in").substitute(
        id=id_,
        photo=name,
        tx=f"{tx:.0f}",
        ty=f"{ty:.0f}",
        cx=f"{cx:.0f}",
        cy=f"{cy:.0f}",
        scale=f"{drawn.px_per_mm:.1f}",
        **shared,
    )


def _run(span: Span) -> str:
    start, end, _ = span
    return f"{{start: {start * OVERLAP_MM:.1f} mm, end: {end * OVERLAP_MM:.1f} mm}}"


def _jpeg(pixels: object) -> bytes:
    import cv2

    ok, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 92])  # type: ignore[call-overload]
    if not ok:
        raise ValueError("the picture cannot be encoded")
    return bytes(data)
