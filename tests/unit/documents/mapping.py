"""Joint maps for tests: invented faces, the shipped words, a drawing read back as XML."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

from PIL import ImageFont

import lapwright
from lapwright.documents.jointlayout import Span
from lapwright.documents.jointmap import JOINT_MAP_LABELS, joint_map_svg
from lapwright.documents.jointvalues import JointMap, MapFace, Stretch
from lapwright.services.text import catalogue

SVG = "{http://www.w3.org/2000/svg}"
FONTS = Path(lapwright.__file__).parent / "documents" / "fonts"
Pairs = Sequence[tuple[float, float]]


def face(
    id_: str,
    angle: float | None,
    unbrazed: Pairs = (),
    *,
    unsure: Pairs = (),
    way: str = "read",
    lines: tuple[str, ...] = ("by loupe",),
) -> MapFace:
    """Return a face with stretches by depth from the mouth."""
    stretches = [
        Stretch(Span(a, b), state, f"{a * 100:.0f}–{b * 100:.0f} %")
        for state, pairs in (("unbrazed", unbrazed), ("unsure", unsure))
        for a, b in pairs
    ]
    value = min(1.0, sum(b - a for a, b in unbrazed))
    share = None if way == "unread" else (value, max(0.0, value - 0.02), min(1.0, value + 0.02))
    return MapFace(id_, angle, way, tuple(stretches), share, lines)


def chart(*faces: MapFace, joint: str = "H1", hints: tuple[str, ...] = ()) -> JointMap:
    """Return a map of the faces."""
    return JointMap(
        joint,
        f"Joint {joint} of coupon H, unrolled",
        "Case TST-01",
        faces,
        ("A picture for teaching, never a verdict.", "Nothing is known between two cuts."),
        hints,
        ("Not to scale.",),
        "What the drawing shows.",
    )


def labels() -> dict[str, str]:
    """Return the shipped labels of a map."""
    return {name: catalogue()[name] for name in JOINT_MAP_LABELS}


def drawn(*faces: MapFace, joint: str = "H1", hints: tuple[str, ...] = ()) -> ElementTree.Element:
    """Draw a map and read it back as XML."""
    svg = joint_map_svg(chart(*faces, joint=joint, hints=hints), labels())
    return ElementTree.fromstring(svg.encode())


@dataclass(frozen=True)
class Box:
    """A text of a drawing and the room it takes, in drawing units."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


@cache
def _font(weight: str) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(FONTS / f"SourceSans3-{weight}.ttf"), 1000)


def real_width(text: str, size: float, weight: str = "normal") -> float:
    """Return the width of a text in the shipped font, as Pillow measures it."""
    return _font("Bold" if weight == "bold" else "Regular").getlength(text) * size / 1000


def boxes(root: ElementTree.Element) -> list[Box]:
    """Return where every text of a drawing stands, by the shipped font's own widths."""
    found = []
    for node in root.iter(f"{SVG}text"):
        size = float(node.get("font-size"))
        wide = real_width(node.text, size, node.get("font-weight", "normal"))
        shift = {"start": 0.0, "middle": wide / 2, "end": wide}[node.get("text-anchor", "start")]
        x, y = float(node.get("x")) - shift, float(node.get("y"))
        found.append(Box(node.text, x, y - 0.75 * size, x + wide, y + 0.22 * size))
    return found


def view_box(root: ElementTree.Element) -> tuple[float, float]:
    """Return width and height of a drawing."""
    x, y, width, height = map(float, root.get("viewBox").split())
    assert (x, y) == (0, 0)
    return width, height


def hatched(root: ElementTree.Element, state: str) -> list[tuple[float, float, float]]:
    """Return (x, y, height) of every stretch of a state that is drawn in a strip."""
    return [
        (float(n.get("x")), float(n.get("y")), float(n.get("height")))
        for n in root.iter(f"{SVG}rect")
        if re.fullmatch(rf"url\(#jm[0-9a-f]+-{state}\)", n.get("fill", ""))
        and n.get("width") == "30"
        and n.get("height") != "7"  # the share bar beneath a strip
    ]
