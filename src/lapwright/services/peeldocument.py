"""The JSON document of ``lapwright peel``, its lines for a terminal, and the case figures.

The verdict is the rules' matter. `case_figures` holds what a case folder takes
for a peel test, rounded so that no limit is kept by rounding.
"""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING, Any

from lapwright.core.errors import LapwrightError

from .text import say, word

if TYPE_CHECKING:
    from lapwright.measure.peel.values import PeelReading


def reading_document(
    reading: PeelReading, *, px_per_mm: float | None = None, proposal: str = ""
) -> dict[str, Any]:
    """Return the part of the JSON document that follows from the reading.

    Parameters
    ----------
    reading : PeelReading
        The reading of a mask.
    px_per_mm : float, optional
        Scale, [px/mm]; without it no lengths and areas in mm are given.
    proposal : str, optional
        Method of the program that proposed the mask; the outcome is then
        ``proposed`` and no case figures are given.
    """
    area, line = reading.area, reading.line
    shown = {
        "area": _between(area.low, area.high),
        "line": _between(line.low.share, line.high.share),
        "path": reading.through_path,
    }
    told = word("peelview.proposed", **shown) if proposal else ""
    return {
        "outcome": "proposed" if proposal else "measured",
        "code": "",
        "message": told or word("peelview.measured", **shown),
        "area_share": _bounds(area.low, area.high),
        "line_share": _bounds(line.low.share, line.high.share),
        "through_path": reading.through_path,
        "corner_path": reading.corner_path,
        "paths": [{"from": p.from_edge, "to": p.to_edge, "state": p.state} for p in reading.paths],
        "long_line_share": _bounds(reading.long_line.low.share, reading.long_line.high.share),
        "any_line_share": _bounds(reading.any_line.low.share, reading.any_line.high.share),
        "worst_line": _line(reading, px_per_mm),
        "case_figures": {} if proposal else case_figures(reading),
        "needs_reader": _why(proposal, reading),
        **_sizes(reading, px_per_mm),
        "warnings": [say(w) for w in reading.warnings],
        "method": proposal or reading.method,
    }


def _sizes(reading: PeelReading, scale: float | None) -> dict[str, Any]:
    lap = reading.lap
    return {
        "unsure_share": reading.unsure_px / reading.surface_px,
        "surface_px": reading.surface_px,
        "discontinuity_px": reading.discontinuity_px,
        "unsure_px": reading.unsure_px,
        "surface_mm2": None if scale is None else reading.surface_px / scale**2,
        "discontinuities": _places(reading, scale),
        "discontinuity_count": reading.place_count,
        "lap_direction": {"dx": lap.dx, "dy": lap.dy, "angle_deg": lap.angle_deg},
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
    shown = {"low": f"{100 * float(low):.1f}", "high": f"{100 * float(high):.1f}"}
    if shown["low"] == shown["high"]:
        return word("peelview.single", value=shown["low"])
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


def _why(proposal: str, reading: PeelReading) -> str:
    if proposal:
        return "proposed-by-program"
    return "unsure-places" if reading.unsure_px else ""


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
