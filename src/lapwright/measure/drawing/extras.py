"""Add to a drawn face what lies beside the share: fillet, filler out of place, cracks.

The plan of the face and its distributions stay as they are; the additions are laid
over the painted picture before the camera spoils it. They are chosen, not drawn by
lot, so that their truth is known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from .geometry import joint_fields, picture_point
from .looks import filler, mottle
from .paint import paint_field
from .plan import FacePlan
from .plate import paint_plate


@dataclass(frozen=True)
class Crack:
    """A crack from the joint line at ``at_mm`` from the tube end into the copper.

    ``depth_mm`` is its reach across (above 0 into the cup, below into the tube),
    ``lean`` its run along the joint over its depth, ``wander`` the spread of its
    kinks as a share of its length, ``darkness`` the share of the copper's light it takes.
    """

    at_mm: float
    depth_mm: float
    width_mm: float
    lean: float = 0.3
    wander: float = 0.06
    darkness: float = 0.75


@dataclass(frozen=True)
class Extras:
    """What is added; lengths in mm, nothing where left out.

    ``fillet_mm`` are the legs along tube and cup face of a straight fillet (None: as
    planned); ``behind`` is the share of the tube's wall over which the gap behind the
    tube end is filled, from the joint inwards; ``drops`` are (place, half width,
    height) of filler on the tube's inner wall; ``grind`` is the depth of even
    scratches in one direction, ``grind_deg`` against the joint.
    """

    fillet_mm: tuple[float, float] | None = None
    behind: float = 0.0
    drops: tuple[tuple[float, float, float], ...] = ()
    cracks: tuple[Crack, ...] = ()
    grind: float = 0.0
    grind_deg: float = 60.0


def paint_with(plan: FacePlan, style: str, extras: Extras) -> np.ndarray:
    """Return a face with its additions before the camera, float32, shape (height, width, 3).

    Parameters
    ----------
    plan : FacePlan
        The face.
    style : str
        ``plate``, or ``field`` for anything else.
    extras : Extras
        What is added.
    """
    if extras.fillet_mm is not None:
        plan = replace(plan, fillet_mm=1e-6)
    picture = paint_plate(plan) if style == "plate" else paint_field(plan)
    s, t = joint_fields(plan)
    cover = _metal(plan, extras, s, t)
    if cover.any():
        speck = 1 + np.float32(plan.looks["filler_texture"]) * mottle(plan.rng(71), s.shape, 6.0)
        metal = speck[..., None] * filler(plan).astype(np.float32)
        picture += cover[..., None] * (metal - picture)
    for index, crack in enumerate(extras.cracks):
        _crack(plan, picture, index, crack)
    if extras.grind:
        picture *= 1 - extras.grind * _ground(plan, picture.shape[:2], extras.grind_deg)[..., None]
    return picture


def _metal(plan: FacePlan, extras: Extras, s: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Return the coverage by added filler, 0 to 1, float32, shape (height, width)."""
    half = (
        plan.clearance_mm / 2 * (1 + plan.taper * (np.clip(s / plan.overlap_mm, -0.2, 1.2) - 0.5))
    )
    inside = [np.full(s.shape, -1.0, np.float32)]
    if extras.fillet_mm is not None:
        along, up = extras.fillet_mm
        x, y = s - plan.overlap_mm, t - half
        slope = (1 - x / along - y / up) / np.hypot(1 / along, 1 / up)
        inside.append(np.minimum(np.minimum(x, t + half), slope))
    if extras.behind:
        deep = t + half + extras.behind * plan.wall_tube_mm
        inside.append(np.minimum(np.minimum(-s, s + plan.stop_gap_mm), np.minimum(deep, half - t)))
    for at, wide, high in extras.drops:
        below = -(t + half + plan.wall_tube_mm)
        round_ = 1 - np.hypot((s - at) / wide, below / high)
        inside.append(np.minimum(round_ * min(wide, high), below + 1.5 / plan.px_per_mm))
    most = np.maximum.reduce(inside)
    return np.asarray(np.clip(most * plan.px_per_mm + 0.5, 0, 1), np.float32)


def _crack(plan: FacePlan, picture: np.ndarray, index: int, crack: Crack) -> None:
    path = crack_path(plan, index, crack)
    layer = np.zeros(picture.shape[:2], np.uint8)
    fine = 3  # the line is drawn at three times the size and taken down again
    x0, y0 = np.floor(path.min(axis=0)).astype(int) - 6
    x1, y1 = np.ceil(path.max(axis=0)).astype(int) + 6
    patch = np.zeros(((y1 - y0) * fine, (x1 - x0) * fine), np.uint8)
    points = np.round(((path - (x0, y0) + 0.5) * fine - 0.5) * 16).astype(np.int32)[:, None]
    wide = max(1, round(crack.width_mm * plan.px_per_mm * fine))
    cv2.polylines(patch, [points], False, 255, wide, cv2.LINE_AA, 4)
    small = cv2.resize(patch, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA)
    layer[y0:y1, x0:x1] = small
    picture *= 1 - crack.darkness * (layer.astype(np.float32) / 255)[..., None]


def crack_path(plan: FacePlan, index: int, crack: Crack) -> np.ndarray:
    """Return the corners of a crack in the picture, float, shape (9, 2), [px].

    Parameters
    ----------
    plan : FacePlan
        The face.
    index : int
        Number of the crack, for its kinks.
    crack : Crack
        The crack.
    """
    u = np.linspace(0, 1, 9)
    kinks = plan.rng(720 + index).normal(0, crack.wander * abs(crack.depth_mm), u.size)
    kinks[0] = 0.0
    along = crack.at_mm + crack.lean * abs(crack.depth_mm) * u + kinks
    return np.array(
        [picture_point(plan, a, b) for a, b in zip(along, crack.depth_mm * u, strict=True)]
    )


def _ground(plan: FacePlan, shape: Sequence[int], degrees: float) -> np.ndarray:
    """Return even scratches in one direction, 0 to 1, float32."""
    rng = plan.rng(73)
    angle = np.deg2rad(plan.rotation_deg + degrees)
    lines = np.zeros((shape[0], shape[1]), np.uint8)
    reach = np.array([np.cos(angle), np.sin(angle)]) * max(shape)
    for _ in range(260):
        centre = rng.uniform([0, 0], [shape[1], shape[0]])
        length = rng.uniform(0.03, 0.3)
        ends = np.round(np.stack([centre - length * reach, centre + length * reach]) * 8).astype(
            int
        )
        cv2.line(lines, ends[0].tolist(), ends[1].tolist(), int(rng.uniform(80, 255)), 1, 4, 3)
    return np.asarray(lines.astype(np.float32) / 255)
