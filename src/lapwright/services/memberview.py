"""What a read face shows of its two members, as JSON, as lines, and as part of an act.

An automatic look at a wall may raise a matter for a person; that it saw nothing
is said with the smallest depth it would have seen, and clears nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from .text import word

if TYPE_CHECKING:
    from lapwright.measure.image import Photo
    from lapwright.measure.members import Length, Members, Wall
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


def member_lines(document: dict[str, Any]) -> list[str]:
    """Return the members of a face as lines for a terminal, two at most, a third if asked.

    Parameters
    ----------
    document : dict
        From `members_document`.
    """
    walls = [(name, document[name]) for name in ("tube", "cup")]
    raised = [_raised_line(name, wall) for name, wall in walls if wall["state"] == "raise"]
    out = [" ".join(raised)] if raised else [_quiet_line(walls)]
    out.append(_clearance_line(document["clearance"]))
    if document["off_axis"] is not None:
        out.append(_axis_line(document["off_axis"]))
    return out


def _raised_line(name: str, wall: dict[str, Any]) -> str:
    deepest = max(
        (s for s in wall["surfaces"] if s["state"] == "raise"),
        key=lambda s: s["dip_px"] / s["u_px"],
    )
    return word(
        "members.raise",
        member=word(f"members.{name}"),
        at=f"{deepest['at']:.2f}",
        depth=_length(deepest["dip_px"], deepest["dip_mm"]),
        least=_length(deepest["detectable_px"], deepest["detectable_mm"]),
    )


def _quiet_line(walls: list[tuple[str, dict[str, Any]]]) -> str:
    known = [wall for _, wall in walls if wall["state"] == "nothing-seen"]
    if not known:
        return word("members.walls_unknown", why=word(f"members.reason.{walls[0][1]['reason']}"))
    least = max((s for wall in known for s in wall["surfaces"]), key=lambda s: s["detectable_px"])
    told = word("members.quiet", least=_length(least["detectable_px"], least["detectable_mm"]))
    for name, wall in walls:
        if wall["state"] == "not-measured":
            why = word(f"members.reason.{wall['reason']}")
            told += " " + word("members.one_unknown", member=word(f"members.{name}"), why=why)
    return told


def _clearance_line(clearance: dict[str, Any]) -> str:
    if clearance["state"] == "not-measured":
        return word("members.clearance_unknown")
    parts = {
        k: _length(clearance[k]["px"], clearance[k]["mm"], places=3)
        for k in ("median", "min", "max")
    }
    spread = _length(2 * clearance["median"]["u_px"], _twice(clearance["median"]["u_mm"]), places=3)
    name = "limited" if clearance["state"] == "limited-by-the-picture" else "clearance"
    return word(f"members.{name}", spread=spread, **parts)


def _axis_line(off: dict[str, Any]) -> str:
    found = off["by_width"] or off["by_wall"]
    if found is None:
        return word("members.axis.unknown")
    if found["state"] == "disagrees":
        return word("members.axis.disagrees")
    low, high = found["offset95_mm"]
    figures = {
        "offset": f"{found['offset_mm']:.2f}",
        "low": f"{low:.2f}",
        "high": f"{high:.2f}",
        "stretch": f"{100 * (found['stretch'] - 1):.1f}",
        "most": f"{100 * (found['stretch95'][1] - 1):.1f}",
    }
    if found["state"] == "off-axis":
        return word("members.axis.off", **{k: figures[k] for k in figures if k != "most"})
    return word("members.axis.near", high=figures["high"], most=figures["most"])


def _twice(value: float | None) -> float | None:
    return None if value is None else 2 * value


def _length(px: float, mm: float | None, *, places: int = 2) -> str:
    return f"{px:.1f} px" if mm is None else f"{mm:.{places}f} mm"


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
