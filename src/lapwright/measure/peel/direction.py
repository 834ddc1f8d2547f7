"""The lap direction: a whole-numbered vector from the mouth edge to the stop edge."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lapwright.measure.errors import LapDirectionRefused

from .outline import GRID, Outline, Point

_EIGHTHS = ((1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1))
_REACH = 10_000  # an angle becomes a vector of this length, right to 0.006 degrees
SKEW_DEG = 3.0  # warned above this; chosen, no source


@dataclass(frozen=True)
class LapDirection:
    """Whole numbers without a common factor; x to the right, y downwards."""

    dx: int
    dy: int

    @property
    def angle_deg(self) -> float:
        """Angle from the picture's right, clockwise as seen, [deg]."""
        return math.degrees(math.atan2(self.dy, self.dx)) % 360


def lap_from_points(start: Point, end: Point) -> LapDirection:
    """Return the direction from a point at the mouth edge to one at the stop edge, [px]."""
    values = (*start, *end)
    if not all(math.isfinite(v) and abs(v) < 1e6 for v in values):
        raise _refused(",".join(f"{v:g}" for v in values), "two points in the picture")
    x0, y0, x1, y1 = (round(v * GRID) for v in values)
    return _reduced(x1 - x0, y1 - y0)


def lap_from_angle(angle_deg: float) -> LapDirection:
    """Return the direction of an angle, [deg] clockwise from the picture's right.

    Multiples of 45 degrees are exact; others are taken to the nearest vector of
    whole numbers of length 10 000, which the reading states.
    """
    if not math.isfinite(angle_deg):
        raise _refused(f"{angle_deg:g}", "a finite angle")
    eighths, rest = divmod(angle_deg % 360, 45)
    if rest == 0:
        return LapDirection(*_EIGHTHS[int(eighths) % 8])
    turn = math.radians(angle_deg)
    return _reduced(round(_REACH * math.cos(turn)), round(_REACH * math.sin(turn)))


def lap_from_corners(outline: Outline) -> LapDirection:
    """Return the direction from the middle of the mouth edge to the middle of the stop edge.

    Raises
    ------
    LapDirectionRefused
        Unless the outline has four corners: mouth left, mouth right, stop right,
        stop left.
    """
    if len(outline.points) != 4:
        raise _refused(f"an outline of {len(outline.points)} points and no direction", _WANTED)
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = outline.points
    return _reduced(cx + dx - ax - bx, cy + dy - ay - by)


def check_against_corners(lap: LapDirection, outline: Outline) -> LapDirection:
    """Return the direction given, refused if it lies over 45 degrees from that of the corners."""
    own = lap_from_corners(outline)
    along = lap.dx * own.dx + lap.dy * own.dy
    across = lap.dx * own.dy - lap.dy * own.dx
    if along < abs(across):
        raise _refused(
            f"{lap.angle_deg:.1f} degrees, the corners say {own.angle_deg:.1f}",
            "a direction from the mouth edge to the stop edge",
        )
    return lap


def skew_deg(outline: Outline) -> float:
    """Return the largest angle between opposite sides of four corners, [deg]."""
    turns = [math.atan2(b[1] - a[1], b[0] - a[0]) for a, b in outline.sides]
    worst = max(abs(math.remainder(turns[n + 2] + math.pi - turns[n], math.tau)) for n in (0, 1))
    return math.degrees(worst)


def missing() -> LapDirectionRefused:
    """Return the refusal of a mask without a lap direction."""
    return _refused("no direction", _WANTED)


_WANTED = "four corners in order, --lap X,Y,X,Y from mouth to stop, or --lap-angle DEG"


def _reduced(dx: int, dy: int) -> LapDirection:
    common = math.gcd(dx, dy)
    if not common:
        raise _refused("two points in one place", "a direction from mouth edge to stop edge")
    return LapDirection(dx // common, dy // common)


def _refused(got: str, expected: str) -> LapDirectionRefused:
    return LapDirectionRefused(
        "no lap direction",
        got=got,
        expected=expected,
        do="Point from the mouth edge to the stop edge of the lap.",
    )
