"""Draw ``docs/images/photo-setup.svg`` and ``photo-frames.svg`` for "Photograph a face".

``python scripts/photo_drawings.py`` writes both; equal code gives equal bytes. 480 units wide
with letters of 15 units and more, so that they stay legible on a phone.
"""

from __future__ import annotations

from pathlib import Path

from lapwright.documents.svg import FONT, element, number, words

IMAGES = Path(__file__).resolve().parents[1] / "docs" / "images"
INK, PAPER, SOFT = "#26221e", "#fbfaf8", "#8a8378"
COPPER, DEEP, FILLER, RESIN = "#c98a5e", "#b97a50", "#e2d9c8", "#6d6a68"
GOOD, BAD, LIGHT = "#1f6f6b", "#a8321e", "#f0c95a"
WIDE = 480.0


def box(x: float, y: float, wide: float, high: float, **more: str | float) -> str:
    return element("rect", x=x, y=y, width=wide, height=high, **more)


def line(points: list[tuple[float, float]], **more: str | float) -> str:
    at = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    look = {"fill": "none", "stroke": INK, "stroke_width": 1.5, **more}
    return element("polyline", points=at, **look)


def shape(points: list[tuple[float, float]], **more: str | float) -> str:
    at = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return element("polygon", points=at, **more)


def note(text: str, x: float, y: float, **more: str | float) -> str:
    return words(text, x, y, **{"size": 15, "fill": INK, **more})


def drawing(title: str, told: str, high: float, *parts: str) -> str:
    """Wrap the parts into a page with a ground, a title and a description."""
    return (
        element(
            "svg",
            element("title", title),
            element("desc", told),
            box(0, 0, WIDE, high, fill=PAPER),
            *parts,
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {number(WIDE)} {number(high)}",
            role="img",
            font_family=FONT,
        )
        + "\n"
    )


# ---------------------------------------------------------------- the arrangement
def setup() -> str:
    """Camera, light, face and card, seen from the side."""
    told = (
        "Seen from the side: the camera on a stand looks straight down; one diffuser in front of "
        "the lamp on either side; the prepared face and the scale card lie at one height."
    )
    return drawing("Camera, light, face and card", told, 440, *_camera(), *_lamps(), *_stage())


def _camera() -> list[str]:
    x = WIDE / 2
    return [
        box(x - 46, 40, 92, 52, rx=7, fill=INK),
        box(x - 27, 92, 54, 34, fill="#4a453f"),
        box(x - 32, 126, 64, 12, rx=2, fill=INK),
        note("camera, on a stand", x, 28, text_anchor="middle"),
        line([(x, 142), (x, 308)], stroke=SOFT, stroke_dasharray="7 5"),
        shape(
            [(x - 22, 142), (x + 22, 142), (x + 132, 312), (x - 132, 312)], fill=SOFT, opacity=0.13
        ),
        line([(x, 292), (x + 14, 292), (x + 14, 306)], stroke=SOFT),
        note("square to", x + 26, 262),
        note("the face", x + 26, 280),
    ]


def _lamps() -> list[str]:
    out = []
    for side in (-1, 1):
        x = WIDE / 2 + side * 184
        inner = WIDE / 2 + side * 120
        out += [
            element("circle", cx=x, cy=150, r=20, fill=LIGHT, stroke=INK, stroke_width=1.5),
            line([(inner - 22, 158 - side * 26), (inner + 22, 158 + side * 26)], stroke_width=5),
            *[
                line([(x - side * 78, 190 + d), (x - side * 112, 228 + d)], stroke=SOFT)
                for d in (-8, 14)
            ],
        ]
    out += [
        note("lamp", 56, 118, text_anchor="middle"),
        note("lamp", 424, 118, text_anchor="middle"),
        note("diffuser", 74, 210, text_anchor="middle"),
        note("diffuser", 406, 210, text_anchor="middle"),
    ]
    return out


def _stage() -> list[str]:
    top = 312.0
    level: dict[str, str | float] = {"stroke": GOOD, "stroke_dasharray": "4 4"}
    return [
        box(40, 372, 400, 12, fill="#4a453f"),
        box(152, top, 128, 60, fill=RESIN),
        box(168, top, 96, 10, fill=COPPER),
        box(298, top + 5, 62, 55, fill="#d8d2c6", stroke=SOFT),
        box(298, top, 62, 5, fill=INK),
        *[line([(u, top), (v, top)], **level) for u, v in ((98, 152), (280, 298), (360, 402))],
        note("one height", 92, top + 5, fill=GOOD, text_anchor="end"),
        note("prepared face", 198, 404, text_anchor="middle"),
        note("scale card", 329, 404, text_anchor="middle"),
        note("on a support", 329, 423, text_anchor="middle"),
        line([(198, 389), (198, 318)], stroke=INK, stroke_width=1),
        line([(329, 389), (329, 320)], stroke=INK, stroke_width=1),
    ]


# ---------------------------------------------------------------- the frames
FRAME = (206.0, 124.0)


