"""What a face shows beside its share: for ``lapwright face`` and for the body of a reading."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from .facerows import Row
from .text import word

if TYPE_CHECKING:
    from lapwright.measure.image import Photo
    from lapwright.measure.overlaymarks import Mark
    from lapwright.measure.values import FaceMeasurement, Segment


def besides_document(
    photo: Photo, m: FaceMeasurement, *, tube_wall_mm: float | None = None
) -> dict[str, Any]:
    """Return the JSON part ``besides`` of a measured face.

    Parameters
    ----------
    photo : Photo
        The picture that was measured.
    m : FaceMeasurement
        Its reading, with its scale where there is one.
    tube_wall_mm : float, optional
        Wall of the tube away from the joint, [mm]: the sound length is set beside three of it.
    """
    from lapwright.measure.besides.look import look_besides
    from lapwright.measure.besides.sound import in_walls

    document = look_besides(photo, m).as_dict()
    if tube_wall_mm is not None:
        sound = document["sound"]
        sound["three_walls"] = in_walls(sound["from_mouth"], m.overlap_mm, tube_wall_mm)
    return document


def besides_rows(document: dict[str, Any]) -> list[Row]:
    """Return what a face shows beside its share as rows for a terminal.

    Parameters
    ----------
    document : dict
        The JSON part ``besides``.
    """
    fillet, lines = document["fillet"], document["crack_like_lines"]
    out = [_sound_row(document["sound"])]
    out += _unseen("fillet", fillet) or [_fillet_row(fillet)]
    for name, key in (("behind", "behind_tube_end"), ("bore", "bore")):
        what = word(f"besides.{name}")
        out += _unseen(name, document[key]) or [
            Row("look", word("besides.spot", what=what, at=_place(s["place_px"])))
            for s in document[key]["spots"]
        ]
    out += _unseen("lines", lines) or [
        Row("look", word("besides.line", at=_place(c["start_px"]))) for c in lines["found"]
    ]
    return out


def besides_marks(document: dict[str, Any]) -> list[Mark]:
    """Return the places to look at as marks of an overlay, in the order of their rows.

    Parameters
    ----------
    document : dict
        The JSON part ``besides``.
    """
    from lapwright.measure.overlaymarks import Mark

    spots = [
        Mark(_point(s["place_px"]), word("besides.mark.spot", what=word(f"besides.{name}")))
        for name, key in (("behind", "behind_tube_end"), ("bore", "bore"))
        for s in document[key]["spots"]
    ]
    lines = document["crack_like_lines"]["found"]
    return spots + [Mark(_point(c["end_px"]), word("besides.mark.line")) for c in lines]


def _point(pair: Sequence[float]) -> tuple[float, float]:
    return pair[0], pair[1]


def _unseen(name: str, part: dict[str, Any]) -> list[Row]:
    if part["state"] == "seen":
        return []
    if part["state"] == "nothing-seen":
        return [Row("nothing", word(f"besides.{name}"))]
    return [Row("unknown", word(f"besides.{name}"), word(f"besides.why.{part['reason']}"))]


def _sound_row(sound: dict[str, Any]) -> Row:
    mouth, longest = sound["from_mouth"], sound["longest"]
    three, walls = sound["three_walls"], ""
    if three is not None and three["from_mouth_walls"] is not None:
        count, wall = f"{three['from_mouth_walls']:.1f}", f"{three['wall_mm']:g}"
        walls = word("besides.walls", count=count, wall=wall)
    text = word(
        "besides.sound",
        share=_percent(mouth["share"]),
        low=_percent(mouth["low"]),
        high=_percent(mouth["high"]),
        mm="" if mouth["mm"] is None else f" = {mouth['mm']:.2f} mm",
        walls=walls,
        longest=_percent(longest["share"]),
    )
    return Row("sound", text)


def _fillet_row(fillet: dict[str, Any]) -> Row:
    unit, places = ("px", 0) if fillet["along_mm"] is None else ("mm", 2)
    along, up = (f"{fillet[f'{leg}_{unit}']:.{places}f}" for leg in ("along", "up"))
    return Row("fillet", word("besides.legs", along=along, up=up, unit=unit))


def _place(point: Sequence[float]) -> str:
    return f"{point[0]:.0f},{point[1]:.0f}"


def _percent(share: float) -> str:
    return f"{share * 100:.1f}"


def sound_body(segments: Sequence[Segment]) -> dict[str, Any]:
    """Return the sound lengths of a reading as act text: share, low, high.

    Parameters
    ----------
    segments : sequence of Segment
        The whole line, from the tube end to the cup face.
    """
    from lapwright.measure.besides.sound import sound_from_mouth

    found = sound_from_mouth(segments)
    return {
        "from_mouth": [f"{v:.5f}" for v in found.from_mouth],
        "longest": [f"{v:.5f}" for v in found.longest],
    }


def dark_lines(photo: Photo, m: FaceMeasurement) -> dict[str, Any]:
    """Return the crack-like lines of a reading as act text; nothing where none was seen.

    Parameters
    ----------
    photo : Photo
        The picture that was measured.
    m : FaceMeasurement
        Its reading.
    """
    from lapwright.measure.besides.cracks import find_crack_lines

    lines = find_crack_lines(photo, m, cup_side=0).found
    if not lines:
        return {}
    return {
        "dark_lines": [
            {
                "start": f"{c.start_px[0]:.0f},{c.start_px[1]:.0f}",
                "end": f"{c.end_px[0]:.0f},{c.end_px[1]:.0f}",
                "length_px": f"{c.length_px:.0f}",
            }
            for c in lines
        ]
    }
