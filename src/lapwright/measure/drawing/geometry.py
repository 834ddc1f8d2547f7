"""Joint coordinates of every picture point, and picture points of the joint.

In the joint, ``s`` runs along the line from the tube end (0) to the cup face,
``t`` across it towards the cup, both in mm. A plane homography carries
rotation, mirror, scale and perspective; the bow and the wave of the line are
taken out afterwards, so that the line is ``t = 0``.
"""

from __future__ import annotations

import numpy as np

from .plan import FacePlan


def joint_to_picture(plan: FacePlan) -> np.ndarray:
    """Return the 3 x 3 homography from flat joint coordinates (mm) to pixels."""
    turn = np.deg2rad(plan.rotation_deg)
    flip = -1.0 if plan.mirrored else 1.0
    c, s = np.cos(turn) * plan.px_per_mm, np.sin(turn) * plan.px_per_mm
    wide, high = picture_size(plan)
    move = np.array([[1, 0, wide / 2 - 0.5], [0, 1, high / 2 - 0.5], [0, 0, 1.0]])
    turned = np.array([[c, s * flip, 0], [s, -c * flip, 0], [0, 0, 1.0]])
    centred = np.array([[1, 0, -plan.overlap_mm / 2], [0, 1, 0], [0, 0, 1.0]])
    tilt = np.eye(3)
    tilt[2, :2] = np.array(plan.perspective) / plan.overlap_mm
    return np.asarray(move @ turned @ tilt @ centred)


def picture_size(plan: FacePlan) -> tuple[int, int]:
    """Return width and height, [px]; upright joints get an upright picture."""
    upright = abs(np.sin(np.deg2rad(plan.rotation_deg))) > 0.7
    size = (plan.width_px, plan.height_px)
    return (size[1], size[0]) if upright else size


def offset_mm(plan: FacePlan, s: np.ndarray) -> np.ndarray:
    """Return how far the line lies off its chord at ``s``; zero at both ends."""
    u = s / plan.overlap_mm
    inside = np.clip(u, -0.3, 1.3)
    phase = plan.rng(11).uniform(0, 2 * np.pi)
    wave = np.sin(2 * np.pi * 3 * inside + phase) - np.sin(phase)
    return np.asarray(plan.bow_mm * 4 * inside * (1 - inside) + plan.wave_mm * wave)


def joint_fields(plan: FacePlan) -> tuple[np.ndarray, np.ndarray]:
    """Return ``s`` and ``t`` of every pixel as float32 arrays, shape (height, width)."""
    back = np.linalg.inv(joint_to_picture(plan)).astype(np.float64)
    wide, high = picture_size(plan)
    x = np.arange(wide, dtype=np.float32)[None, :]
    y = np.arange(high, dtype=np.float32)[:, None]
    rows = [np.float32(r[0]) * x + (np.float32(r[1]) * y + np.float32(r[2])) for r in back]
    s = rows[0] / rows[2]
    t = rows[1] / rows[2]
    knots = np.linspace(-2 * plan.overlap_mm, 3 * plan.overlap_mm, 4001)
    off = offset_mm(plan, knots)
    step = knots[1] - knots[0]
    index = np.clip((s - np.float32(knots[0])) / np.float32(step), 0, 3999).astype(np.int32)
    part = (s - np.float32(knots[0])) / np.float32(step) - index
    low = off.astype(np.float32)
    t = t - (low[index] * (1 - part) + low[np.minimum(index + 1, 4000)] * part)
    return s, t


def picture_point(plan: FacePlan, s: float, t: float = 0.0) -> tuple[float, float]:
    """Return the picture point (x, y), [px], of a joint point in mm."""
    flat = np.array([s, t + float(offset_mm(plan, np.array([s]))[0]), 1.0])
    x, y, w = joint_to_picture(plan) @ flat
    return float(x / w), float(y / w)
