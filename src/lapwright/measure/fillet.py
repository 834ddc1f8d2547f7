"""The fillet at the mouth: the one place where the filler stands free and cannot be mistaken.

Beyond the cup face the filler stands free between tube and cup, wider than the
gap, so that blur takes little of its colour. Where a patch there is of one
colour that neither copper nor the surroundings have, it says what the filler
of this face looks like. It is not overlap and never counts as such. Where
there is no fillet, or none that can be told apart, nothing is said. Its numbers
are our own choice on the tuning stream, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from .hues import Optics
from .strip import cut_strip
from .trace import Trace
from .walls import Outside, Profile, relative_colour

# how far from the surroundings a fillet is; one like copper has nothing else to be told by
APART, COPPERY_APART = 0.11, 0.16
SPOTS = 64  # enough for the looks of two phases and what lies between


@dataclass(frozen=True)
class Fillet:
    """What the fillet shows, relative to copper.

    ``colour`` (3,) is its middle colour; ``looks`` (n, 3) are colours averaged
    over spots as wide as the core of the gap: filler of two phases has several.
    """

    colour: np.ndarray
    looks: np.ndarray

    @property
    def spread(self) -> np.ndarray:
        """Scatter of the looks about their middle, shape (3,), rims left out as a median does."""
        middle = np.median(self.looks, axis=0)
        return np.asarray(1.4826 * np.median(np.abs(self.looks - middle), axis=0))


def see_fillet(
    pixels: np.ndarray, trace: Trace, profile: Profile, outside: Outside, optics: Optics
) -> Fillet | None:
    """Return the colour of the fillet beyond the cup face, or None where none can be told.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        The picture; not modified.
    trace : Trace
        The joint line, cup face last.
    profile : Profile
        Gives the copper beside the mouth.
    outside : Outside
        What surrounds the copper.
    optics : Optics
        Width of the gap and blur, [px].
    """
    gap_px, blur_px = optics.gap_px, optics.blur_px
    length = len(trace.points)
    reach = max(8.0, 0.045 * length)
    beyond = _beyond(trace.points, reach)
    offsets = np.arange(-np.ceil(reach), np.ceil(reach) + 1)
    patch = cut_strip(pixels, beyond, offsets)
    mouth = profile.copper[:, -max(20, length // 12) :].mean(axis=0)
    tone = relative_colour(patch, np.median(mouth, axis=0))
    middle = patch.shape[0] // 2
    near = _near_mouth(told_apart(tone, outside, blur_px), middle, max(3.0, 0.9 * gap_px))
    least = max(12.0, 0.15 * gap_px**2)
    if near.sum() < least:
        near = _coppery(tone, outside, middle, gap_px)
    return _fillet(tone, near, max(1, round(0.5 * gap_px))) if near.sum() >= 12 else None


def _fillet(tone: np.ndarray, near: np.ndarray, spot_px: int) -> Fillet | None:
    """Return what a patch shows in spots of a width, or None where it has no look of its own."""
    colours = tone[near]
    centre = np.median(colours, axis=0)
    spread = 1.4826 * np.median(np.abs(colours - centre), axis=0)
    if spread[0] > 0.25 or spread[1] > 0.25:
        return None
    mask = near.astype(np.float32)
    size = (spot_px, spot_px)
    level = np.maximum(cv2.blur(mask, size), 1e-3)
    spots = (cv2.blur(tone * mask[..., None], size) / level[..., None])[near]
    return Fillet(centre, spots[:: max(1, len(spots) // SPOTS)])


def _beyond(points: np.ndarray, reach_px: float) -> np.ndarray:
    """Return points one pixel apart straight on beyond the last one."""
    tail = points[-max(20, len(points) // 20) :]
    along = tail[-1] - tail[0]
    along = along / max(float(np.hypot(*along)), 1e-9)
    steps = np.arange(2.0, np.ceil(reach_px) + 2)
    return np.asarray(points[-1] + steps[:, None] * along)


def told_apart(tone: np.ndarray, outside: Outside, blur_px: float) -> np.ndarray:
    """Return where the colour is that of no copper and no surroundings, ndarray of bool.

    A blurred rim of copper against its surroundings has colours between both and is
    thin; a patch of such a colour that is wider than a rim is a material of its own.
    """
    apart = np.linalg.norm(tone * [1.0, 1.0, 1.5], axis=-1) > 0.1
    found = apart & _not_outside(tone, outside, least=APART)
    mixed = found & _between(tone, outside)
    wide = 2 * int(np.ceil(1.5 * blur_px)) + 3
    square = np.ones((wide, wide), np.uint8)
    core = cv2.erode(mixed.astype(np.uint8), square, borderValue=1)
    opened = (cv2.dilate(core, square) > 0) & mixed
    return np.asarray((found & ~mixed) | opened)


def _not_outside(tone: np.ndarray, outside: Outside, *, least: float) -> np.ndarray:
    clear = tone[..., 0] < 1.2
    for colour in outside.colours:
        away = (tone - colour) * [0.6, 1.0, 1.5]
        clear &= np.linalg.norm(away, axis=-1) > least
    return np.asarray(clear)


def _between(tone: np.ndarray, outside: Outside) -> np.ndarray:
    """Return where a colour may be a mixture of copper and what surrounds it."""
    mixed = np.zeros(tone.shape[:2], bool)
    weigh = np.array([0.6, 1.0, 1.5])
    for colour in outside.colours:
        own = weigh * colour
        part = np.clip((tone * weigh) @ own / max(float(own @ own), 1e-9), 0.0, 1.0)
        away = tone * weigh - part[..., None] * own
        mixed |= np.linalg.norm(away, axis=-1) <= 0.08 + 0.08 * part
    return mixed


def _coppery(tone: np.ndarray, outside: Outside, middle: int, gap_px: float) -> np.ndarray:
    """Return the place right before the mouth where a fillet as red as copper would stand."""
    place = np.zeros(tone.shape[:2], bool)
    if not outside.colours:  # without surroundings in view nobody can say that it is no resin
        return place
    half, long = max(2, round(0.4 * gap_px)), max(4, round(0.5 * gap_px))
    place[middle - half : middle + half + 1, :long] = True
    clear = place & _not_outside(tone, outside, least=COPPERY_APART)
    return clear if clear.sum() > 0.9 * place.sum() else np.zeros_like(place)


def _near_mouth(found: np.ndarray, middle: int, reach_px: float) -> np.ndarray:
    """Keep what hangs together with the mouth of the gap, without its rim."""
    # blurred edges of copper against resin have in-between colours: the rim is left out
    core = cv2.erode(found.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=1)
    _, names = cv2.connectedComponents(core, connectivity=8)
    low, high = int(middle - reach_px), int(middle + reach_px) + 1
    start = names[low:high, : max(3, int(reach_px))]
    kept = np.unique(start[start > 0])
    return np.asarray(np.isin(names, kept))