def frames() -> str:
    """One good frame and five bad ones."""
    told = (
        "Six frames. Good: both ends in view, the overlap fills 60 to 80 % of the width, "
        "surroundings on both sides. Bad: an end cropped; too small; glare on the joint; "
        "card out of the plane; photographed at a slant."
    )
    shown = (
        ("good", "both ends in view", _face(0.15, 0.7)),
        ("bad", "one end cut off", _face(0.42, 0.7)),
        ("bad", "too small", _face(0.4, 0.22)),
        ("bad", "glare on the joint", _face(0.15, 0.7) + _glare()),
        ("bad", "card out of plane", _face(0.15, 0.7, card="bad")),
        ("bad", "at a slant", _slant()),
    )
    parts = [_clip()]
    for index, (verdict, said, picture) in enumerate(shown):
        x, y = 22 + (index % 2) * 230.0, 20 + (index // 2) * 184.0
        parts.append(_framed(x, y, verdict, said, picture))
    return drawing("A good frame and bad ones", told, 566, *parts)


def _clip() -> str:
    return element("defs", element("clipPath", box(0, 0, *FRAME), id="frame"))


def _framed(x: float, y: float, verdict: str, said: str, picture: list[str]) -> str:
    colour = GOOD if verdict == "good" else BAD
    wide, high = FRAME
    mark = (
        line([(0, high + 22), (6, high + 29), (17, high + 14)], stroke=colour, stroke_width=3)
        if verdict == "good"
        else line([(1, high + 14), (15, high + 28)], stroke=colour, stroke_width=3)
        + line([(15, high + 14), (1, high + 28)], stroke=colour, stroke_width=3)
    )
    return element(
        "g",
        element("g", box(0, 0, wide, high, fill=RESIN), *picture, clip_path="url(#frame)"),
        box(0, 0, wide, high, fill="none", stroke=INK, stroke_width=1.5),
        mark,
        note(f"{verdict.capitalize()}: {said}", 24, high + 27, fill=colour),
        transform=f"translate({number(x)} {number(y)})",
    )


def _face(start: float, share: float, *, card: str = "good") -> list[str]:
    """Return walls, line and card; the overlap starts at and fills shares of the frame."""
    wide, high = FRAME
    a, length = start * wide, share * wide
    b, unit, mid = a + length, length / 144, high * 0.42
    wall, gap = 22 * unit, 3.2 * unit
    fillet = 13 * unit
    return [
        box(a - 300, mid - gap / 2 - wall, b - a + 300, wall, fill=COPPER),
        box(a - 300, mid - gap, 300 - 7 * unit, wall + 1.5 * gap, fill=COPPER),
        box(a, mid + gap / 2, 500, wall, fill=DEEP),
        box(a, mid - gap / 2, length, gap, fill=FILLER),
        box(a + 0.3 * length, mid - gap / 2, 0.13 * length, gap, fill=RESIN),
        shape([(b, mid + gap / 2), (b, mid - fillet), (b + fillet, mid + gap / 2)], fill=FILLER),
        *_card(a + 0.2 * length, mid + gap / 2 + wall + 12 * unit, unit, card),
    ]


def _card(x: float, y: float, unit: float, state: str) -> list[str]:
    side = 9 * unit
    squares = [
        box(x + c * side, y + r * side, side, side, fill=INK if (r + c) % 2 else PAPER)
        for r in range(3)
        for c in range(9)
    ]
    edge = box(x - 2 * unit, y - 2 * unit, 9 * side + 4 * unit, 3 * side + 4 * unit, fill=PAPER)
    if state == "good":
        return [edge, *squares]
    about = f"rotate(-13 {number(x)} {number(y)}) translate({number(x)} {number(y)}) scale(1 0.62)"
    back = f"translate({number(-x)} {number(-y)}) skewX(-18)"
    return [
        box(x + 4, y + 19 * unit, 9 * side, 5 * unit, fill=INK, opacity=0.35),
        element("g", edge, *squares, transform=f"{about} {back}"),
    ]


def _glare() -> list[str]:
    wide, high = FRAME
    return [
        element(
            "ellipse", cx=wide * 0.56, cy=high * 0.42, rx=r * 1.5, ry=r, fill="#ffffff", opacity=o
        )
        for r, o in ((34, 0.35), (26, 0.55), (18, 1.0))
    ]


def _slant() -> list[str]:
    """The face of the good frame, its far end smaller."""
    wide, high = FRAME
    mid = high * 0.42

    def at(u: float, v: float) -> tuple[float, float]:
        far = 1 + 0.75 * u
        return 24 + wide * 0.86 * u * 1.5 / far, mid + v * 1.25 / far

    def strip(u0: float, u1: float, v0: float, v1: float, fill: str) -> str:
        return shape([at(u0, v0), at(u1, v0), at(u1, v1), at(u0, v1)], fill=fill)

    squares = [
        strip(0.2 + c * 0.06, 0.26 + c * 0.06, 36 + r * 8, 44 + r * 8, INK)
        for r in range(3)
        for c in range(9)
        if (r + c) % 2
    ]
    return [
        strip(-0.3, 1.0, -26, -2, COPPER),
        strip(-0.3, -0.05, -3, 26, COPPER),
        strip(0.0, 1.6, 2, 26, DEEP),
        strip(0.0, 1.0, -2, 2, FILLER),
        strip(0.3, 0.43, -2, 2, RESIN),
        shape([at(1.0, 2), at(1.0, -14), at(1.1, 2)], fill=FILLER),
        strip(0.19, 0.75, 34, 62, PAPER),
        *squares,
    ]


DRAWINGS = {"photo-setup.svg": setup, "photo-frames.svg": frames}


def main() -> None:
    for name, draw in DRAWINGS.items():
        (IMAGES / name).write_text(draw(), encoding="utf-8")
        print(f"wrote {name}")


if __name__ == "__main__":
    main()
