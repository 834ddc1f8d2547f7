"""The scale of one picture for ``lapwright face``: from exactly one source, and what it gives.

The photograph's scale is found before it is read; afterwards the overlap is
measured in mm along the traced line, point by point where a card gives the
plane. A picture file that states another scale than the measured one raises a
warning, never a correction.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .pictures import read_picture
from .profiles import profile_scale, read_profile
from .text import word

if TYPE_CHECKING:
    from lapwright.measure.image import Photo
    from lapwright.measure.scale import Length, PictureScale
    from lapwright.measure.scalecard import Print
    from lapwright.measure.values import FaceMeasurement

CHECK_APART = 0.03  # less between stated and measured scale is rounding; common practice
TELL_UNEVEN = 0.02
TELL_TILT_DEG = 15.0
SHORTEST_MM, LONGEST_MM = 1.0, 1000.0  # no cup of any table is near either; a slip of typing is


@dataclass(frozen=True)
class ScaleAsked:
    """What a person named as the source of the scale; at most one source.

    ``check_mm`` are the measured check lines of the ``card``, ``line`` is
    (x, y, x, y) in px with its length ``line_mm``, ``micrometer`` a picture with
    its ``pitch_mm``, ``profile`` a file that holds ``as_of`` a day.
    """

    px_per_mm: float | None = None
    overlap_mm: float | None = None
    card: bool = False
    check_mm: tuple[float, ...] | None = None
    line: tuple[float, ...] | None = None
    line_mm: float | None = None
    micrometer: Path | None = None
    pitch_mm: float | None = None
    profile: Path | None = None
    as_of: date | None = None


@dataclass(frozen=True)
class Found:
    """The scale of a picture, its size [px], and the scale its file states [px/mm]."""

    scale: PictureScale
    size: tuple[int, int]
    said: float | None


def find_scale(asked: ScaleAsked, data: bytes, *, where: str = "") -> Found | None:
    """Find the scale of a picture; None where no source was named.

    Parameters
    ----------
    asked : ScaleAsked
        At most one source.
    data : bytes
        The picture's file.
    where : str, optional
        Place for messages.

    Raises
    ------
    SeveralScales
        For more than one source, or half of one.
    LapwrightError
        What the source itself refuses.
    """
    _check_one(asked)
    if not _sources(asked) or asked.overlap_mm is not None:
        return None
    from lapwright.measure.image import open_photo
    from lapwright.measure.resolution import said_px_per_mm

    photo = open_photo(data, where=where)
    scale = _scale(asked, photo)
    return Found(scale, (photo.width, photo.height), said_px_per_mm(data))


def apply_scale(m: FaceMeasurement, found: Found) -> tuple[FaceMeasurement, Length]:
    """Return the reading with its overlap in mm, and that length with its parts.

    Parameters
    ----------
    m : FaceMeasurement
        A reading of the same picture.
    found : Found
        The scale of the picture.

    Raises
    ------
    CardTooSteep
        If part of the joint lies past the horizon of the card's plane.
    ScaleTooLoose
        If the scale says too little so far from the card.
    """
    import numpy as np

    from lapwright.measure.scale import length_along
    from lapwright.measure.settings import DEFAULT

    line = np.array(m.line)
    _check_horizon(found.scale, line)
    end_u = DEFAULT.default_ends_of_picture * max(found.size)
    length = length_along(found.scale, line, arc_px=m.overlap_px, end_u_px=end_u)
    return replace(m, overlap_mm=length.mm, overlap_mm_u=length.u_mm), length


def check_overlap(m: FaceMeasurement) -> None:
    """Refuse a scale or an overlap in mm that no joint has; nothing without a scale.

    Parameters
    ----------
    m : FaceMeasurement
        A reading.

    Raises
    ------
    ScaleRefused
        If the overlap comes out shorter than 1 mm or longer than 1 m.
    """
    from lapwright.measure.errors import ScaleRefused

    if m.overlap_mm is not None and not SHORTEST_MM <= m.overlap_mm <= LONGEST_MM:
        raise ScaleRefused(
            "the scale gives an overlap that no joint has",
            got=f"{m.overlap_mm:.3g} mm on {m.overlap_px:.0f} px",
            expected=f"{SHORTEST_MM:g} to {LONGEST_MM:g} mm",
            do="Give the scale of this picture in pixels per millimetre.",
        )


def scale_document(found: Found, length: Length | None = None) -> dict[str, Any]:
    """Return a scale for JSON.

    Parameters
    ----------
    found : Found
        The scale.
    length : Length, optional
        The overlap measured with it.
    """
    scale = found.scale
    document: dict[str, Any] = {
        "source": scale.source,
        "px_per_mm": scale.px_per_mm,
        "u": scale.u,
        "relative_parts": dict(scale.parts),
        "tilt_deg": None,
        "picture_says_px_per_mm": found.said,
    }
    document |= dict(scale.facts)
    if length is not None:
        document["px_per_mm_along_joint"] = length.px_per_mm[0]
        document["px_per_mm_at_ends"] = list(length.px_per_mm[1:])
        document["overlap_mm_parts"] = dict(length.parts)
    return document


def scale_warnings(found: Found, length: Length | None = None) -> list[str]:
    """Return what a person should know about a scale.

    Parameters
    ----------
    found : Found
        The scale.
    length : Length, optional
        The overlap measured with it.
    """
    from lapwright.measure.resolution import apart

    scale, facts = found.scale, dict(found.scale.facts)
    out = []
    if facts.get("print_checked") is False:
        out.append(word("scale.warning.print-unchecked"))
    tilt = facts.get("tilt_deg")
    if isinstance(tilt, float) and tilt > TELL_TILT_DEG:
        out.append(word("scale.warning.tilted", tilt=f"{tilt:.0f}"))
    if length is not None and length.uneven > TELL_UNEVEN:
        out.append(word("scale.warning.uneven", uneven=f"{100 * length.uneven:.1f}"))
    measured = scale.px_per_mm if length is None else length.px_per_mm[0]
    limit = max(CHECK_APART, 3 * scale.relative_u)
    if found.said is not None and apart(found.said, measured) > limit:
        figures = {"said": f"{found.said:.2f}", "measured": f"{measured:.2f}"}
        out.append(word("scale.warning.picture-says", **figures))
    return out


def print_of(check_mm: tuple[float, ...] | None) -> Print | None:
    """Return the print that the measured check lines tell of; None where nobody measured.

    Parameters
    ----------
    check_mm : tuple of float, optional
        Across, or across and along, [mm].
    """
    from lapwright.measure.scalecard import measured_print

    return None if check_mm is None else measured_print(*check_mm)


def _sources(asked: ScaleAsked) -> list[str]:
    named = {
        "--px-per-mm": asked.px_per_mm,
        "--overlap-mm": asked.overlap_mm,
        "--card": asked.card or None,
        "--scale-line": asked.line,
        "--micrometer": asked.micrometer,
        "--profile": asked.profile,
    }
    return [name for name, value in named.items() if value is not None]


def _check_one(asked: ScaleAsked) -> None:
    from lapwright.measure.errors import SeveralScales

    found = _sources(asked)
    pairs = (
        ("--scale-line", asked.line, "--scale-mm", asked.line_mm),
        ("--micrometer", asked.micrometer, "--pitch-mm", asked.pitch_mm),
        ("--profile", asked.profile, "--as-of", asked.as_of),
    )
    halves = [f"{a} and {b}" for a, x, b, y in pairs if (x is None) != (y is None)]
    if asked.check_mm is not None and not asked.card:
        halves.append("--card and --check-mm")
    if len(found) > 1 or halves:
        raise SeveralScales(
            "not one source of scale",
            got=", ".join(found) if len(found) > 1 else f"half of {halves[0]}",
            expected="one source, with everything that belongs to it",
            do="Keep the source you trust most.",
        )


def _scale(asked: ScaleAsked, photo: Photo) -> PictureScale:
    from lapwright.measure import scale
    from lapwright.measure.graduations import micrometer_scale
    from lapwright.measure.image import open_photo
    from lapwright.measure.scalecard import card_scale

    if asked.card:
        return card_scale(photo, printed=print_of(asked.check_mm))
    if asked.line is not None:
        x0, y0, x1, y1 = asked.line
        _check_inside(asked.line, photo)
        return scale.line_scale((x0, y0), (x1, y1), length_mm=asked.line_mm or 0.0)
    if asked.micrometer is not None:
        ruled = open_photo(read_picture(asked.micrometer), where=str(asked.micrometer))
        _check_same_size(ruled, photo)
        return micrometer_scale(ruled, pitch_mm=asked.pitch_mm or 0.0)
    if asked.profile is not None:
        assert asked.as_of is not None
        size, where = (photo.width, photo.height), str(asked.profile)
        return profile_scale(read_profile(asked.profile), size, as_of=asked.as_of, where=where)
    assert asked.px_per_mm is not None
    return scale.typed_scale(asked.px_per_mm)


def _check_inside(line: tuple[float, ...], photo: Photo) -> None:
    from lapwright.measure.errors import ScaleLineRefused

    ends = (line[:2], line[2:])
    if not all(0 <= x < photo.width and 0 <= y < photo.height for x, y in ends):
        raise ScaleLineRefused(
            "an end of the line of known length lies outside the picture",
            got=" and ".join(f"({x:g}, {y:g})" for x, y in ends),
            expected=f"both ends in the picture of {photo.width} x {photo.height} px",
            do="Read both ends off this picture; 'lapwright face PHOTO --grid' helps.",
        )


def _check_same_size(ruled: Photo, photo: Photo) -> None:
    from lapwright.measure.errors import ProfileOtherPicture

    sizes = [sorted((p.width, p.height)) for p in (ruled, photo)]
    if sizes[0] != sizes[1]:
        raise ProfileOtherPicture(
            "the micrometer's picture has another size than the face's",
            got=f"{ruled.width} x {ruled.height} px",
            expected=f"{photo.width} x {photo.height} px, either way up",
            do="Take both with one setting, and give both as the camera wrote them.",
        )


def _check_horizon(scale: PictureScale, line: Any) -> None:
    from lapwright.measure.errors import CardTooSteep
    from lapwright.measure.plane import beyond_horizon

    if scale.plane is not None and beyond_horizon(scale.plane, line).any():
        raise CardTooSteep(
            "the joint lies past the horizon of the card's plane",
            got="a place that the plane of the card cannot show",
            expected="card and joint in one plane, seen from above",
            do="Lay the card beside the joint and photograph from straight above.",
        )
