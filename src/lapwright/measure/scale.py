"""The scale of a picture, from wherever it comes, and lengths taken with it.

A scale is a number with named parts of its spread; one from a card also holds
the plane of the card, with which a length is taken point by point, corrected for
perspective. A share needs no scale; a length does.

Figures marked "common practice, no source" are suppositions of this tool; a
person who knows better states the spread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from .errors import ScaleLineRefused, ScaleRefused, ScaleTooLoose
from .plane import Plane, lengths_mm, scale_at, spread_of
from .values import Budget, Point

CLICK_U_PX = 1.0  # one end of a line named by a person on an enlarged picture; common practice
LINE_REL_U = 0.002  # a rule's length where its spread is not stated; common practice, no source
UNSEEN_TILT_DEG = 6.0  # nobody sees a smaller tilt by eye; common practice, no source
TILT_REL_U = (1 - math.cos(math.radians(UNSEEN_TILT_DEG))) / math.sqrt(3)  # rectangular
LENS_REL_U = 0.002  # a lens that bends corners by 0.3 %, as close-up lenses do; no source
TYPED_REL_U = 0.01  # a scale typed without its spread, as `measure.face` takes it
MAX_REL_U = 0.05  # beyond it a length in mm says nothing; a decision of this tool
SHORTEST_LINE_PX = 40.0


@dataclass(frozen=True)
class PictureScale:
    """Scale of one picture.

    ``source`` is ``card``, ``line``, ``micrometer``, ``profile`` or ``typed``;
    ``parts`` are named standard uncertainties of a length, relative [-], beside
    that of the plane; ``facts`` are further findings for a reader of JSON.
    """

    source: str
    px_per_mm: float
    parts: Budget
    plane: Plane | None = None
    facts: tuple[tuple[str, object], ...] = ()

    @property
    def relative_u(self) -> float:
        """Relative standard uncertainty of the scale itself, [-]."""
        return math.sqrt(sum(u * u for _, u in self.parts))

    @property
    def u(self) -> float:
        """Standard uncertainty of ``px_per_mm``, [px/mm]."""
        return self.relative_u * self.px_per_mm

    def with_facts(self, **facts: object) -> PictureScale:
        """Return the same scale with further findings."""
        return replace(self, facts=self.facts + tuple(facts.items()))


@dataclass(frozen=True)
class Length:
    """A length along a line of the picture.

    ``u_mm`` combines ``parts`` [mm]: the scale's, the fit's and the two ends'.
    ``px_per_mm`` is the scale along the line: its mean, at its first and last end.
    """

    mm: float
    u_mm: float
    parts: Budget
    px_per_mm: tuple[float, float, float]

    @property
    def uneven(self) -> float:
        """How much the scale differs between the ends, as a share of its mean, [-]."""
        mean, first, last = self.px_per_mm
        return abs(last - first) / mean


def typed_scale(px_per_mm: float, u: float | None = None) -> PictureScale:
    """Scale given as a number.

    Parameters
    ----------
    px_per_mm : float
        Scale, [px/mm].
    u : float, optional
        Its standard uncertainty, [px/mm]; 1 % where it is left out.

    Raises
    ------
    ScaleRefused
        Unless the scale is positive and its spread not negative.
    """
    if not 0 < px_per_mm < math.inf or (u is not None and not 0 <= u < math.inf):
        raise ScaleRefused(
            "not a scale",
            got=f"{px_per_mm:g} px/mm" + ("" if u is None else f" with a spread of {u:g} px/mm"),
            expected="pixels per millimetre above 0, and a spread of 0 or more",
            do="Give the scale as pixels per millimetre.",
        )
    relative = TYPED_REL_U if u is None else u / px_per_mm
    return PictureScale("typed", px_per_mm, (("typed", relative),))


def line_scale(
    start: Point, end: Point, *, length_mm: float, click_u_px: float = CLICK_U_PX
) -> PictureScale:
    """Scale from a line of known length whose two ends a person names.

    Parameters
    ----------
    start, end : pair of float
        Ends of the line, [px].
    length_mm : float
        Its length, [mm].
    click_u_px : float, optional
        Standard uncertainty of each end along the line, [px].

    Raises
    ------
    ScaleLineRefused
        If the ends are no points or under 40 px apart, or the length is not positive.
    ScaleTooLoose
        If the line is too short for its ends.
    """
    spots = (*start, *end)
    size = math.dist(start, end) if all(map(math.isfinite, spots)) else math.nan
    if not (size >= SHORTEST_LINE_PX and 0 < length_mm < math.inf and 0 < click_u_px < math.inf):
        raise ScaleLineRefused(
            "not a line of known length",
            got=f"{size:.1f} px, {length_mm:g} mm",
            expected=f"ends at least {SHORTEST_LINE_PX:g} px apart and a length above 0 mm",
            do="Name two marks of a rule far apart, and the distance between them.",
        )
    parts = (
        ("clicks", math.sqrt(2) * click_u_px / size),
        ("rule", LINE_REL_U),
        ("tilt", TILT_REL_U),
        ("lens", LENS_REL_U),
    )
    return firm(PictureScale("line", size / length_mm, parts, facts=(("line_px", size),)))


def firm(scale: PictureScale) -> PictureScale:
    """Return the scale, unless it is too uncertain for any length.

    Parameters
    ----------
    scale : PictureScale
        Any scale.

    Raises
    ------
    ScaleTooLoose
        If its relative standard uncertainty is over 5 %.
    """
    if scale.relative_u > MAX_REL_U:
        worst = max(scale.parts, key=lambda part: part[1])[0]
        raise _loose(f"{scale.relative_u:.1%}, most of it from: {worst}")
    return scale


def length_along(
    scale: PictureScale, line_px: np.ndarray, *, arc_px: float, end_u_px: float = 0.0
) -> Length:
    """Measure a line of the picture in millimetres.

    Parameters
    ----------
    scale : PictureScale
        Scale of the same picture.
    line_px : ndarray of float, shape (n, 2)
        The line, n at least 2, [px].
    arc_px : float
        Arc length that stands for the line, [px]; the polyline's own may lack its bow.
    end_u_px : float, optional
        Standard uncertainty of each end along the line, [px].

    Raises
    ------
    ScaleTooLoose
        If the length would be uncertain by over 5 % because of the scale.
    """
    polyline = float(np.hypot(*np.diff(line_px, axis=0).T).sum())
    fit_mm = 0.0
    if scale.plane is None:
        mm = arc_px / scale.px_per_mm
        ends = (scale.px_per_mm, scale.px_per_mm)
    else:
        bow = arc_px / polyline
        mm = bow * _on_plane(scale.plane.matrix(), line_px)
        fit_mm = bow * spread_of(scale.plane, lambda matrix: _on_plane(matrix, line_px))
        ends = _at_ends(scale.plane, line_px)
    parts = (
        *((name, u * mm) for name, u in scale.parts if name != "corners"),
        ("corners", fit_mm),
        ("ends", math.hypot(end_u_px / ends[0], end_u_px / ends[1])),
    )
    of_scale = math.sqrt(sum(u * u for name, u in parts if name != "ends"))
    if of_scale > MAX_REL_U * mm:
        raise _loose(f"{of_scale / mm:.1%} of the length")
    return Length(mm, math.hypot(of_scale, parts[-1][1]), parts, (arc_px / mm, *ends))


def _on_plane(matrix: np.ndarray, line_px: np.ndarray) -> float:
    return float(np.hypot(*lengths_mm(matrix, line_px).T).sum())


def _at_ends(plane: Plane, line_px: np.ndarray) -> tuple[float, float]:
    """Scale along the line at its two ends, from its outermost tenths."""
    reach = max(2, len(line_px) // 10)
    found = []
    for piece in (line_px[:reach], line_px[-reach:]):
        px = float(np.hypot(*np.diff(piece, axis=0).T).sum())
        found.append(px / _on_plane(plane.matrix(), piece))
    return found[0], found[1]


def middle_scale(plane: Plane, middle_px: np.ndarray) -> tuple[float, float]:
    """Return the scale at one place and its spread from the fit, both [px/mm].

    Parameters
    ----------
    plane : Plane
        Plane of a card.
    middle_px : ndarray of float, shape (2,)
        Place in the picture, [px].
    """
    value = scale_at(plane.matrix(), middle_px)
    return value, spread_of(plane, lambda matrix: scale_at(matrix, middle_px))


def _loose(got: str) -> ScaleTooLoose:
    return ScaleTooLoose(
        "the scale is too uncertain for a length",
        got=got,
        expected=f"at most {MAX_REL_U:.0%}",
        do="Use a longer line, or lay a card closer to the joint and photograph again.",
    )
