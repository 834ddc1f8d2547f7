"""``lapwright face``: measure a photograph, write overlay and grid, say it in words."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright.core.errors import LapwrightError

from .atomic import write_made
from .besidesview import besides_document, besides_marks, besides_rows
from .errors import CaseFileRefused
from .facereading import read_opened
from .facerows import told
from .memberview import TubeSize, check_tube, look, member_rows, members_document, wall_marks
from .scales import (
    ScaleAsked,
    apply_scale,
    check_overlap,
    find_scale,
    scale_document,
    scale_warnings,
)
from .text import say, word

if TYPE_CHECKING:
    from lapwright.measure.values import FaceMeasurement

Point = tuple[float, float]


@dataclass(frozen=True)
class MembersAsked:
    """Whether the two walls are looked at (``yes`` or ``no``), and the tube's sizes."""

    look: str = "yes"
    tube: TubeSize | None = None


def view_face(
    photo: Path,
    tube_end: Point | None,
    cup_face: Point | None,
    *,
    scale: ScaleAsked | None = None,
    overlay: Path | None = None,
    grid: Path | None = None,
    members: MembersAsked | None = None,
) -> dict[str, Any]:
    """Measure one face and return the JSON document of design section 8.

    Parameters
    ----------
    photo : Path
        The photograph.
    tube_end, cup_face : pair of float, optional
        The ends, [px].
    scale : ScaleAsked, optional
        The one source of scale, or the known overlap.
    overlay, grid : Path, optional
        Where to write the pictures.
    members : MembersAsked, optional
        Whether the walls are looked at too, and what is known of the tube; yes when left out.

    Raises
    ------
    LapwrightError
        With a coded line; nothing half-written is left behind.
    """
    data = _bytes(photo)
    if grid is not None:
        _write_grid(data, grid, photo)
        if tube_end is None and overlay is None:
            return {
                "outcome": "grid",
                "code": "",
                "message": word("face.grid", path=str(grid)),
                "candidates": [],
            }
    from lapwright.measure.image import open_photo

    asked, wanted = scale or ScaleAsked(), members or MembersAsked()
    opened = open_photo(data, where=str(photo))
    found = find_scale(asked, data, where=str(photo))
    check_tube(wanted.tube, scaled=found is not None or asked.overlap_mm is not None)
    m = read_opened(opened, tube_end, cup_face, overlap_mm=asked.overlap_mm, where=str(photo))
    length = None
    if found is not None:
        m, length = apply_scale(m, found)
    check_overlap(m)
    seen = look(opened, m) if wanted.look == "yes" else None
    wall_mm = None if wanted.tube is None else wanted.tube.wall_mm
    besides = besides_document(opened, m, tube_wall_mm=wall_mm)
    if overlay is not None:
        from lapwright.measure.overlay import draw_overlay

        outlines = () if seen is None else (seen.tube.outline_px, seen.cup.outline_px)
        look_at = [*besides_marks(besides), *([] if seen is None else wall_marks(seen))]
        drawn = draw_overlay(opened, m, outlines=outlines, look_at=look_at)
        write_made(overlay, drawn, suffix=".png", source=photo)
    result = _document(m)
    result["overlap_mm_u"] = m.overlap_mm_u
    result["scale"] = None if found is None else scale_document(found, length)
    result["members"] = (
        None if seen is None else members_document(opened, m, seen, tube=wanted.tube)
    )
    result["besides"] = besides
    result["warnings"] = [say(w) for w in m.warnings]
    result["warnings"] += [] if found is None else scale_warnings(found, length)
    return result


def _document(m: FaceMeasurement) -> dict[str, Any]:
    low, high = m.interval95
    text = word(
        "face.reading",
        share=f"{m.unbrazed_share * 100:.1f}",
        low=f"{low * 100:.1f}",
        high=f"{high * 100:.1f}",
        unsure=f"{m.unsure_share * 100:.1f}",
    )
    return m.as_dict(message=text)


def refused(refusal: LapwrightError) -> dict[str, Any]:
    """Return the JSON document of a refusal."""
    return {
        "outcome": "refused",
        "code": refusal.code,
        "message": str(refusal),
        "overlap_px": None,
        "overlap_mm": None,
        "overlap_mm_u": None,
        "scale": None,
        "members": None,
        "segments": [],
        "unbrazed_share": None,
        "u": None,
        "interval95": None,
        "unsure_share": None,
        "needs_reader": "",
        "tube_end_px": None,
        "cup_face_px": None,
        "candidates": [dict(c) for c in getattr(refusal, "candidates", ())],
        "besides": None,
        "method": "",
        "image_sha256": "",
    }


def lines(result: dict[str, Any]) -> list[str]:
    """Return a result as lines for a terminal."""
    out = [result["message"]]
    if result["outcome"] != "measured":
        return out
    size = f"{result['overlap_px']:.0f} px"
    if result["overlap_mm"] is not None:
        size += f" = {result['overlap_mm']:.2f} mm"
    if result["overlap_mm_u"] is not None:
        size += f" ± {2 * result['overlap_mm_u']:.2f} mm"
    out.append(word("face.overlap", overlap=size))
    out += [
        f"  {s['start']:6.3f} – {s['end']:6.3f}  {s['state']:<9} P(unbrazed) {s['probability']:.2f}"
        for s in result["segments"]
    ]
    if result["needs_reader"]:
        why = word(f"needs_reader.{result['needs_reader']}")
        out.append(word("face.needs_reader", why=why))
    members = [] if result["members"] is None else member_rows(result["members"])
    out += told([*besides_rows(result["besides"]), *members])
    out += result["warnings"]
    out.append(word("face.claim"))
    return out


def _bytes(photo: Path) -> bytes:
    try:
        return photo.read_bytes()
    except OSError as fault:
        raise CaseFileRefused(
            "a photograph that cannot be read",
            got=f"{photo}",
            expected="a readable file",
            do=f"Correct the name ({fault.strerror}).",
        ) from fault


def _write_grid(data: bytes, grid: Path, photo: Path) -> None:
    from lapwright.measure.grid import draw_grid
    from lapwright.measure.image import open_photo

    picture = draw_grid(open_photo(data, where=str(photo)))
    write_made(grid, picture, suffix=".png", source=photo)
