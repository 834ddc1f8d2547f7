"""The columns of a joint map: axes, one strip a face, words beside and beneath."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from .jointframe import LABEL_STEP, LEFT, MARGIN, PITCH, STRIP, Frame
from .jointlayout import Link, clock_text, continuations, spread
from .jointvalues import MapFace, Stretch
from .svg import element, text_width, words, wrap

INK = "#1f1a17"
FAINT = "#8a8178"
COPPER = "#f4e7da"
LETTERS = {"unbrazed": "U", "unsure": "?"}
BAR = 100.0  # length of 0 to 100 % under a strip
LEAST_SHARED = 0.5  # share of the shorter stretch; a choice of this tool
TEXT_ROOM = PITCH - 8
THIN = 1.5  # the least height at which a stretch is drawn


def hatch(prefix: str, state: str) -> str:
    """Return the paint of a state, as defined by `hatches`."""
    return f"url(#{prefix}-{state})"


def hatches(prefix: str) -> str:
    """Return the definitions of the two hatchings, with ids of their own."""
    ground = element("rect", width=7.0, height=7.0, fill="#ffffff")
    lines = element("path", d="M-1 8L8 -1M-1 1L1 -1M6 8L8 6", stroke="#7a1f12", stroke_width=2.0)
    dots = element("circle", cx=3.5, cy=3.5, r=1.5, fill="#3d3a36")
    size: dict[str, str | float] = {"patternUnits": "userSpaceOnUse", "width": 7.0, "height": 7.0}
    return element(
        "defs",
        element("pattern", ground, lines, id=f"{prefix}-unbrazed", **size),
        element("pattern", ground, dots, id=f"{prefix}-unsure", **size),
    )


def draw_axes(frame: Frame, labels: Mapping[str, str]) -> Iterator[str]:
    """Yield the lines of mouth and tube end with their words, and the clock scale."""
    right = frame.width - MARGIN
    for depth, name in ((0.0, "mouth"), (1.0, "stop")):
        y = frame.y(depth)
        yield element("line", x1=LEFT - 4, x2=right, y1=y, y2=y, stroke=INK, stroke_width=1.2)
        place = y + (4 if name == "mouth" else -12)
        label = labels[f"jointmap.axis.{name}"]
        yield words(label, LEFT - 10, place, text_anchor="end", font_weight="bold")
        note = labels[f"jointmap.axis.{name}-note"]
        yield words(note, LEFT - 10, place + 14, size=11, text_anchor="end")
    half = frame.y(0.5)
    yield element(
        "line", x1=LEFT - 4, x2=right, y1=half, y2=half, stroke="#d5cfc8", stroke_width=1.0
    )
    yield words(labels["jointmap.axis.half"], LEFT - 10, half + 4, size=11, text_anchor="end")
    if frame.known:
        yield from _clock_scale(frame, labels)
    if frame.known < len(frame.order):
        first = frame.places[frame.known] - STRIP / 2
        for line, text in enumerate(wrap(labels["jointmap.axis.unknown"], right - first, 12)):
            yield words(text, first, frame.top - 46 + 15 * line, font_style="italic")


def _clock_scale(frame: Frame, labels: Mapping[str, str]) -> Iterator[str]:
    y = frame.top - 34
    start, end = frame.axis_start, frame.axis_end
    yield element("line", x1=start, x2=end, y1=y, y2=y, stroke=INK, stroke_width=1.0)
    cut = labels["jointmap.axis.cut-open"].format(clock=clock_text(frame.cut_deg))
    for x in (start, end):
        yield element("path", d=f"M{x:.2f} {y - 6:.2f}V{y + 6:.2f}", stroke=INK, stroke_width=1.6)
    yield words(cut, start, y - 24, size=11, font_style="italic")
    for angle in (0.0, 90.0, 180.0, 270.0):
        x = frame.x(angle)
        if min(x - start, end - x) > 26:
            yield element("path", d=f"M{x:.2f} {y - 5:.2f}V{y:.2f}", stroke=INK, stroke_width=1.0)
            yield words(clock_text(angle), x, y - 9, size=12, text_anchor="middle")
    for x in (start, end):
        yield words(clock_text(frame.cut_deg), x, y - 9, size=11, text_anchor="middle")


def find_links(frame: Frame, faces: Sequence[MapFace]) -> tuple[Link, ...]:
    """Return where neighbours on the roll lack filler at one depth, by their order on it."""
    known = [faces[i] for i in frame.order[: frame.known]]
    angles = [f.angle_deg for f in known if f.angle_deg is not None]
    return continuations(angles, [f.unbrazed() for f in known], least=LEAST_SHARED)


def draw_links(frame: Frame, faces: Sequence[MapFace]) -> Iterator[str]:
    """Yield a dotted line with J where neighbouring cuts lack filler at one depth."""
    lettered: dict[int, list[float]] = {}
    for link in find_links(frame, faces):
        y = frame.y(link.depth)
        start, end = frame.places[link.left] + STRIP / 2, frame.places[link.right] - STRIP / 2
        if link.round_cut:
            yield _dotted(frame.axis_start, end, y)
            end = frame.roll_end - MARGIN
        yield _dotted(start, end, y)
        if all(abs(y - other) >= 14 for other in lettered.setdefault(link.left, [])):
            lettered[link.left].append(y)
            yield _letter("J", end - 11, y)


def _dotted(start: float, end: float, y: float) -> str:
    return element(
        "line",
        x1=start,
        x2=end,
        y1=y,
        y2=y,
        stroke=INK,
        stroke_width=1.3,
        stroke_dasharray="1.5 4",
        stroke_linecap="round",
    )


def _plate(text: str, x: float, y: float, *, high: float) -> str:
    wide = text_width(text, 11)
    return element("rect", x=x - 1.5, y=y - high / 2, width=wide + 3, height=high, fill="#ffffff")


def _letter(text: str, x: float, y: float) -> str:
    return _plate(text, x, y, high=13.0) + words(text, x, y + 4, size=11, font_weight="bold")


def draw_columns(frame: Frame, faces: Sequence[MapFace], prefix: str) -> Iterator[str]:
    """Yield every face's strip at its place, with its leader from the clock scale."""
    for n, index in enumerate(frame.order):
        face, x = faces[index], frame.places[n]
        if n < frame.known:
            y = frame.top - 34
            yield element("circle", cx=frame.targets[n], cy=y, r=3.5, fill=INK)
            path = f"M{frame.targets[n]:.2f} {y:.2f}L{x:.2f} {frame.top - 12:.2f}V{frame.top:.2f}"
            yield element("path", d=path, fill="none", stroke=INK, stroke_width=1.0)
        aside = ("end", x - 6) if frame.targets[n] > x + 1 else ("start", x + 6)
        yield words(
            str(n + 1), aside[1], frame.top - 5, size=13, font_weight="bold", text_anchor=aside[0]
        )
        yield from _strip(frame, face, x, prefix)
        yield from _beside(frame, face.stretches, x)


