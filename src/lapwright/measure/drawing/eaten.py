"""Change a drawn face in a known way: eat a dip out of a wall, or add the other wall of the tube.

The finished picture is pulled sideways along a surface, so that its edge keeps
the blur and noise it had and what lies beyond it fills the dip. The plan and its
frozen distributions are not touched.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from .geometry import joint_fields
from .plan import FacePlan


@dataclass(frozen=True)
class Dip:
    """A dip: ``member`` tube or cup, ``surface`` outer or joint, place and length as shares.

    ``depth_px`` is its greatest depth; it has the shape of half a wave.
    """

    member: str
    surface: str
    at: float
    length: float
    depth_px: float


def eat(pixels: np.ndarray, plan: FacePlan, dip: Dip) -> np.ndarray:
    """Return a drawn picture with a dip eaten out of one wall.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The drawn picture; not modified.
    plan : FacePlan
        Its plan.
    dip : Dip
        What to eat away.
    """
    s, t = joint_fields(plan)
    sign = np.float32(1.0 if dip.member == "cup" else -1.0)
    wall = plan.wall_cup_mm if dip.member == "cup" else plan.wall_tube_mm
    along = (s / np.float32(plan.overlap_mm) - np.float32(dip.at)) / np.float32(dip.length)
    wave = np.where(np.abs(along) < 0.5, np.cos(np.pi * along), 0).astype(np.float32)
    dy, dx = np.gradient(t)
    size = np.maximum(np.hypot(dx, dy), np.float32(1e-9))  # mm a pixel
    deep = wave * np.float32(dip.depth_px) * size
    half = np.float32(plan.clearance_mm / 2)
    if dip.surface == "outer":
        pull = _from_outside(sign * t, deep, half, np.float32(wall))
    else:
        pull = -_from_gap(sign * t, deep, half, np.float32(wall))
    move = sign * pull / size**2
    rows, columns = np.indices(t.shape, dtype=np.float32)
    x, y = (columns + move * dx).astype(np.float32), (rows + move * dy).astype(np.float32)
    drawn = cv2.remap(pixels, x, y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(drawn)


def half_section(pixels: np.ndarray, plan: FacePlan, bore_mm: float) -> np.ndarray:
    """Return a drawn picture with the joint mirrored across the bore, as half a tube shows it.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        A drawn picture without perspective; not modified.
    plan : FacePlan
        Its plan.
    bore_mm : float
        Distance between the two tube walls, [mm].
    """
    _, t = joint_fields(plan)
    axis = np.float32(-plan.clearance_mm / 2 - plan.wall_tube_mm - bore_mm / 2)
    move = np.where(t < axis, 2 * (axis - t), 0).astype(np.float32)
    dy, dx = np.gradient(t)
    square = np.maximum(dx * dx + dy * dy, np.float32(1e-12))
    rows, columns = np.indices(t.shape, dtype=np.float32)
    x, y = columns + move * dx / square, rows + move * dy / square
    drawn = cv2.remap(pixels, x.astype(np.float32), y.astype(np.float32), cv2.INTER_CUBIC,
                      borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
    return np.asarray(drawn)


def _from_outside(
    t: np.ndarray, deep: np.ndarray, half: np.float32, wall: np.float32
) -> np.ndarray:
    """Return how far outwards each place takes its colour from, [mm]; the outline moves in."""
    outer = half + wall
    knots = [half + 0.1 * wall, half + 0.4 * wall, outer + 0.6 * wall, outer + 2 * wall]
    return np.asarray(deep * np.interp(t, knots, [0, 1, 1, 0]), np.float32)


def _from_gap(t: np.ndarray, deep: np.ndarray, half: np.float32, wall: np.float32) -> np.ndarray:
    """Return how far inwards each place takes its colour from, [mm]; the gap grows into the wall.

    The core of the fill is stretched, its edge keeps its shape.
    """
    core = deep + np.float32(0.2) * half
    inner = deep * np.clip(t / core, 0, 1)
    fade = np.clip((half + wall * np.float32(0.9) - t) / (wall * np.float32(0.5)), 0, 1)
    return np.asarray(inner * fade, np.float32)
