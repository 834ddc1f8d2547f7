"""First drawing style: soft fields blended by their distance to each edge."""

from __future__ import annotations

import numpy as np

from .geometry import joint_fields
from .looks import copper, filler, mottle, residue, resin
from .plan import FacePlan

PARTIAL_FILL = 0.3  # share of the gap that stays filled in a partial-thickness void


def paint_field(plan: FacePlan) -> np.ndarray:
    """Return the picture before the camera, float32, shape (height, width, 3), BGR."""
    s, t = joint_fields(plan)
    soft = np.float32(plan.px_per_mm)
    picture = np.empty((*s.shape, 3), np.float32)
    picture[:] = resin(plan.looks)
    half = _half_gap(plan, s)
    _walls(plan, picture, s, t, half, soft)
    _gap(plan, picture, s, t, half, soft)
    return picture


def _half_gap(plan: FacePlan, s: np.ndarray) -> np.ndarray:
    u = np.clip(s / np.float32(plan.overlap_mm), -0.2, 1.2)
    return np.asarray(np.float32(plan.clearance_mm / 2) * (1 + np.float32(plan.taper) * (u - 0.5)))


def _edge(distance_mm: np.ndarray, soft: np.float32) -> np.ndarray:
    """Coverage of a pixel whose centre lies ``distance_mm`` inside an edge."""
    return np.asarray(np.clip(distance_mm * soft + np.float32(0.5), 0, 1))


def _lay(picture: np.ndarray, alpha: np.ndarray, colour: np.ndarray) -> None:
    """Blend ``colour`` over the picture, only where it covers anything."""
    rows = np.flatnonzero(alpha.any(axis=1))
    cols = np.flatnonzero(alpha.any(axis=0))
    if not rows.size:
        return
    box = (slice(rows[0], rows[-1] + 1), slice(cols[0], cols[-1] + 1))
    part = alpha[box][..., None]
    tone = colour[box] if colour.ndim == 3 else colour.astype(np.float32)
    picture[box] += part * (tone - picture[box])


def _walls(
    plan: FacePlan,
    picture: np.ndarray,
    s: np.ndarray,
    t: np.ndarray,
    half: np.ndarray,
    soft: np.float32,
) -> None:
    rng = plan.rng(31)
    base = copper(plan.looks).astype(np.float32)
    cell = max(3.0, 0.05 * plan.px_per_mm)
    grain = 1 + np.float32(plan.looks["grain"]) * mottle(rng, (s.shape[0], s.shape[1]), cell)
    shade = np.float32(plan.looks["cup_shade"])
    tube, cup = np.float32(plan.wall_tube_mm), np.float32(plan.wall_cup_mm)
    across_cup = np.minimum(t - half, half + cup - t)
    across_body = np.minimum(half + cup - t, t + half + tube)
    body = np.minimum(np.float32(-plan.stop_gap_mm) - s, across_body)
    cup_mask = np.maximum(np.minimum(across_cup, np.float32(plan.overlap_mm) - s), body)
    tube_mask = np.minimum(np.minimum(-half - t, t + half + tube), s)
    _lay(picture, _edge(cup_mask, soft), grain[..., None] * (base * shade))
    _lay(picture, _edge(tube_mask, soft), grain[..., None] * base)


def _gap(
    plan: FacePlan,
    picture: np.ndarray,
    s: np.ndarray,
    t: np.ndarray,
    half: np.ndarray,
    soft: np.float32,
) -> None:
    metal = filler(plan).astype(np.float32)
    near = np.flatnonzero(np.abs(t).min(axis=1) < half.max() * 4 + 2 * plan.fillet_mm)
    band = slice(near[0], near[-1] + 1)
    s, t, half, picture = s[band], t[band], half[band], picture[band]
    texture = np.float32(plan.looks["filler_texture"])
    cell = max(2.0, 0.02 * plan.px_per_mm)
    speck = 1 + texture * mottle(plan.rng(32), (s.shape[0], s.shape[1]), cell)
    tone = speck[..., None] * metal
    inside = np.minimum(half - np.abs(t), np.minimum(s, np.float32(plan.overlap_mm) - s))
    _lay(picture, _edge(inside, soft), tone)
    _lay(picture, _edge(_fillet(plan, s, t, half), soft), tone)
    for index, void in enumerate(plan.voids):
        _void(plan, picture, (s, t, half), soft, index, void)


def _fillet(plan: FacePlan, s: np.ndarray, t: np.ndarray, half: np.ndarray) -> np.ndarray:
    """Concave fillet from the tube up the cup face, outside the overlap."""
    size = np.float32(plan.fillet_mm)
    x = s - np.float32(plan.overlap_mm)
    y = t + half
    hollow = np.hypot(x - size, y - size - 2 * half) - size
    edge = np.minimum(np.minimum(x, size - x), np.minimum(y, size + 2 * half - y))
    return np.asarray(np.minimum(hollow, edge))


def _void(
    plan: FacePlan,
    picture: np.ndarray,
    fields: tuple[np.ndarray, np.ndarray, np.ndarray],
    soft: np.float32,
    index: int,
    void: tuple[float, float, str],
) -> None:
    s, t, half = fields
    start, end, kind = void
    rng = plan.rng(200 + index)
    depth = np.float32(plan.looks["meniscus"]) * 2 * half * ((t / half) ** 2 - np.float32(1 / 3))
    left = s - np.float32(start * plan.overlap_mm) - (depth if start > 0 else 0)
    right = np.float32(end * plan.overlap_mm) - s - (depth if end < 1 else 0)
    across = half - np.abs(t)
    if kind == "partial":
        sign = np.float32(rng.choice([-1, 1]))
        across = np.minimum(half + sign * t, half * (1 - 2 * np.float32(PARTIAL_FILL)) - sign * t)
    alpha = _edge(np.minimum(np.minimum(left, right), across), soft)
    if kind == "residue":
        cell = max(2.0, 0.03 * plan.px_per_mm)
        rough = mottle(rng, (s.shape[0], s.shape[1]), cell)
        rough = rough + mottle(rng, (s.shape[0], s.shape[1]), cell * 4)
        strength = np.float32(rng.uniform(0.06, 0.22) * 0.7)
        tone = (1 + strength * rough)[..., None] * residue(plan, index).astype(np.float32)
    else:
        shade = np.float32(plan.looks["void_shade"])
        dark = 1 - np.float32(0.12) * np.clip(1 - (half - np.abs(t)) / half, 0, 1)
        tone = (shade * dark)[..., None] * resin(plan.looks).astype(np.float32)
    _lay(picture, alpha, tone)
