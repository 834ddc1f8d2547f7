"""Colours and textures of copper, filler, resin and residue; blue, green, red order."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np

from .plan import FacePlan, Lots


def copper(looks: dict[str, Any]) -> np.ndarray:
    """Return the colour of the tube, grey levels."""
    red = looks["copper_red"]
    return np.array([red * looks["copper_blue_of_red"], red * looks["copper_green_of_red"], red])


def resin(looks: dict[str, Any]) -> np.ndarray:
    """Return the colour of the mounting resin: grey with a slight tint."""
    return np.asarray(looks["resin_grey"] * (1 + np.array(looks["resin_tint"])))


def filler(plan: FacePlan) -> np.ndarray:
    """Return the colour of the filler: lighter, darker or within 15 levels of copper."""
    rng = plan.rng(21)
    base = copper(plan.looks)
    grey = base.mean()
    kind = plan.looks["filler"]
    if kind == "lighter":
        silver = np.array([0.86, 0.97, 1.04]) * grey * rng.uniform(1.2, 1.5)
        return np.asarray(np.minimum(silver * (1 + rng.uniform(-0.03, 0.03, 3)), 246))
    if kind == "darker":
        pale = base * 0.65 + grey * 0.35
        return np.asarray(pale * rng.uniform(0.55, 0.85) * (1 + rng.uniform(-0.04, 0.04, 3)))
    return np.asarray(base * (1 + rng.uniform(-0.06, 0.06)) + rng.uniform(-5, 9, 3))


def residue(plan: FacePlan, index: int) -> np.ndarray:
    """Return the colour of one residue-filled void: any lightness, more or less green."""
    rng = plan.rng(100 + index)
    lots = Lots(rng)
    grey = copper(plan.looks).mean() * lots.number("residue_light")
    green = lots.number("residue_green")
    tone = np.array([1 - green * rng.uniform(0.2, 1.0), 1 + green * 0.4, 1 - green * 0.6])
    return np.asarray(np.clip(grey * tone, 6, 250))


def mottle(rng: np.random.Generator, shape: tuple[int, int], cell_px: float) -> np.ndarray:
    """Return smooth noise of zero mean and unit spread with cells of ``cell_px``, float32."""
    small = (max(2, int(shape[0] / cell_px) + 1), max(2, int(shape[1] / cell_px) + 1))
    noise = rng.standard_normal(small, dtype=np.float32)
    grown = cv2.resize(noise, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)
    return np.asarray(grown * np.float32(1.5))
