"""Drawn section faces with known answers, for tests, benchmarks, teaching and the demo.

Two drawing styles share nothing but the plan of the face: ``field`` blends soft
fields, ``plate`` fills polygons at double size with other colours and textures.
Accuracy on these drawings says nothing about real coupons: see the page "How a
face is read".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .drawing.camera import spoil
from .drawing.geometry import picture_point
from .drawing.paint import paint_field
from .drawing.plan import FacePlan, Span, draw_plan

STYLES = ("field", "plate", "clean")


@dataclass(frozen=True)
class DrawnFace:
    """A drawn picture and its truth; ``segments`` are (start, end, kind) from the tube end."""

    pixels: np.ndarray
    tube_end: tuple[float, float]
    cup_face: tuple[float, float]
    truth_share: float
    segments: tuple[Span, ...]
    px_per_mm: float
    plan: FacePlan


def draw_face(
    seed: int,
    *,
    stream: str,
    unbrazed_share: float | None = None,
    width_px: int = 2000,
    style: str = "field",
) -> DrawnFace:
    """Draw a section face with known unbrazed share.

    Parameters
    ----------
    seed : int
        Number of the face in its stream.
    stream : str
        ``tuning`` (settings were chosen on it), ``testing`` (never) or ``demo``.
    unbrazed_share : float, optional
        Share wanted, [-]; drawn by lot when left out.
    width_px : int, optional
        Longer side of the picture, [px].
    style : str, optional
        ``field``, ``plate``, or ``clean`` (field without disturbances).

    Returns
    -------
    DrawnFace
        Pixels uint8, shape (height, width, 3), BGR; ends in pixels; truth.
    """
    if style not in STYLES:
        raise ValueError(f"no drawing style {style!r}: one of {STYLES}")
    plan = draw_plan(seed, stream, width_px, unbrazed_share)
    return render(_cleaned(plan) if style == "clean" else plan, style)


def draw_demo_face(
    voids: Sequence[Span],
    *,
    seed: int = 1,
    overlap_mm: float = 10.0,
    clearance_mm: float = 0.12,
    width_px: int = 2000,
) -> DrawnFace:
    """Draw a tidy face with chosen voids (start, end, kind), kinds open, residue, partial.

    Positions are shares of the overlap from the tube end, in order and apart.
    """
    plan = _cleaned(draw_plan(seed, "demo", width_px, 0.0))
    scale = 0.68 * width_px / overlap_mm
    wall = 0.1 * overlap_mm
    chosen = replace(
        plan,
        overlap_mm=overlap_mm,
        px_per_mm=scale,
        clearance_mm=clearance_mm,
        wall_tube_mm=wall,
        wall_cup_mm=wall * 1.1,
        stop_gap_mm=0.3,
        fillet_mm=0.5 * wall,
        bow_mm=0.004 * overlap_mm,
        wave_mm=0.05 * clearance_mm,
        rotation_deg=float(plan.rng(51).uniform(-4, 4)),
        voids=tuple(voids),
    )
    return render(chosen, "clean")


def _cleaned(plan: FacePlan) -> FacePlan:
    """Return the plan with a good finish, good light and a sharp lens."""
    rng = plan.rng(52)
    looks = dict(plan.looks)
    looks.update(
        scratches=6,
        scratch_depth=0.03,
        smear=0,
        glare=0,
        stain=0,
        blur_px=0.8,
        noise=1.2,
        jpeg=95,
        light_slope=[0.06, -0.05],
        light_bowl=-0.04,
        grain=0.012,
        gain=[1.0, 1.0, 1.0],
        resin_grey=float(rng.uniform(55, 80)),
        filler=str(rng.choice(["lighter", "darker"])),
        copper_red=float(rng.uniform(195, 210)),
    )
    return replace(plan, looks=looks, perspective=(0.0, 0.0), taper=0.1 * plan.taper)


def render(plan: FacePlan, style: str) -> DrawnFace:
    """Paint a plan in a style and photograph it."""
    if style == "plate":
        from .drawing.plate import paint_plate

        picture = paint_plate(plan)
    else:
        picture = paint_field(plan)
    pixels = spoil(plan, picture)
    share = sum(end - start for start, end, _ in plan.voids)
    return DrawnFace(
        pixels=pixels,
        tube_end=picture_point(plan, 0.0),
        cup_face=picture_point(plan, plan.overlap_mm),
        truth_share=float(share),
        segments=plan.voids,
        px_per_mm=plan.px_per_mm,
        plan=plan,
    )
