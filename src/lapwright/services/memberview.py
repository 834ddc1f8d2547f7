"""What a read face shows of its two members, as JSON, as lines, and as part of an act.

An automatic look at a wall may raise a matter for a person; that it saw nothing
is said with the smallest depth it would have seen, and clears nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .facerows import Row
from .text import word

if TYPE_CHECKING:
    from lapwright.measure.image import Photo
    from lapwright.measure.members import Length, Members, Wall
    from lapwright.measure.overlaymarks import Mark
    from lapwright.measure.values import FaceMeasurement

METHOD = "members/1"
OVERLAP_U_SHARE = 0.005  # of a typed overlap: both ends of it; common practice, no source
CALIPER_U_MM = 0.012  # limits of 0.02 mm over root 3; common practice, no source


@dataclass(frozen=True)
class TubeSize:
    """Wall of the tube as measured, [mm], and its outside diameter where that is known."""

    wall_mm: float
    od_mm: float | None = None

    @property
    def text(self) -> str:
        """The sizes for a message."""
        od = "" if self.od_mm is None else f"{self.od_mm:g} x "
        return f"{od}{self.wall_mm:g} mm"


def check_tube(tube: TubeSize | None, *, scaled: bool) -> None:
    """Refuse tube sizes that no picture can be held against.

    Parameters
    ----------
    tube : TubeSize or None
        As given.
    scaled : bool
        Whether a scale or an overlap in mm was given too.

    Raises
    ------
    OffAxisRefused
        If they are the sizes of no tube.
    OffAxisNeedsScale
        If the picture has no scale.
    """
    from lapwright.measure.errors import OffAxisNeedsScale
    from lapwright.measure.offaxis import check_sizes

    if tube is None:
        return
    check_sizes(tube.wall_mm, tube.od_mm)
    if not scaled:
        raise OffAxisNeedsScale(
            "tube sizes were given without a scale",
            got=tube.text,
            expected="a scale of the picture, or the overlap in mm",
            do="Add a source of scale, or leave the tube sizes out.",
        )


def look(photo: Photo, m: FaceMeasurement) -> Members:
    """Measure the members of a read face.

    Parameters
    ----------
    photo : Photo
        The photograph that was read.
    m : FaceMeasurement
        Its reading.
    """
    from lapwright.measure.members import look_members

    return look_members(photo, m)


def members_document(
    photo: Photo, m: FaceMeasurement, members: Members, *, tube: TubeSize | None = None
) -> dict[str, Any]:
    """Return the members of a face for JSON.

    Parameters
    ----------
    photo : Photo
        The photograph that was read.
    m : FaceMeasurement
        Its reading, with the overlap in mm where a scale is known.
    members : Members
        From `look`.
    tube : TubeSize, optional
        With its diameter it tells how far the cut lies off the axis.
    """
    scale, relative_u = _scale(m)
    document: dict[str, Any] = {"method": METHOD, **members.as_dict(scale, relative_u)}
    document["off_axis"] = None
    if tube is not None and tube.od_mm is not None and scale is not None:
        sizes = (tube.od_mm, tube.wall_mm)
        document["off_axis"] = _off_axis(photo, members, sizes, (scale, relative_u))
    return document


def _scale(m: FaceMeasurement) -> tuple[float | None, float]:
    if m.overlap_mm is None:
        return None, 0.0
    known = None if m.overlap_mm_u is None else m.overlap_mm_u / m.overlap_mm
    return m.overlap_px / m.overlap_mm, OVERLAP_U_SHARE if known is None else known


def _off_axis(
    photo: Photo, members: Members, sizes: tuple[float, float], scale: tuple[float, float]
) -> dict[str, Any]:
    from lapwright.measure.halfsection import outside_width
    from lapwright.measure.offaxis import off_axis, off_axis_by_width

    od_mm, wall_mm = sizes
    wall = members.tube.away
    bare = wall is not None and members.tube.away_from == "beyond-the-cup-face"
    width = None if members.edges is None else outside_width(photo.pixels, members.edges)
    by_wall = by_width = None
    if wall is not None and bare:
        shown, u = _mm(wall, scale)
        by_wall = off_axis(shown, u, od_mm, wall_mm, wall_u_mm=CALIPER_U_MM).as_dict()
        by_wall |= {"apparent_wall_mm": shown, "apparent_wall_u_mm": u}
    if width is not None:
        shown, u = _mm(width, scale)
        by_width = off_axis_by_width(shown, u, od_mm, od_u_mm=CALIPER_U_MM).as_dict()
        by_width |= {"apparent_width_mm": shown, "apparent_width_u_mm": u}
    return {
        "tube_od_mm": od_mm,
        "tube_wall_mm": wall_mm,
        "by_wall": by_wall,
        "by_width": by_width,
    }


def _mm(length: Length, scale: tuple[float, float]) -> tuple[float, float]:
    px_per_mm, relative_u = scale
    u = math.hypot(length.u_px, length.px * relative_u)
    return length.px / px_per_mm, u / px_per_mm


def member_rows(document: dict[str, Any]) -> list[Row]:
    """Return the members of a face as rows for a terminal.

    Parameters
    ----------
    document : dict
        From `members_document`.
    """
    out = [_clearance_row(document["clearance"])]
    if document["off_axis"] is not None:
        out.append(_axis_row(document["off_axis"]))
    walls = [(name, document[name]) for name in ("tube", "cup")]
    out += [_raised_row(name, wall) for name, wall in walls if wall["state"] == "raise"]
    quiet = [(name, wall) for name, wall in walls if wall["state"] == "nothing-seen"]
    if quiet:
        out.append(_quiet_row(quiet))
    out += [
        _unknown(f"members.{name}", wall["reason"])
        for name, wall in walls
        if wall["state"] == "not-measured"
    ]
    return out


def _unknown(name: str, reason: str) -> Row:
    return Row("unknown", word(name), word(f"members.reason.{reason}"))


def wall_marks(members: Members) -> list[Mark]:
    """Return the raised walls as marks of an overlay, in the order of their rows.

    Parameters
    ----------
    members : Members
        From `look`.
    """
    from lapwright.measure.overlaymarks import Mark

    return [
        Mark(_outside(wall, wall.thinnest_place), word("members.mark", member=word(name)))
        for wall in members.raised
        for name in (f"members.{wall.member}",)
        if wall.thinnest_place is not None
    ]


def _outside(wall: Wall, place: tuple[float, float]) -> tuple[float, float]:
    """Return where the outer outline is nearest to a place of its wall, [px]."""
    return min(wall.outline_px, key=lambda point: math.dist(point, place), default=place)


def _quiet_row(quiet: list[tuple[str, dict[str, Any]]]) -> Row:
    surfaces = (s for _, wall in quiet for s in wall["surfaces"])
    least = max(surfaces, key=lambda s: s["detectable_px"])
    size = _length(least["detectable_px"], least["detectable_mm"])
    which = word("members.wall" if len(quiet) > 1 else f"members.{quiet[0][0]}")
    return Row("nothing", word("members.quiet", which=which, least=size))


def _raised_row(name: str, wall: dict[str, Any]) -> Row:
    deepest = max(
        (s for s in wall["surfaces"] if s["state"] == "raise"),
        key=lambda s: s["dip_px"] / s["u_px"],
    )
    text = word(
        "members.raise",
        member=word(f"members.{name}"),
        at=f"{deepest['at']:.2f}",
        depth=_length(deepest["dip_px"], deepest["dip_mm"]),
        least=_length(deepest["detectable_px"], deepest["detectable_mm"]),
    )
    return Row("look", text)


def _clearance_row(clearance: dict[str, Any]) -> Row:
    if clearance["state"] == "not-measured":
        return _unknown("members.clearance_name", "no-gap")
    unit = "px" if clearance["median"]["mm"] is None else "mm"
    places = 1 if unit == "px" else 3
    parts = {k: f"{clearance[k][unit]:.{places}f}" for k in ("median", "min", "max")}
    spread = f"{2 * clearance['median'][f'u_{unit}']:.{places}f}"
    name = "limited" if clearance["state"] == "limited-by-the-picture" else "clearance"
    return Row("clearance", word(f"members.{name}", spread=spread, unit=unit, **parts))


def _axis_row(off: dict[str, Any]) -> Row:
    found = off["by_width"] or off["by_wall"]
    if found is None:
        return _unknown("members.axis.name", "no-bare-wall")
    if found["state"] == "disagrees":
        return Row("axis", word("members.axis.disagrees"))
    low, high = (f"{v:.2f}" for v in found["offset95_mm"])
    if found["state"] == "off-axis":
        offset, stretch = f"{found['offset_mm']:.2f}", f"{100 * (found['stretch'] - 1):.1f}"
        told = word("members.axis.off", offset=offset, low=low, high=high, stretch=stretch)
    else:
        most = f"{100 * (found['stretch95'][1] - 1):.1f}"
        told = word("members.axis.near", high=high, most=most)
    return Row("axis", told)


def _length(px: float, mm: float | None) -> str:
    return f"{px:.1f} px" if mm is None else f"{mm:.2f} mm"


def raised_walls(photo: Photo, m: FaceMeasurement) -> dict[str, Any]:
    """Return what a reading raises of the walls as act text; empty where it raises nothing.

    Parameters
    ----------
    photo : Photo
        The photograph that was read.
    m : FaceMeasurement
        Its reading.
    """
    members = look(photo, m)
    scale, _ = _scale(m)
    walls = [_act_text(wall, scale) for wall in members.raised]
    return {"walls": walls} if walls else {}


def _act_text(wall: Wall, px_per_mm: float | None) -> dict[str, str]:
    deepest = max((s for s in wall.surfaces if s.state == "raise"), key=lambda s: s.dip_px / s.u_px)
    depth, least = (
        f"{v:.1f} px" if px_per_mm is None else f"{v / px_per_mm:.3f} mm"
        for v in (deepest.dip_px, deepest.detectable_px)
    )
    return {
        "member": wall.member,
        "surface": deepest.name,
        "at": f"{deepest.at:.3f}",
        "depth": depth,
        "least": least,
        "method": METHOD,
    }
