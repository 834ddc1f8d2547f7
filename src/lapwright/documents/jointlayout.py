"""Where the faces of one joint lie on the unrolled map: plane trigonometry and spacing.

Angles round the tube are in degrees, clockwise from 12 o'clock, looking from the
mouth into the cup. Depths are fractions of a face's own overlap, from the mouth
(0) to the tube end (1). Nothing here knows what was found; `continuations` only
says where two neighbouring cuts lack filler at one depth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

TURN_DEG = 360.0
FARTHEST_DEG = 180.0  # cuts farther apart are no neighbours; a choice of this tool
_CLOSE = 1e-9


@dataclass(frozen=True)
class Span:
    """A stretch of a face by depth, 0 at the mouth to 1 at the tube end."""

    start: float
    end: float

    @property
    def length(self) -> float:
        """Length as a fraction of the overlap."""
        return self.end - self.start


@dataclass(frozen=True)
class Link:
    """Two neighbouring cuts, by index, that lack filler at one ``depth`` (the shared middle).

    ``round_cut`` is ``yes`` when the way from ``left`` to ``right`` leads over the line
    along which the roll was cut open.
    """

    left: int
    right: int
    depth: float
    round_cut: str


def cut_angle(angles_deg: Sequence[float]) -> float:
    """Return where the roll is cut open: in the middle of the widest gap between faces.

    Parameters
    ----------
    angles_deg : sequence of float
        Angles of the faces, [deg]; at least one.

    Examples
    --------
    >>> cut_angle([0.0, 180.0]), cut_angle([90.0])
    (270.0, 270.0)
    """
    gaps = _gaps(angles_deg)
    widest = max(gap for gap, _ in gaps)
    start = max(a for gap, a in gaps if gap > widest - _CLOSE)
    return (start + widest / 2) % TURN_DEG


def widest_gap(angles_deg: Sequence[float]) -> float:
    """Return the widest angle round the tube that holds no cut, [deg].

    Parameters
    ----------
    angles_deg : sequence of float
        Angles of the faces, [deg]; at least one.

    Examples
    --------
    >>> widest_gap([10.0, 100.0, 190.0])
    180.0
    """
    return max(gap for gap, _ in _gaps(angles_deg))


def _gaps(angles_deg: Sequence[float]) -> list[tuple[float, float]]:
    """Return every gap between neighbouring angles as (size, where it begins)."""
    ordered = sorted({a % TURN_DEG for a in angles_deg})
    return [(b - a, a) for a, b in pairwise([*ordered, ordered[0] + TURN_DEG])]


def along(angle_deg: float, cut_deg: float) -> float:
    """Return how far along the roll an angle lies, 0 to below 1, clockwise from the cut."""
    share = ((angle_deg - cut_deg) % TURN_DEG) / TURN_DEG
    return share if share < 1 else 0.0


def clock_text(angle_deg: float) -> str:
    """Return an angle as a clock position, to the nearest minute of the clock (half a degree).

    Examples
    --------
    >>> clock_text(90.0), clock_text(315.0), clock_text(0.0)
    ('3', '10:30', '12')
    """
    minutes = round(angle_deg * 2) % 720
    hours, rest = divmod(minutes, 60)
    return f"{hours or 12}:{rest:02d}" if rest else str(hours or 12)


def on_dial(angle_deg: float, radius: float) -> tuple[float, float]:
    """Return the place of an angle on a dial, x to the right and y downwards, from its centre.

    Examples
    --------
    >>> [round(v, 6) for v in on_dial(90.0, 10.0)]
    [10.0, -0.0]
    """
    turn = math.radians(angle_deg)
    return radius * math.sin(turn), -radius * math.cos(turn)


def spread(targets: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move places apart to at least ``gap``, within bounds, as little as can be.

    Least squares under order (pool adjacent violators); when the room is too small
    for all, they are spaced evenly.

    Parameters
    ----------
    targets : sequence of float
        Wanted places, in ascending order.
    gap : float
        Least distance between neighbours.
    low, high : float
        Bounds of the first and of the last place.
    """
    count = len(targets)
    if count > 1 and (count - 1) * gap > high - low:
        return [low + (high - low) * i / (count - 1) for i in range(count)]
    pools: list[tuple[float, int]] = []
    for i, target in enumerate(targets):
        mean, size = target - i * gap, 1
        while pools and pools[-1][0] > mean:
            other, more = pools.pop()
            mean, size = (mean * size + other * more) / (size + more), size + more
        pools.append((mean, size))
    flat = [mean for mean, size in pools for _ in range(size)]
    top = high - (count - 1) * gap
    return [min(max(place, low), top) + i * gap for i, place in enumerate(flat)]


def continuations(
    angles_deg: Sequence[float], spans: Sequence[Sequence[Span]], *, least: float
) -> tuple[Link, ...]:
    """Return where neighbouring cuts lack filler at one depth: a hint, never a finding.

    Parameters
    ----------
    angles_deg : sequence of float
        Angles of the faces in the order of the roll, [deg].
    spans : sequence of sequence of Span
        The unbrazed stretches of each face.
    least : float
        Share of the shorter stretch that both must have in common.
    """
    count = len(angles_deg)
    if count < 2:
        return ()
    links = []
    for left in range(count):
        right = (left + 1) % count
        apart = (angles_deg[right] - angles_deg[left]) % TURN_DEG
        if _CLOSE < apart <= FARTHEST_DEG + _CLOSE:
            over = "yes" if right < left else ""
            links += [
                Link(left, right, depth, over)
                for depth in _shared(spans[left], spans[right], least)
            ]
    return tuple(links)


def _shared(one: Sequence[Span], two: Sequence[Span], least: float) -> list[float]:
    found = []
    for a in one:
        for b in two:
            start, end = max(a.start, b.start), min(a.end, b.end)
            if end > start and end - start >= least * min(a.length, b.length):
                found.append((start + end) / 2)
    return found
