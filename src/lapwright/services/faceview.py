"""``lapwright face``: measure a photograph, write overlay and grid, say it in words."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from lapwright.core.errors import LapwrightError

from .atomic import write_made
from .besidesview import besides_document, besides_lines
from .errors import CaseFileRefused
from .facereading import read_opened
from .scales import ScaleAsked, apply_scale, find_scale, scale_document, scale_warnings
from .text import say, word

Point = tuple[float, float]


def view_face(
    photo: Path,
    tube_end: Point | None,
    cup_face: Point | None,
    *,
    scale: ScaleAsked | None = None,
    overlay: Path | None = None,
    grid: Path | None = None,
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

    Raises
    ------
    LapwrightError
        With a coded line; nothing half-written is left behind.
    """
    from lapwright.measure.image import open_photo

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
    asked = scale or ScaleAsked()
    found = find_scale(asked, data, where=str(photo))
    opened = open_photo(data, where=str(photo))
    m = read_opened(opened, tube_end, cup_face, overlap_mm=asked.overlap_mm, where=str(photo))
    length = None
    if found is not None:
        m, length = apply_scale(m, found)
    if overlay is not None:
        from lapwright.measure.overlay import draw_overlay

        write_made(overlay, draw_overlay(opened, m), suffix=".png", source=photo)
    low, high = m.interval95
    text = word(
        "face.reading",
        share=f"{m.unbrazed_share * 100:.1f}",
        low=f"{low * 100:.1f}",
        high=f"{high * 100:.1f}",
        unsure=f"{m.unsure_share * 100:.1f}",
    )
    result = m.as_dict(message=text)
    result["overlap_mm_u"] = m.overlap_mm_u
    result["besides"] = besides_document(opened, m)
    result["scale"] = None if found is None else scale_document(found, length)
    result["warnings"] = [say(w) for w in m.warnings]
    result["warnings"] += [] if found is None else scale_warnings(found, length)
    return result


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
    out += besides_lines(result["besides"])
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
