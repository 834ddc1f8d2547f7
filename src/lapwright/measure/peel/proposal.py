"""Propose classes of a peeled surface from its photograph; never an answer.

A fracture through sound filler is pale, of silver to straw colour, and rough.
A place that was never joined is dark with oxide or residue, or copper-coloured
and smooth. That is common practice, no source; how well these looks hold on
real specimens has not been measured. The numbers below are wide guesses on
purpose: whatever is not clear stays unsure, and a person looks at all of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from lapwright.measure.errors import PeelPhotoUnclear
from lapwright.measure.image import Photo

from .mask import DISCONTINUITY, OUTSIDE, SOUND, UNSURE

METHOD = "peel-proposal-1"
CLEAR = 0.85  # a class is proposed where its probability is at least this
DARK_AT, DARK_SPREAD = 0.42, 0.06  # brightness beside the bright parts of the surface
COPPER_AT, COPPER_SPREAD = 0.17, 0.025  # (red - blue) / (red + green + blue)
SMOOTH_AT, SMOOTH_SPREAD = 0.035, 0.008  # local contrast
BURNT = 250
LONGEST_PX = 1600  # larger surfaces are looked at in a copy of this size
# how probable a discontinuity is on each look: dark; copper and smooth; copper and
# rough (torn metal or a stained fracture); pale and smooth (glare, or filler that wetted
# one side only); pale and rough
GIVEN_DARK, GIVEN_COPPER, GIVEN_TORN, GIVEN_GLOSS, GIVEN_PALE = 0.94, 0.94, 0.5, 0.35, 0.05


@dataclass(frozen=True)
class PeelProposal:
    """Proposed states and, for each class, its mean probability where it was proposed."""

    states: np.ndarray
    probability: np.ndarray
    mean_probability: dict[str, float]
    method: str = METHOD


def propose_states(photo: Photo, pixels: np.ndarray) -> PeelProposal:
    """Propose discontinuity, sound or unsure for every pixel of a surface.

    Parameters
    ----------
    photo : Photo
        The photograph; not modified.
    pixels : ndarray of bool, shape (height, width)
        The pixels of the surface.

    Returns
    -------
    PeelProposal
        ``probability`` is float32 of shape (height, width): of discontinuity, and
        0.5 off the surface.

    Raises
    ------
    PeelPhotoUnclear
        If the surface has no colour, or is burnt out or black for the most part.
    """
    rows, columns = (np.flatnonzero(pixels.any(axis=a)) for a in (1, 0))
    box = np.s_[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    crop, inside = photo.pixels[box], pixels[box]
    _check_light(crop, inside)
    probability = np.full(pixels.shape, 0.5, np.float32)
    probability[box] = np.where(inside, _probability(crop, inside), 0.5)
    states: np.ndarray = np.full(pixels.shape, UNSURE, np.uint8)
    states[probability >= CLEAR] = DISCONTINUITY
    states[probability <= 1 - CLEAR] = SOUND
    states[~pixels] = OUTSIDE
    calm = np.asarray(cv2.medianBlur(states, 5))
    states = np.where(pixels & (calm != OUTSIDE), calm, states)
    return PeelProposal(states, probability, _means(states, probability))


def _probability(crop: np.ndarray, inside: np.ndarray) -> np.ndarray:
    """Return the probability of discontinuity; looked at in a smaller copy where large."""
    height, width = inside.shape
    scale = min(1.0, LONGEST_PX / max(height, width))
    size = (max(1, round(width * scale)), max(1, round(height * scale)))
    small = cv2.resize(crop, size, interpolation=cv2.INTER_AREA)
    mostly = cv2.resize(inside.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) > 0
    looked = _looks(small, mostly)
    result = cv2.resize(looked, (width, height), interpolation=cv2.INTER_LINEAR)
    burnt = cv2.dilate((crop.min(axis=2) >= BURNT).astype(np.uint8), np.ones((5, 5), np.uint8))
    return np.asarray(np.where(burnt > 0, 0.5, result), np.float32)


def _looks(crop: np.ndarray, inside: np.ndarray) -> np.ndarray:
    """Return the probability of discontinuity from darkness, copper colour and roughness."""
    reach = max(1.5, 0.004 * float(np.hypot(*crop.shape[:2])))
    values = _blurred(crop.astype(np.float32), inside, 1.0)
    grey = values.mean(axis=2)
    smooth = _blurred(values, inside, reach)
    level = smooth.mean(axis=2)
    bright = float(np.percentile(level[inside], 90)) if inside.any() else 255.0
    dark = _step(DARK_AT - level / max(bright, 1.0), DARK_SPREAD)
    colour = (smooth[..., 2] - smooth[..., 0]) / np.maximum(smooth.sum(axis=2), 1.0)
    copper = _step(colour - COPPER_AT, COPPER_SPREAD)
    spread = _blurred((grey - level) ** 2, inside, 2.5 * reach)
    rough = np.sqrt(spread) / np.maximum(level, 8.0)
    even = _step(SMOOTH_AT - rough, SMOOTH_SPREAD)
    if_copper = even * GIVEN_COPPER + (1 - even) * GIVEN_TORN
    if_pale = even * GIVEN_GLOSS + (1 - even) * GIVEN_PALE
    lit = copper * if_copper + (1 - copper) * if_pale
    return np.asarray(dark * GIVEN_DARK + (1 - dark) * lit, np.float32)


def _blurred(values: np.ndarray, inside: np.ndarray, sigma_px: float) -> np.ndarray:
    """Blur within the surface only, so that what lies beside it does not bleed in."""
    weight = inside.astype(np.float32)
    shaped = weight if values.ndim == 2 else weight[..., None]
    total = cv2.GaussianBlur(values * shaped, (0, 0), sigma_px)
    share = np.maximum(cv2.GaussianBlur(weight, (0, 0), sigma_px), np.float32(1e-3))
    return np.asarray(total / (share if values.ndim == 2 else share[..., None]))


def _step(value: np.ndarray, spread: float) -> np.ndarray:
    return np.asarray(1 / (1 + np.exp(np.clip(-value / spread, -30, 30))), np.float32)


def _means(states: np.ndarray, probability: np.ndarray) -> dict[str, float]:
    found = {}
    for name, state in (("discontinuity", DISCONTINUITY), ("sound", SOUND), ("unsure", UNSURE)):
        there = probability[states == state]
        if there.size:
            mean = float(there.mean(dtype=np.float64))
            found[name] = 1 - mean if name == "sound" else mean
    return found


def _check_light(crop: np.ndarray, inside: np.ndarray) -> None:
    kept = crop[inside].astype(np.int16)
    if (kept.max(axis=1) - kept.min(axis=1)).max() <= 8:
        raise _unclear("a surface without colour", "a photograph in colour")
    lost = float(((kept.min(axis=1) >= BURNT) | (kept.max(axis=1) <= 5)).mean())
    if lost > 0.5:
        raise _unclear(f"{100 * lost:.0f} % of the surface burnt out or black", "50 % at most")


def _unclear(got: str, expected: str) -> PeelPhotoUnclear:
    return PeelPhotoUnclear(
        "no classes can be proposed on this photograph",
        got=got,
        expected=expected,
        do="Photograph again with other light, or paint the mask by hand and give it with --mask.",
    )
