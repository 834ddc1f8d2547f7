"""A longitudinal cut that misses the axis of the tube: what it makes of the walls.

At an offset ``h`` from the axis a cut shows, of a tube of radii ``R`` and ``r``,
walls of ``sqrt(R^2 - h^2) - sqrt(r^2 - h^2)`` and an outside width of
``2 sqrt(R^2 - h^2)``: plain geometry, exact. Lengths along the axis stay as they
are, so the unbrazed share does not feel it; everything across is drawn out.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from .errors import OffAxisRefused

NORMAL95 = 1.959964  # of the normal distribution, 97.5 %
DISAGREES = 3.0  # standard uncertainties below the wall, or beyond what any cut can show


@dataclass(frozen=True)
class OffAxis:
    """How far a cut lies off the axis, and what that does.

    ``state`` is ``off-axis``, ``not-told-from-the-axis`` (the interval begins at
    zero) or ``disagrees`` (no cut of this tube looks so: scale, wall or diameter is wrong).
    ``stretch`` is by how much clearance and filler thickness at the tube's
    outside appear enlarged, [-], ``stretch95`` its 95 % interval.
    """

    state: str
    offset_mm: float | None = None
    u_mm: float | None = None
    offset95_mm: tuple[float, float] | None = None
    stretch: float | None = None
    stretch95: tuple[float, float] | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the parts for JSON."""
        return {
            "state": self.state,
            "offset_mm": self.offset_mm,
            "u_mm": self.u_mm,
            "offset95_mm": None if self.offset95_mm is None else list(self.offset95_mm),
            "stretch": self.stretch,
            "stretch95": None if self.stretch95 is None else list(self.stretch95),
        }


def apparent_wall(offset_mm: float, od_mm: float, wall_mm: float) -> float:
    """Return the wall that a cut at an offset shows, [mm].

    Parameters
    ----------
    offset_mm : float
        Distance of the cut from the axis, [mm]; at most the inner radius.
    od_mm, wall_mm : float
        Outside diameter and wall of the tube, [mm].

    Examples
    --------
    >>> round(apparent_wall(3.0, 10.0, 1.0), 4)
    1.3542
    """
    outer, inner = _radii(od_mm, wall_mm)
    if not 0 <= offset_mm <= inner:
        raise _refusal("offset", offset_mm, f"0 to {inner:g} mm, the inner radius")
    return math.sqrt(outer**2 - offset_mm**2) - math.sqrt(inner**2 - offset_mm**2)


def off_axis(
    apparent_wall_mm: float, u: float, od_mm: float, wall_mm: float, *, wall_u_mm: float = 0.0
) -> OffAxis:
    """Return how far a cut lies off the axis, from the wall that it shows.

    Parameters
    ----------
    apparent_wall_mm : float
        Wall in the picture, away from the joint, [mm].
    u : float
        Its standard uncertainty, the scale's included, [mm].
    od_mm, wall_mm : float
        Outside diameter and wall of the tube as measured, [mm].
    wall_u_mm : float, optional
        Standard uncertainty of the measured wall, [mm].

    Raises
    ------
    OffAxisRefused
        If lengths are no lengths of a tube.

    Notes
    -----
    The offset is one-to-one in the apparent wall, so its 95 % interval is that of
    the wall carried over (JCGM 101:2008, 5.3.2, from memory); near the axis a
    first-order spread would be without bound. ``u_mm`` is that interval's half
    width over 1.96.

    Examples
    --------
    >>> found = off_axis(1.3542, 0.01, 10.0, 1.0)
    >>> found.state, round(found.offset_mm, 2)
    ('off-axis', 3.0)
    """
    outer, inner = _radii(od_mm, wall_mm)
    _check_measured("apparent wall", apparent_wall_mm, u)
    spread = math.hypot(u, wall_u_mm)
    most = math.sqrt(outer**2 - inner**2)
    off = (wall_mm - apparent_wall_mm, apparent_wall_mm - most)
    if max(off) > DISAGREES * spread:
        return OffAxis("disagrees")

    def offset(wall: float) -> float:
        shown = min(max(wall, wall_mm), most)
        half = ((outer**2 - inner**2) / shown + shown) / 2
        return math.sqrt(max(0.0, outer**2 - half**2))

    return _told(apparent_wall_mm, spread, offset, outer)


def off_axis_by_width(
    apparent_width_mm: float, u: float, od_mm: float, *, od_u_mm: float = 0.0
) -> OffAxis:
    """Return how far a cut lies off the axis, from the outside width of a half-section.

    Parameters
    ----------
    apparent_width_mm : float
        Distance between the outsides of both tube walls in the picture, [mm].
    u : float
        Its standard uncertainty, the scale's included, [mm].
    od_mm : float
        Outside diameter of the tube as measured, [mm].
    od_u_mm : float, optional
        Standard uncertainty of the measured diameter, [mm].

    Raises
    ------
    OffAxisRefused
        If lengths are no lengths of a tube.
    """
    if not 0 < od_mm < math.inf:
        raise _refusal("diameter", od_mm, "above 0 mm")
    _check_measured("apparent width", apparent_width_mm, u)
    spread, outer = math.hypot(u, od_u_mm), od_mm / 2
    if apparent_width_mm - od_mm > DISAGREES * spread:
        return OffAxis("disagrees")

    def offset(narrower: float) -> float:
        half = min(max(-narrower / 2, 0.0), outer)
        return math.sqrt(outer**2 - half**2)

    return _told(-apparent_width_mm, spread, offset, outer)


def _told(value: float, spread: float, offset: Callable[[float], float], outer: float) -> OffAxis:
    """Return the offset with its interval from a rising function of what was measured."""
    low, best, high = (offset(value + k * NORMAL95 * spread) for k in (-1, 0, 1))

    def stretch(h: float) -> float:
        return outer / math.sqrt(max(outer**2 - h**2, 1e-12))

    return OffAxis(
        "off-axis" if low > 0 else "not-told-from-the-axis",
        best,
        (high - low) / (2 * NORMAL95),
        (low, high),
        stretch(best),
        (stretch(low), stretch(high)),
    )


def check_sizes(wall_mm: float, od_mm: float | None = None) -> None:
    """Refuse sizes that are those of no tube.

    Parameters
    ----------
    wall_mm : float
        Wall of the tube, [mm].
    od_mm : float, optional
        Its outside diameter, [mm].

    Raises
    ------
    OffAxisRefused
        If they are not above zero, or the wall is half the diameter or more.
    """
    if od_mm is not None:
        _radii(od_mm, wall_mm)
    elif not 0 < wall_mm < math.inf:
        raise _refusal("wall", wall_mm, "above 0 mm")


def _radii(od_mm: float, wall_mm: float) -> tuple[float, float]:
    if not 0 < od_mm < math.inf:
        raise _refusal("diameter", od_mm, "above 0 mm")
    if not 0 < wall_mm < od_mm / 2:
        raise _refusal("wall", wall_mm, f"above 0 and below {od_mm / 2:g} mm, the outer radius")
    return od_mm / 2, od_mm / 2 - wall_mm


def _check_measured(name: str, value: float, u: float) -> None:
    if not 0 < value < math.inf:
        raise _refusal(name, value, "above 0 mm")
    if not 0 <= u < math.inf:
        raise _refusal(f"standard uncertainty of the {name}", u, "0 mm or more")


def _refusal(name: str, got: float, expected: str) -> OffAxisRefused:
    return OffAxisRefused(
        f"the {name} is none of a tube",
        got=f"{got:g}",
        expected=expected,
        do="Give outside diameter and wall of the tube as measured, in mm.",
    )
