"""What polishing, light, lens, sensor and file do to a picture."""

from __future__ import annotations

import cv2
import numpy as np

from .geometry import picture_point
from .looks import copper, mottle
from .plan import FacePlan, Lots


def spoil(plan: FacePlan, picture: np.ndarray) -> np.ndarray:
    """Return the picture as photographed: uint8, shape (height, width, 3), BGR."""
    picture = _smear(plan, picture)
    picture = _scratch(plan, picture)
    picture = _light(plan, picture)
    picture = cv2.GaussianBlur(picture, (0, 0), plan.looks["blur_px"])
    rng = plan.rng(41)
    noise = rng.standard_normal(picture.shape, dtype=np.float32)
    shot = np.sqrt(np.clip(picture, 4, 255) / 128)
    picture = picture + noise * shot * np.float32(plan.looks["noise"])
    levels = np.clip(picture + 0.5, 0, 255).astype(np.uint8)
    done, coded = cv2.imencode(".jpg", levels, [cv2.IMWRITE_JPEG_QUALITY, plan.looks["jpeg"]])
    if not done:
        raise RuntimeError("the picture could not be coded as JPEG")
    return np.asarray(cv2.imdecode(coded, cv2.IMREAD_COLOR))


def _smear(plan: FacePlan, picture: np.ndarray) -> np.ndarray:
    """Drag copper over a short piece of the line."""
    if not plan.looks["smear"]:
        return picture
    lots = Lots(plan.rng(42))
    where = lots.rng.uniform(0.03, 0.97) * plan.overlap_mm
    x, y = picture_point(plan, where)
    radius = max(2.0, plan.looks["smear_of_overlap"] * plan.overlap_mm * plan.px_per_mm / 2)
    cover = np.zeros(picture.shape[:2], np.float32)
    cv2.ellipse(
        cover,
        (int(x), int(y)),
        (int(radius), int(radius * 0.8)),
        0,
        0,
        360,
        lots.number("smear_cover"),
        -1,
        cv2.LINE_AA,
    )
    soft = cv2.GaussianBlur(cover, (0, 0), max(1.0, radius / 6))[..., None]
    return np.asarray(picture + soft * (copper(plan.looks).astype(np.float32) - picture))


def _scratch(plan: FacePlan, picture: np.ndarray) -> np.ndarray:
    """Cut scratches at all angles, some lighter and some darker than the ground."""
    count = plan.looks["scratches"]
    if not count:
        return picture
    rng = plan.rng(43)
    high, wide = picture.shape[:2]
    layer = np.zeros((high, wide), np.float32)
    wide_px = max(1, round(plan.looks["scratch_mm"] * plan.px_per_mm))
    for _ in range(count):
        centre = rng.uniform([0, 0], [wide, high])
        angle, length = rng.uniform(0, np.pi), rng.uniform(0.1, 0.7) * wide
        step = np.array([np.cos(angle), np.sin(angle)]) * length / 2
        ends = np.round(np.stack([centre - step, centre + step]) * 8).astype(int)
        sign = rng.choice([-1, 1], p=[0.7, 0.3])
        depth = sign * rng.uniform(0.2, 1) * plan.looks["scratch_depth"]
        cv2.line(layer, ends[0].tolist(), ends[1].tolist(), float(depth), wide_px, cv2.LINE_8, 3)
    soft = cv2.GaussianBlur(layer, (0, 0), 0.6)
    return np.asarray(picture * (1 + soft)[..., None])


def _light(plan: FacePlan, picture: np.ndarray) -> np.ndarray:
    """Uneven light, colour gain, a stain and a glare spot."""
    high, wide = picture.shape[:2]
    x = np.linspace(-1, 1, wide, dtype=np.float32)[None, :]
    y = np.linspace(-1, 1, high, dtype=np.float32)[:, None]
    slope = plan.looks["light_slope"]
    field = 1 + slope[0] * x / 2 + slope[1] * y / 2 + plan.looks["light_bowl"] * (x * x + y * y)
    picture = picture * field[..., None] * np.array(plan.looks["gain"], np.float32)
    rng = plan.rng(44)
    if plan.looks["stain"]:
        spot = np.clip(mottle(rng, (high, wide), wide / 4), 0, 1)[..., None]
        tint = np.array([1.0, 0.8, 0.5], np.float32) * np.float32(plan.looks["stain_depth"])
        picture = picture * (1 - spot * tint)
    if plan.looks["glare"]:
        cx, cy = rng.uniform(-0.8, 0.8, 2)
        size = rng.uniform(0.03, 0.12)
        spot = np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / (2 * size * size))
        picture = picture + np.float32(rng.uniform(60, 200)) * spot[..., None]
    return np.asarray(picture)
