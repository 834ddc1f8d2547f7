"""Second drawing style: hard polygons at double size, grains, two-phase filler, glassy residue.

It shares the plan and the map to the picture with the first style, and no
painting: edges are ragged polygons, copper is made of grains, filler of pale
islands in a darker ground, residue of bubbles, and voids have a dark rim.
"""

from __future__ import annotations

import cv2
import numpy as np

from .geometry import joint_to_picture, offset_mm, picture_size
from .looks import copper, filler, residue, resin
from .plan import FacePlan

SCALE = 2


def paint_plate(plan: FacePlan) -> np.ndarray:
    """Return the picture before the camera, float32, shape (height, width, 3), BGR."""
    wide, high = picture_size(plan)
    canvas = np.empty((high * SCALE, wide * SCALE, 3), np.uint8)
    canvas[:] = np.clip(resin(plan.looks), 0, 255).astype(np.uint8)
    _body(plan, canvas)
    _joint(plan, canvas)
    for index, void in enumerate(plan.voids):
        _void(plan, canvas, index, void)
    return cv2.resize(canvas, (wide, high), interpolation=cv2.INTER_AREA).astype(np.float32)


def _to_canvas(plan: FacePlan, s: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Return canvas points, 4 binary digits of fraction, int32, shape (n, 1, 2)."""
    flat = np.stack([s, t + offset_mm(plan, s), np.ones_like(s)])
    x, y, w = joint_to_picture(plan) @ flat
    points = (np.stack([x / w, y / w], axis=1) + 0.5) * SCALE - 0.5
    return np.asarray(np.round(np.clip(points, -3e4, 3e4) * 16).astype(np.int32)[:, None, :])


def _half(plan: FacePlan, s: np.ndarray) -> np.ndarray:
    u = np.clip(s / plan.overlap_mm, -0.2, 1.2)
    return np.asarray(plan.clearance_mm / 2 * (1 + plan.taper * (u - 0.5)))


def _band(
    plan: FacePlan, start: float, end: float, low: tuple[float, float], high: tuple[float, float]
) -> np.ndarray:
    """Outline of a band; ``low`` and ``high`` are (halves of the gap, mm beyond)."""
    s = np.linspace(start, end, 160)
    half = _half(plan, s)
    lower, upper = low[0] * half + low[1], high[0] * half + high[1]
    return _to_canvas(plan, np.concatenate([s, s[::-1]]), np.concatenate([lower, upper[::-1]]))


def _fill(canvas: np.ndarray, outline: np.ndarray, texture: np.ndarray) -> None:
    """Fill an outline with a texture given on its bounding box."""
    x, y, w, h = _box(canvas, outline)
    if w <= 0 or h <= 0:
        return
    mask = np.zeros((h, w), np.uint8)
    cv2.fillPoly(mask, [outline - np.array([x, y]) * 16], 255, cv2.LINE_8, 4)
    inside = mask > 0
    canvas[y : y + h, x : x + w][inside] = texture[:h, :w][inside]


def _box(canvas: np.ndarray, outline: np.ndarray) -> tuple[int, int, int, int]:
    high, wide = canvas.shape[:2]
    low = np.maximum(outline.min(axis=(0, 1)) // 16 - 1, 0)
    top = np.minimum(outline.max(axis=(0, 1)) // 16 + 2, [wide, high])
    return int(low[0]), int(low[1]), int(top[0] - low[0]), int(top[1] - low[1])


def _grains(rng: np.random.Generator, shape: tuple[int, int], cell: float) -> np.ndarray:
    """Return patches of equal tone, spread about 1, float32: nearest of jittered seeds."""
    rows, cols = max(2, int(shape[0] / cell) + 2), max(2, int(shape[1] / cell) + 2)
    tones = rng.standard_normal((rows, cols), dtype=np.float32)
    jitter = rng.uniform(-0.5, 0.5, (2, 64, 64)).astype(np.float32)
    warp = [cv2.resize(j, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC) for j in jitter]
    y = np.arange(shape[0], dtype=np.float32)[:, None] / np.float32(cell) + warp[0]
    x = np.arange(shape[1], dtype=np.float32)[None, :] / np.float32(cell) + warp[1]
    near = cv2.remap(tones, x, y, cv2.INTER_NEAREST, borderMode=cv2.BORDER_REFLECT)
    return np.asarray(near)


def _tone(colour: np.ndarray, pattern: np.ndarray) -> np.ndarray:
    return np.asarray(np.clip(colour * (1 + pattern[..., None]), 0, 255).astype(np.uint8))


def _body(plan: FacePlan, canvas: np.ndarray) -> None:
    base = copper(plan.looks)
    far, length = 3 * plan.overlap_mm, plan.overlap_mm
    tube, cup = plan.wall_tube_mm, plan.wall_cup_mm
    parts = (
        (0.0, far, (-1.0, -tube), (-1.0, 0.0), 1.0),
        (-far, length, (1.0, 0.0), (1.0, cup), plan.looks["cup_shade"]),
        (-far, -plan.stop_gap_mm, (-1.0, -tube), (1.0, cup), plan.looks["cup_shade"]),
    )
    rng = plan.rng(61)
    cell = max(6.0, 0.12 * plan.px_per_mm * SCALE)
    grains = _grains(rng, (canvas.shape[0], canvas.shape[1]), cell)
    pattern = np.float32(plan.looks["grain"]) * grains
    for start, end, low, high, shade in parts:
        outline = _band(plan, start, end, low, high)
        x, y, w, h = _box(canvas, outline)
        if w > 0 and h > 0:
            _fill(canvas, outline, _tone(base * shade, pattern[y : y + h, x : x + w]))


def _joint(plan: FacePlan, canvas: np.ndarray) -> None:
    outline = _band(plan, 0.0, plan.overlap_mm, (-1.0, 0.0), (1.0, 0.0))
    size = plan.fillet_mm
    start = plan.overlap_mm
    corner = _to_canvas(
        plan,
        np.array([start, start, start + 0.3 * size, start + size]),
        np.array([-0.5, 0.9, 0.3, -0.5]) * size
        + _half(plan, np.full(4, start)) * np.array([-1, 1, 0, -1])
        + np.array([0.5, 0.0, 0.0, 0.5]) * size,
    )
    rng = plan.rng(62)
    cell = max(3.0, 0.025 * plan.px_per_mm * SCALE)
    for part in (corner, outline):
        _, _, w, h = _box(canvas, part)
        if w <= 0 or h <= 0:
            continue
        islands = (_grains(rng, (h, w), cell) > 0.3) - np.float32(0.38)
        strength = np.float32(2 * plan.looks["filler_texture"])
        _fill(canvas, part, _tone(filler(plan), strength * islands))


def _void(plan: FacePlan, canvas: np.ndarray, index: int, void: tuple[float, float, str]) -> None:
    start, end, kind = (void[0] * plan.overlap_mm, void[1] * plan.overlap_mm, void[2])
    rng = plan.rng(300 + index)
    low, high = (
        ((-1.0, 0.4) if rng.uniform() < 0.5 else (-0.4, 1.0)) if kind == "partial" else (-1.0, 1.0)
    )
    outline = _band(plan, start, end, (low, 0.0), (high, 0.0))
    _, _, w, h = _box(canvas, outline)
    if w <= 0 or h <= 0:
        return
    if kind == "residue":
        cell = max(3.0, 0.05 * plan.px_per_mm * SCALE)
        glass = 0.12 * _grains(rng, (h, w), 3 * cell) + 0.25 * (_grains(rng, (h, w), cell) > 1.1)
        _fill(canvas, outline, _tone(residue(plan, index), glass.astype(np.float32)))
        return
    plain = np.zeros((h, w), np.float32)
    _fill(canvas, outline, _tone(resin(plan.looks) * plan.looks["void_shade"], plain))
    cv2.polylines(canvas, [outline], True, (resin(plan.looks) * 0.55).tolist(), 1, cv2.LINE_AA, 4)