def _strip(frame: Frame, face: MapFace, x: float, prefix: str) -> Iterator[str]:
    left, top, height = x - STRIP / 2, frame.top, frame.height
    edge: dict[str, str | float] = {"stroke": INK, "stroke_width": 1.4}
    box: dict[str, str | float] = {"x": left, "y": top, "width": STRIP, "height": height}
    if face.way != "read":
        yield element("rect", **box, fill="#ffffff", stroke_dasharray="5 4", **edge)
        if face.way == "unread":
            cross = f"M{left} {top}l{STRIP} {height}m0 -{height}l-{STRIP} {height}"
            yield element("path", d=cross, stroke=FAINT, stroke_width=1.0, fill="none")
        letter = "N" if face.way == "unread" else "L"
        yield _letter(letter, x - 4, frame.y(0.5))
        return
    yield element("rect", **box, fill=COPPER)
    for stretch in face.stretches:
        yield element(
            "rect",
            x=left,
            y=min(frame.y(stretch.span.start), frame.bottom - THIN),
            width=STRIP,
            height=max(THIN, stretch.span.length * height),
            fill=hatch(prefix, stretch.state),
            stroke=INK,
            stroke_width=0.8,
        )
    yield element("rect", **box, fill="none", **edge)


def _beside(frame: Frame, stretches: Sequence[Stretch], x: float) -> Iterator[str]:
    ordered = sorted(stretches, key=lambda s: s.span.start + s.span.end)
    middles = [frame.y((s.span.start + s.span.end) / 2) for s in ordered]
    places = spread(middles, LABEL_STEP, frame.top + 10, frame.bottom - 10)
    edge = x + STRIP / 2
    told = [f"{LETTERS[s.state]} {s.says}" for s in ordered]
    for text, y in zip(told, places, strict=True):  # all plates first: none covers a neighbour
        yield _plate(text, edge + 9, y, high=18.0)
    for text, middle, y in zip(told, middles, places, strict=True):
        path = f"M{edge:.2f} {middle:.2f}L{edge + 7:.2f} {y:.2f}"
        yield element("path", d=path, stroke=INK, stroke_width=0.8, fill="none")
        yield words(text, edge + 9, y + 4, size=11)


def draw_beneath(
    frame: Frame, faces: Sequence[MapFace], prefix: str
) -> tuple[tuple[str, ...], float]:
    """Return the words and the share bar under every strip, and where they end."""
    parts: list[str] = []
    lowest = frame.bottom
    for n, index in enumerate(frame.order):
        face, left = faces[index], frame.places[n] - STRIP / 2
        y = frame.bottom + 14
        if face.share is not None:
            parts += _bar(face.share, left, y, prefix)
        y += 24
        for line in wrap(f"{n + 1} · {face.id}", TEXT_ROOM, 12, weight="bold"):
            parts.append(words(line, left, y, font_weight="bold"))
            y += 15
        for told in face.lines:
            for line in wrap(told, TEXT_ROOM, 11.5):
                parts.append(words(line, left, y, size=11.5))
                y += 14
        lowest = max(lowest, y)
    return tuple(parts), lowest


def _bar(share: tuple[float, float, float], left: float, y: float, prefix: str) -> Iterator[str]:
    value, low, high = (left + BAR * v for v in share)
    yield element("rect", x=left, y=y, width=BAR, height=7.0, fill=COPPER)
    yield element(
        "rect", x=left, y=y, width=value - left, height=7.0, fill=hatch(prefix, "unbrazed")
    )
    yield element(
        "rect", x=left, y=y, width=BAR, height=7.0, fill="none", stroke=INK, stroke_width=0.8
    )
    whisker = f"M{low:.2f} {y - 5:.2f}v5m0 -2.5H{high:.2f}m0 -2.5v5"
    yield element("path", d=whisker, stroke=INK, stroke_width=1.4, fill="none")
