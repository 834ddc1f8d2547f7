"""Part the error of a drawn face's reading: what came from ends, from void ends, from classes.

The truth of a drawing is laid onto the line the reader traced, through the drawing's own geometry.
Then the share of that truth between the *read* ends, less the drawn share, is the error of the
ends (slant of the picture included); void ends that the reading has too, times their jump, are the
error of the segment ends; what is left is the error of the classes, short voids not seen included.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from accuracy import jittered
from shapely.geometry import LineString, Point

from lapwright.core.errors import LapwrightError
from lapwright.measure.drawing.geometry import picture_point
from lapwright.measure.face import read_face
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.synthetic import DrawnFace, draw_face
from lapwright.measure.values import FaceMeasurement

REACH_SHARE = 0.02  # a void end of the reading belongs to a true one within this of the overlap


@dataclass(frozen=True)
class ErrorParts:
    """Errors of one share, [-], and every void end found: error outward, [px]."""

    ends: float
    segment_ends: float
    classes: float
    void_ends_px: tuple[float, ...]


def read_drawn(
    seed: int, *, style: str, stream: str, width_px: int
) -> tuple[DrawnFace, FaceMeasurement | None]:
    """Draw a face and read it, its ends jittered as in ``accuracy.py``; None where refused."""
    drawn = draw_face(seed, stream=stream, style=style, width_px=width_px)
    try:
        return drawn, read_face(photo_from_pixels(drawn.pixels), *jittered(drawn, seed))
    except LapwrightError:
        return drawn, None


def along_reading(drawn: DrawnFace, reading: FaceMeasurement, shares: np.ndarray) -> np.ndarray:
    """Return where places of the joint lie on the traced line, as shares of its length.

    Places beyond the ends of the traced line are carried on along its first and last step.
    """
    line = np.array(reading.line)
    long = [2 * line[0] - line[min(9, len(line) - 1)], 2 * line[-1] - line[max(0, len(line) - 10)]]
    path = LineString(np.vstack([long[:1], line, long[1:]]))
    before = float(np.hypot(*(line[0] - long[0])))
    whole = LineString(line).length
    length_mm = drawn.plan.overlap_mm
    places = [Point(picture_point(drawn.plan, float(s) * length_mm)) for s in shares]
    return (np.array([path.project(place) for place in places]) - before) / whole


def parts_of_error(drawn: DrawnFace, reading: FaceMeasurement) -> ErrorParts:
    """Part ``unbrazed_share - truth`` of one reading."""
    ends = np.array([end for void in drawn.segments for end in void[:2]], float)
    placed = along_reading(drawn, reading, ends).reshape(-1, 2)
    inside = np.clip(placed, 0, 1)
    there = float((inside[:, 1] - inside[:, 0]).sum())
    found = _void_ends(placed, reading)
    length = reading.overlap_px
    moved = sum(off * jump for off, jump in found) / length
    error = reading.unbrazed_share - drawn.truth_share
    by_ends = there - drawn.truth_share
    return ErrorParts(by_ends, moved, error - by_ends - moved, tuple(off for off, _ in found))


def _void_ends(placed: np.ndarray, reading: FaceMeasurement) -> list[tuple[float, float]]:
    """Return (error outward in px, jump) of every void end of the reading that is a true one."""
    true = [(place, 1.0) for place in placed[:, 0] if place > 0.001]
    true += [(place, -1.0) for place in placed[:, 1] if place < 0.999]
    found = []
    for before, after in itertools.pairwise(reading.segments):
        jump = after.probability - before.probability
        near = [(abs(p - before.end), p, way) for p, way in true if way * jump > 0.5]
        if not near or min(near)[0] > REACH_SHARE:
            continue
        _, place, way = min(near)
        true.remove((place, way))
        found.append((way * (place - before.end) * reading.overlap_px, abs(jump)))
    return found
