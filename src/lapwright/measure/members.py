"""What the two members of a read face show: their walls and the clearance between them.

The reading of a face gives the line; here the copper to both sides of it is
followed out to where it ends. A wall that cannot be traced (glare, a cropped
picture, resin like copper) is *not measured*, with a reason, never a number.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from .clearance import (
    STRETCHES,
    Clearance,
    by_stretch,
    corrected,
    measure_clearance,
    stretch_places,
)
from .erosion import (
    LEAST_KNOWN,
    Surface,
    even_course,
    joint_dips,
    judge_surface,
    outer_dips,
)
from .image import Photo
from .outline import Outlines, find_outlines
from .values import FaceMeasurement, Point

MEMBERS = ("tube", "cup")
EDGE_U_PX = 0.3  # of one edge; our own choice on the tuning stream of drawn faces, no source
SLANT_SHARE = 0.02  # of a wall, between two places of a picture taken at a slight slant
LEAST_COLUMNS = 6  # of a wall away from the joint


@dataclass(frozen=True)
class Length:
    """A length with its standard uncertainty, [px]."""

    px: float
    u_px: float

    def as_dict(self, px_per_mm: float | None, relative_u: float = 0.0) -> dict[str, Any]:
        """Return the parts for JSON; mm only with a scale.

        Parameters
        ----------
        px_per_mm : float or None
            Scale.
        relative_u : float, optional
            Relative standard uncertainty of the scale, [-].
        """
        if px_per_mm is None:
            return {"px": self.px, "u_px": self.u_px, "mm": None, "u_mm": None}
        u_mm = math.hypot(self.u_px, self.px * relative_u) / px_per_mm
        return {"px": self.px, "u_px": self.u_px, "mm": self.px / px_per_mm, "u_mm": u_mm}


@dataclass(frozen=True)
class Wall:
    """The wall of one member along the overlap.

    ``state`` is ``raise`` (a person must look), ``nothing-seen`` (which clears
    nothing) or ``not-measured`` with a ``reason``. ``away_from`` says where the
    wall away from the joint was taken: ``beyond-the-cup-face``,
    ``behind-the-tube-end`` or, where the picture shows neither, ``along-the-overlap``.
    ``thinnest_at`` is a share from the tube end, ``thinnest_place`` a point of the
    picture, [px]. ``surfaces`` are the judged ones of ``outer`` and ``joint``.
    """

    member: str
    state: str
    reason: str = ""
    away: Length | None = None
    away_from: str = ""
    thinnest: Length | None = None
    thinnest_at: float | None = None
    thinnest_place: Point | None = None
    loss: Length | None = None
    surfaces: tuple[Surface, ...] = ()
    profile_px: tuple[float, ...] = ()
    outline_px: tuple[Point, ...] = ()

    def as_dict(self, px_per_mm: float | None, relative_u: float = 0.0) -> dict[str, Any]:
        """Return the parts for JSON.

        Parameters
        ----------
        px_per_mm : float or None
            Scale.
        relative_u : float, optional
            Relative standard uncertainty of the scale, [-].
        """
        lengths = {"away": self.away, "thinnest": self.thinnest, "loss": self.loss}
        told = {
            k: None if v is None else v.as_dict(px_per_mm, relative_u) for k, v in lengths.items()
        }
        return {
            "state": self.state,
            "reason": self.reason,
            "away_from": self.away_from,
            **told,
            "thinnest_at": self.thinnest_at,
            "thinnest_place_px": None if self.thinnest_place is None else list(self.thinnest_place),
            "surfaces": [_surface(s, px_per_mm) for s in self.surfaces],
            "profile_px": [None if math.isnan(v) else v for v in self.profile_px],
        }


@dataclass(frozen=True)
class Members:
    """Both walls and the clearance of a face.

    ``places`` are the stretches' middles as shares from the tube end, ``edges`` the
    outlines from which all this was measured.
    """

    tube: Wall
    cup: Wall
    clearance: Clearance
    places: tuple[float, ...]
    edges: Outlines | None = None

    @property
    def raised(self) -> tuple[Wall, ...]:
        """The walls that a person must look at."""
        return tuple(w for w in (self.tube, self.cup) if w.state == "raise")

    def as_dict(self, px_per_mm: float | None, relative_u: float = 0.0) -> dict[str, Any]:
        """Return the JSON document of the members.

        Parameters
        ----------
        px_per_mm : float or None
            Scale.
        relative_u : float, optional
            Relative standard uncertainty of the scale, [-].
        """
        return {
            "places": list(self.places),
            "tube": self.tube.as_dict(px_per_mm, relative_u),
            "cup": self.cup.as_dict(px_per_mm, relative_u),
            "clearance": self.clearance.as_dict(px_per_mm),
        }


def look_members(photo: Photo, measurement: FaceMeasurement) -> Members:
    """Measure the walls of both members and the clearance along a read face.

    Parameters
    ----------
    photo : Photo
        The photograph that was read; not modified.
    measurement : FaceMeasurement
        Its reading.

    Returns
    -------
    Members
        Lengths in px; `Members.as_dict` gives mm with a scale.
    """
    line = np.array(measurement.line)
    edges = find_outlines(photo.pixels, line, gap_px=measurement.gap_px)
    places = tuple(float(v) for v in stretch_places())
    if edges is None:
        blank = np.full(STRETCHES, np.nan)
        tube, cup = (Wall(name, "not-measured", "no-copper") for name in MEMBERS)
        return Members(tube, cup, measure_clearance(blank), places)
    seen = _Seen.of(edges, measurement.gap_px)
    clearance = measure_clearance(seen.gap[0] + seen.gap[1])
    if edges.tube_row is None:
        tube, cup = (Wall(name, "not-measured", "members-not-told-apart") for name in MEMBERS)
        return Members(tube, cup, clearance, places, edges)
    tube, cup = (
        _wall(name, seen, row)
        for name, row in zip(MEMBERS, (edges.tube_row, 1 - edges.tube_row), strict=True)
    )
    return Members(tube, cup, clearance, places, edges)


@dataclass(frozen=True)
class _Seen:
    """Edges of both sides by stretch, [px] from the line, shape (2, STRETCHES)."""

    edges: Outlines
    outer: np.ndarray
    gap: np.ndarray
    gap_px: float

    @staticmethod
    def of(edges: Outlines, gap_px: float) -> _Seen:
        at = edges.axis.at
        outer, gap = (
            np.stack([by_stretch(at, side) for side in both]) for both in (edges.outer, edges.gap)
        )
        return _Seen(edges, outer, gap, gap_px)


def _wall(name: str, seen: _Seen, row: int) -> Wall:
    own, other = seen.outer[row], seen.outer[1 - row]
    if np.isfinite(own).sum() < LEAST_KNOWN * STRETCHES:
        return Wall(name, "not-measured", "outline-not-traced")
    surfaces = [judge_surface("outer", outer_dips(own, other), gap_px=seen.gap_px)]
    if (np.isfinite(seen.gap).sum(axis=1) >= LEAST_KNOWN * STRETCHES).all():
        dips = joint_dips(seen.gap[row], seen.gap[1 - row])
        surfaces.append(judge_surface("joint", dips, gap_px=seen.gap_px))
    judged = tuple(s for s in surfaces if s is not None)
    raised = [s for s in judged if s.state == "raise"]
    profile, doubt = _thickness(seen, row)
    thin = int(np.nanargmin(profile))
    if raised:  # the place that a person must look at, not one of the same thickness elsewhere
        deepest = max(raised, key=lambda s: s.dip_px / s.u_px)
        thin = int(np.abs(stretch_places() - deepest.at).argmin())
    away, where = _away(name, seen, row)
    if away is None:
        away = Length(float(np.nanmedian(profile)), doubt)
    thinnest = Length(float(profile[thin]), doubt)
    slant = SLANT_SHARE / math.sqrt(3) * away.px
    return Wall(
        name,
        "raise" if raised else "nothing-seen",
        away=away,
        away_from=where,
        thinnest=thinnest,
        thinnest_at=float(stretch_places()[thin]),
        thinnest_place=_place(seen, row, thin),
        loss=Length(away.px - thinnest.px, float(np.hypot(np.hypot(away.u_px, doubt), slant))),
        surfaces=judged,
        profile_px=tuple(float(v) for v in profile),
        outline_px=_outline(seen.edges, row),
    )


def _thickness(seen: _Seen, row: int) -> tuple[np.ndarray, float]:
    """Return the wall in every stretch, [px], and the standard uncertainty of one of them."""
    edge = seen.gap[row]
    if np.isfinite(edge).sum() >= STRETCHES // 4:
        edge = np.where(np.isfinite(edge), edge, even_course(edge))
    else:
        edge = np.full(STRETCHES, seen.gap_px / 2)
    true, u = corrected(2 * np.maximum(edge, 0.5))
    wall = seen.outer[row] - true / 2
    off = wall - even_course(wall)
    scatter = 1.4826 * float(np.nanmedian(np.abs(off)))
    return wall, float(np.hypot(np.hypot(scatter, float(np.median(u)) / 2), EDGE_U_PX))


def _away(name: str, seen: _Seen, row: int) -> tuple[Length | None, str]:
    """Return the wall away from the joint and where it was taken, None where none is in view."""
    at = seen.edges.axis.at
    thick = seen.edges.outer[row] - seen.edges.bare[row]
    place = at > 1.03 if name == "tube" else (at < 0) & (at > -0.2)
    columns = np.flatnonzero(np.isfinite(thick) & place)
    # the half that is farther from the fillet; without the corners behind the tube end
    columns = columns[columns.size // 2 :] if name == "tube" else columns[2:-2]
    if columns.size < LEAST_COLUMNS:
        return None, "along-the-overlap"
    found = thick[columns]
    middle = float(np.median(found))
    scatter = 1.4826 * float(np.median(np.abs(found - middle)))
    u = math.hypot(scatter / math.sqrt(columns.size / LEAST_COLUMNS), math.sqrt(2) * EDGE_U_PX)
    return Length(middle, u), "beyond-the-cup-face" if name == "tube" else "behind-the-tube-end"


def _outline(edges: Outlines, row: int) -> tuple[Point, ...]:
    """Return the points of an outer outline that were found beside the overlap, [px]."""
    beside = (edges.axis.at >= 0) & (edges.axis.at <= 1)
    points = edges.places(edges.outer[row], row)[beside & np.isfinite(edges.outer[row])]
    return tuple((float(x), float(y)) for x, y in points)


def _place(seen: _Seen, row: int, stretch: int) -> Point:
    """Return the middle of a wall in a stretch as a point of the picture, [px]."""
    column = int(np.abs(seen.edges.axis.at - stretch_places()[stretch]).argmin())
    middle = np.full(seen.edges.axis.at.size, seen.outer[row][stretch] / 2)
    x, y = seen.edges.places(middle, row)[column]
    return float(x), float(y)


def _surface(surface: Surface, px_per_mm: float | None) -> Mapping[str, Any]:
    scale = None if px_per_mm is None else 1 / px_per_mm
    return {
        "surface": surface.name,
        "state": surface.state,
        "dip_px": surface.dip_px,
        "dip_mm": None if scale is None else surface.dip_px * scale,
        "u_px": surface.u_px,
        "at": surface.at,
        "length": surface.length,
        "detectable_px": surface.detectable_px,
        "detectable_mm": None if scale is None else surface.detectable_px * scale,
    }
