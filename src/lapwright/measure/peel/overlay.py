"""Draw a reading of a peeled surface over a copy of its photograph.

States differ by hatching and letter first, by colour second: a discontinuity is
hatched and carries D, with a heavy rim where it joins opposite edges; an unsure
place is dotted and carries a question mark; sound filler is left as photographed.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import cv2
import numpy as np

from lapwright.measure.image import Photo
from lapwright.measure.pen import INK, PAPER, Colour, dashed, png, stroke, words

from .mask import DISCONTINUITY, OUTSIDE, UNSURE
from .outline import Outline
from .paths import EDGES, OPPOSITE
from .values import PeelReading, Place

WIDTH_PX, BAND_PX = 1400, 132
TALLEST, FLATTEST = 1.2, 0.35  # height beside width of the picture
LETTER_PX = 11  # a letter of the legend is about so wide
LABELS: Mapping[str, str] = {
    "mouth": "mouth",
    "stop": "stop",
    "left": "left",
    "right": "right",
    "discontinuity": "discontinuity (D)",
    "unsure": "unsure (?)",
    "worst": "worst line",
    "joined": "path",
    "area": "area",
    "line": "worst line",
    "path": "edge to edge",
    "yes": "yes",
    "possible": "possible",
    "no": "no",
    "proposal": "PROPOSAL: needs a reader",
}
COLOURS: dict[int, Colour] = {DISCONTINUITY: (60, 90, 235), UNSURE: (60, 200, 250)}
LINE_COLOUR: Colour = (235, 205, 120)
PATH_COLOUR: Colour = (240, 150, 235)
LETTERS, LETTER_SHARE = 40, 0.002  # at most so many, and only on places of this share


def draw_peel_overlay(
    photo: Photo,
    states: np.ndarray,
    reading: PeelReading,
    *,
    outline: Outline | None = None,
    labels: Mapping[str, str] = LABELS,
    proposal: str = "",
) -> bytes:
    """Draw states, edges and the worst line over a crop of the photograph.

    Parameters
    ----------
    photo : Photo
        The photograph; not modified.
    states : ndarray of uint8, shape (height, width)
        States of the pixels; not modified.
    reading : PeelReading
        What was read off them.
    outline : Outline, optional
        Names the edges where it has four corners, as in the reading.
    labels : mapping of str to str, optional
        Words of the picture, for other languages.
    proposal : str, optional
        Method of the program that proposed the states; the picture then says so.

    Returns
    -------
    bytes
        PNG, 1400 px wide, with a legend below.
    """
    crop, kept, corner = _crop(photo.pixels, states)
    scale = WIDTH_PX / crop.shape[1]
    size = (WIDTH_PX, max(1, round(crop.shape[0] * scale)))
    method = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    canvas = np.ascontiguousarray(cv2.resize(crop, size, interpolation=method))
    shown = cv2.resize(kept, size, interpolation=cv2.INTER_NEAREST)
    for state in (UNSURE, DISCONTINUITY):
        _hatch(canvas, shown == state, state)
    for place in reading.places:
        if any(set(pair) <= set(place.edges) for pair in OPPOSITE):
            _mark_path(canvas, _pixels_of(place, states), (corner, scale))
    _frame(canvas, shown != OUTSIDE)
    line = (np.array(reading.line_ends_px) - corner + 0.5) * scale - 0.5
    dashed(canvas, line, LINE_COLOUR, width=4, pattern=(26, 12))
    for state, letter in ((DISCONTINUITY, "D"), (UNSURE, "?")):
        _letters(canvas, shown == state, letter)
    ways = _ways(reading, outline)
    for edge in EDGES:
        _name_edge(canvas, shown != OUTSIDE, ways[edge], labels[edge])
    ahead = _ahead(reading)
    foot = line[1] - 70 * ahead + 90 * np.array([ahead[1], -ahead[0]])  # beside its lower end
    words(canvas, labels["worst"], (float(foot[0]), float(foot[1])), size=22, plate=6)
    return png(np.vstack([canvas, _legend(reading, labels, proposal)]))


def _crop(pixels: np.ndarray, states: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Cut out the surface with room for words; fill up what would be too tall or too flat."""
    surface = states != OUTSIDE
    rows, columns = (np.flatnonzero(surface.any(axis=a)) for a in (1, 0))
    pad = max(12, round(0.12 * max(rows[-1] - rows[0], columns[-1] - columns[0])))
    top, left = max(0, int(rows[0]) - pad), max(0, int(columns[0]) - pad)
    box = np.s_[top : int(rows[-1]) + pad + 1, left : int(columns[-1]) + pad + 1]
    high, wide = states[box].shape
    side = max(0, round(high / TALLEST) - wide + 1) // 2
    above = max(0, round(wide * FLATTEST) - high + 1) // 2
    room = (above, above, side, side)
    crop = cv2.copyMakeBorder(pixels[box], *room, cv2.BORDER_CONSTANT, value=INK)
    kept = cv2.copyMakeBorder(states[box], *room, cv2.BORDER_CONSTANT, value=(OUTSIDE,))
    return crop, kept, np.array([left - side, top - above])


