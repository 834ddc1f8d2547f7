"""Draw a reading over a copy of its photograph.

States differ by stroke and letter first, by colour second: brazed is one thin
line, unbrazed two thick dashed lines with the letter U, unsure two dotted lines
with a question mark. Places to look at have numbered arrows. Strokes run beside the
joint, never over it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import cv2
import numpy as np

from .image import Photo
from .overlaymarks import Mark, draw_marks, legend_rows
from .pen import INK, PAPER, Colour, beside, dashed, piece, png, shrink, stroke, words
from .strip import arc_length
from .values import FaceMeasurement, Point, Segment

WIDTH_PX = 1400
LABELS: Mapping[str, str] = {
    "brazed": "brazed",
    "unbrazed": "unbrazed (U)",
    "unsure": "unsure (?)",
    "tube_end": "tube end",
    "cup_face": "cup face",
    "share": "unbrazed",
    "outer_wall": "outer wall",
}
COLOURS: dict[str, Colour] = {
    "brazed": (208, 200, 120),
    "unbrazed": (60, 90, 235),
    "unsure": (60, 200, 250),
}


def draw_overlay(
    photo: Photo,
    face: FaceMeasurement,
    *,
    labels: Mapping[str, str] = LABELS,
    width_px: int | None = None,
    outlines: Sequence[Sequence[Point]] = (),
    look_at: Sequence[Mark] = (),
) -> bytes:
    """Draw line, segments and ends over a crop of the photograph.

    Parameters
    ----------
    photo : Photo
        The photograph that was read; not modified.
    face : FaceMeasurement
        Its reading.
    labels : mapping of str to str, optional
        Words of the picture, for other languages.
    width_px : int, optional
        Width of the finished picture where it has to be smaller, [px].
    outlines : sequence of sequences of pair of float, optional
        Outer outlines of the two members, [px] of the photograph.
    look_at : sequence of Mark, optional
        Places to look at; each gets a number, which the legend explains.

    Returns
    -------
    bytes
        PNG, 1400 px wide if no width is given, legible at half that size.
    """
    canvas, points = _crop(photo, face, look_at)
    outlines = [outline for outline in outlines if len(outline) > 1]
    for outline in outlines:
        stroke(canvas, _placed(outline, points, face), PAPER, width=1)
    reach = float(np.clip(face.gap_px * _scale_of(points, face), 6, 60)) / 2 + 9
    total = arc_length(points)[-1]
    marks = []
    up = -1.0 if points[-1, 0] > points[0, 0] else 1.0  # letters above, labels below
    for segment in face.segments:
        part = piece(points, segment.start * total, segment.end * total)
        _draw_segment(canvas, part, segment, reach)
        if segment.state != "brazed":
            marks.append((beside(part, up * (reach + 26))[len(part) // 2], segment.state))
    _draw_end(canvas, points[0], points[3], labels["tube_end"], reach)
    _draw_end(canvas, points[-1], points[-4], labels["cup_face"], reach)
    for place, state in _spread(marks):
        words(canvas, "U" if state == "unbrazed" else "?", place, size=22, plate=4)
    draw_marks(canvas, points, [_placed([m.place], points, face)[0] for m in look_at])
    parts = [canvas, _legend(face, labels)]
    if outlines or look_at:
        named = labels.get("outer_wall", LABELS["outer_wall"]) if outlines else ""
        parts.append(legend_rows(WIDTH_PX, [m.label for m in look_at], named))
    picture = np.vstack(parts)
    return png(picture if width_px is None else shrink(picture, width_px))


def _crop(
    photo: Photo, face: FaceMeasurement, look_at: Sequence[Mark]
) -> tuple[np.ndarray, np.ndarray]:
    line = np.array(face.line)
    pads = [0.16, *(0.09 for _ in look_at)]  # of the overlap; a mark needs room for its arrow
    shown = [line, *(np.array([m.place]) for m in look_at)]
    sides = [(s, pad * face.overlap_px) for s, pad in zip(shown, pads, strict=True)]
    least = np.min([s.min(axis=0) - pad for s, pad in sides], axis=0)
    most = np.max([s.max(axis=0) + pad for s, pad in sides], axis=0)
    low = np.maximum(np.floor(least), 0).astype(int)
    high = np.minimum(np.ceil(most) + 1, [photo.width, photo.height]).astype(int)
    crop = photo.pixels[low[1] : high[1], low[0] : high[0]]
    scale = WIDTH_PX / crop.shape[1]
    size = (WIDTH_PX, max(1, round(crop.shape[0] * scale)))
    method = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    canvas = cv2.resize(crop, size, interpolation=method)
    return np.asarray(canvas), (line - low + 0.5) * scale - 0.5


def _scale_of(points: np.ndarray, face: FaceMeasurement) -> float:
    return float(arc_length(points)[-1] / face.overlap_px)


def _placed(there: Sequence[Point], points: np.ndarray, face: FaceMeasurement) -> np.ndarray:
    """Return places of the photograph as places of the canvas, [px]."""
    scale = _scale_of(points, face)
    return np.asarray((np.array(there) - np.array(face.line[0])) * scale + points[0])


def _draw_segment(canvas: np.ndarray, part: np.ndarray, segment: Segment, reach: float) -> None:
    colour = COLOURS[segment.state]
    if segment.state == "brazed":
        stroke(canvas, beside(part, reach), colour, width=2, halo=1)
        return
    width, pattern = (5, (15, 15)) if segment.state == "unbrazed" else (4, (1, 14))
    for side in (-reach, reach):
        dashed(canvas, beside(part, side), colour, width=width, pattern=pattern)


def _spread(marks: list[tuple[np.ndarray, str]]) -> list[tuple[tuple[float, float], str]]:
    """Leave out letters that would lie on top of each other."""
    kept: list[tuple[tuple[float, float], str]] = []
    for place, state in marks:
        spot = (float(place[0]), float(place[1]))
        if all(abs(spot[0] - x) + abs(spot[1] - y) > 34 for (x, y), _ in kept):
            kept.append((spot, state))
    return kept


def _draw_end(
    canvas: np.ndarray, end: np.ndarray, near: np.ndarray, label: str, reach: float
) -> None:
    along = (end - near) / max(float(np.hypot(*(end - near))), 1e-9)
    across = np.array([-along[1], along[0]])
    tick = np.stack([end - across * (reach + 22), end + across * (reach + 22)])
    stroke(canvas, tick, PAPER, width=3)
    lower = tick[int(tick[:, 1].argmax())]
    words(canvas, label, (float(lower[0]), float(lower[1]) + 30), size=24, plate=6)


def _legend(face: FaceMeasurement, labels: Mapping[str, str]) -> np.ndarray:
    band = np.full((92, WIDTH_PX, 3), PAPER, np.uint8)
    band[:2] = INK
    low, high = (100 * v for v in face.interval95)
    share = f"{labels['share']} {100 * face.unbrazed_share:.1f} %"
    text = f"{share}   (95 %: {low:.1f} to {high:.1f} %)"
    words(band, text, (320, 46), size=30)
    for index, state in enumerate(("brazed", "unbrazed", "unsure")):
        left = 660 + index * 250
        sample = np.array([[left, 46.0], [left + 38, 46.0], [left + 76, 46.0]])
        _draw_segment(band, sample, Segment(0, 1, state, 0.5), 0.0 if state == "brazed" else 8.0)
        words(band, labels[state], (left + 156, 46), size=22)
    return band
