"""Beneath the columns of a joint map: the dial, the key, hints and notes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from .jointcolumns import COPPER, FAINT, INK, find_links, hatch
from .jointframe import MARGIN, Frame
from .jointlayout import clock_text, on_dial
from .jointvalues import JointMap, MapFace
from .svg import element, words, wrap

DIAL_X, DIAL_RADIUS, BORE_RADIUS = 92.0, 42.0, 34.0
NEAR_DEG = 16.0  # marks nearer than this share one label on the dial
KEY_X = 196.0


def draw_dial(
    frame: Frame, faces: Sequence[MapFace], y: float, heading: str
) -> tuple[tuple[str, ...], float]:
    """Return the joint seen from the mouth with its cuts as marks, and where it ends."""
    if not frame.known:
        return (), y
    parts = []
    for line in wrap(heading, KEY_X - MARGIN - 14, 11.5):
        parts.append(words(line, MARGIN, y, size=11.5, font_weight="bold"))
        y += 14
    middle = y + DIAL_RADIUS + 18
    for radius, fill in ((DIAL_RADIUS, COPPER), (BORE_RADIUS, "#ffffff")):
        parts.append(element("circle", cx=DIAL_X, cy=middle, r=radius, fill=fill, stroke=INK))
    for angle in (0.0, 90.0, 180.0, 270.0):
        dx, dy = on_dial(angle, BORE_RADIUS - 11)
        at = (DIAL_X + dx, middle + dy + 3.5)
        parts.append(words(clock_text(angle), *at, size=10, text_anchor="middle", fill="#5a534d"))
    parts += _marks(frame, faces, middle)
    return tuple(parts), middle + DIAL_RADIUS + 26


def _marks(frame: Frame, faces: Sequence[MapFace], middle: float) -> Iterator[str]:
    groups: list[tuple[float, list[str]]] = []
    for n, index in enumerate(frame.order[: frame.known]):
        angle = faces[index].angle_deg or 0.0
        (ax, ay), (bx, by) = on_dial(angle, BORE_RADIUS - 3), on_dial(angle, DIAL_RADIUS + 4)
        path = f"M{DIAL_X + ax:.2f} {middle + ay:.2f}L{DIAL_X + bx:.2f} {middle + by:.2f}"
        yield element("path", d=path, stroke=INK, stroke_width=2.4)
        if groups and (angle - groups[-1][0]) % 360 < NEAR_DEG:
            groups[-1][1].append(str(n + 1))
        else:
            groups.append((angle, [str(n + 1)]))
    for angle, numbers in groups:
        dx, dy = on_dial(angle, DIAL_RADIUS + 14)
        label = numbers[0] if len(numbers) == 1 else f"{numbers[0]}–{numbers[-1]}"
        at = (DIAL_X + dx, middle + dy + 4)
        yield words(label, *at, size=12, font_weight="bold", text_anchor="middle")


def draw_key(
    frame: Frame, faces: Sequence[MapFace], labels: Mapping[str, str], y: float, *, prefix: str
) -> tuple[tuple[str, ...], float]:
    """Return the key of hatchings, letters and marks that the map uses, and where it ends."""
    ways = {f.way for f in faces}
    names = ["brazed", "unbrazed", "unsure", "bar"]
    names += ["joined"] if find_links(frame, faces) else []
    names += [way for way in ("unplaced", "unread") if way in ways]
    left = KEY_X if frame.known else MARGIN
    parts: list[str] = []
    for name in names:
        parts += _swatch(name, left, y - 11, prefix)
        for line in wrap(labels[f"jointmap.key.{name}"], frame.width - left - 36 - MARGIN, 11.5):
            parts.append(words(line, left + 36, y, size=11.5))
            y += 14.5
        y += 4
    return tuple(parts), y


def _swatch(name: str, x: float, y: float, prefix: str) -> Iterator[str]:
    box: dict[str, str | float] = {"x": x, "y": y, "width": 26.0, "height": 14.0}
    if name in ("unbrazed", "unsure"):
        yield element("rect", **box, fill=hatch(prefix, name), stroke=INK)
    elif name == "brazed":
        yield element("rect", **box, fill=COPPER, stroke=INK)
    elif name == "bar":
        yield element("rect", x=x, y=y + 6, width=26.0, height=7.0, fill=COPPER, stroke=INK)
        yield element("path", d=f"M{x + 4} {y}v5m0 -2.5h12m0 -2.5v5", stroke=INK, fill="none")
    elif name == "joined":
        path = f"M{x} {y + 7}h14"
        yield element("path", d=path, stroke=INK, stroke_width=1.3, stroke_dasharray="1.5 4")
        yield words("J", x + 18, y + 11, size=11, font_weight="bold")
    else:
        yield element("rect", **box, fill="#ffffff", stroke=FAINT, stroke_dasharray="5 4")
        letter = "N" if name == "unread" else "L"
        yield words(letter, x + 9.5, y + 11, size=11, font_weight="bold")


def draw_words(
    chart: JointMap, frame: Frame, heading: str, y: float
) -> tuple[tuple[str, ...], float]:
    """Return hints and notes as wrapped lines over the whole width, and where they end."""
    parts: list[str] = []
    room = frame.width - 2 * MARGIN
    if chart.hints:
        for line in wrap(heading, room, 13, weight="bold"):
            parts.append(words(line, MARGIN, y, size=13, font_weight="bold"))
            y += 17
    for hint in chart.hints:
        parts.append(words("–", MARGIN, y))
        for line in wrap(hint, room - 14, 12):
            parts.append(words(line, MARGIN + 14, y))
            y += 15
        y += 4
    y += 4
    for note in chart.notes:
        for line in wrap(note, room, 11):
            parts.append(words(line, MARGIN, y, size=11, fill="#4a443f"))
            y += 13.5
        y += 2
    return tuple(parts), y