def _hatch(canvas: np.ndarray, where: np.ndarray, state: int) -> None:
    """Hatch a state: diagonal strokes for discontinuity, dots for unsure."""
    y, x = np.mgrid[0 : where.shape[0], 0 : where.shape[1]].astype(np.int32)
    if state == DISCONTINUITY:
        inner, outer = (x + y) % 16 < 4, ((x + y + 2) % 16) < 8
    else:
        a, b = x % 14 - 7, y % 14 - 7
        inner, outer = a * a + b * b < 6, a * a + b * b < 14
    canvas[where & outer] = INK
    canvas[where & inner] = COLOURS[state]
    edges, _ = cv2.findContours(where.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(canvas, edges, -1, INK, 4)
    cv2.drawContours(canvas, edges, -1, COLOURS[state], 2)


def _pixels_of(place: Place, states: np.ndarray) -> np.ndarray:
    """Return the pixels of one discontinuity, shape of the picture, uint8."""
    left, top, wide, high = place.box_px
    box = np.s_[top : top + high, left : left + wide]
    sure = (states[box] == DISCONTINUITY).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(sure, connectivity=8)
    widths = stats[1:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT, cv2.CC_STAT_AREA]]
    found = int(np.abs(widths - [wide, high, place.area_px]).sum(axis=1).argmin()) + 1
    pixels = np.zeros(states.shape, np.uint8)
    pixels[box] = labels == found
    return pixels


def _mark_path(canvas: np.ndarray, pixels: np.ndarray, frame: tuple[np.ndarray, float]) -> None:
    """Draw a discontinuity that joins opposite edges with a heavy rim."""
    corner, scale = frame
    rims, _ = cv2.findContours(pixels, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    for rim in rims:
        points = (rim[:, 0, :] - corner + 0.5) * scale - 0.5
        closed = np.vstack([points, points[:1]])
        stroke(canvas, closed, PATH_COLOUR, width=6, halo=2)


def _frame(canvas: np.ndarray, surface: np.ndarray) -> None:
    edges, _ = cv2.findContours(surface.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(canvas, edges, -1, INK, 5)
    cv2.drawContours(canvas, edges, -1, PAPER, 2)


def _letters(canvas: np.ndarray, where: np.ndarray, letter: str) -> None:
    """Write the letter of a state into the widest part of each of its large places."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(where.astype(np.uint8))
    order = np.argsort(-stats[1:, cv2.CC_STAT_AREA])[:LETTERS] + 1
    for n in order:
        left, top, wide, high, area = (int(v) for v in stats[n])
        if area < LETTER_SHARE * where.size:
            break
        part = (labels[top : top + high, left : left + wide] == n).astype(np.uint8)
        depth = cv2.distanceTransform(cv2.copyMakeBorder(part, 1, 1, 1, 1, 0), cv2.DIST_L2, 3)
        y, x = np.unravel_index(int(depth.argmax()), depth.shape)
        words(canvas, letter, (left + float(x), top + float(y)), size=22, plate=4)


def _ways(reading: PeelReading, outline: Outline | None) -> dict[str, np.ndarray]:
    """Return in which direction from the middle each edge lies, unit vectors."""
    ahead = _ahead(reading)
    right = np.array([ahead[1], -ahead[0]])
    if outline is not None and len(outline.points) == 4:
        corners = np.array(outline.points, float)
        given = corners[1] + corners[2] - corners[0] - corners[3]
        right = right if float(right @ given) >= 0 else -right  # a mirrored order is as good
    return {"mouth": -ahead, "stop": ahead, "right": right, "left": -right}


def _name_edge(canvas: np.ndarray, surface: np.ndarray, way: np.ndarray, label: str) -> None:
    """Write the name of an edge outside the surface."""
    y, x = np.nonzero(surface)
    middle = np.array([x.mean(), y.mean()])
    reach = float(((x - middle[0]) * way[0] + (y - middle[1]) * way[1]).max())
    place = middle + way * (reach + 30 + 30 * abs(float(way[0])))
    words(canvas, label, (float(place[0]), float(place[1])), size=24, plate=6)


def _ahead(reading: PeelReading) -> np.ndarray:
    lap = np.array([reading.lap.dx, reading.lap.dy], float)
    return np.asarray(lap / np.hypot(*lap))


def _legend(reading: PeelReading, labels: Mapping[str, str], proposal: str) -> np.ndarray:
    band = np.full((BAND_PX, WIDTH_PX, 3), PAPER, np.uint8)
    band[:2] = INK
    text = (
        f"{labels['area']} {_range(reading.area.low, reading.area.high)}     "
        f"{labels['line']} {_range(reading.line.low.share, reading.line.high.share)}     "
        f"{labels['path']}: {labels[reading.through_path]}"
    )
    words(band, text, (WIDTH_PX / 2, 42), size=30)
    _sample(band, 60, DISCONTINUITY, labels["discontinuity"])
    _sample(band, 380, UNSURE, labels["unsure"])
    _sample(band, 620, None, labels["worst"])
    if reading.through_path == "yes":
        ends = np.array([[880.0, 96.0], [956.0, 96.0]])
        stroke(band, ends, PATH_COLOUR, width=6, halo=2)
        words(band, labels["joined"], (972 + LETTER_PX * len(labels["joined"]) / 2, 96), size=22)
    if proposal:
        words(band, labels["proposal"], (WIDTH_PX - 190, 96), size=24)
    return band


def _sample(band: np.ndarray, left: int, state: int | None, label: str) -> None:
    """Draw one entry of the legend: a sample of hatching or line, and its word."""
    if state is None:
        ends = np.array([[left, 96.0], [left + 76, 96.0]])
        dashed(band, ends, LINE_COLOUR, width=4, pattern=(26, 12))
    else:
        room = np.zeros(band.shape[:2], bool)
        room[82:110, left : left + 76] = True
        _hatch(band, room, state)
    words(band, label, (left + 92 + LETTER_PX * len(label) / 2, 96), size=22)


def _range(low: Fraction, high: Fraction) -> str:
    a, b = f"{100 * float(low):.1f}", f"{100 * float(high):.1f}"
    return f"{a} %" if a == b else f"{a} to {b} %"
