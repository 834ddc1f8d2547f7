"""``lapwright peel``: read a peeled lap surface, write mask and overlay, say it in words.

The verdict is the rules' matter. ``case_figures`` holds what a case folder
takes for a peel test, rounded so that no limit is kept by rounding.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright.core.errors import LapwrightError
from lapwright.core.messages import Message

from .atomic import write_made
from .errors import CaseFileRefused
from .text import say, word

if TYPE_CHECKING:
    import numpy as np

    from lapwright.measure.image import Photo
    from lapwright.measure.peel.direction import LapDirection
    from lapwright.measure.peel.outline import Outline
    from lapwright.measure.peel.values import PeelReading

Point = tuple[float, float]
LABELS = (
    "mouth",
    "stop",
    "left",
    "right",
    "discontinuity",
    "unsure",
    "worst",
    "area",
    "line",
    "path",
    "yes",
    "possible",
    "no",
    "proposal",
)


@dataclass(frozen=True)
class PeelQuestion:
    """What a person says of a peeled surface.

    Parameters
    ----------
    outline : sequence of pair of float
        Corners, [px]; empty where the mask alone bounds the surface.
    mask : Path, optional
        The mask PNG; without it classes are proposed.
    mask_values : str
        Meaning of its greys, such as ``discontinuity=255,sound=0``; empty for
        the tool's own convention.
    lap : pair of points, optional
        A point at the mouth edge and one at the stop edge, [px].
    lap_angle_deg : float, optional
        Instead the angle of the lap, [deg] clockwise from the picture's right.
    px_per_mm : float, optional
        Scale, [px/mm].
    """

    outline: Sequence[Point] = ()
    mask: Path | None = None
    mask_values: str = ""
    lap: tuple[Point, Point] | None = None
    lap_angle_deg: float | None = None
    px_per_mm: float | None = None


@dataclass(frozen=True)
class _States:
    """The states of the pixels, where they come from, and what to say about that."""

    values: np.ndarray
    proposal: str = ""
    mask_sha256: str = ""
    probabilities: tuple[tuple[str, float], ...] = ()
    warnings: tuple[Message, ...] = ()


def view_peel(
    photo: Path,
    question: PeelQuestion,
    *,
    overlay: Path | None = None,
    propose: Path | None = None,
) -> dict[str, Any]:
    """Read one peeled surface and return the JSON document.

    Parameters
    ----------
    photo : Path
        The photograph.
    question : PeelQuestion
        Outline, mask, lap direction, scale.
    overlay : Path, optional
        Where to write the picture of the reading (PNG).
    propose : Path, optional
        Where to write the proposed mask (PNG).

    Raises
    ------
    LapwrightError
        With a coded line; nothing half-written is left behind.
    """
    from lapwright.measure.image import open_photo
    from lapwright.measure.peel.overlay import draw_peel_overlay
    from lapwright.measure.peel.reading import read_peel

    _check_scale(question.px_per_mm)
    opened = open_photo(_bytes(photo, "a photograph"), where=str(photo))
    outline = _outline(question, opened)
    states = _states(question, opened, outline)
    lap = _lap(question, outline)
    reading = read_peel(states.values, lap, outline=outline)
    reading = replace(reading, warnings=(*states.warnings, *reading.warnings))
    drawn = b""
    if overlay is not None:
        labels = {name: word(f"peel.label.{name}") for name in LABELS}
        drawn = draw_peel_overlay(
            opened, states.values, reading, labels=labels, proposal=states.proposal
        )
    sources = [photo] if question.mask is None else [photo, question.mask]
    document = _document(question, opened, states, reading, outline)
    if propose is not None:
        _write(propose, _proposed_png(states), sources)
        document["warnings"].append(word("peelview.mask_written", path=str(propose)))
    if overlay is not None:
        _write(overlay, drawn, sources)
    return document


def refused(refusal: LapwrightError) -> dict[str, Any]:
    """Return the JSON document of a refusal."""
    return {
        "outcome": "refused",
        "code": refusal.code,
        "message": str(refusal),
        "area_share": None,
        "line_share": None,
        "through_path": None,
        "corner_path": None,
        "paths": [],
        "case_figures": {},
        "needs_reader": "",
        "method": "",
        "image_sha256": "",
        "mask_sha256": "",
    }


def lines(result: dict[str, Any]) -> list[str]:
    """Return a result as lines for a terminal."""
    surface = f"{result['surface_px']} px"
    if result["surface_mm2"] is not None:
        surface += f" = {result['surface_mm2']:.1f} mm²"
    angle = f"{result['lap_direction']['angle_deg']:.1f}"
    out = [result["message"], word("peelview.surface", surface=surface, angle=angle)]
    for path in result["paths"]:
        parts = {"from_edge": path["from"], "to_edge": path["to"], "state": path["state"]}
        leak = (path["from"], path["to"]) == ("mouth", "stop") and path["state"] != "no"
        out.append(word("peelview.leak", **parts) if leak else word("peelview.path", **parts))
    if result["outcome"] == "proposed":
        out.append(word("peelview.proposal"))
    elif result["needs_reader"]:
        share = f"{100 * result['unsure_share']:.1f}"
        out.append(word("peelview.unsure", share=share))
    return [*out, *result["warnings"], word("peelview.claim")]


def _bytes(path: Path, what: str) -> bytes:
    try:
        return path.read_bytes()
    except OSError as fault:
        raise CaseFileRefused(
            f"{what} that cannot be read",
            got=f"{path}",
            expected="a readable file",
            do=f"Correct the name ({fault.strerror}).",
        ) from fault


def _check_scale(px_per_mm: float | None) -> None:
    from lapwright.measure.errors import ScaleRefused

    if px_per_mm is not None and not 1e-3 <= px_per_mm <= 1e6:
        raise ScaleRefused(
            "not a scale",
            got=f"{px_per_mm:g} px/mm",
            expected="a number from 0.001 to 1 000 000 px/mm",
            do="Give the scale measured in the plane of the surface, or leave it out.",
        )


def _outline(question: PeelQuestion, photo: Photo) -> Outline | None:
    from lapwright.measure.peel.outline import make_outline

    if not question.outline:
        return None
    return make_outline(question.outline, (photo.width, photo.height))


def _lap(question: PeelQuestion, outline: Outline | None) -> LapDirection:
    from lapwright.measure.peel import direction

    if question.lap is not None:
        given = direction.lap_from_points(*question.lap)
    elif question.lap_angle_deg is not None:
        given = direction.lap_from_angle(question.lap_angle_deg)
    elif outline is not None:
        return direction.lap_from_corners(outline)
    else:
        raise direction.missing()
    if outline is not None and len(outline.points) == 4:
        return direction.check_against_corners(given, outline)
    return given


def _states(question: PeelQuestion, photo: Photo, outline: Outline | None) -> _States:
    from lapwright.measure.errors import PeelSurfaceMissing
    from lapwright.measure.peel.outline import outline_pixels

    size = (photo.width, photo.height)
    pixels = None if outline is None else outline_pixels(outline, size)
    if question.mask is not None:
        return _from_mask(question.mask, question.mask_values, size, pixels)
    if pixels is None:
        raise PeelSurfaceMissing(
            "no lap surface named",
            got="neither an outline nor a mask",
            expected="--outline x,y,... or --mask PNG",
            do="Give the four corners: mouth left, mouth right, stop right, stop left.",
        )
    return _from_photo(photo, pixels)


def _from_mask(
    path: Path, values: str, size: tuple[int, int], pixels: np.ndarray | None
) -> _States:
    from lapwright.measure.peel import mask
    from lapwright.measure.peel.reading import cut_to_outline

    data = _bytes(path, "a mask")
    meaning = mask.parse_meaning(values) if values else mask.MEANING
    states = mask.open_mask(data, size, meaning=meaning, where=str(path))
    proposal = "" if values else mask.proposal_note(data, states)
    warnings = [Message("peel.warning.unchanged")] if proposal else []
    if pixels is not None:
        states, left_out = cut_to_outline(states, pixels)
        if left_out:
            warnings.append(Message("peel.warning.left_out", count=str(left_out)))
    digest = hashlib.sha256(data).hexdigest()
    return _States(states, proposal, digest, warnings=tuple(warnings))


def _from_photo(photo: Photo, pixels: np.ndarray) -> _States:
    from lapwright.measure.peel.proposal import propose_states

    made = propose_states(photo, pixels)
    states = _States(made.states, made.method, "", tuple(made.mean_probability.items()))
    return replace(states, mask_sha256=hashlib.sha256(_proposed_png(states)).hexdigest())


def _proposed_png(states: _States) -> bytes:
    from lapwright.measure.peel.mask import mask_png

    return mask_png(states.values, proposal=states.proposal)


def _write(path: Path, data: bytes, sources: Sequence[Path]) -> None:
    for source in sources:
        if path.resolve() == source.resolve():
            write_made(path, data, suffix=".png", source=source)
    write_made(path, data, suffix=".png")


def _document(
    question: PeelQuestion,
    photo: Photo,
    states: _States,
    reading: PeelReading,
    outline: Outline | None,
) -> dict[str, Any]:
    scale = question.px_per_mm
    area, line = reading.area, reading.line
    shown = {
        "area": _between(area.low, area.high),
        "line": _between(line.low.share, line.high.share),
        "path": reading.through_path,
    }
    told = word("peelview.proposed", **shown) if states.proposal else ""
    corners = None if outline is None else [list(p) for p in outline.points_px]
    return {
        "outcome": "proposed" if states.proposal else "measured",
        "code": "",
        "message": told or word("peelview.measured", **shown),
        "area_share": _bounds(area.low, area.high),
        "line_share": _bounds(line.low.share, line.high.share),
        "through_path": reading.through_path,
        "corner_path": reading.corner_path,
        "paths": [{"from": p.from_edge, "to": p.to_edge, "state": p.state} for p in reading.paths],
        "long_line_share": _bounds(reading.long_line.low.share, reading.long_line.high.share),
        "worst_line": _line(reading, scale),
        "case_figures": {} if states.proposal else case_figures(reading),
        "needs_reader": _why(states, reading),
        "unsure_share": reading.unsure_px / reading.surface_px,
        "surface_px": reading.surface_px,
        "discontinuity_px": reading.discontinuity_px,
        "unsure_px": reading.unsure_px,
        "surface_mm2": None if scale is None else reading.surface_px / scale**2,
        "discontinuities": _places(reading, scale),
        "discontinuity_count": reading.place_count,
        "lap_direction": {
            "dx": reading.lap.dx,
            "dy": reading.lap.dy,
            "angle_deg": reading.lap.angle_deg,
        },
        "outline_px": corners,
        "mean_probability": dict(states.probabilities),
        "warnings": [say(w) for w in reading.warnings],
        "method": states.proposal or reading.method,
        "image_sha256": photo.sha256,
        "mask_sha256": states.mask_sha256,
    }


def case_figures(reading: PeelReading) -> dict[str, str]:
    """Return the figures a case folder takes for a peel test, as far as the mask settles them.

    Parameters
    ----------
    reading : PeelReading
        The reading of a mask that a person made or corrected.

    Returns
    -------
    dict of str to str
        ``area`` and ``line`` at their high ends, rounded up, so that neither
        unsure pixels nor rounding help; ``through_path`` where no pixel and no
        corner leaves it open. ``parted`` and ``filler_at_edges`` are for the
        person who saw the parts.
    """
    figures = {
        "area": f"{_ceiled(reading.area.high)} %",
        "line": f"{_ceiled(reading.line.high.share)} %",
    }
    if reading.through_path == "yes":
        figures["through_path"] = "yes"
    elif reading.through_path == "no" and reading.corner_path == "no":
        figures["through_path"] = "no"
    return figures


def _ceiled(share: Fraction) -> str:
    whole = -(-share * 1_000_000 // 1)
    return f"{int(whole) // 10_000}.{int(whole) % 10_000:04d}"


def _between(low: Fraction, high: Fraction) -> str:
    if low == high:
        return word("peelview.single", value=f"{100 * float(low):.1f}")
    shown = {"low": f"{100 * float(low):.1f}", "high": f"{100 * float(high):.1f}"}
    return word("peelview.between", **shown)


def _bounds(low: Fraction, high: Fraction) -> dict[str, Any]:
    return {
        "low": float(low),
        "high": float(high),
        "low_exact": str(low),
        "high_exact": str(high),
    }


def _line(reading: PeelReading, scale: float | None) -> dict[str, Any]:
    """Return the worst line with unsure pixels counted as discontinuity."""
    worst = reading.line.high
    return {
        "from_px": list(reading.line_ends_px[0]),
        "to_px": list(reading.line_ends_px[1]),
        "lap_px": worst.lap_px,
        "lap_mm": None if scale is None else worst.lap_px / scale,
        "lap_share": worst.lap_share,
    }


def _places(reading: PeelReading, scale: float | None) -> list[dict[str, Any]]:
    return [
        {
            "area_px": p.area_px,
            "area_mm2": None if scale is None else p.area_px / scale**2,
            "centre_px": list(p.centre_px),
            "box_px": list(p.box_px),
            "edges": list(p.edges),
        }
        for p in reading.places
    ]


def _why(states: _States, reading: PeelReading) -> str:
    if states.proposal:
        return "proposed-by-program"
    return "unsure-places" if reading.unsure_px else ""
