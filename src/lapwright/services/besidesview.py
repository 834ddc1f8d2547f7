"""What a face shows beside its share: for ``lapwright face`` and for the body of a reading."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from .text import word

if TYPE_CHECKING:
    from lapwright.measure.image import Photo
    from lapwright.measure.values import FaceMeasurement, Segment

STATES = {"seen": "besides.seen", "nothing-seen": "besides.nothing", "not-measured": "besides.not"}


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


def besides_lines(document: dict[str, Any]) -> list[str]:
    """Return the two lines for a terminal.

    Parameters
    ----------
    document : dict
        The JSON part ``besides``.
    """
    return [_sound_line(document["sound"]), _seen_line(document)]


def _sound_line(sound: dict[str, Any]) -> str:
    mouth, longest = sound["from_mouth"], sound["longest"]
    text = word(
        "besides.sound",
        share=_percent(mouth["share"]),
        low=_percent(mouth["low"]),
        high=_percent(mouth["high"]),
        mm="" if mouth["mm"] is None else f" = {mouth['mm']:.2f} mm",
        longest=_percent(longest["share"]),
    )
    walls = sound["three_walls"]
    if walls is None or walls["from_mouth_walls"] is None:
        return text
    return (
        text
        + " "
        + word(
            "besides.walls", walls=f"{walls['from_mouth_walls']:.1f}", wall=f"{walls['wall_mm']:g}"
        )
    )


def _seen_line(document: dict[str, Any]) -> str:
    fillet = document["fillet"]
    told = _state(fillet)
    if fillet["state"] == "seen":
        unit = "px" if fillet["along_mm"] is None else "mm"
        places = 0 if unit == "px" else 2
        along, up = (f"{fillet[f'{leg}_{unit}']:.{places}f}" for leg in ("along", "up"))
        told = word("besides.legs", along=along, up=up, unit=unit)
    lines = document["crack_like_lines"]
    at = "; ".join(_place(line["start_px"]) for line in lines["found"])
    return word(
        "besides.others",
        fillet=told,
        behind=_fill(document["behind_tube_end"]),
        bore=_fill(document["bore"]),
        lines=word("besides.line", at=at) if at else _state(lines),
    )


def _fill(part: dict[str, Any]) -> str:
    if not part["spots"]:
        return _state(part)
    return word("besides.spot", at="; ".join(_place(s["place_px"]) for s in part["spots"]))


def _state(part: dict[str, Any]) -> str:
    told = word(STATES[part["state"]])
    why = word(f"besides.why.{part['reason']}") if part["reason"] else ""
    return f"{told} ({why})" if why else told


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
